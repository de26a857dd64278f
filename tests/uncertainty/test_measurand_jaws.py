"""Inside jaws in a small bore: the chord, its correction, and flats that nobody measured."""

from __future__ import annotations

import math
from typing import Any

import pytest
from measurand_bench import contributions, influence
from published import load

from gaugelink.gauge_record import JawFlats
from gaugelink.uncertainty.estimate import Influence, Quantity, Shape, Term
from gaugelink.uncertainty.first_order import propagate
from gaugelink.uncertainty.measurand_model import (
    WIDEST_ASSUMED_MM,
    assumed_shortfall,
    bore_of_chord,
)

TABLE = load("inside_jaw_flats")
OWN = Influence(label="own", kind="B", u=0.01)


def chord(value_mm: float) -> Quantity:
    return Quantity(label="bore", value=value_mm, terms=(Term(influence=OWN),))


def flats(width_mm: float, u_mm: float = 0.0) -> JawFlats:
    return JawFlats(width_mm=width_mm, u_mm=u_mm)


def error_mm(hole_mm: float, width_mm: float) -> float:
    """By how much jaws that read the chord of ``hole_mm`` read short."""
    chord_mm = math.sqrt(hole_mm**2 - width_mm**2)
    return bore_of_chord(chord(chord_mm), "caliper", flats(width_mm)).value - chord_mm


@pytest.mark.parametrize("row", TABLE["rows"])
def test_published_error_in_a_hole_of_5_mm(row: dict[str, float]) -> None:
    error = error_mm(TABLE["hole_mm"], row["flats_mm"])
    assert error == pytest.approx(row["error_mm"], abs=TABLE["tolerance_mm"])


def test_only_the_narrow_row_of_the_published_table_fits_to_its_digits() -> None:
    off = [error_mm(TABLE["hole_mm"], row["flats_mm"]) - row["error_mm"] for row in TABLE["rows"]]
    assert abs(off[0]) < 0.0005
    assert off[1] < -0.0005 < 0.0005 < off[2]


@pytest.mark.parametrize("row", TABLE["chord_errors"]["rows"], ids=lambda r: str(r["hole_mm"]))
def test_chord_errors(row: dict[str, Any]) -> None:
    widths = TABLE["chord_errors"]["flats_mm"]
    errors = [error_mm(row["hole_mm"], width) for width in widths]
    assert errors == pytest.approx(row["error_mm"], abs=0.00005)


def test_known_flats_give_back_the_bore() -> None:
    bore = bore_of_chord(chord(math.sqrt(5.0**2 - 0.6**2)), "caliper", flats(0.6, 0.05))
    assert bore.value == pytest.approx(5.0, abs=1e-12)
    assert influence(bore, "caliper inside jaw flats").u == 0.05


def test_first_order_through_the_chord_is_that_of_its_equation() -> None:
    """The terms against the same equation propagated from chord and flats."""
    d, width = (
        chord(4.9),
        Quantity(
            label="T", value=0.6, terms=(Term(influence=Influence(label="T", kind="B", u=0.05)),)
        ),
    )
    (line,) = propagate(lambda x: {"D": math.hypot(x["bore"], x["T"])}, [d, width])
    found = contributions(bore_of_chord(d, "caliper", flats(0.6, 0.05)))
    assert sorted(found.values()) == pytest.approx(
        sorted(row.contribution for row in line.rows), rel=1e-3
    )


def test_knife_edges_correct_nothing_and_add_nothing() -> None:
    assert bore_of_chord(chord(11.0), "caliper", flats(0.0, 0.01)) == chord(11.0)


@pytest.mark.parametrize("chord_mm", [3.0, 5.0, 11.5, 30.0])
def test_unknown_flats_have_the_moments_of_a_flat_prior(chord_mm: float) -> None:
    """Against a midpoint sum over T from 0 to the widest."""
    n = 20_000
    errors = [math.hypot(chord_mm, (i + 0.5) / n * WIDEST_ASSUMED_MM) - chord_mm for i in range(n)]
    mean = math.fsum(errors) / n
    std = math.sqrt(math.fsum((e - mean) ** 2 for e in errors) / n)
    short = assumed_shortfall(chord_mm)
    assert short.mean_mm == pytest.approx(mean, rel=1e-6)
    assert short.std_mm == pytest.approx(std, rel=1e-4)


def test_unknown_flats_are_corrected_by_their_mean_and_say_what_is_assumed() -> None:
    bore = bore_of_chord(chord(5.0), "caliper", None)
    assert bore.value == pytest.approx(5.0 + 0.3**2 / (6 * 5.0), rel=1e-5)
    spread = influence(bore, "caliper inside jaw flats (0 to 0.3 mm assumed)")
    assert (spread.shape, spread.kind) == (Shape.RECTANGULAR, "B")
    # T^2 / (2 D) of a flat T: standard deviation 0.2981 of the largest, 9 um.
    assert spread.u == pytest.approx(0.2981 * 0.009, rel=1e-3)


@pytest.mark.parametrize("width_mm", [0.0, 0.05, 0.15, 0.3])
def test_no_flats_within_the_range_are_farther_off_than_twice_the_influence(
    width_mm: float,
) -> None:
    hole_mm = 5.0
    bore = bore_of_chord(chord(math.sqrt(hole_mm**2 - width_mm**2)), "caliper", None)
    u = influence(bore, "caliper inside jaw flats (0 to 0.3 mm assumed)").u
    assert abs(bore.value - hole_mm) < 2.3 * u


@pytest.mark.parametrize("value_mm", [0.0, -1.0, math.nan])
def test_there_is_no_chord_without_a_bore(value_mm: float) -> None:
    with pytest.raises(ValueError, match="no chord"):
        bore_of_chord(chord(value_mm), "caliper", None)
