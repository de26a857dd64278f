"""Out of round, or only scatter: what is seen, how often by mistake, and how large."""

from __future__ import annotations

import math
from random import Random

import pytest
from measurand_bench import check, found, record, summarised
from scipy import stats

from gaugelink.gauge_record import GaugeRecord, Repeatability
from gaugelink.model import GaugeKind
from gaugelink.uncertainty.measurand_model import form_found_mm
from gaugelink.uncertainty.scatter import (
    SEEN_ALPHA,
    f_tail,
    form_std_mm,
    hub_rise_mm,
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


def turned(rng: Random, n: int, half_span_mm: float, noise_mm: float) -> list[float]:
    """Readings at random places of an oval bore, unrounded."""
    return [
        11.5 + half_span_mm * math.cos(rng.uniform(0.0, math.tau)) + rng.gauss(0.0, noise_mm)
        for _ in range(n)
    ]


def seen(rng: Random, half_span_mm: float, *, n: int, noise_mm: float = 0.004) -> float:
    values = turned(rng, n, half_span_mm, noise_mm)
    return out_of_round_mm(form_std_mm(summarised("bore", values, step_mm=1e-4), OWN))


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
    summary = summarised("bore", values)
    assert form_std_mm(summary, Repeatability(std_mm=0.005, dof=50.0)) == pytest.approx(
        math.sqrt(0.00025 - 0.005**2)
    )
    for own in (Repeatability(std_mm=0.02, dof=50.0), Repeatability(std_mm=0.005, dof=2.0)):
        assert form_std_mm(summary, own) == 0.0


def test_one_reading_shows_no_form() -> None:
    assert form_std_mm(summarised("bore", [11.5]), OWN) == 0.0


def test_spans_of_the_two_forms() -> None:
    """Variance a^2/2 of a cosine with span 2 a; variance R^2/12 of an even rise R."""
    assert out_of_round_mm(0.03 / math.sqrt(2)) == pytest.approx(0.06)
    assert hub_rise_mm(0.12 / math.sqrt(12)) == pytest.approx(0.12)


def test_own_scatter_is_half_a_step_until_the_gauge_was_checked() -> None:
    assert own_repeatability(CALIPER, 0.01, None) == Repeatability(std_mm=0.005, dof=8.0)
    assert own_repeatability(CALIPER, 0.01, record()) == Repeatability(std_mm=0.005, dof=8.0)
    checked = record(checks=(check(0.007, n=11), check(0.001)))
    own = own_repeatability(CALIPER, 0.01, checked)
    assert (own.std_mm, own.dof) == (pytest.approx(0.007), 10)


@pytest.mark.parametrize("known", [None, record(checks=(check(0.0002),))])
def test_a_fine_display_does_not_make_the_hand_steadier(known: GaugeRecord | None) -> None:
    assert own_repeatability(CALIPER, 0.001, known).std_mm == 0.005
    assert own_repeatability(MICROMETER, 0.0001, known).std_mm == 0.0005


def test_a_display_that_never_moved_still_hides_its_step() -> None:
    still = record(checks=(check(0.0),))
    assert own_repeatability(MICROMETER, 0.01, still).std_mm == pytest.approx(0.01 / math.sqrt(12))


def test_a_known_scatter_decides_what_is_seen() -> None:
    values = (11.52, 11.50, 11.54, 11.49, 11.53)
    assert form_found_mm(found("bore", values)) > 0.04
    rough = record(checks=(check(0.03),))
    assert form_found_mm(found("bore", values, record=rough)) == 0.0


def test_only_what_is_read_around_has_a_form() -> None:
    values = (1.90, 1.95, 1.99, 1.85, 1.92)
    assert form_found_mm(found("depth", values)) == 0.0
    assert form_found_mm(found("arbor", values)) > 0.1
