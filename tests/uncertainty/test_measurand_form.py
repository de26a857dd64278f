"""Out of round, or only scatter: what is seen, how often by mistake, and how large."""

from __future__ import annotations

import math
from random import Random

import pytest
from measurand_bench import check, found, record, summarised
from scipy import stats

from gaugelink.gauge_record import Repeatability
from gaugelink.model import GaugeKind
from gaugelink.uncertainty.measurand_model import form_found_mm
from gaugelink.uncertainty.scatter import (
    MISSED_PER_SCATTER,
    SEEN_ALPHA,
    Around,
    f_tail,
    form_std_mm,
    hand_of,
    hub_rise_mm,
    missed_mm,
    out_of_round_mm,
    own_repeatability,
)

CALIPER, MICROMETER = GaugeKind.CALIPER, GaugeKind.MICROMETER
OWN = Repeatability(std_mm=0.004, dof=30.0)


@pytest.mark.parametrize("dof", [1, 2, 4, 9])
@pytest.mark.parametrize("own_dof", [2.0, 9.0, 50.0, 400.0])
@pytest.mark.parametrize("ratio", [0.01, 0.5, 1.0, 1.3, 4.0, 25.0])
def test_f_tail_against_scipy(ratio: float, dof: int, own_dof: float) -> None:
    expected = stats.f.sf(ratio, dof, own_dof)
    assert f_tail(ratio, dof, own_dof) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("dof", [1, 2, 4, 9])
@pytest.mark.parametrize("ratio", [0.5, 1.3, 3.32, 12.0])
def test_f_tail_of_what_is_known_is_that_of_chi_squared(ratio: float, dof: int) -> None:
    assert f_tail(ratio, dof, math.inf) == pytest.approx(stats.chi2.sf(ratio * dof, dof), rel=1e-3)


def turned(rng: Random, n: int, half_span_mm: float, noise_mm: float) -> list[float]:
    """Readings at random places of an oval bore, unrounded."""
    return [
        11.5 + half_span_mm * math.cos(rng.uniform(0.0, math.tau)) + rng.gauss(0.0, noise_mm)
        for _ in range(n)
    ]


def seen(rng: Random, half_span_mm: float, *, n: int, noise_mm: float = 0.004) -> float:
    return out_of_round_mm(form_of(turned(rng, n, half_span_mm, noise_mm), OWN))


def form_of(values_mm: list[float], own: Repeatability) -> float:
    summary = summarised("bore", values_mm, step_mm=1e-4)
    return form_std_mm(summary.std_mm or 0.0, summary.dof, own)


@pytest.mark.parametrize("n", [4, 5, 8])
def test_a_round_bore_is_taken_for_oval_in_one_series_of_a_hundred(n: int) -> None:
    """An outlier test may drop one reading, so n - 1 are left at times; own scatter is known."""
    rng = Random(n)
    trials = 1500
    alarms = sum(seen(rng, 0.0, n=n) > 0.0 for _ in range(trials))
    assert alarms / trials < SEEN_ALPHA + 4 * math.sqrt(SEEN_ALPHA / trials)
    assert alarms > 0


def test_an_oval_of_many_readings_is_found_with_its_size() -> None:
    rng = Random(3)
    spans = [seen(rng, 0.02, n=12) for _ in range(300)]
    assert sum(span > 0.0 for span in spans) > 280
    assert math.fsum(spans) / len(spans) == pytest.approx(0.04, rel=0.08)


def test_more_noise_than_the_gauge_is_known_for_is_form_and_less_is_none() -> None:
    values = [11.50, 11.52, 11.49, 11.53, 11.51]  # s = 0.0158
    assert form_of(values, Repeatability(std_mm=0.005, dof=50.0)) == pytest.approx(
        math.sqrt(0.00025 - 0.005**2)
    )
    for own in (Repeatability(std_mm=0.02, dof=50.0), Repeatability(std_mm=0.005, dof=2.0)):
        assert form_of(values, own) == 0.0


def test_one_reading_shows_no_form() -> None:
    assert found("bore", [11.5]).form_std_mm == 0.0


def test_spans_of_the_two_forms() -> None:
    """Variance a^2/2 of a cosine with span 2 a; variance R^2/12 of an even rise R."""
    assert out_of_round_mm(0.03 / math.sqrt(2)) == pytest.approx(0.06)
    assert hub_rise_mm(0.12 / math.sqrt(12)) == pytest.approx(0.12)


STATED = Repeatability(std_mm=0.01, dof=math.inf)


def test_own_scatter_is_what_is_stated_until_a_check_or_the_hand_shows_more() -> None:
    assert own_repeatability(CALIPER, 0.01, None) == STATED
    assert own_repeatability(CALIPER, 0.001, record(checks=(check(0.007),))) == STATED
    rough = own_repeatability(CALIPER, 0.01, record(checks=(check(0.02, n=11), check(0.001))))
    assert (rough.std_mm, rough.dof) == (pytest.approx(0.02), 10)
    hand = Repeatability(std_mm=0.03, dof=6.0)
    assert own_repeatability(CALIPER, 0.01, None, hand) == hand
    steady = Repeatability(std_mm=0.003, dof=6.0)
    assert own_repeatability(CALIPER, 0.01, None, steady) == STATED
    assert own_repeatability(MICROMETER, 0.0001, None).std_mm == 0.001
    assert own_repeatability(CALIPER, 0.05, None).std_mm == 0.05


