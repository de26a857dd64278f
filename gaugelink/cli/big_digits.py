"""Digits large enough to be read from a metre away, drawn in a 5 x 5 grid."""

from __future__ import annotations

from collections.abc import Sequence

ROWS = 5

# One string a row, "#" is ink. Drawn for this project: any two digits differ in four pixels
# or more, so that 6, 8 and 9 stay apart through a loupe.
_GLYPHS = {
    "0": (".###.", "#...#", "#...#", "#...#", ".###."),
    "1": ("..#..", ".##..", "..#..", "..#..", ".###."),
    "2": ("####.", "....#", ".###.", "#....", "#####"),
    "3": ("####.", "....#", "..##.", "....#", "####."),
    "4": ("#...#", "#...#", "#####", "....#", "....#"),
    "5": ("#####", "#....", "####.", "....#", "####."),
    "6": ("..##.", ".#...", "####.", "#...#", ".###."),
    "7": ("#####", "....#", "...#.", "..#..", "..#.."),
    "8": (".###.", "#...#", ".###.", "#...#", ".###."),
    "9": (".###.", "#...#", ".####", "...#.", ".##.."),
    "-": (".....", ".....", "#####", ".....", "....."),
    "+": (".....", "..#..", "#####", "..#..", "....."),
    ".": (".", ".", ".", ".", "#"),
    ",": (".", ".", ".", "#", "#"),
    " ": ("..", "..", "..", "..", ".."),
}


def big(text: str, *, width: int, ink: str = "█") -> list[str]:
    """Draw a number in five rows.

    Args:
        text: digits, sign, point; other characters are left out.
        width: columns there are; wide pixels are used where they fit.
        ink: the character of a filled pixel, "#" where the terminal has no blocks.

    Returns:
        Five lines, or the text itself in one line when even narrow digits do not fit.
    """
    glyphs = [_GLYPHS[c] for c in text if c in _GLYPHS]
    for pixel in (2, 1):
        lines = [_row(glyphs, row, pixel, ink) for row in range(ROWS)]
        if max(map(len, lines), default=0) <= width:
            return lines
    return [text]


def _row(glyphs: Sequence[tuple[str, ...]], row: int, pixel: int, ink: str) -> str:
    cells = (glyph[row].replace("#", ink * pixel).replace(".", " " * pixel) for glyph in glyphs)
    return (" " * pixel).join(cells)
