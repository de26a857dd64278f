"""A job with everything that a report has to say; invented."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from gaugelink.capture.acts import ZERO, Act, Taken
from gaugelink.capture.plan import JobRecord, JobSetup, make_plan
from gaugelink.model import DepthReference, Flag, GaugeInfo, GaugeKind, Reading, Sends
from gaugelink.units import LengthUnit


def gauge(kind: GaugeKind) -> GaugeInfo:
    return GaugeInfo(
        gauge_id=f"usb-{kind}",
        kind=kind,
        sends=Sends.BUTTON,
        address=f"serial:usb-{kind}?format=invented",
        format="invented",
        mpe_mm=0.02,
        shift_mpe_mm=0.03,
        mpe_source="invented",
    )


CALIPER, MICROMETER = gauge(GaugeKind.CALIPER), gauge(GaugeKind.MICROMETER)


def taken(who: GaugeInfo, measurand: str, *shown: str) -> list[Act]:
    acts: list[Act] = []
    for number, text in enumerate(shown):
        places = -int(Decimal(text).as_tuple().exponent)
        reading = Reading(
            value_mm=float(text),
            resolution_mm=float(f"1e-{places}"),
            displayed=text,
            unit=LengthUnit.MM,
            raw=text.encode() + b"\r",
            flags=frozenset({Flag.LOW_BATTERY, Flag.HELD}) if number == 0 else frozenset(),
        )
        acts.append(
            Taken(gauge_id=who.gauge_id, elapsed_s=number, measurand=measurand, reading=reading)
        )
    return acts


# The third bore reading is far too short and is rejected; the depth is one reading only;
# the spread of the lid is wide.
ACTS = (
    *taken(CALIPER, ZERO, "0.00"),
    *taken(CALIPER, "bore", "11.52", "11.51", "11.22", "11.52", "11.53", "11.51", "11.52"),
    *taken(CALIPER, "depth", "1.92"),
    *taken(CALIPER, ZERO, "-0.01"),
    *taken(MICROMETER, ZERO, "0.002"),
    *taken(MICROMETER, "lid", "0.340", "0.341", "0.362"),
)


def job(
    acts: Sequence[Act] = ACTS,
    *,
    gauges: tuple[GaugeInfo, ...] = (CALIPER, MICROMETER),
    title: str = "bag 17",
    closed: bool = False,
) -> JobRecord:
    return JobRecord(
        job_id=3,
        created_utc="2026-03-01T09:05:59.123+00:00",
        setup=JobSetup(title=title, plan=make_plan(DepthReference.RIM)),
        gauges=gauges,
        acts=tuple(acts),
        closed=closed,
    )
