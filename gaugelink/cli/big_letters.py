"""Letters and figures drawn large on a terminal, to be read from a metre away and more.

Five pixels high. ``big`` takes a row a pixel; ``wrapped_big`` takes half a row, so that a cue of
a few words fits. Of the height of a row that is 5 and 2.5; a line of text has 0.71.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import lru_cache
from typing import TypeAlias

ROWS, HALF_ROWS = 5, 3
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
    "A": (".##.", "#..#", "####", "#..#", "#..#"),
    "B": ("###.", "#..#", "###.", "#..#", "###."),
    "C": (".###", "#...", "#...", "#...", ".###"),
    "D": ("###.", "#..#", "#..#", "#..#", "###."),
    "E": ("###", "#..", "##.", "#..", "###"),
    "F": ("###", "#..", "##.", "#..", "#.."),
    "G": (".###", "#...", "#.##", "#..#", ".###"),
    "H": ("#..#", "#..#", "####", "#..#", "#..#"),
    "I": ("#", "#", "#", "#", "#"),
    "J": ("..#", "..#", "..#", "#.#", ".#."),
    "K": ("#..#", "#.#.", "##..", "#.#.", "#..#"),
    "L": ("#..", "#..", "#..", "#..", "###"),
    "M": ("#...#", "##.##", "#.#.#", "#...#", "#...#"),
    "N": ("#..#", "##.#", "#.##", "#..#", "#..#"),
    "O": (".##.", "#..#", "#..#", "#..#", ".##."),
    "P": ("###.", "#..#", "###.", "#...", "#..."),
    "Q": (".##.", "#..#", "#..#", "#.#.", ".#.#"),
    "R": ("###.", "#..#", "###.", "#.#.", "#..#"),
    "S": (".##", "#..", ".#.", "..#", "##."),
    "T": ("###", ".#.", ".#.", ".#.", ".#."),
    "U": ("#..#", "#..#", "#..#", "#..#", ".##."),
    "V": ("#.#", "#.#", "#.#", "#.#", ".#."),
    "W": ("#...#", "#...#", "#.#.#", "##.##", "#...#"),
    "X": ("#.#", "#.#", ".#.", "#.#", "#.#"),
    "Y": ("#.#", "#.#", ".#.", ".#.", ".#."),
    "Z": ("###", "..#", ".#.", "#..", "###"),
    "-": (".....", ".....", "#####", ".....", "....."),
    "+": (".....", "..#..", "#####", "..#..", "....."),
    "/": (".#", ".#", ".#", "#.", "#."),
    ".": (".", ".", ".", ".", "#"),
    ",": (".", ".", ".", "#", "#"),
    ":": (".", "#", ".", "#", "."),
    ";": (".", "#", ".", "#", "#"),
    " ": ("..", "..", "..", "..", ".."),
}
_HALVES = {"##": "█", "#.": "▀", ".#": "▄", "..": " "}
_Pixels = tuple[str, ...]
_DRAWINGS = 512  # the words of a job, drawn many times a second
Pen: TypeAlias = Callable[[str], list[str]]  # one line of its own text where it does not fit


def big(text: str, *, width: int, ink: str = "█", pixels: Sequence[int] = (2, 1)) -> list[str]:
    """Draw text in five rows.

    Args:
        text: letters, figures, signs; other characters are left out.
        width: columns there are; wide pixels are used where they fit.
        ink: the character of a filled pixel, "#" where the terminal has no blocks.
        pixels: columns that a pixel may have, best first.

    Returns:
        Five lines, or the text itself in one line when even narrow pixels do not fit.
    """
    rows = _pixels(text)
    for pixel in pixels:
        if len(rows[0]) * pixel <= width:
            return list(_drawn(text, pixel, ink))
    return [text]


def half_big(text: str, *, width: int) -> list[str]:
    """Draw text in three rows of half blocks, or return it in one line when it does not fit."""
    return [text] if len(_pixels(text)[0]) > width else list(_halved(text))


def wrapped_big(text: str, pen: Pen) -> list[str]:
    """Draw words in as many lines as they take; plain in one line when a word is too wide."""
    lines = [""]
    for word in text.split():
        longer = f"{lines[-1]} {word}".strip()
        if len(pen(longer)) > 1:
            lines[-1] = longer
        else:
            lines.append(word)
    drawn = [pen(line) for line in lines if line]
    if any(len(rows) == 1 for rows in drawn):
        return [text]
    air = [""] if len(drawn[0]) == ROWS else []  # half blocks have half a row of air below
    return [row for rows in drawn for row in [*rows, *air]][: -len(air) or None]


@lru_cache(_DRAWINGS)
def _pixels(text: str) -> _Pixels:
    glyphs = [_GLYPHS[c] for c in text.upper() if c in _GLYPHS]
    return tuple(".".join(glyph[row] for glyph in glyphs) for row in range(ROWS))


@lru_cache(_DRAWINGS)
def _drawn(text: str, pixel: int, ink: str) -> _Pixels:
    rows = _pixels(text)
    return tuple(row.replace("#", ink * pixel).replace(".", " " * pixel) for row in rows)


@lru_cache(_DRAWINGS)
def _halved(text: str) -> _Pixels:
    rows = _pixels(text)
    blank = "." * len(rows[0])
    pairs = zip(rows[0::2], [*rows[1::2], blank], strict=True)
    return tuple("".join(_HALVES[a + b] for a, b in zip(*pair, strict=True)) for pair in pairs)
