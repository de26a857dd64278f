"""The tables of fixtures/reference/barrel_tables.json and barrel_reference_set.json.

Both were computed by ring_model.py there and are not published.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import Any

import pytest
from barrels import reference

from gaugelink.sizing import rules as eq
from gaugelink.uncertainty.estimate import Quantity, quantity_from_typed
from gaugelink.uncertainty.evaluate import evaluate
from gaugelink.uncertainty.first_order import propagate

TABLES = reference("tables")
SET = reference("reference_set")


def _most_turns(bore: float, arbor: float, e: float) -> float:
    return eq.development_turns(bore, arbor, e, eq.half_area_length(bore, arbor, e))


@pytest.mark.parametrize("row", TABLES["turns_over_fill"]["rows"])
def test_turns_over_fill(row: dict[str, Any]) -> None:
    k, e = row["arbor_per_bore"], 0.01
    half_area, most = eq.half_area_length(1.0, k, e), _most_turns(1.0, k, e)
    percents = [
        100 * eq.development_turns(1.0, k, e, 2 * fill * half_area) / most
        for fill in TABLES["turns_over_fill"]["fills"]
    ]
    assert percents == pytest.approx(row["percent_of_most_turns"], abs=0.0501)


@pytest.mark.parametrize("row", TABLES["constants"]["rows"])
def test_constants_by_arbor_ratio(row: dict[str, Any]) -> None:
    k, e = row["arbor_per_bore"], 0.01
    length = eq.half_area_length(1.0, k, e)
    turns = _most_turns(1.0, k, e)
    assert turns * e == pytest.approx(row["turns_times_thickness_per_bore"], abs=6e-6)
    assert turns / _most_turns(1.0, 1 / 3, e) == pytest.approx(
        row["relative_to_one_third"], abs=6e-4
    )
    assert length * e == pytest.approx(row["length_times_thickness_per_bore_squared"], abs=6e-6)
    for common in (
        eq.wound_outer_diameter(k, e, length),
        eq.run_down_inner_diameter(1.0, e, length),
    ):
        assert common == pytest.approx(row["common_radius_per_radius"], abs=6e-5)


@pytest.mark.parametrize("row", TABLES["bore_per_thickness"]["rows"])
def test_figures_by_bore_per_thickness(row: dict[str, Any]) -> None:
    e, k = 1 / row["bore_per_thickness"], 1 / 3
    assert eq.half_area_length(1.0, k, e) == pytest.approx(
        row["half_area_length_per_bore"], abs=6e-3
    )
    assert _most_turns(1.0, k, e) == pytest.approx(row["most_turns"], abs=6e-4)
    assert k / e == pytest.approx(row["arbor_per_thickness"], abs=0.06)
    for bores in (30, 35):
        length = eq.length_by_ratio(1.0, bores)
        fill, turns = row[f"fill_at_{bores}_bores"], row[f"turns_at_{bores}_bores"]
        assert eq.fill(1.0, k, e, length) == pytest.approx(fill, abs=6e-4)
        assert eq.development_turns(1.0, k, e, length) == pytest.approx(turns, abs=6e-4)


@pytest.mark.parametrize("row", TABLES["sizes"]["rows"])
def test_sizes_by_bore(row: dict[str, Any]) -> None:
    bore = row["bore_mm"]
    e, stock_e = eq.thickness_by_ratio(bore), row["stock_thickness_mm"]
    stock_length = eq.half_area_length(bore, bore / 3, stock_e)
    computed = {
        "thickness_mm": e,
        "arbor_mm": bore / 3,
        "length_30_mm": eq.length_by_ratio(bore, 30),
        "half_area_length_mm": eq.half_area_length(bore, bore / 3, e),
        "length_35_mm": eq.length_by_ratio(bore, 35),
        "bore_per_stock_thickness": bore / stock_e,
        "stock_half_area_length_mm": stock_length,
        "stock_length_per_bore": stock_length / bore,
        "stock_most_turns": _most_turns(bore, bore / 3, stock_e),
    }
    digits = {"thickness_mm": 4, "arbor_mm": 2, "stock_most_turns": 3}
    for name, value in computed.items():
        assert value == pytest.approx(row[name], abs=0.51 * 10 ** -digits.get(name, 1)), name


def test_coils_at_bore_over_87_do_not_depend_on_the_bore() -> None:
    e = eq.thickness_by_ratio(1.0)
    lengths = {"30 bores": 30.0, "half area": eq.half_area_length(1.0, 1 / 3, e), "35 bores": 35.0}
    for name, (down, wound) in TABLES["sizes"]["coils_at_bore_over_87"].items():
        assert eq.coils_run_down(1.0, e, lengths[name]) == pytest.approx(down, abs=6e-3)
        assert eq.coils_wound(1 / 3, e, lengths[name]) == pytest.approx(wound, abs=6e-3)


@pytest.mark.parametrize("row", SET["rows"], ids=lambda row: f"{row['bore_mm']:g} mm")
def test_reference_barrels(row: dict[str, Any]) -> None:
    bore, arbor, e = row["bore_mm"], row["arbor_mm"], row["thickness_mm"]
    length = row["length_mm"]
    computed = {
        "half_area_length_mm": eq.half_area_length(bore, arbor, e),
        "most_turns": _most_turns(bore, arbor, e),
        "fill": eq.fill(bore, arbor, e, length),
        "coils_run_down": eq.coils_run_down(bore, e, length),
        "coils_wound": eq.coils_wound(arbor, e, length),
        "turns": eq.development_turns(bore, arbor, e, length),
        "run_down_inner_diameter_mm": eq.run_down_inner_diameter(bore, e, length),
        "wound_outer_diameter_mm": eq.wound_outer_diameter(arbor, e, length),
    }
    for name, value in computed.items():
        tolerance = 6e-5 if name == "half_area_length_mm" else 6e-6
        assert value == pytest.approx(row[name], abs=tolerance), name


def test_true_spiral_of_the_11_mm_barrel() -> None:
    want = SET["true_spiral"]
    bore, arbor, e = 11.0, 11 / 3, 0.12
    length = eq.half_area_length(bore, arbor, e)
    assert eq.development_turns(bore, arbor, e, length) == pytest.approx(want["rings"], abs=6e-4)
    assert eq.spiral_turns(bore, arbor, e, length) == pytest.approx(want["spiral"], abs=6e-4)
    at_arbor = eq.coils_wound(arbor, e, length) - eq.coils_wound(arbor + e, e, length)
    at_wall = eq.coils_run_down(bore - e, e, length) - eq.coils_run_down(bore, e, length)
    assert at_arbor == pytest.approx(want["loss_at_arbor"], abs=6e-3)
    assert at_wall == pytest.approx(want["loss_at_wall"], abs=6e-3)


def test_layer_on_the_wall_costs_turns_and_length() -> None:
    want = SET["wall_layer"]
    bore, arbor, e = 11.0 - 2 * want["layer_mm"], 11 / 3, 0.12
    assert _most_turns(bore, arbor, e) == pytest.approx(want["turns"], abs=6e-4)
    assert eq.half_area_length(bore, arbor, e) == pytest.approx(
        want["half_area_length_mm"], abs=0.06
    )


@pytest.mark.parametrize(("ratio", "turns"), SET["arbor_unknown"]["rows"])
def test_turns_of_one_spring_on_other_arbors(ratio: float, turns: float) -> None:
    assert eq.development_turns(11.0, ratio * 11.0, 0.12, 352.0) == pytest.approx(turns, abs=6e-3)


def _exponents(equation: Callable[..., float], *sizes: float) -> list[float]:
    """d ln(output) / d ln(input) from the first-order route, moving each input by 1e-6."""
    names = ("bore", "arbor", "thickness", "length")[: len(sizes)]
    inputs = [quantity_from_typed(n, s, 1e-6 * s) for n, s in zip(names, sizes, strict=True)]
    (line,) = propagate(lambda v: {"y": equation(*(v[name] for name in names))}, inputs)
    rows = {row.influence.split()[0]: row.sensitivity for row in line.rows}
    return [rows[n] * s / line.value for n, s in zip(names, sizes, strict=True)]


@pytest.mark.parametrize(
    ("name", "equation", "sizes"),
    [
        ("length", eq.half_area_length, (11.0, 11 / 3, 0.12)),
        ("turns", _most_turns, (11.0, 11 / 3, 0.12)),
        ("turns_of_given_length", eq.development_turns, (11.0, 11 / 3, 0.12, 351.97468)),
        (
            "turns_of_385_mm_in_11_mm_at_0.12_mm",
            eq.development_turns,
            (11.0, 11 / 3, 0.12, 385.0),
        ),
    ],
)
def test_sensitivities(name: str, equation: Callable[..., float], sizes: tuple[float, ...]) -> None:
    want = list(SET["exponents"][name].values())
    assert _exponents(equation, *sizes) == pytest.approx(want, abs=6e-4)


def test_simulated_length_and_turns_of_the_11_mm_barrel() -> None:
    want = SET["simulation"]
    inputs: list[Quantity] = [
        quantity_from_typed(name, *want[name]) for name in ("bore", "arbor", "thickness")
    ]

    def model(v: Mapping[str, Any]) -> dict[str, Any]:
        sizes = v["bore"], v["arbor"], v["thickness"]
        return {"length": eq.half_area_length(*sizes), "turns": _most_turns(*sizes)}

    evaluation = evaluate(model, inputs, units={"length": "mm", "turns": "1"})
    for drawn, digits in zip(evaluation.distributions, (0.1, 0.01), strict=True):
        mean, std = want[drawn.label]
        assert drawn.mean == pytest.approx(mean, abs=0.6 * digits)
        assert drawn.std == pytest.approx(std, abs=0.6 * digits)
        half_width = (drawn.high - drawn.low) / 2
        assert half_width == pytest.approx(1.96 * std, rel=0.03)
    assert math.isclose(evaluation["length"].u, want["length"][1], rel_tol=0.01)
