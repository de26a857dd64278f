"""When a measurand was read between the two zeros of a job."""

from __future__ import annotations

from decimal import Decimal

import pytest

from gaugelink.assembly.parts import share_gone
from gaugelink.capture.acts import ZERO, Taken
from gaugelink.capture.plan import JobRecord, JobSetup, make_plan
from gaugelink.model import DepthReference, Reading
from gaugelink.units import LengthUnit


def job(*taken: tuple[float, str], gauge_id: str = "caliper") -> JobRecord:
    """A job from times and measurands; the sizes do not matter here."""
    reading = Reading(
        value_mm=1.0,
        resolution_mm=0.01,
        displayed=str(Decimal("1.00")),
        unit=LengthUnit.MM,
        raw=b"1.00",
    )
    return JobRecord(
        job_id=1,
        created_utc="2026-01-01T00:00:00+00:00",
        setup=JobSetup(title="", plan=make_plan(DepthReference.RIM)),
        gauges=(),
        acts=tuple(
            Taken(gauge_id=gauge_id, elapsed_s=at_s, measurand=measurand, reading=reading)
            for at_s, measurand in taken
        ),
        closed=True,
    )


@pytest.mark.parametrize(
    ("taken", "share"),
    [
        ([(10, ZERO), (20, "bore"), (30, "bore"), (110, ZERO)], 0.15),
        ([(10, ZERO), (60, "depth"), (90, "bore"), (110, ZERO)], 0.8),
        ([(10, ZERO), (20, "bore")], 0.5),  # no zero after
        ([(20, "bore")], 0.5),
        ([(10, ZERO), (20, "depth"), (110, ZERO)], 0.5),  # not read
        ([(10, ZERO), (5, "bore"), (3, ZERO)], 0.5),  # continued: the clock began anew
        ([(10, ZERO), (20, "bore"), (5, ZERO), (110, ZERO)], 0.5),  # three zeros, two sittings
        ([(10, ZERO), (200, "bore"), (110, ZERO)], 0.5),  # not between them
    ],
)
def test_the_share_of_the_time(taken: list[tuple[float, str]], share: float) -> None:
    assert share_gone(job(*taken), "caliper", "bore") == pytest.approx(share)


def test_the_clock_of_another_gauge_does_not_count() -> None:
    other = job((10, ZERO), (20, "bore"), (110, ZERO), gauge_id="micrometer")
    assert share_gone(other, "caliper", "bore") == 0.5
