"""A running job to look at: a real session with the real plan, pressed by hand. Invented."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from gaugelink.capture.acts import Act
from gaugelink.capture.plan import make_plan
from gaugelink.capture.session import CaptureSession
from gaugelink.model import DepthReference, GaugeEvent, GaugeInfo, GaugeKind, Reading, Sends
from gaugelink.units import LengthUnit, step_mm, to_mm


def gauge(kind: GaugeKind) -> GaugeInfo:
    return GaugeInfo(
        gauge_id=str(kind),
        kind=kind,
        sends=Sends.BUTTON,
        address="sim:bench",
        format="invented",
        mpe_mm=0.02,
        shift_mpe_mm=0.02,
        mpe_source="invented",
    )


CALIPER, MICROMETER = gauge(GaugeKind.CALIPER), gauge(GaugeKind.MICROMETER)


def reading(shown: str, unit: LengthUnit = LengthUnit.MM) -> Reading:
    value = Decimal(shown)
    return Reading(
        value_mm=to_mm(value, unit),
        resolution_mm=step_mm(value, unit),
        displayed=shown,
        unit=unit,
        raw=shown.encode(),
    )


class Job:
    """A session whose events are handed on to a screen or talk, as the runner does."""

    def __init__(
        self,
        *gauges: GaugeInfo,
        without: Sequence[str] = (),
        depth_reference: DepthReference = DepthReference.RIM,
    ) -> None:
        plan = make_plan(depth_reference, without=without)
        self.session = CaptureSession(plan, gauges or (CALIPER,))
        self.watcher: object = None
        self._now_s = 0.0

    def press(
        self,
        shown: str,
        who: GaugeInfo = CALIPER,
        unit: LengthUnit = LengthUnit.MM,
        after_s: float = 1.0,
    ) -> None:
        """Press the data button, a second after the last time."""
        self._now_s += after_s
        body = reading(shown, unit)
        self.hear(GaugeEvent(gauge_id=who.gauge_id, elapsed_s=self._now_s, body=body))

    def hear(self, event: GaugeEvent) -> None:
        self.act(self.session.hear(event))
        if self.watcher is not None:
            self.watcher.heard(event)  # type: ignore[attr-defined]

    def act(self, acts: Sequence[Act]) -> None:
        if acts and self.watcher is not None:
            self.watcher.acted(acts)  # type: ignore[attr-defined]
