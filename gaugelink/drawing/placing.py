"""Where a text goes that has several places to stand: where it covers no other."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from gaugelink.drawing.lettering import NOTE_PX, Anchor, label, text_width
from gaugelink.drawing.svg import Element

_ASCENT, _DESCENT = 0.8, 0.25  # of the text height
_SHARE_LEFT: dict[Anchor, float] = {"start": 0.0, "middle": 0.5, "end": 1.0}


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
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

    def covers(self, other: Note) -> bool:
        """Whether it and another would run into each other."""
        beside = self.left + self.width <= other.left or other.left + other.width <= self.left
        return not beside and abs(self.y - other.y) < (_ASCENT + _DESCENT) * NOTE_PX

    @property
    def drawn(self) -> Element:
        """Its element."""
        return label(self.text, self.x, self.y, anchor=self.anchor)


def first_free(places: Sequence[Note], taken: Iterable[Note]) -> Note:
    """Return the first place, at least one, that covers no note; the first of all if none does."""
    others = tuple(taken)
    free = (place for place in places if not any(place.covers(other) for other in others))
    return next(free, places[0])