@pytest.mark.parametrize("name", ["bore", "arbor"])
@pytest.mark.parametrize("n", [3, 5])
@pytest.mark.parametrize("step_mm", [0.01, 0.001])
def test_a_gauge_that_repeats_as_is_stated_shows_no_form_but_in_one_series_of_a_hundred(
    name: str, n: int, step_mm: float
) -> None:
    """Seen in 13.6 % of bores and 19.5 % of arbors when half of it was taken."""
    rng = Random(n)
    trials = 1200
    seen = 0
    for _ in range(trials):
        values = [11.0 + step_mm * round(rng.gauss(0.0, 0.01) / step_mm) for _ in range(n)]
        seen += form_found_mm(found(name, values, step_mm=step_mm)) > 0.0
    assert seen / trials < SEEN_ALPHA + 4 * math.sqrt(SEEN_ALPHA / trials)


def test_a_hand_that_the_other_series_show_to_shake_shows_no_form() -> None:
    """Twice the scatter that is stated, and eight degrees of freedom that say so."""
    rng = Random(8)
    trials, seen, blind = 800, 0, 0
    for _ in range(trials):
        bore = [11.0 + rng.gauss(0.0, 0.02) for _ in range(5)]
        std_mm = math.sqrt(sum(rng.gauss(0.0, 0.02) ** 2 for _ in range(8)) / 8)
        hand = Repeatability(std_mm=std_mm, dof=8.0)
        seen += form_found_mm(found("bore", bore, hand=hand)) > 0.0
        blind += form_found_mm(found("bore", bore)) > 0.0
    assert seen / trials < SEEN_ALPHA + 4 * math.sqrt(SEEN_ALPHA / trials)
    assert blind / trials > 0.4


def test_one_reading_that_makes_the_difference_is_named() -> None:
    assert found("bore", (11.01, 11.02, 11.13)).alone_mm == 11.13
    assert found("arbor", (3.80, 3.86, 3.80, 3.81)).alone_mm == 3.86
    assert found("bore", (11.52, 11.44, 11.56, 11.53, 11.47)).alone_mm is None
    assert found("bore", (11.01, 11.02, 11.01)).alone_mm is None


def told(std_mm: float, dof: int, around: bool = False) -> Around:
    return Around(std_mm=std_mm, dof=dof, around=around)


def test_the_hand_is_pooled_over_the_series_of_a_gauge() -> None:
    hand = hand_of([told(0.01, 4), told(0.02, 2)])
    assert hand == Repeatability(std_mm=pytest.approx(math.sqrt((4e-4 + 8e-4) / 6)), dof=6)
    assert hand_of([]) is None
    assert hand_of([told(0.0, 0)]) is None


def test_form_does_not_pass_for_the_hand() -> None:
    """An oval bore counts with the largest scatter of the others, alone with its own."""
    hand = hand_of([told(0.05, 4, around=True), told(0.01, 2), told(0.02, 2)])
    assert hand == Repeatability(std_mm=pytest.approx(math.sqrt((16e-4 + 2e-4 + 8e-4) / 8)), dof=8)
    alone = hand_of([told(0.05, 4, around=True)])
    assert alone == Repeatability(std_mm=pytest.approx(0.05), dof=4)


def test_misses_of_a_sweep_are_the_scatter_beyond_the_gauge() -> None:
    """5, 12, 13 um: what the steadiest hand scatters, what misses add, what is seen."""
    at = math.hypot(0.005, 0.012)
    assert missed_mm(CALIPER, at, 0.01, None) == pytest.approx(0.012 * math.sqrt(5) / 2)
    assert missed_mm(CALIPER, 0.005, 0.01, None) == 0.0
    assert missed_mm(CALIPER, 1.0, 0.01, None) == pytest.approx(0.03 * math.sqrt(5) / 2)
    rough = record(checks=(check(0.013),))
    assert missed_mm(CALIPER, at, 0.01, rough) == pytest.approx(0.0, abs=1e-6)


def test_a_square_of_an_angle_within_bounds_has_the_ratio_that_is_stated() -> None:
    rng = Random(5)
    misses = [rng.uniform(-1.0, 1.0) ** 2 for _ in range(100_000)]
    mean = math.fsum(misses) / len(misses)
    std = math.sqrt(math.fsum((m - mean) ** 2 for m in misses) / len(misses))
    assert mean / std == pytest.approx(MISSED_PER_SCATTER, rel=0.01)


def test_a_known_scatter_decides_what_is_seen() -> None:
    values = (11.52, 11.50, 11.54, 11.49, 11.53)
    assert form_found_mm(found("bore", values)) > 0.04
    rough = record(checks=(check(0.03),))
    assert form_found_mm(found("bore", values, record=rough)) == 0.0


def test_only_what_is_read_around_has_a_form() -> None:
    values = (1.90, 1.95, 1.99, 1.85, 1.92)
    assert form_found_mm(found("depth", values)) == 0.0
    assert form_found_mm(found("arbor", values)) > 0.1
