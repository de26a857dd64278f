"""The zero at the moment of a reading: straight between its two checks, and what is left open."""

from __future__ import annotations

import math
from dataclasses import replace
from random import Random

import pytest
from measurand_bench import CALIPER, check, gauge, record

from gaugelink.gauge_record import Repeatability
from gaugelink.model import GaugeKind
from gaugelink.uncertainty.estimate import Shape
from gaugelink.uncertainty.gauge_error import Zero, ZeroCheck, unseen_drift_mm, zero_at

KNOWN = record(checks=(check(0.004, zero_std_mm=0.002, zero_dof=9),))
DRIFTED = ZeroCheck(before_mm=0.0, after_mm=0.06, resolution_mm=0.01)


def at(share: float, zero: ZeroCheck = DRIFTED) -> Zero:
    moment = ZeroCheck(
        before_mm=zero.before_mm,
        after_mm=zero.after_mm,
        resolution_mm=zero.resolution_mm,
        share=share,
    )
    return zero_at(moment, CALIPER, KNOWN, "bore")


def contribution(zero: Zero, label: str) -> float:
    return math.fsum(t.factor * t.influence.u for t in zero.terms if t.influence.label == label)


@pytest.mark.parametrize("share", [0.0, 0.25, 0.5, 1.0])
def test_a_drift_far_beyond_the_scatter_is_followed(share: float) -> None:
    assert at(share).value_mm == pytest.approx(0.06 * share, abs=0.0003)


def test_a_difference_within_the_scatter_of_two_closings_is_no_drift() -> None:
    alike = ZeroCheck(before_mm=0.0, after_mm=0.002, resolution_mm=0.001)
    early = at(0.0, alike)
    assert early.value_mm == pytest.approx(0.001)
    assert {t.influence.label for t in early.terms if t.influence.u * t.factor} == {
        "caliper zero resolution",
        "caliper zero repeatability",
    }


def test_the_zero_strays_most_midway_and_not_at_its_checks() -> None:
    stray = [-contribution(at(share), "bore zero drift") for share in (0.0, 0.5, 1.0)]
    assert stray == pytest.approx([0.0, 0.03 / math.sqrt(3), 0.0], abs=1e-4)


def test_one_closing_alone_scatters_as_one() -> None:
    """At the first check only its own closing counts, midway the mean of two."""
    u = {
        share: math.hypot(*(contribution(at(share), f"caliper zero {of}") for of in SCATTERS))
        for share in (0.0, 0.5)
    }
    assert u[0.5] == pytest.approx(0.002 / math.sqrt(2))
    assert u[0.0] == pytest.approx(0.002, rel=0.01)


SCATTERS = ("repeatability", "slope")


def test_without_a_check_the_kind_says_how_it_closes() -> None:
    fine = ZeroCheck(before_mm=0.0, after_mm=None, resolution_mm=0.001)
    (assumed,) = (
        t.influence
        for t in zero_at(fine, CALIPER, None, "bore").terms
        if "repeatability" in t.influence.label
    )
    assert assumed.label == "caliper zero repeatability (0.01 mm assumed)"
    assert (assumed.u, assumed.shape) == (pytest.approx(0.01 / math.sqrt(3)), Shape.RECTANGULAR)
    micrometer = gauge(GaugeKind.MICROMETER, 0.004, 0.0)
    labels = [t.influence.label for t in zero_at(fine, micrometer, None, "lid").terms]
    assert "micrometer zero repeatability (one step assumed)" in labels


@pytest.mark.parametrize(
    ("step_mm", "mpe_mm", "limit_mm"),
    [(0.01, 0.02, 0.05), (0.001, 0.03, 0.03), (0.1, 0.02, 0.1), (0.001, 0.004, 0.005)],
)
def test_an_unseen_drift_is_bounded_by_steps_and_limit(
    step_mm: float, mpe_mm: float, limit_mm: float
) -> None:
    alone = ZeroCheck(before_mm=0.0, after_mm=None, resolution_mm=step_mm)
    caliper = gauge(GaugeKind.CALIPER, mpe_mm, 0.0)
    assert unseen_drift_mm(alone, caliper, None) == pytest.approx(limit_mm)
    u_mm = contribution(zero_at(alone, caliper, None, "bore"), unseen_label(limit_mm))
    assert -u_mm == pytest.approx(limit_mm / math.sqrt(3))


