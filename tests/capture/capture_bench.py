"""An invented bench for the capture tests: gauges, a short plan, hands that move in event time."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from decimal import Decimal

from gaugelink.capture.acts import Act, NotTaken, Taken
from gaugelink.capture.lane import Lane
from gaugelink.capture.plan import Plan, Step
from gaugelink.capture.progress import Progress, Reviewer, no_review
from gaugelink.capture.session import CaptureSession
from gaugelink.model import (
    Flag,
    GaugeEvent,
    GaugeEventBody,
    GaugeInfo,
    GaugeKind,
    Reading,
    Seek,
    Sends,
)
from gaugelink.units import LengthUnit, step_mm, to_mm


def reading(value: str, unit: LengthUnit = LengthUnit.MM, flags: Iterable[Flag] = ()) -> Reading:
    number = Decimal(value)
    return Reading(
        value_mm=to_mm(number, unit),
        resolution_mm=step_mm(number, unit),
        displayed=value,
        unit=unit,
        raw=value.encode(),
        flags=frozenset(flags),
    )


def gauge(
    kind: GaugeKind = GaugeKind.CALIPER, sends: Sends = Sends.BUTTON, address: str = "sim:bench"
) -> GaugeInfo:
    return GaugeInfo(
        gauge_id=str(kind),
        kind=kind,
        sends=sends,
        address=address,
        format="invented",
        mpe_mm=0.02,
        shift_mpe_mm=0.02,
        mpe_source="invented",
    )


CALIPER = gauge()
MICROMETER = gauge(GaugeKind.MICROMETER)
STREAMING = gauge(sends=Sends.STREAM)


def step(
    measurand: str,
    n_wanted: int = 2,
    seek: Seek = Seek.SETTLED,
    *,
    kinds: Sequence[GaugeKind] = (GaugeKind.CALIPER,),
    low_mm: float = 0.5,
    high_mm: float = 9.0,
) -> Step:
    return Step(
        measurand=measurand,
        kinds=tuple(kinds),
        seek=seek,
        n_wanted=n_wanted,
        low_mm=low_mm,
        high_mm=high_mm,
        instruction=f"Measure the {measurand}.",
    )


BORE = step("bore", 2, Seek.MAXIMUM, low_mm=3.0, high_mm=30.0)
DEPTH = step("depth", 2)
ARBOR = step("arbor", 2, Seek.MINIMUM, low_mm=0.8, high_mm=15.0)
LID = step("lid", 2, kinds=(GaugeKind.MICROMETER, GaugeKind.CALIPER), low_mm=0.1, high_mm=2.0)
THICKNESS = step("found_thickness", 2, low_mm=0.03, high_mm=0.4)


class Bench:
    """A session and the hands that work it; ``acts`` is all that came of it."""

    def __init__(
        self,
        *steps: Step,
        gauges: Sequence[GaugeInfo] = (CALIPER,),
        review: Reviewer = no_review,
        acts: Sequence[Act] = (),
    ) -> None:
        self.session = CaptureSession(Plan(steps=steps), gauges, review)
        if acts:
            self.session.restore(acts)
        self.acts = list(acts)
        self.now_s = 0.0
        self._first_id = gauges[0].gauge_id

    @property
    def lane(self) -> Lane:
        return self.session.lanes[self._first_id]

    def send(self, body: GaugeEventBody, wait_s: float = 1.0, gauge_id: str = "") -> list[Act]:
        """Let one event come ``wait_s`` after the last."""
        self.now_s += wait_s
        event = GaugeEvent(gauge_id=gauge_id or self._first_id, elapsed_s=self.now_s, body=body)
        return self._note(self.session.hear(event))

    def press(self, value: str, wait_s: float = 1.0, gauge_id: str = "") -> list[Act]:
        """Press the data button while the display shows ``value``."""
        return self.send(reading(value), wait_s, gauge_id)

    def stream(self, values: Iterable[str], hz: float = 20.0) -> list[Act]:
        """Let the gauge show one value after the other."""
        return [act for value in values for act in self.send(reading(value), 1.0 / hz)]

    def rest(self, value: str, for_s: float = 1.0, hz: float = 20.0) -> list[Act]:
        """Hold a streaming gauge still."""
        return self.stream([value] * round(for_s * hz), hz)

    def wait(self, for_s: float) -> list[Act]:
        """Let time pass in silence."""
        self.now_s += for_s
        return self._note(self.session.tick(self._first_id, self.now_s))

    def undo(self) -> list[Act]:
        return self._note(self.session.undo())

    def skip(self) -> list[Act]:
        return self._note(self.session.skip())

    def standing(self, measurand: str, gauge_id: str = "") -> list[str]:
        """Return what stands, as displayed."""
        progress = self.session.lanes[gauge_id or self._first_id].progress
        return [r.displayed for r in progress.standing(measurand)]

    def _note(self, acts: list[Act]) -> list[Act]:
        self.acts += acts
        return acts


def kinds(acts: Iterable[Act]) -> list[str]:
    """Return what sort of acts they are."""
    return [type(act).__name__ for act in acts]


def taken(acts: Iterable[Act]) -> list[str]:
    """Return the readings taken, as displayed."""
    return [act.reading.displayed for act in acts if isinstance(act, Taken)]


def refusals(acts: Iterable[Act]) -> list[str]:
    """Return the reasons of the refusals."""
    return [act.reason for act in acts if isinstance(act, NotTaken)]


def state(progress: Progress) -> dict[str, object]:
    """Return everything that a progress shows."""
    names = ("zero", *(each.measurand for each in progress.steps))
    return {
        "stage": progress.stage,
        "current": progress.current,
        "last": progress.last,
        "halted": progress.halted,
        "unit": progress.unit,
        "standing": {name: progress.standing(name) for name in names},
        "wanted": {name: progress.wanted(name) for name in names[1:]},
        "skipped": [name for name in names if progress.is_skipped(name)],
    }
