"""From the acts of a job to summaries, the plan that remains, and inputs of the sizing."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal

import pytest

from gaugelink.assembly.job import Job
from gaugelink.assembly.parts import measured_parts, remaining_plan, unit_begun_in
from gaugelink.capture.acts import ZERO, Act, Skipped, Taken, Undone
from gaugelink.capture.plan import JobRecord, JobSetup, make_plan
from gaugelink.errors import SizingError
from gaugelink.model import GaugeInfo, GaugeKind, OutlierMark, Reading, Sends
from gaugelink.sizing.inputs import given_spring
from gaugelink.statistics.outlier_method import OutlierMethod
from gaugelink.uncertainty.estimate import quantity_from_typed
from gaugelink.units import LengthUnit


def gauge(kind: GaugeKind, mpe_mm: float, shift_mpe_mm: float = 0.0) -> GaugeInfo:
    return GaugeInfo(
        gauge_id=str(kind),
        kind=kind,
        sends=Sends.BUTTON,
        address=f"sim:{kind}",
        format="invented",
        mpe_mm=mpe_mm,
        shift_mpe_mm=shift_mpe_mm,
        mpe_source="invented",
    )


CALIPER = gauge(GaugeKind.CALIPER, 0.02, 0.03)
MICROMETER = gauge(GaugeKind.MICROMETER, 0.004)


def reading(displayed: str) -> Reading:
    places = -int(Decimal(displayed).as_tuple().exponent)
    return Reading(
        value_mm=float(displayed),
        resolution_mm=float(f"1e-{places}"),
        displayed=displayed,
        unit=LengthUnit.MM,
        raw=displayed.encode(),
    )


def taken(who: GaugeInfo, measurand: str, *displayed: str) -> list[Act]:
    return [
        Taken(gauge_id=who.gauge_id, elapsed_s=0.0, measurand=measurand, reading=reading(shown))
        for shown in displayed
    ]


def job(acts: Sequence[Act], *gauges: GaugeInfo, with_: Sequence[str] = ()) -> JobRecord:
    return JobRecord(
        job_id=1,
        created_utc="2026-03-01T09:00:00.000+00:00",
        setup=JobSetup(title="invented", plan=make_plan(with_=with_)),
        gauges=gauges or (CALIPER, MICROMETER),
        acts=tuple(acts),
        closed=False,
    )


BOTH = [
    *taken(CALIPER, ZERO, "0.00"),
    *taken(MICROMETER, ZERO, "0.001"),
    *taken(CALIPER, "bore", "11.52", "11.51", "11.53"),
    *taken(MICROMETER, "lid", "0.340", "0.341", "0.339"),
    *taken(CALIPER, "depth", "1.92", "1.93", "1.92"),
    *taken(CALIPER, ZERO, "0.01"),
]


def test_each_gauge_has_its_part_in_plan_order() -> None:
    caliper, micrometer = measured_parts(job(BOTH))
    assert [s.measurand for s in caliper.series] == ["bore", "depth"]
    assert [s.measurand for s in micrometer.series] == ["lid"]
    assert [s.mean_mm for s in caliper.summaries] == pytest.approx([11.52, 1.92333], abs=1e-5)
    assert (caliper.gauge, micrometer.gauge) == (CALIPER, MICROMETER)


LOW_BORE = ("11.52", "11.51", "11.52", "11.22", "11.53", "11.52", "11.51")
HIGH_BORE = tuple("11.82" if shown == "11.22" else shown for shown in LOW_BORE)


def marks_of(measurand: str, shown: Sequence[str], *treatment: OutlierMethod) -> list[OutlierMark]:
    record = job(taken(CALIPER, measurand, *shown), CALIPER)
    ((summary,),) = (part.summaries for part in measured_parts(record, *treatment))
    return list(summary.marks)


def test_a_swept_bore_rejects_what_is_short_and_keeps_what_is_long() -> None:
    (low,), (high,) = marks_of("bore", LOW_BORE), marks_of("bore", HIGH_BORE)
    assert (low.rejected, low.test) == (True, "grubbs-one-sided")
    assert (high.rejected, high.test) == (False, "grubbs-two-sided")


@pytest.mark.parametrize("off", ["1.62", "2.22"])
def test_a_settled_depth_rejects_on_both_sides(off: str) -> None:
    (mark,) = marks_of("depth", ("1.92", "1.91", "1.92", off, "1.93", "1.92"))
    assert (mark.rejected, mark.test) == (True, "grubbs-two-sided")


@pytest.mark.parametrize(
    ("treatment", "tests"),
    [
        (OutlierMethod.GRUBBS, ["grubbs-one-sided"]),
        (OutlierMethod.DIXON, ["dixon-r10-one-sided"]),
        (OutlierMethod.ESD, ["grubbs-one-sided"]),
        (OutlierMethod.NONE, []),
    ],
)
def test_the_treatment_is_chosen_afterwards(treatment: OutlierMethod, tests: list[str]) -> None:
    assert [mark.test for mark in marks_of("bore", LOW_BORE, treatment)] == tests


def test_the_treatment_reaches_the_quantities() -> None:
    record = job(taken(CALIPER, "depth", "1.92", "1.91", "1.92", "2.22", "1.93", "1.92"), CALIPER)
    values = [
        Job(record).quantities(treatment)["depth"].value
        for treatment in (OutlierMethod.GRUBBS, OutlierMethod.NONE)
    ]
    assert values == pytest.approx([1.92, 1.97])


def test_a_gauge_without_readings_has_an_empty_part() -> None:
    (part,) = measured_parts(job([], CALIPER))
    assert (part.zero, part.series, part.summaries) == (None, (), ())


def test_what_was_taken_back_does_not_stand() -> None:
    undo = Undone(gauge_id="caliper", elapsed_s=1.0, measurand="bore")
    acts = [*taken(CALIPER, "bore", "11.52", "19.99"), undo, *taken(CALIPER, "bore", "11.53")]
    (part,) = measured_parts(job(acts, CALIPER))
    assert [r.displayed for r in part.series[0].readings] == ["11.52", "11.53"]


@pytest.mark.parametrize(
    ("zeros", "correction_mm", "half_drift_mm"),
    [
        (["0.01"], 0.01, 0.0),
        (["0.00", "0.02"], 0.01, 0.01),
        (["0.02", "0.00"], 0.01, 0.01),
        # A job that was continued: the drift is the whole range, wherever it was seen.
        (["0.00", "0.03", "-0.01", "0.01"], 0.01, 0.02),
        (["0.01", "-0.02", "0.00"], -0.005, 0.015),
        (["0.00", "0.00", "0.00"], 0.0, 0.0),
    ],
)
def test_zeros_become_one_check(
    zeros: list[str], correction_mm: float, half_drift_mm: float
) -> None:
    (part,) = measured_parts(job(taken(CALIPER, ZERO, *zeros), CALIPER))
    assert part.zero is not None
    assert part.zero.correction_mm == pytest.approx(correction_mm)
    assert part.zero.half_drift_mm == pytest.approx(half_drift_mm)
    assert part.zero.resolution_mm == 0.01


def test_a_drift_keeps_its_direction() -> None:
    for zeros in (["0.00", "0.03"], ["0.03", "0.00"]):
        (part,) = measured_parts(job(taken(CALIPER, ZERO, *zeros), CALIPER))
        assert part.zero is not None
        assert (part.zero.before_mm, part.zero.after_mm) == tuple(map(float, zeros))


def test_quantities_are_corrected_by_the_zero_of_their_own_gauge() -> None:
    quantities = Job(job(BOTH)).quantities()
    values = {name: quantity.value for name, quantity in quantities.items()}
    # Jaw flats of 0 to 0.3 mm make the bore read 0.3^2 / (6 D) short on average; sweeps that
    # scatter by 0.01 mm miss by up to sqrt(5) / 2 of what is beyond a steady hand's 0.005 mm.
    swept = 11.515 + math.sqrt(5 * (0.01**2 - 0.005**2)) / 4
    bore = swept + 0.3**2 / (6 * swept)
    assert values == pytest.approx({"bore": bore, "depth": 1.918333, "lid": 0.339}, rel=1e-6)


@pytest.mark.parametrize(
    ("measurand", "shown", "shift"),
    [
        ("bore", "11.52", "caliper inside scale shift"),
        ("depth", "1.92", "caliper depth scale shift"),
        ("recess", "0.10", "caliper depth scale shift"),
        ("arbor", "3.80", None),
        ("lid", "0.34", None),
    ],
)
def test_inside_and_depth_faces_add_their_shift(
    measurand: str, shown: str, shift: str | None
) -> None:
    record = job(taken(CALIPER, measurand, shown, shown), CALIPER, with_=("recess",))
    labels = {t.influence.label for t in Job(record).quantities()[measurand].terms}
    shifts = {label for label in labels if "shift" in label}
    assert shifts == ({shift} if shift else set())


def test_sizes_by_one_gauge_share_its_error() -> None:
    quantities = Job(job(BOTH)).quantities()

    def influences(name: str) -> set[object]:
        return {term.influence for term in quantities[name].terms}

    shared = {
        "MPE ±0.02 mm (invented), caliper",
        "caliper zero resolution",
        "caliper zero repeatability (as the hand scatters)",
    }
    bench = {"bench temperature"}  # one bench, whatever the gauge
    common = influences("bore") & influences("depth")
    assert {getattr(i, "label", "") for i in common} == shared | bench
    both = influences("bore") & influences("lid")
    assert {getattr(i, "label", "") for i in both} == bench


@pytest.mark.parametrize(
    ("present", "left_out"),
    [
        ({"caliper", "micrometer"}, set()),
        ({"caliper"}, {"lid"}),
        ({"micrometer"}, {"bore", "depth"}),
        ({"another"}, {"bore", "depth", "lid"}),
    ],
)
def test_what_an_absent_gauge_measured_is_not_asked_again(
    present: set[str], left_out: set[str]
) -> None:
    record = job(BOTH)
    plan = remaining_plan(record, frozenset(present))
    before = {step.measurand for step in record.setup.plan.steps}
    assert {step.measurand for step in plan.steps} == before - left_out
    assert plan.depth_reference is record.setup.plan.depth_reference


def test_what_an_absent_gauge_skipped_or_took_back_is_asked_again() -> None:
    acts = [
        *taken(CALIPER, "bore", "11.52"),
        Undone(gauge_id="caliper", elapsed_s=1.0, measurand="bore"),
        Skipped(gauge_id="caliper", measurand="arbor"),
    ]
    names = {step.measurand for step in remaining_plan(job(acts), frozenset({"other"})).steps}
    assert {"bore", "arbor"} <= names


def test_a_gauge_goes_on_in_the_unit_it_was_begun_in() -> None:
    inch = replace(reading("0.4535"), unit=LengthUnit.INCH)
    first = Taken(gauge_id="caliper", elapsed_s=0.0, measurand=ZERO, reading=inch)
    record = job([first, *taken(MICROMETER, ZERO, "0.001")])
    assert unit_begun_in(record, "caliper") is LengthUnit.INCH
    assert unit_begun_in(record, "micrometer") is LengthUnit.MM
    assert unit_begun_in(job([]), "caliper") is None
    assert unit_begun_in(record, "another") is None


def test_a_spring_is_made_of_the_sizes_there_are() -> None:
    sizes = {
        name: quantity_from_typed(name, value, 0.001)
        for name, value in {"bore": 11.0, "found_thickness": 0.13, "found_height": 1.5}.items()
    }
    found = given_spring("found", sizes)
    assert found is not None
    assert found.thickness is sizes["found_thickness"]
    assert found.height is sizes["found_height"]
    assert found.length is None
    assert given_spring("documented", sizes) is None


@pytest.mark.parametrize("size", ["height", "length"])
def test_a_spring_without_thickness_is_refused(size: str) -> None:
    sizes = {f"found_{size}": quantity_from_typed(f"found_{size}", 1.5, 0.01)}
    with pytest.raises(SizingError, match="no thickness") as caught:
        given_spring("found", sizes)
    assert caught.value.inputs == ("found.thickness",)
    assert caught.value.hint
