"""Conformance probabilities, guard bands and verdicts against JCGM 106 and ISO 14253-1."""

from __future__ import annotations

import math

import numpy as np
import pytest
from published import load
from scipy import stats

from gaugelink.errors import InputError
from gaugelink.uncertainty.conformity import (
    PROVEN,
    Zone,
    guard_band,
    probability_above,
    probability_below,
    probability_within,
)
from gaugelink.uncertainty.estimate import Estimate

EXAMPLES = load("jcgm106_probability")
DRAWS = np.random.default_rng(6).normal(10.0, 0.5, 200_000)


def of(value: float, u: float, dof: float = math.inf) -> Estimate:
    return Estimate(label="x", value=value, u=u, dof=dof, unit="mm", low=value, high=value)


def test_table_1_of_jcgm_106() -> None:
    table = EXAMPLES["table_1"]
    for p, z in zip(table["conformance_probability"], table["z"], strict=True):
        assert guard_band(1.0, probability=p) == pytest.approx(z, abs=0.0051)
        assert probability_below(of(0.0, 1.0), guard_band(1.0, probability=p)) == pytest.approx(p)


def test_zener_diode() -> None:
    zener = EXAMPLES["zener"]
    p = probability_below(of(zener["value_V"], zener["u_V"]), zener["limit_V"])
    assert p == pytest.approx(zener["published"], abs=0.005)
    assert p == pytest.approx(zener["recomputed"], abs=1e-7)


def test_speed_radar_rejects_surely_from_107_km_h() -> None:
    radar = EXAMPLES["speed_radar"]
    speed, limit = radar["recomputed_km_h"], radar["limit_km_h"]
    assert round(speed) == radar["published_km_h"]
    for kmh, proven in ((speed + 0.01, True), (speed - 0.01, False)):
        p = probability_above(of(kmh, radar["relative_u"] * kmh), limit)
        assert (p >= radar["probability"]) is proven


def test_guard_band_of_iso_14253_1() -> None:
    iso = EXAMPLES["iso_14253_1"]
    assert guard_band(1.0) == pytest.approx(iso["guard_band_in_u"], abs=0.006)
    assert guard_band(1.0) == pytest.approx(iso["recomputed"], abs=1e-7)
    zone = Zone(low=-0.2, high=0.2)
    on_the_edge = of(zone.high - 1.645 * 0.04, 0.04)
    p = probability_within(on_the_edge, zone)
    assert p == pytest.approx(iso["two_sided_at_guard_band"], abs=1e-8)


@pytest.mark.parametrize("dof", [1, 3, 16.75, math.inf])
@pytest.mark.parametrize("value", [-3.0, 0.1, 0.5, 9.0])
def test_probabilities_agree_with_scipy(value: float, dof: float) -> None:
    t = stats.norm if math.isinf(dof) else stats.t(dof)
    estimate, low, high = of(value, 0.3, dof), (0.0 - value) / 0.3, (1.0 - value) / 0.3
    assert probability_below(estimate, 1.0) == pytest.approx(t.cdf(high), rel=1e-9, abs=0)
    assert probability_above(estimate, 1.0) == pytest.approx(t.sf(high), rel=1e-9, abs=0)
    # From the tail that keeps the digits.
    expected = t.sf(low) - t.sf(high) if value < 0.0 else t.cdf(high) - t.cdf(low)
    assert probability_within(estimate, Zone(low=0.0, high=1.0)) == pytest.approx(
        expected, rel=1e-9, abs=0
    )


def test_draws_are_taken_as_they_are() -> None:
    assert probability_below(DRAWS, 10.5) == pytest.approx(stats.norm.cdf(1.0), abs=0.004)
    assert probability_above(DRAWS, 10.5) == pytest.approx(stats.norm.sf(1.0), abs=0.004)
    within = probability_within(DRAWS, Zone(low=9.5, high=10.5))
    assert within == np.mean((DRAWS >= 9.5) & (DRAWS <= 10.5))


def test_a_draw_without_a_value_lies_within_nothing() -> None:
    draws = np.array([1.0, math.nan, math.inf, -math.inf])
    assert probability_within(draws, Zone()) == 0.25
    assert probability_below(draws, 2.0) == 0.25
    assert probability_above(draws, 0.0) == 0.25


def test_exact_values_lie_within_or_not() -> None:
    limits = Zone(low=1.0, high=2.0)
    for value, p in ((0.9, 0.0), (1.0, 1.0), (2.0, 1.0), (2.1, 0.0)):
        assert probability_within(of(value, 0.0), limits) == p


@pytest.mark.parametrize(("limit", "below"), [(-math.inf, 0.0), (math.inf, 1.0)])
def test_no_limit(limit: float, below: float) -> None:
    for known in (of(1.0, 0.5), of(1.0, 0.0), DRAWS):
        assert probability_below(known, limit) == below
        assert probability_above(known, limit) == 1.0 - below


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        (0.0, (True, False)),
        (0.134, (True, False)),  # 0.2 - 1.645 x 0.04 = 0.1342
        (0.135, (False, False)),
        (0.265, (False, False)),
        (0.266, (False, True)),
        (-0.3, (False, True)),
    ],
)
def test_between_the_guard_bands_nothing_is_proven(
    value: float, expected: tuple[bool, bool]
) -> None:
    p = probability_within(of(value, 0.04), Zone(low=-0.2, high=0.2))
    assert (p >= PROVEN, p <= 1.0 - PROVEN) == expected


def test_few_degrees_of_freedom_widen_the_guard_band() -> None:
    assert guard_band(0.01, dof=4) == pytest.approx(stats.t.ppf(0.95, 4) * 0.01)


def test_impossible_requests_are_refused() -> None:
    with pytest.raises(InputError, match="No value lies between"):
        Zone(low=2.0, high=1.0)
    with pytest.raises(InputError, match="coverage must be"):
        guard_band(0.1, probability=1.0)
