"""What a job does in answer to its gauges: the acts that are journaled, then acknowledged.

A job is the sum of its acts: ``progress.Progress`` folds them, live and when a
job is opened again. Frames, faults and link changes are kept beside them as
``GaugeEvent`` but change nothing by themselves.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

from gaugelink.model import Reading

ZERO = "zero"  # the measurand of a closed-jaws check


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """A reading of ``measurand`` counts; ``note`` says what is odd about it, if anything."""

    gauge_id: str
    elapsed_s: float
    measurand: str
    reading: Reading
    note: str = ""

    @property
    def is_zero(self) -> bool:
        """True for a closed-jaws check."""
        return self.measurand == ZERO


@dataclass(frozen=True, slots=True, kw_only=True)
class NotTaken:
    """A frame was not taken as a reading, for ``reason``."""

    gauge_id: str
    elapsed_s: float
    reason: str
    displayed: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Repeated:
    """A double send of the frame before; counted once."""

    gauge_id: str
    elapsed_s: float
    displayed: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Undone:
    """The last standing reading (or skip) of ``measurand`` is taken back."""

    gauge_id: str
    elapsed_s: float
    measurand: str
    displayed: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Skipped:
    """The person leaves ``measurand`` out, or leaves it at the readings it has."""

    gauge_id: str
    measurand: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Superseded:
    """The readings of ``measurand`` with this gauge no longer count: it is measured again."""

    gauge_id: str
    measurand: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MoreWanted:
    """``measurand`` wants ``wanted`` readings in all, for ``reason``.

    Where it has as many already, ``reason`` says why more would not help.
    """

    gauge_id: str
    measurand: str
    wanted: int
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Completed:
    """``measurand`` has the ``n_readings`` it wanted."""

    gauge_id: str
    measurand: str
    n_readings: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Halted:
    """No reading is taken from this gauge until the cause in ``reason`` is gone."""

    gauge_id: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Resumed:
    """Readings are taken from this gauge again."""

    gauge_id: str


@dataclass(frozen=True, slots=True, kw_only=True)
class GaugeDone:
    """The closing zero of this gauge is taken; its part of the job is finished."""

    gauge_id: str


Act: TypeAlias = (
    Taken
    | NotTaken
    | Repeated
    | Undone
    | Skipped
    | Superseded
    | MoreWanted
    | Completed
    | Halted
    | Resumed
    | GaugeDone
)
