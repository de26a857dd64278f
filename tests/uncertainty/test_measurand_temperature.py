"""20 degC: the table of materials against its sources, and how little a bench does to a barrel."""

from __future__ import annotations

import math
from typing import Any

import pytest
from measurand_bench import contributions, found
from published import load

from gaugelink.uncertainty.estimate import Quantity
from gaugelink.uncertainty.first_order import propagate
from gaugelink.uncertainty.measurand_model import (
    BENCH,
    BENCH_WITHIN_K,
    BRASS,
    STEEL,
    PartMaterial,
    at_20_degrees,
    expansion_gap_per_k,
    measured_quantity,
)

TABLE = load("thermal_expansion")
READ = TABLE["reading_by_steel_caliper"]


@pytest.mark.parametrize("published", TABLE["materials"], ids=lambda m: m["name"])
def test_each_material_spans_its_published_range(published: dict[str, Any]) -> None:
    (ours,) = (m for m in (STEEL, BRASS) if m.name == published["name"])
    low = ours.alpha_per_k - ours.half_width_per_k
    high = ours.alpha_per_k + ours.half_width_per_k
    assert (low * 1e6, high * 1e6) == pytest.approx((published["low"], published["high"]))
    assert ours.source
    for example in published.get("examples", []):
        assert low * 1e6 <= example["value"] <= high * 1e6


def test_every_material_is_in_the_published_table() -> None:
    assert {m.name for m in (STEEL, BRASS)} == {m["name"] for m in TABLE["materials"]}


@pytest.mark.parametrize("row", READ["rows"], ids=lambda row: str(row["alpha"]))
def test_a_steel_caliper_reads_a_warm_part_too_long(row: dict[str, float]) -> None:
    part = PartMaterial(
        name="part", alpha_per_k=row["alpha"] * 1e-6, half_width_per_k=0.0, source="published"
    )
    warm = at_20_degrees(Quantity(label="part", value=READ["length_mm"]), part)
    (term,) = warm.terms
    exact = STEEL.alpha_per_k - part.alpha_per_k
    # The factor also holds what steel itself is uncertain by: 0.58e-6/K in quadrature.
    assert term.factor < 0.0
    assert term.factor**2 == pytest.approx(
        READ["length_mm"] ** 2 * (exact**2 + 1e-12 / 3), rel=1e-9
    )
    reads_um = -1000.0 * READ["length_mm"] * exact * READ["above_20_k"]
    assert reads_um == pytest.approx(row["reads_um"], abs=0.005)


def test_the_bench_is_within_ten_degrees_and_is_one_bench() -> None:
    assert pytest.approx(BENCH_WITHIN_K / math.sqrt(3)) == BENCH.u
    bore, lid = (at_20_degrees(Quantity(label=n, value=v), BRASS) for n, v in SIZES.items())
    (line,) = propagate(lambda x: {"d": x["bore"] - 10.0 * x["lid"]}, [bore, lid])
    assert line.u == pytest.approx(0.0, abs=1e-12)


SIZES = {"bore": 11.0, "lid": 1.1}


def test_steel_on_steel_is_left_with_what_two_steels_differ_by() -> None:
    assert expansion_gap_per_k(STEEL) == pytest.approx(math.sqrt(2) * 1e-6 / math.sqrt(3))


@pytest.mark.parametrize(("measurand", "size_mm"), [("bore", 11.52), ("arbor", 3.8), ("lid", 0.34)])
def test_a_barrel_feels_little_of_it(measurand: str, size_mm: float) -> None:
    quantity = measured_quantity(found(measurand, [size_mm] * 3))
    assert 0.0 < abs(contributions(quantity)["bench temperature"]) < 0.0006
