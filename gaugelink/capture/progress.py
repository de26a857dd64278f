"""How far one gauge has come in a job: the fold of its acts.

A completed series is looked at before the gauge goes on; the reviewer is further right.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import TypeAlias

from gaugelink.capture import acts
from gaugelink.capture.plan import Step
from gaugelink.model import Reading, Series
from gaugelink.units import LengthUnit


class Stage(StrEnum):
    """Where a gauge is in its job."""

    OPENING = "opening"  # the zero before is due
    MEASURING = "measuring"
    CLOSING = "closing"  # all measured; the zero after is due
    DONE = "done"


class Progress:
    """Standing readings and current step of one gauge.

    Live and when a job is opened again the state changes only through ``apply``,
    so a reopened job is exactly where it was left.
    """

    def __init__(self, steps: Sequence[Step]) -> None:
        self.steps = tuple(steps)
        self._planned = {step.measurand: step.n_wanted for step in steps}
        self._wanted = dict(self._planned)
        self._standing: defaultdict[str, list[Reading]] = defaultdict(list)
        self._superseded: defaultdict[str, list[Reading]] = defaultdict(list)
        self._redone: set[str] = set()
        self._skipped: set[str] = set()
        self._history: list[acts.Taken | acts.Skipped] = []
        self._zero_due = True
        self._done = False
        self.zero_mm = 0.0  # the latest zero reading; 0 before there is one
        self.halted = ""  # the reason, while readings are not taken
        self.unit: LengthUnit | None = None  # that of the first reading holds for the job
        self.current: Step | None = None  # the first step that still wants a reading
        self.stage = Stage.OPENING
        self._find_current()

    def apply(self, act: acts.Act) -> None:
        """Change the state as ``act`` says; acts that change nothing are ignored."""
        match act:
            case acts.Taken():
                self._standing[act.measurand].append(act.reading)
                self.unit = self.unit or act.reading.unit
                if act.is_zero:
                    self._zero_due, self.zero_mm = False, act.reading.value_mm
                else:
                    self._go_on(act)
            case acts.Skipped():
                self._skipped.add(act.measurand)
                self._go_on(act)
            case acts.Undone():
                self._take_back(self._history.pop())
            case acts.Superseded():
                self._put_aside(act.measurand)
            case acts.MoreWanted():
                self._wanted[act.measurand] = act.wanted
            case acts.Halted():
                self.halted = act.reason
            case acts.Resumed():
                self.halted = ""
            case acts.GaugeDone():
                self._done = True
            case _:
                return
        self._find_current()

    def _find_current(self) -> None:
        # Both are asked for with each frame, so they are found once an act.
        # What is measured anew was asked for by name, and comes before the rest.
        steps = sorted(self.steps, key=lambda step: step.measurand not in self._redone)
        self.current = next((s for s in steps if not self.is_complete(s.measurand)), None)
        self.stage = self._find_stage()

    def _find_stage(self) -> Stage:
        if self._done or not self.steps:
            return Stage.DONE
        if self._zero_due:
            return Stage.OPENING
        return Stage.MEASURING if self.current else Stage.CLOSING

    def _go_on(self, act: acts.Taken | acts.Skipped) -> None:
        self._history.append(act)
        self._done = False  # it had finished, and was given more to measure later

    def _take_back(self, act: acts.Taken | acts.Skipped) -> None:
        name = act.measurand
        if isinstance(act, acts.Skipped):
            self._skipped.discard(name)
            return
        self._standing[name].pop()
        # More was asked for because of the readings that stood then.
        if len(self._standing[name]) < self._planned.get(name, 0):
            self._wanted[name] = self._planned[name]

    def _put_aside(self, name: str) -> None:
        self._superseded[name] += self._standing.pop(name, [])
        self._skipped.discard(name)
        self._redone.add(name)
        if name in self._planned:
            self._wanted[name] = self._planned[name]
        self._history.clear()  # what else was measured is settled: an undo must not reach it

    def reopen(self) -> None:
        """Ask for a fresh zero before going on: the gauge may have been off meanwhile."""
        self.halted = ""
        if self._done and self.current is None:
            return
        self._done = False
        self._zero_due = True
        self._find_current()

    @property
    def last(self) -> acts.Taken | acts.Skipped | None:
        """What an undo would take back."""
        return self._history[-1] if self._history else None

    def is_complete(self, measurand: str) -> bool:
        """True when the measurand has all its readings or was skipped."""
        return (
            measurand in self._skipped or len(self.standing(measurand)) >= self._wanted[measurand]
        )

    def is_skipped(self, measurand: str) -> bool:
        """True when the person left the measurand out."""
        return measurand in self._skipped

    def wanted(self, measurand: str) -> int:
        """Return how many readings the measurand wants."""
        return self._wanted[measurand]

    def standing(self, measurand: str) -> tuple[Reading, ...]:
        """Return the readings that stand, in the order they were taken."""
        return tuple(self._standing.get(measurand, ()))

    def superseded(self, measurand: str) -> tuple[Reading, ...]:
        """Return the readings that stood until the measurand was measured anew, in order."""
        return tuple(self._superseded.get(measurand, ()))

    @property
    def n_standing(self) -> int:
        """How many readings stand, zeros among them."""
        return sum(map(len, self._standing.values()))

    @property
    def readings(self) -> tuple[Reading, ...]:
        """All standing readings except zeros, measurand by measurand."""
        return tuple(r for name, rs in self._standing.items() if name != acts.ZERO for r in rs)


@dataclass(frozen=True, slots=True, kw_only=True)
class Review:
    """What a look at a completed series asks for: ``n_more`` readings, for ``reason``.

    With ``n_more`` 0 it asks for nothing and ``reason`` says why more would not help.
    """

    n_more: int
    reason: str

    def __post_init__(self) -> None:
        if self.n_more < 0 or not self.reason:
            raise ValueError(f"a review has 0 or more readings and a reason, got {self}")


Reviewer: TypeAlias = Callable[[Series], Review | None]


def no_review(series: Series) -> Review | None:
    """Ask for nothing more and say nothing, whatever the series shows."""
    return None
