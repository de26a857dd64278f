"""A calibration certificate takes the place of the MPE where it reaches."""

from __future__ import annotations

import math

import pytest
from measurand_bench import CALIPER, contributions, found, influence, record, summarised

from gaugelink.gauge_record import CertificatePoint
from gaugelink.uncertainty.estimate import Quantity, Shape
from gaugelink.uncertainty.first_order import propagate
from gaugelink.uncertainty.gauge_error import correction_at
from gaugelink.uncertainty.measurand import Face, quantity_from_summary
from gaugelink.uncertainty.measurand_model import measured_quantity


def point(size_mm: float, correction_mm: float, expanded_u_mm: float = 0.008, k: float = 2.0):
    return CertificatePoint(
        size_mm=size_mm, correction_mm=correction_mm, expanded_u_mm=expanded_u_mm, k=k
    )


POINTS = (point(5.0, -0.004), point(10.0, 0.006, 0.012), point(25.0, 0.0, 0.009, 3.0))


def corrected(indication_mm: float, points=POINTS) -> tuple[float, dict[str, float]]:
    correction = correction_at(indication_mm, CALIPER, points, "depth")
    terms = {t.influence.label: t.factor * t.influence.u for t in correction.terms}
    return correction.value_mm, terms


@pytest.mark.parametrize(
    ("indication_mm", "correction_mm", "u_mm"),
    [
        (0.0, 0.0, 0.004),  # the gauge was set at zero
        (2.5, -0.002, 0.004),
        (5.0, -0.004, 0.004),
        (7.5, 0.001, 0.005),
        (10.0, 0.006, 0.006),
        (17.5, 0.003, 0.0045),
        (25.0, 0.0, 0.003),
        (-0.01, 0.0, 0.004),
    ],
)
def test_corrections_run_straight_from_point_to_point(
    indication_mm: float, correction_mm: float, u_mm: float
) -> None:
    value_mm, terms = corrected(indication_mm)
    assert value_mm == pytest.approx(correction_mm, abs=1e-12)
    assert terms["caliper certificate"] == pytest.approx(u_mm)
    assert "MPE ±0.02 mm (invented), caliper" not in terms


@pytest.mark.parametrize(
    ("indication_mm", "half_mm"), [(5.0, 0.0), (7.5, 0.005), (6.25, 0.00375), (10.0, 0.0)]
)
def test_between_two_points_it_may_stray(indication_mm: float, half_mm: float) -> None:
    _, terms = corrected(indication_mm)
    straying = terms["depth between two points of the certificate"]
    assert straying == pytest.approx(half_mm / math.sqrt(3), abs=1e-12)


def test_beyond_the_last_point_the_limit_holds_again() -> None:
    value_mm, terms = corrected(30.0, POINTS[:2])
    assert value_mm == pytest.approx(0.006)
    assert terms["MPE ±0.02 mm (invented), caliper"] == pytest.approx(0.02 / math.sqrt(3))
    assert terms["caliper certificate"] == pytest.approx(0.006)


def test_without_a_certificate_there_is_only_the_limit() -> None:
    assert corrected(10.0, ()) == (
        0.0,
        {"MPE ±0.02 mm (invented), caliper": pytest.approx(0.02 / math.sqrt(3))},
    )


def test_a_certificate_point_at_zero_is_taken_as_it_stands() -> None:
    value_mm, _ = corrected(0.0, (point(0.0, 0.003), point(10.0, 0.003)))
    assert value_mm == pytest.approx(0.003)


def test_the_certificate_moves_all_sizes_of_its_gauge_together() -> None:
    calibrated = record(certificate=(point(0.0, 0.0), point(20.0, 0.0)))
    depth, lid = (
        quantity_from_summary(summarised(name, [size]), CALIPER, None, Face.OUTSIDE, calibrated)
        for name, size in (("depth", 1.92), ("lid", 0.34))
    )
    shared = influence(depth, "caliper certificate")
    assert shared == influence(lid, "caliper certificate")
    assert shared.shape is Shape.NORMAL
    (line,) = propagate(lambda x: {"h": x["depth"] - x["lid"]}, [depth, lid])
    (row,) = (r for r in line.rows if r.influence == "caliper certificate")
    assert row.contribution == pytest.approx(0.0, abs=1e-12)


def test_a_calibrated_caliper_knows_a_thickness_better_and_corrects_it() -> None:
    calibrated = record(certificate=(point(1.0, 0.004), point(10.0, 0.006)))
    plain, better = (
        measured_quantity(found("lid", [1.50, 1.50, 1.51], record=r)) for r in (None, calibrated)
    )
    assert better.value - plain.value == pytest.approx(0.004 + 0.002 * 0.5 / 9, abs=1e-4)
    assert _u(better) < 0.6 * _u(plain)


def test_inside_jaws_keep_their_shift_whatever_the_certificate() -> None:
    calibrated = record(certificate=POINTS)
    bore = measured_quantity(found("bore", [11.52, 11.51, 11.53], record=calibrated))
    assert contributions(bore)["caliper inside scale shift"] == pytest.approx(0.02 / math.sqrt(3))


def _u(quantity: Quantity) -> float:
    return math.hypot(*contributions(quantity).values())
