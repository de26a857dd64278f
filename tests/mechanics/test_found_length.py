from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from dataclasses import replace
from itertools import combinations
from typing import Any

import numpy as np
import pytest
from coiled_spring import CLUES, ONLY_WALL, clue
from scipy import optimize, stats
from watch_springs import reference

from gaugelink.mechanics.band import assumed
from gaugelink.mechanics.found_length import (
    CLOSE,
    FoundLength,
    LengthClues,
    Method,
    find_length,
    length_model,
    quantities_for,
)
from gaugelink.mechanics.materials import material_named
from gaugelink.sizing import rules
from gaugelink.uncertainty.evaluate import evaluate
from gaugelink.uncertainty.first_order import propagate
from gaugelink.uncertainty.monte_carlo import draw_blocks

SPRING = reference("length")["spring"]


def test_every_method_is_used_and_together_they_know_more() -> None:
    found = find_length(CLUES)
    assert {one.method for one in found.methods} == set(Method)
    assert found.length.value == pytest.approx(SPRING["length_mm"], abs=2.0)
    assert found.u_mm < min(one.u_mm for one in found.methods)
    assert sum(one.weight for one in found.methods) == pytest.approx(1.0)
    assert found.advice == ()
    assert (found.length.label, found.length.unit) == ("found.length", "mm")


def only(methods: Collection[Method], clues: LengthClues = CLUES) -> LengthClues:
    """Return the clues without what the other methods need."""
    needs = {
        Method.MASS: "mass",
        Method.BAND: "band_inside",
        Method.COILS: "coils",
        Method.WINDER: "wound_outside",
        Method.WINDER_COILS: "core_coils",
    }
    return replace(clues, **{needs[method]: None for method in Method if method not in methods})


@pytest.mark.parametrize("n", [1, 2, 3, 4, 5])
def test_any_ways_that_agree_are_weighed_without_a_word(n: int) -> None:
    for methods in combinations(Method, n):
        found = find_length(only(methods))
        assert [one.method for one in found.methods] == list(methods)
        assert found.length.value == pytest.approx(SPRING["length_mm"], abs=2.0)
        assert found.chi_squared < 0.1
        assert found.advice == ()


@pytest.mark.parametrize("n", [2, 3, 4, 5])
def test_ways_disagree_beyond_what_chance_does_in_twenty(n: int) -> None:
    """Chi squared of n - 1 degrees of freedom, on both sides of its upper 5 % point."""
    limit = stats.chi2.ppf(0.95, n - 1)
    for methods in combinations(Method, n):
        if Method.MASS not in methods:
            continue

        def at(heavier: float, methods: Collection[Method] = methods) -> FoundLength:
            mass = clue("mass", 525.9 * math.exp(heavier), 1.0)
            return find_length(only(methods, replace(CLUES, mass=mass)))

        below, above = (
            optimize.brentq(lambda off, chi=chi: at(off).chi_squared - chi, 0.003, 0.5)
            for chi in (0.99 * limit, 1.01 * limit)
        )
        assert at(below).advice == ()
        (advice,) = at(above).advice
        assert advice.code == "lengths-disagree"
        assert all(f"{method} " in advice.text for method in methods)


def test_weights_are_those_of_whitened_least_squares() -> None:
    found = find_length(CLUES)
    # the covariance once more, by hand: columns are the relative errors
    e, bore, n, core, m = 0.12, 11.0, 11.672, 5.0, 16.18
    length = {one.method: one.value_mm for one in found.methods}
    rows = {
        Method.MASS: {
            "e": -length[Method.MASS] / e * 0.002,
            "m": length[Method.MASS] / 525.9,
            "rho": -length[Method.MASS] * 0.01,
            "h": -length[Method.MASS] / 1.5 * 0.01,
        },
        Method.BAND: {
            "e": -length[Method.BAND] / e * 0.002,
            "bore": math.pi * bore / (2 * e) * 0.02,
            "in": -math.pi * 8.199 / (2 * e) * 0.05,
        },
        Method.COILS: {
            "e": -math.pi * n**2 * 0.002,
            "bore": math.pi * n * 0.02,
            "n": math.pi * (bore - 2 * n * e) * 0.15,
        },
        Method.WINDER: {
            "e": -length[Method.WINDER] / e * 0.002,
            "core": -math.pi * core / (2 * e) * 0.02,
            "out": math.pi * 8.882 / (2 * e) * 0.05,
        },
        Method.WINDER_COILS: {
            "e": math.pi * m**2 * 0.002,
            "core": math.pi * m * 0.02,
            "cn": math.pi * (core + 2 * m * e) * 0.15,
        },
    }
    names = sorted({name for row in rows.values() for name in row})
    spread = np.array(
        [[rows[o.method].get(name, 0.0) / o.value_mm for name in names] for o in found.methods]
    )
    whitened = np.linalg.inv(np.linalg.cholesky(spread @ spread.T))
    ones, logs = np.ones(5), np.log([one.value_mm for one in found.methods])
    best, misfit, _, _ = np.linalg.lstsq((whitened @ ones)[:, None], whitened @ logs, rcond=None)
    # within what steps of one u instead of derivatives change
    assert found.length.value == pytest.approx(math.exp(best[0]), rel=1e-6)
    u = found.length.value / np.linalg.norm(whitened @ ones)
    assert found.u_mm == pytest.approx(u, rel=1e-3)
    assert found.chi_squared == pytest.approx(misfit[0], rel=1e-2, abs=1e-4)


