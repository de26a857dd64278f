"""The whole first-order model against the ``uncertainties`` package, for random barrels.

The package moves every input by its standard uncertainty, the oracle differentiates;
standard uncertainties a tenth of the usual keep both within 1e-4 of one another.
"""

from __future__ import annotations

import random
from typing import Any

import oracle
import pytest
from barrels import DRAWS
from uncertainties import ufloat

from gaugelink.model import DepthReference
from gaugelink.sizing.inputs import GivenSpring, SizingInputs, typed_input
from gaugelink.sizing.results import ComparedSpring, SizeResult, SpringFigures
from gaugelink.sizing.size_spring import size_spring
from gaugelink.uncertainty.estimate import Estimate, Quantity

SCALE = 0.1
HOURS, WANTED = 7.5, 6.5
SPRING_U = {"thickness": 0.0025, "height": 0.015, "length": 7.0}


def _random_case(seed: int) -> tuple[dict[str, float], dict[str, float], dict[str, float]]:
    rng = random.Random(seed)
    bore = rng.uniform(6.0, 20.0)
    barrel = {
        "bore": bore,
        "arbor": bore * rng.uniform(0.28, 0.40),
        "depth": rng.uniform(1.5, 3.5),
        "lid": rng.uniform(0.25, 0.5),
        "recess": rng.uniform(0.02, 0.1),
    }
    found, documented = (
        {
            "thickness": bore / rng.uniform(80, 100),
            "height": rng.uniform(1.0, 2.5),
            "length": bore * rng.uniform(28, 38),
        }
        for _ in range(2)
    )
    return barrel, found, documented


def _typed(name: str, value: float) -> Quantity:
    which = name.rpartition(".")[2]
    return typed_input(name, value, SCALE * {**oracle.PLACES, **SPRING_U}[which])


def _given(name: str, sizes: dict[str, float]) -> GivenSpring:
    return GivenSpring(**{which: _typed(f"{name}.{which}", v) for which, v in sizes.items()})


def _sized(
    barrel: dict[str, float], found: dict[str, float], documented: dict[str, float]
) -> SizeResult:
    sizes: dict[str, Any] = {name: _typed(name, value) for name, value in barrel.items()}
    inputs = SizingInputs(
        **sizes,
        found=_given("found", found),
        documented=_given("documented", documented),
        hours_per_turn=HOURS,
        wanted_turns=WANTED,
    )
    return size_spring(inputs, draws=DRAWS)


def _agree(estimate: Estimate | None, want: Any) -> None:
    assert estimate is not None
    assert estimate.value == pytest.approx(want.nominal_value, rel=1e-10), estimate.label
    assert estimate.u == pytest.approx(want.std_dev, rel=1e-4, abs=1e-9), estimate.label


def _figures_agree(figures: SpringFigures, want: dict[str, Any]) -> None:
    for name, value in want.items():
        _agree(getattr(figures, name), value)


@pytest.mark.parametrize("seed", range(6))
def test_every_figure_agrees_with_the_oracle(seed: int) -> None:
    barrel, found, documented = _random_case(seed)
    result = _sized(barrel, found, documented)
    known = oracle.barrel(barrel, SCALE)
    _agree(result.height, known["depth"] - known["lid"] + known["recess"] - 0.1)
    rules = oracle.rules(known, WANTED)
    assert [rule.rule for rule in result.rules] == list(rules)
    for rule in result.rules:
        _figures_agree(rule.figures, oracle.consequences(known, *rules[rule.rule], HOURS))


@pytest.mark.parametrize("seed", range(6))
def test_given_springs_and_their_torque_agree_with_the_oracle(seed: int) -> None:
    barrel, found, documented = _random_case(seed)
    result = _sized(barrel, found, documented)
    known = oracle.barrel(barrel, SCALE)
    e, half_area = oracle.rules(known)["half-area"]
    height = known["depth"] - known["lid"] + known["recess"] - 0.1
    springs = {
        name: {which: ufloat(v, SCALE * SPRING_U[which]) for which, v in sizes.items()}
        for name, sizes in {"found": found, "documented": documented}.items()
    }
    half = {"thickness": e, "height": height, "length": half_area}
    for spring, compared, against in (
        (springs["found"], result.found, springs["documented"]),
        (springs["documented"], result.documented, half),
    ):
        assert compared is not None
        want = oracle.consequences(known, spring["thickness"], spring["length"], HOURS)
        _figures_agree(compared.figures, {**want, "height": spring["height"]})
        _torque_agrees(compared, spring, against)


def _torque_agrees(compared: ComparedSpring, spring: Any, against: Any) -> None:
    limit = spring["height"] / against["height"] * (spring["thickness"] / against["thickness"]) ** 2
    shape = (
        limit * spring["thickness"] / against["thickness"] * against["length"] / spring["length"]
    )
    _agree(compared.torque_at_limit, limit)
    _agree(compared.torque_of_equal_shape, shape)
    low, high = sorted((limit.nominal_value, shape.nominal_value))
    assert compared.torque_ratio is not None
    assert compared.torque_ratio.low == pytest.approx(low)
    assert compared.torque_ratio.high == pytest.approx(high)


@pytest.mark.parametrize("seed", range(4))
def test_distances_from_the_rules_agree_with_the_oracle(seed: int) -> None:
    barrel, found, documented = _random_case(seed)
    result = _sized(barrel, found, documented)
    known = oracle.barrel(barrel, SCALE)
    e, length = (ufloat(found[w], SCALE * SPRING_U[w]) for w in ("thickness", "length"))
    rules = oracle.rules(known, WANTED)
    spring = oracle.consequences(known, e, length, HOURS)
    assert result.found is not None
    height, *others = result.found.distances
    assert (height.rule, height.output) == ("height", "height")
    for distance in others:
        rule = oracle.consequences(known, *rules[distance.rule], HOURS)
        want = spring[distance.output] - rule[distance.output]
        assert distance.difference == pytest.approx(want.nominal_value, rel=1e-7)
        assert distance.u == pytest.approx(want.std_dev, rel=1e-4)
        assert distance.in_u == pytest.approx(want.nominal_value / want.std_dev, rel=2e-4)
    assert len(others) == 4 * len(rules)


def test_assumed_arbor_agrees_with_the_oracle() -> None:
    inputs = SizingInputs(bore=typed_input("bore", 11.0, 0.02), wanted_turns=WANTED)
    result = size_spring(inputs, draws=DRAWS)
    known = oracle.barrel({"bore": 11.0})
    rules = oracle.rules(known, WANTED)
    _agree(result.inputs[1], known["arbor"])
    for rule in result.rules:
        want = oracle.consequences(known, *rules[rule.rule], HOURS)
        for name in ("thickness", "length", "turns"):
            estimate = getattr(rule.figures, name)
            assert estimate.value == pytest.approx(want[name].nominal_value, rel=1e-10)
            # moving the arbor by 6 % is no longer a small step
            assert estimate.u == pytest.approx(want[name].std_dev, rel=5e-3, abs=1e-9)


def test_seat_depth_agrees_with_the_oracle() -> None:
    inputs = SizingInputs(
        bore=typed_input("bore", 11.0),
        depth=typed_input("depth", 1.33),
        recess=typed_input("recess", 0.08),
        depth_reference=DepthReference.SEAT,
    )
    _agree(size_spring(inputs, draws=DRAWS).height, ufloat(1.33, 0.02) + ufloat(0.08, 0.02) - 0.1)
