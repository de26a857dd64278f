"""Lettering: how wide a text will be at most, broken and shortened to fit, and where it goes.

SVG cannot break a line, and the font of the reader is not known. The widths are those of a
wide sans-serif, so that a text that fits here fits anywhere.

Lettering has the same size on a wide sheet, for a desk and for paper, and on a narrow one.
Shown as wide as a telephone, the narrow one is shrunk less: of 336 px that a screen of
360 px leaves, its smallest letters get 14.5.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import Enum
from typing import Literal, TypeAlias

from gaugelink.drawing.svg import Element, element

FIGURE_PX = 21.0  # figures and headings
NOTE_PX = 19.0  # everything else
LINE = 1.25  # line pitch in text heights
BOLD = 1.12  # how much wider bold letters are
Anchor: TypeAlias = Literal["start", "middle", "end"]
# Ems of DejaVu Sans, the widest of the fonts asked for, rounded up.
_EMS = {
    **dict.fromkeys("ijl.,:;|' ", 0.35),
    **dict.fromkeys("frtI()[]/-!", 0.42),
    **dict.fromkeys("sckzvxyJ", 0.6),
    **dict.fromkeys("w±=<>×+⌀→≈&", 0.84),
    **dict.fromkeys("ÆŒæœ", 1.1),
}
_LATIN = 0x250  # letters below it are no wider than the plain ones
_ELLIPSIS = "…"
_ASCENT, _DESCENT = 0.8, 0.25  # of the text height
_SHARE_LEFT: dict[Anchor, float] = {"start": 0.0, "middle": 0.5, "end": 1.0}


class Sheet(Enum):
    """A sheet to draw on, by its width in px of 1/96 in."""

    WIDE = 640.0
    NARROW = 440.0

    @property
    def width(self) -> float:
        """Its width in px."""
        return self.value

    @property
    def name_lines(self) -> int:
        """Lines that a name may take with its figure; beyond them it is shortened."""
        return 1 if self is Sheet.WIDE else 2

    @property
    def sentence_lines(self) -> int:
        """Lines that a sentence may take; beyond them it is shortened."""
        return 4 if self is Sheet.WIDE else 6

    @property
    def most_ticks(self) -> int:
        """Parts that an axis across is divided into at most."""
        return 5 if self is Sheet.WIDE else 4


def text_width(text: str, size_px: float) -> float:
    """Estimate from above how wide a text will be, in px."""
    return size_px * sum(map(_em, text))


def _em(char: str) -> float:
    if unicodedata.combining(char):
        return 0.0
    if char in _EMS:
        return _EMS[char]
    if unicodedata.east_asian_width(char) in "WF" or ord(char) > 0x2E7F:
        return 1.1
    if not char.isprintable():
        return 1.1  # shown as a replacement character
    if char in "mMW" or ord(char) >= _LATIN or not char.isalnum():
        return 1.0
    return 0.8 if char.isupper() else 0.68


def shortened(text: str, size_px: float, width_px: float) -> str:
    """Return the text on one line, its end cut off with an ellipsis where it is too wide."""
    line = " ".join(text.split())
    if text_width(line, size_px) <= width_px:
        return line
    while line and text_width(line + _ELLIPSIS, size_px) > width_px:
        line = line[:-1]
    return line.rstrip() + _ELLIPSIS


def broken(text: str, size_px: float, width_px: float, most_lines: int) -> tuple[str, ...]:
    """Break a text at its blanks into so many lines at most; the last one is shortened."""
    lines: list[str] = []
    words = text.split()
    while words and len(lines) < most_lines - 1:
        taken = _words_that_fit(words, size_px, width_px)
        lines.append(shortened(" ".join(words[:taken]), size_px, width_px))
        words = words[taken:]
    if words:
        lines.append(shortened(" ".join(words), size_px, width_px))
    return tuple(lines)


def _words_that_fit(words: list[str], size_px: float, width_px: float) -> int:
    taken = 1
    while taken < len(words) and text_width(" ".join(words[: taken + 1]), size_px) <= width_px:
        taken += 1
    return taken


def with_figure(
    name: str, figure: str, size_px: float, width_px: float, most_lines: int = 1
) -> tuple[str, ...]:
    """Return name and figure on one line, or the figure below a name that leaves it no room.

    The figure is always whole. A name that is too long is shortened. The figure must be
    narrower than the room; with ``most_lines`` above 1 the name may be broken.
    """
    name, told = " ".join(name.split()), f": {figure}"
    room = width_px - text_width(told, size_px)
    if most_lines == 1 or text_width(name, size_px) <= room:
        return (f"{shortened(name, size_px, room)}{told}",)
    *lines, last = broken(name, size_px, width_px - text_width(":", size_px), most_lines - 1)
    return (*lines, f"{last}:", figure)


def label(
    text: str,
    x: float,
    y: float,
    *,
    size_px: float = NOTE_PX,
    anchor: Anchor = "start",
    bold: bool = False,
    css: str = "",
    **data: str | float | None,
) -> Element:
    """Make a text on the base line y, with a rim of paper so that no line runs through it."""
    return element(
        "text",
        text,
        x=x,
        y=y,
        font_size=size_px,
        text_anchor=None if anchor == "start" else anchor,
        font_weight="bold" if bold else None,
        class_=f"halo {css}".strip(),
        fill="currentColor",
        stroke="white",
        stroke_width=size_px / 4,
        stroke_linejoin="round",
        paint_order="stroke",
        **data,
    )


def labels(
    lines: tuple[str, ...],
    x: float,
    y: float,
    *,
    size_px: float = NOTE_PX,
    anchor: Anchor = "start",
    bold: bool = False,
    css: str = "",
) -> tuple[Element, ...]:
    """Make one text a line, the first on the base line y."""
    return tuple(
        label(line, x, y + below(i, size_px), size_px=size_px, anchor=anchor, bold=bold, css=css)
        for i, line in enumerate(lines)
    )


def below(lines: int, size_px: float) -> float:
    """Return how much further down a text is under so many lines, in px."""
    return lines * size_px * LINE


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacedText:
    """A text at its place: the base line's height and where its anchor is, in px."""

    text: str
    x: float
    y: float
    anchor: Anchor = "start"

    @property
    def width(self) -> float:
        """How wide it is at most."""
        return text_width(self.text, NOTE_PX)

    @property
    def left(self) -> float:
        """Where it begins at most."""
        return self.x - _SHARE_LEFT[self.anchor] * self.width

    def covers(self, other: PlacedText) -> bool:
        """Whether it and another would run into each other."""
        beside = self.left + self.width <= other.left or other.left + other.width <= self.left
        return not beside and abs(self.y - other.y) < (_ASCENT + _DESCENT) * NOTE_PX

    @property
    def drawn(self) -> Element:
        """Its element."""
        return label(self.text, self.x, self.y, anchor=self.anchor)


def first_free(places: Sequence[PlacedText], taken: Iterable[PlacedText]) -> PlacedText:
    """Return the first place, at least one, that covers no note; the first of all if none does."""
    others = tuple(taken)
    free = (place for place in places if not any(place.covers(other) for other in others))
    return next(free, places[0])
