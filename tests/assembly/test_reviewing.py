"""Whether more readings are asked for while the gauge is in the hand, and what is said."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from gauge_samples import check, length, record
from hypothesis import given
from hypothesis import strategies as st
from test_job import CALIPER, MICROMETER, reading

from gaugelink.assembly.reviewing import STOCK_STEP_MM, JobInHand, Shares, review_series, shares
from gaugelink.capture.plan import MEASURANDS, make_plan
from gaugelink.capture.progress import Review
from gaugelink.gauge_record import CertificatePoint, GaugeRecord
from gaugelink.model import GaugeInfo, GaugeKind, Series
from gaugelink.statistics.summary import summarise

JOB = JobInHand(plan=make_plan(), gauges=(CALIPER, MICROMETER))
# Calibrated far better than its limit of error says.
KNOWN = replace(
    JOB,
    records={
        "micrometer": GaugeRecord(
            gauge_id="micrometer",
            kind=GaugeKind.MICROMETER,
            certificate=(
                CertificatePoint(size_mm=0.0, correction_mm=0.0, expanded_u_mm=0.0004),
                CertificatePoint(size_mm=25.0, correction_mm=0.0, expanded_u_mm=0.0004),
            ),
        )
    },
)
STRIP = ("0.130", "0.136", "0.131", "0.125", "0.133")


def series(measurand: str, *shown: str, gauge: GaugeInfo = CALIPER) -> Series:
    return Series(measurand=measurand, gauge_id=gauge.gauge_id, readings=tuple(map(reading, shown)))


def review(
    measurand: str, *shown: str, gauge: GaugeInfo = CALIPER, job: JobInHand | None = JOB
) -> Review:
    found = review_series(series(measurand, *shown, gauge=gauge), job)
    assert found is not None
    return found


def shares_of(measurand: str, *shown: str, job: JobInHand = JOB) -> Shares:
    of = series(measurand, *shown)
    return shares(job.found(of, summarise(of)))


def type_b_of(measurand: str, *shown: str) -> float:
    return shares_of(measurand, *shown).rest_mm


def test_type_b_of_a_depth_by_hand() -> None:
    """GUM 4.3.7: a bound a gives a / sqrt(3), a step q gives q / sqrt(12)."""
    two_closings_mm = 0.01 / math.sqrt(2)  # the last zero comes before the job is closed
    bounds_mm = (0.02, 0.03, 0.010, two_closings_mm)  # gauge, depth rod, plane of the rim, zero
    steps_mm = (0.01,)  # of the zero; that of the readings shows in their scatter
    variance = sum(a**2 / 3 for a in bounds_mm) + sum(q**2 / 12 for q in steps_mm)
    assert type_b_of("depth", "1.91", "1.92", "1.93") == pytest.approx(
        math.sqrt(variance), rel=1e-4
    )


def test_type_b_does_not_know_how_much_the_readings_scatter() -> None:
    little = type_b_of("depth", "1.91", "1.92", "1.93")
    assert type_b_of("depth", "1.90", "1.92", "1.94") == pytest.approx(little)


def test_a_step_that_no_scatter_shows_is_type_b() -> None:
    alike, scattered = (
        type_b_of("depth", *shown) for shown in (("1.92", "1.92", "1.92"), ("1.91", "1.92", "1.93"))
    )
    assert alike**2 - scattered**2 == pytest.approx(0.01**2 / 12)


def test_scatter_is_the_type_a_of_the_mean() -> None:
    now = shares_of("depth", "1.91", "1.92", "1.93")
    assert (now.scatter_mm, now.dof, now.n) == (pytest.approx(0.01 / math.sqrt(3)), 2.0, 3)


def test_half_widths_by_hand() -> None:
    """t_2 = 4.3027 and t_8 = 2.3060 at 95 %: GUM table G.2."""
    now = Shares(n=3, scatter_mm=0.003, dof=2.0, rest_mm=0.005)
    assert now.half_width_mm() == pytest.approx(math.hypot(4.3027 * 0.003, 0.010), rel=1e-4)
    scatter_mm = 2.3060 * 0.003 * math.sqrt(3 / 9)
    assert now.half_width_mm(6) == pytest.approx(math.hypot(scatter_mm, 0.010), rel=1e-4)


def test_a_scatter_known_from_a_check_is_not_asked_down() -> None:
    shown = ("1.90", "1.92", "1.93")
    records = {"caliper": record(checks=(check(length(n=10, std_mm=0.011)),))}
    plain, known = (
        review("depth", *shown, job=job) for job in (JOB, replace(JOB, records=records))
    )
    assert (plain.n_more > 0, known.n_more) == (True, 0)


def test_equal_readings_are_enough_and_that_is_said_with_what_is_left() -> None:
    said = review("depth", "1.92", "1.92", "1.92")
    assert said.n_more == 0
    assert "Enough readings" in said.reason
    assert f"±{2 * type_b_of('depth', '1.92', '1.92', '1.92'):.2g} mm" in said.reason


def test_a_gain_of_less_than_a_tenth_is_said_and_not_asked_for() -> None:
    said = review("depth", "1.92", "1.93", "1.93", job=replace(JOB, gauges=(gauge_of(0.01),)))
    assert said.n_more == 0
    assert "Enough readings" in said.reason


def gauge_of(mpe_mm: float) -> GaugeInfo:
    return replace(CALIPER, mpe_mm=mpe_mm, shift_mpe_mm=0.0)


def test_scatter_that_counts_is_asked_down() -> None:
    asked = review("found_thickness", *STRIP, gauge=MICROMETER)
    assert 1 <= asked.n_more <= 5
    assert f"Take {asked.n_more} more reading" in asked.reason


def test_a_better_gauge_makes_more_readings_worth_while() -> None:
    shown = ("0.130", "0.134", "0.131", "0.127", "0.132")
    plain, known = (
        review("found_thickness", *shown, gauge=MICROMETER, job=job) for job in (JOB, KNOWN)
    )
    assert (plain.n_more, known.n_more > 0) == (0, True)


def test_what_the_choice_of_a_spring_cannot_feel_is_not_asked_for() -> None:
    """The scatter of a strip matters at 5 um; that of a lid, which ends in a height, does not."""
    assert review("lid", "0.340", "0.343", "0.341", gauge=MICROMETER, job=KNOWN).n_more == 0
    finer = {"lid": 0.0}
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("gaugelink.assembly.reviewing.STOCK_STEP_MM", {**STOCK_STEP_MM, **finer})
        assert review("lid", "0.340", "0.343", "0.341", gauge=MICROMETER, job=KNOWN).n_more > 0


@pytest.mark.parametrize("job", [JOB, None])
def test_a_wide_series_asks_for_two_more(job: JobInHand | None) -> None:
    asked = review("depth", "1.90", "1.92", "1.99", job=job)
    assert asked.n_more == 2
    assert "spread" in asked.reason
    assert "1.90" not in asked.reason


@pytest.mark.parametrize(
    ("measurand", "shown", "gauge"),
    [
        ("depth", ("1.90", "1.99", "1.90"), CALIPER),
        ("bore", ("11.52", "11.44", "11.56", "11.53", "11.47"), CALIPER),
        ("arbor", ("3.70", "3.82", "3.76"), CALIPER),
        ("found_thickness", STRIP, MICROMETER),
    ],
)
def test_the_number_is_settled_once(
    measurand: str, shown: tuple[str, ...], gauge: GaugeInfo
) -> None:
    first = review(measurand, *shown, gauge=gauge)
    assert first.n_more > 0
    for n_more in range(1, first.n_more + 1):
        more = (*shown, *[shown[0]] * n_more)
        assert review_series(series(measurand, *more, gauge=gauge), JOB) is None


def test_an_oval_bore_is_read_at_other_places() -> None:
    asked = review("bore", "11.52", "11.44", "11.56", "11.53", "11.47")
    assert asked.n_more == 4
    assert "may be out of round, by about 0.13 mm" in asked.reason
    assert "halfway between" in asked.reason


def test_one_reading_alone_is_a_slip_before_it_is_an_oval() -> None:
    shown = ("11.01", "11.02", "11.01", "11.13", "11.02")
    assert review("bore", *shown) == Review(
        n_more=1,
        reason="One reading of the bore, 11.13 mm, lies 0.12 mm from the others, which agree: "
        "a slip more likely than an oval bore. Read that place once more.",
    )
    assert review_series(series("bore", *shown, "11.02"), JOB) is None  # asked once


def test_a_form_that_hardly_counts_is_said_alone() -> None:
    rough = replace(JOB, gauges=(gauge_of(0.3), MICROMETER))
    said = review("bore", "11.52", "11.49", "11.56", "11.50", "11.54", job=rough)
    assert said.n_more == 0
    assert "out of round" in said.reason


def test_a_snail_is_read_at_its_smallest_and_largest_width() -> None:
    asked = review("arbor", "3.70", "3.82", "3.76")
    assert (asked.n_more, asked.reason) == (
        2,
        "The hub may not be round: 3 readings scatter by 0.06 mm, where gauge and hand account for "
        "0.01 mm. Take 2 more: its smallest width, and its largest.",
    )


@pytest.mark.parametrize(
    ("shown", "word"),
    [
        (("0.120", "0.123", "0.126", "0.129", "0.132", "0.135"), "rise"),
        (("0.108", "0.300", "0.100", "0.110", "0.310", "0.104", "0.106"), "both lie apart"),
    ],
)
def test_a_series_to_be_measured_again_asks_for_no_more(shown: tuple[str, ...], word: str) -> None:
    step = replace(JOB.step("found_thickness"), n_wanted=len(shown))
    job = replace(JOB, plan=replace(JOB.plan, steps=(step,)))
    said = review("found_thickness", *shown, gauge=MICROMETER, job=job)
    assert said.n_more == 0
    assert word in said.reason
    assert "measure again" in said.reason


STEPS_OFF = st.lists(st.integers(-3, 3), min_size=3, max_size=3)


@given(STEPS_OFF, st.integers(-20, 20))
def test_the_answer_does_not_depend_on_the_mean(steps: list[int], moved: int) -> None:
    """Else one would stop where the mean pleases, and the interval would not hold."""
    answers = {
        review("depth", *(f"{(400 + at + step) / 100:.2f}" for step in steps)).n_more
        for at in (0, moved)
    }
    assert len(answers) == 1


@given(STEPS_OFF)
def test_never_more_than_ten_are_taken(steps: list[int]) -> None:
    asked = review("depth", *(f"{(192 + step) / 100:.2f}" for step in steps))
    assert 0 <= asked.n_more <= 7


def test_stock_comes_in_steps_of_what_the_plan_measures() -> None:
    assert STOCK_STEP_MM.keys() <= set(MEASURANDS)