def test_a_drift_that_the_last_check_found_is_allowed_for() -> None:
    assert KNOWN.last_check is not None
    drifted = replace(KNOWN.last_check, zero=replace(KNOWN.last_check.zero, drift_mm=-0.08))
    record = replace(KNOWN, checks=(drifted,))
    alone = ZeroCheck(before_mm=0.0, after_mm=None, resolution_mm=0.01)
    assert unseen_drift_mm(alone, CALIPER, record) == 0.08


def test_readings_after_the_last_of_several_zeros_have_an_unseen_drift_too() -> None:
    resumed = ZeroCheck(before_mm=0.0, after_mm=0.0, resolution_mm=0.01, is_open=True)
    closed = replace(resumed, is_open=False)
    unseen = contribution(zero_at(resumed, CALIPER, KNOWN, "bore"), unseen_label(0.05))
    assert -unseen == pytest.approx(0.05 / math.sqrt(3))
    terms = zero_at(closed, CALIPER, KNOWN, "bore").terms
    assert not any("no zero after" in term.influence.label for term in terms)


def unseen_label(limit_mm: float) -> str:
    return f"bore zero drift, no zero after (±{limit_mm:g} mm, judgement)"


def test_zeros_that_only_scatter_are_not_taken_for_a_drift() -> None:
    """The stray that is stated without any drift, against that of half the difference as it is."""
    rng = Random(1)
    stated, plain = 0.0, 0.0
    for _ in range(500):
        pair = ZeroCheck(
            before_mm=rng.gauss(0.0, 0.002), after_mm=rng.gauss(0.0, 0.002), resolution_mm=0.0001
        )
        stated += contribution(at(0.5, pair), "bore zero drift") ** 2
        plain += pair.half_drift_mm**2 / 3.0
    assert stated < 0.55 * plain


def test_the_zero_of_early_and_late_readings_has_the_error_that_is_stated() -> None:
    """A straight drift of 0.02 mm, closings that scatter by 0.002 mm: error within u, 68 %."""
    rng = Random(2)
    for share in (0.1, 0.5, 0.9):
        errors = []
        u = 0.0
        for _ in range(400):
            before, after = rng.gauss(0.0, 0.002), 0.02 + rng.gauss(0.0, 0.002)
            zero = at(share, ZeroCheck(before_mm=before, after_mm=after, resolution_mm=0.0001))
            errors.append(zero.value_mm - 0.02 * share)
            u += math.hypot(*(t.factor * t.influence.u for t in zero.terms)) / 400
        rms = math.sqrt(math.fsum(e * e for e in errors) / 400)
        assert rms < u
        assert abs(math.fsum(errors) / 400) < 0.0005


@pytest.mark.parametrize(
    ("hand_mm", "label"),
    [(0.02, "as the hand scatters"), (0.006, "as the hand scatters"), (0.005, "one step assumed")],
)
def test_the_closings_of_an_unchecked_gauge_see_the_hand(hand_mm: float, label: str) -> None:
    """0.01 mm either way are 0.0058 mm; the hand counts where it scatters more."""
    hand = Repeatability(std_mm=hand_mm, dof=8.0)
    closed = ZeroCheck(before_mm=0.0, after_mm=0.0, resolution_mm=0.01, hand=hand)
    name = f"caliper zero repeatability ({label})"
    (closing,) = (
        term.influence
        for term in zero_at(closed, CALIPER, None, "bore").terms
        if term.influence.label == name
    )
    u_mm = hand_mm if hand_mm > 0.0058 else 0.01 / math.sqrt(3)
    assert closing.u == pytest.approx(u_mm / math.sqrt(2))
    assert (closing.shape is Shape.STUDENT) == (hand_mm > 0.0058)


@pytest.mark.parametrize(("hand_mm", "shakes"), [(0.003, False), (0.02, True)])
def test_a_checked_zero_gives_way_to_a_hand_that_scatters_clearly_more(
    hand_mm: float, shakes: bool
) -> None:
    hand = Repeatability(std_mm=hand_mm, dof=8.0)
    closed = ZeroCheck(before_mm=0.0, after_mm=0.0, resolution_mm=0.01, hand=hand)
    u_mm = -contribution(zero_at(closed, CALIPER, KNOWN, "bore"), "caliper zero repeatability")
    assert bool(u_mm) != shakes
