"""Film on a spring, the plane of a depth, the hub of an arbor."""

from __future__ import annotations

import math

import pytest
from measurand_bench import combined_u, contributions, influence

from gaugelink.gauge_record import Anvils
from gaugelink.model import DepthReference
from gaugelink.uncertainty.estimate import Quantity, Shape
from gaugelink.uncertainty.measurand_model import (
    depth_to_plane,
    hub_alike,
    hub_of_snail,
    thickness_of_strip,
)


def size(label: str, value_mm: float) -> Quantity:
    return Quantity(label=label, value=value_mm)


@pytest.mark.parametrize(
    ("anvils", "most_mm", "label"),
    [
        (None, 0.005, "found_thickness film and cross-curvature (0 to 5 um high)"),
        (Anvils.FLAT, 0.005, "found_thickness film and cross-curvature (0 to 5 um high)"),
        (Anvils.BALL, 0.002, "found_thickness film (0 to 2 um high)"),
    ],
)
def test_a_spring_reads_high_and_only_high(
    anvils: Anvils | None, most_mm: float, label: str
) -> None:
    strip = thickness_of_strip(size("found_thickness", 0.130), anvils)
    high = influence(strip, label)
    half_mm = high.u * math.sqrt(3)
    assert high.shape is Shape.RECTANGULAR
    # From 0 to the most: the interval of the truth ends at the reading itself.
    assert strip.value + half_mm == pytest.approx(0.130)
    assert strip.value - half_mm == pytest.approx(0.130 - most_mm)
    assert contributions(strip)[label] < 0.0  # the more film, the thinner the spring


@pytest.mark.parametrize(
    ("reference", "label"),
    [
        (DepthReference.RIM, "lid not flush with the rim"),
        (DepthReference.SEAT, "beam on the narrow lid seat"),
    ],
)
def test_a_depth_goes_to_the_plane_of_the_lid(reference: DepthReference, label: str) -> None:
    depth = depth_to_plane(size("depth", 1.92), reference)
    assert depth.value == 1.92
    assert contributions(depth) == {label: pytest.approx(0.010 / math.sqrt(3))}


MIDDLE = "arbor hub shape (mean or middle of its widths)"
UNSEEN = "arbor hub shape (a rise not seen)"


@pytest.mark.parametrize("used_mm", [(3.70, 3.82, 3.71), (3.82, 3.70, 3.80, 3.81, 3.82)])
def test_a_snail_reaches_to_the_mean_of_its_smallest_and_largest(
    used_mm: tuple[float, ...],
) -> None:
    mean_mm = math.fsum(used_mm) / len(used_mm)
    hub = hub_of_snail(size("arbor", mean_mm), used_mm)
    assert hub.value == mean_mm
    assert contributions(hub) == {
        MIDDLE: pytest.approx(abs(mean_mm - 3.76) / math.sqrt(3)),
        UNSEEN: pytest.approx(0.05 / math.sqrt(3)),
    }


@pytest.mark.parametrize("used_mm", [(3.70, 3.82), (3.75, 3.77), (3.76, 3.76), (3.5, 4.02)])
def test_a_hub_is_no_better_known_where_a_rise_is_seen(used_mm: tuple[float, ...]) -> None:
    """Smallest and largest alone leave no doubt of their middle, all of the rest."""
    alike, seen = hub_alike(size("arbor", 3.76)), hub_of_snail(size("arbor", 3.76), used_mm)
    assert contributions(seen) == {UNSEEN: pytest.approx(combined_u(alike))}


def test_an_even_rise_has_its_mean_diameter_in_the_middle() -> None:
    """With r = r0 + c t, the widths run from 2 r0 + c/2 to 2 r0 + 3 c/2."""
    r0, rise = 1.8, 0.2

    def radius(turn: float) -> float:
        return r0 + rise * (turn % 1.0)

    widths = [radius(t / 1000) + radius(t / 1000 + 0.5) for t in range(500)]
    hub = hub_of_snail(size("arbor", math.fsum(widths) / len(widths)), widths)
    mean_diameter = 2 * (r0 + rise / 2)
    assert hub.value == pytest.approx(mean_diameter, abs=0.001)


def test_a_hub_that_reads_alike_may_have_been_tried_at_one_width() -> None:
    hub = hub_alike(size("arbor", 3.80))
    assert hub.value == 3.80
    # Within what repairers count with for an arbor, 0.03 to 0.05 mm: common practice.
    assert 0.025 < combined_u(hub) < 0.05