def test_shared_thickness_does_not_average_out() -> None:
    only_e = replace(
        CLUES,
        height=clue("h", 1.5, 0.0),
        mass=clue("mass", 525.9, 0.0),
        density=clue("density", 8.3, 0.0),
        bore=clue("bore", 11.0, 0.0),
        band_inside=clue("band", 8.199, 0.0),
        coils=None,
        core=None,
    )
    found = find_length(only_e)
    # two ways, one error: no better than either
    assert found.u_mm == pytest.approx(SPRING["length_mm"] * 0.002 / 0.12, rel=1e-3)
    assert [one.weight for one in found.methods] == pytest.approx([0.5, 0.5], abs=1e-6)


def test_error_in_common_does_not_seem_known_when_the_lengths_differ() -> None:
    # 3 % apart, and all of the uncertainty in the thickness that both divide by
    apart = replace(
        CLUES,
        thickness=clue("e", 0.12, 0.005),
        mass=clue("mass", 525.9 * 1.03, 1.0),
        coils=None,
        core=None,
    )
    found = find_length(apart)
    low, high = sorted(one.value_mm for one in found.methods)
    assert low <= found.length.value <= high
    assert found.u_mm > SPRING["length_mm"] * 0.005 / 0.12


def test_independent_ways_are_weighed_by_their_variances() -> None:
    apart = replace(
        ONLY_WALL,
        thickness=clue("e", 0.12, 0.0),
        bore=clue("bore", 11.0, 0.0),
    )
    found = find_length(apart)
    variances = [(one.u_mm / one.value_mm) ** -2 for one in found.methods]
    assert [one.weight for one in found.methods] == pytest.approx(
        [v / sum(variances) for v in variances]
    )
    assert found.u_mm / found.length.value == pytest.approx(sum(variances) ** -0.5)


def test_simulated_benches_scatter_by_the_stated_uncertainty() -> None:
    found = find_length(CLUES)
    weights = {one.method: one.weight for one in found.methods}
    quantities = quantities_for(CLUES, tuple(weights))
    model = length_model(tuple(weights))
    drawn = []
    for values in draw_blocks(quantities, draws=100_000, seed=3):
        outputs = model(values)
        drawn.append(sum(weights[Method(name)] * np.log(y) for name, y in outputs.items()))
    assert np.std(np.exp(np.concatenate(drawn))) == pytest.approx(found.u_mm, rel=0.02)


def test_length_remembers_what_it_came_from() -> None:
    one_way = replace(CLUES, bore=None, core=None)
    found = find_length(one_way)
    assert [one.method for one in found.methods] == [Method.MASS]

    def model(values: Mapping[str, Any]) -> dict[str, Any]:
        bore, arbor = values["bore"], values["arbor"]
        e, length = values["found.thickness"], values["found.length"]
        return {
            "fill": rules.fill(bore, arbor, e, length),
            # the edge area is m / (rho h) whatever the thickness is
            "direct": values["mass"]
            / (values["density"] * values["found.height"] * math.pi / 4 * (bore**2 - arbor**2)),
        }

    barrel = [clue("bore", 11.0, 0.02), clue("arbor", 11 / 3, 0.02)]
    assert one_way.mass is not None
    assert one_way.density is not None
    assert one_way.height is not None
    parts = [one_way.thickness, one_way.height, one_way.mass, one_way.density]
    through_length, direct = propagate(model, [*barrel, *parts, found.length])
    # the thickness cancels: fill from mass knows more than thickness and length apart
    assert through_length.u == pytest.approx(direct.u, rel=1e-3)
    assert through_length.u / through_length.value < 0.0155
    assert found.u_mm / found.length.value > 0.02


def test_length_runs_through_both_routes_of_the_uncertainty() -> None:
    found = find_length(CLUES)
    evaluation = evaluate(
        lambda v: {"area": v["found.length"] * v["found.thickness"]},
        [CLUES.thickness, found.length],
        units={"area": "mm2"},
        draws=20_000,
    )
    assert evaluation["found.length"].u == pytest.approx(found.u_mm, rel=1e-6)
    apart = math.hypot(found.u_mm / 352, 0.002 / 0.12) * 42.2
    assert evaluation["area"].u < 0.9 * apart


def test_open_alloy_widens_the_length_and_loses_its_weight() -> None:
    known = find_length(CLUES)
    material = material_named("open")
    open_alloy = replace(CLUES, density=assumed("density", material.density_g_cm3, "g/cm3"))
    found = find_length(open_alloy)
    weight = {one.method: one.weight for one in found.methods}[Method.MASS]
    before = {one.method: one.weight for one in known.methods}[Method.MASS]
    assert found.u_mm > known.u_mm
    assert 0 < weight < before


def test_unknown_packing_is_reckoned_with() -> None:
    unknown = LengthClues(thickness=CLUES.thickness, bore=CLUES.bore, band_inside=CLUES.band_inside)
    found, close = find_length(unknown), find_length(replace(unknown, packing=CLOSE))
    assert found.length.value == pytest.approx(close.length.value / 1.025)
    assert found.u_mm > close.u_mm
    assert {term.influence.label for term in found.length.terms} > {"packing assumed"}
