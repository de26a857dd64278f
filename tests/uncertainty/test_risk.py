"""Consumer's and producer's risk against JCGM 106, 9.5.4, and adaptive quadrature."""

from __future__ import annotations

import math

import pytest
from published import load
from scipy import integrate, stats

from gaugelink.errors import InputError
from gaugelink.uncertainty.conformity import Limits, acceptance_zone
from gaugelink.uncertainty.risk import (
    GammaPrior,
    NormalPrior,
    Risks,
    risks,
    upper_acceptance_limit,
)

BEARINGS = load("jcgm106_risk")["bearings"]
RESISTORS = load("jcgm106_risk")["resistors"]
RADIAL = GammaPrior(shape=BEARINGS["shape"], rate=BEARINGS["rate_per_um"])
OHMS = NormalPrior(mean=RESISTORS["mean"], std=RESISTORS["std"])
OHM_LIMITS = Limits(low=RESISTORS["low"], high=RESISTORS["high"])


def bearings(acceptance_um: float) -> Risks:
    tolerance = Limits(high=BEARINGS["limit_um"])
    return risks(RADIAL, BEARINGS["u_um"], tolerance, Limits(high=acceptance_um))


def test_ball_bearings_by_simple_acceptance() -> None:
    simple = bearings(BEARINGS["limit_um"])
    published, recomputed = BEARINGS["published"], BEARINGS["recomputed"]
    assert simple.out_of_tolerance == pytest.approx(published["out_of_tolerance"], abs=5e-4)
    assert simple.consumers == pytest.approx(published["consumers_simple"], abs=5e-4)
    assert simple.out_of_tolerance == pytest.approx(recomputed["out_of_tolerance"], abs=2e-9)
    assert simple.consumers == pytest.approx(recomputed["consumers_simple"], abs=2e-9)
    assert simple.producers == pytest.approx(recomputed["producers_simple"], abs=2e-9)


def test_ball_bearings_with_a_guard_band() -> None:
    wanted = BEARINGS["published"]["consumers_wanted"]
    limit_um = upper_acceptance_limit(RADIAL, BEARINGS["u_um"], BEARINGS["limit_um"], wanted)
    assert limit_um == pytest.approx(BEARINGS["recomputed"]["acceptance_limit_um"], abs=1e-6)
    guarded = bearings(limit_um)
    assert guarded.consumers == pytest.approx(wanted, rel=1e-6)
    assert guarded.producers == pytest.approx(BEARINGS["recomputed"]["producers_guarded"], abs=1e-7)


@pytest.mark.parametrize("row", RESISTORS["rows"], ids=lambda row: f"guard {row['guard']}")
def test_resistors_with_a_normal_prior(row: dict[str, float]) -> None:
    zone = acceptance_zone(OHM_LIMITS, row["guard"])
    found = risks(OHMS, RESISTORS["u"], OHM_LIMITS, zone)
    assert found.out_of_tolerance == pytest.approx(1.0 - RESISTORS["within"], abs=2e-9)
    assert found.consumers == pytest.approx(row["consumers"], abs=2e-9)
    assert found.producers == pytest.approx(row["producers"], abs=2e-9)


def test_what_is_known_after_a_measurement() -> None:
    updated = OHMS.updated(RESISTORS["updated"]["value"], RESISTORS["u"])
    assert updated.mean == pytest.approx(RESISTORS["updated"]["mean"], abs=1e-9)
    assert updated.std == pytest.approx(RESISTORS["updated"]["std"], abs=5e-8)


@pytest.mark.parametrize("u", [0.0005, 0.005, 0.1])
def test_a_fine_or_coarse_measurement_agrees_with_quadrature(u: float) -> None:
    prior = NormalPrior(mean=0.12, std=0.05)
    found = risks(prior, u, Limits(high=0.2), Limits(high=0.2))

    def accepted_outside(x: float) -> float:
        return stats.norm.pdf(x, 0.12, 0.05) * stats.norm.cdf((0.2 - x) / u)

    points = [0.2 + k * u for k in range(1, 9)]
    expected, _ = integrate.quad(accepted_outside, 0.2, 1.0, points=points, epsabs=1e-13, limit=300)
    assert found.consumers == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize("prior", [RADIAL, OHMS, GammaPrior(shape=1.0, rate=2.0)])
def test_the_support_holds_the_whole_density(prior: NormalPrior | GammaPrior) -> None:
    nothing = risks(prior, 0.1, Limits(low=1e9), Limits())
    assert nothing.out_of_tolerance == pytest.approx(1.0, abs=1e-7)


def test_accepting_all_or_nothing() -> None:
    everything = risks(OHMS, 0.04, OHM_LIMITS, Limits())
    assert everything.producers == pytest.approx(0.0, abs=1e-15)
    assert everything.consumers == pytest.approx(everything.out_of_tolerance)


@pytest.mark.parametrize("risk", [0.9, math.nan])
def test_a_risk_that_cannot_be_met_is_refused(risk: float) -> None:
    with pytest.raises(InputError, match="No acceptance limit"):
        upper_acceptance_limit(RADIAL, 0.25, 2.0, risk)
