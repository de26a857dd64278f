"""What is known of a job besides its readings: said by the person, or computed and kept.

Facts are only ever added. Of a movement, a reference, a train or a spring that was fitted
the last one counts; notes and photographs all stand; versions of a result are counted.
What was seen after fitting comes in pieces (crown turns today, hours run tomorrow), and
``seen_after`` puts them together.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any, TypeAlias


class Position(StrEnum):
    """How the movement lay when its amplitude was read."""

    DIAL_UP = "dial-up"
    DIAL_DOWN = "dial-down"
    CROWN_UP = "crown-up"
    CROWN_DOWN = "crown-down"
    CROWN_LEFT = "crown-left"
    CROWN_RIGHT = "crown-right"
    VERTICAL = "vertical"  # on its edge, nobody said which


class Wind(StrEnum):
    """How far the movement was wound then."""

    WOUND = "wound"
    AFTER_24_H = "24h"


@dataclass(frozen=True, slots=True, kw_only=True)
class Movement:
    """What the movement is, in the person's words."""

    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Reference:
    """Whose it is, or its number on the bench."""

    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Photograph:
    """A picture, by the path of its file."""

    path: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """Anything else."""

    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TrainData:
    """What is known of the train; None where nobody has said.

    ``teeth`` is the chain from the barrel on, wheel over pinion, such as "80/10 75/12".
    """

    teeth: str | None = None
    hours_per_turn: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """Two ends between which a figure is expected; both may be one."""

    low: float
    high: float

    @property
    def middle(self) -> float:
        """The value half-way."""
        return (self.low + self.high) / 2


@dataclass(frozen=True, slots=True, kw_only=True)
class SizeVersion:
    """A sizing as it was shown: its JSON, and the version of gaugelink that made it."""

    result: Mapping[str, Any]
    software: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ChoiceVersion:
    """A ranking of the stock as it was shown: its JSON, and the version that made it."""

    result: Mapping[str, Any]
    software: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Chosen:
    """The spring that was taken, and what was foreseen of it; None where nothing was.

    ``amplitude_deg`` is foreseen for the ``position`` and ``wind`` beside it.
    """

    item: str
    height_mm: float | None = None
    thickness_mm: float | None = None
    length_mm: float | None = None
    turns: Span | None = None
    crown_turns: Span | None = None
    hours: Span | None = None
    torque_ratio: Span | None = None
    amplitude_deg: Span | None = None
    position: Position | None = None
    wind: Wind | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Amplitude:
    """An amplitude that was read, in degrees; None where nobody said how it lay."""

    deg: float
    position: Position | None = None
    wind: Wind | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class After:
    """What was seen after fitting; None where it was not looked at.

    ``noise`` is what was heard at full wind, in the person's words.
    """

    crown_turns: float | None = None
    hours_run: float | None = None
    amplitudes: tuple[Amplitude, ...] = ()
    noise: str | None = None


Fact: TypeAlias = (
    Movement
    | Reference
    | Photograph
    | Note
    | TrainData
    | SizeVersion
    | ChoiceVersion
    | Chosen
    | After
)


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredFact:
    """A fact as the book holds it; ``number`` counts from 1 within the job."""

    job_id: int
    number: int
    written_utc: str
    fact: Fact


def seen_after(pieces: Iterable[After]) -> After | None:
    """Put together what was seen at different times; the last word on each figure counts.

    Args:
        pieces: the facts of one job, in the order they were added.
    """
    whole: After | None = None
    for piece in pieces:
        whole = piece if whole is None else _joined(whole, piece)
    return whole


def _joined(before: After, later: After) -> After:
    amplitudes = {(a.position, a.wind): a for a in (*before.amplitudes, *later.amplitudes)}
    return After(
        crown_turns=_later(before.crown_turns, later.crown_turns),
        hours_run=_later(before.hours_run, later.hours_run),
        amplitudes=tuple(amplitudes.values()),
        noise=later.noise if later.noise is not None else before.noise,
    )


def _later(before: float | None, later: float | None) -> float | None:
    return before if later is None else later
