"""Adaptive draws: the stopping rule by hand, and runs that must and must not stop."""

from __future__ import annotations

import math
from types import SimpleNamespace
from typing import Any

import pytest
from published import load, mass_model, mass_quantities, single
from scipy import stats

from gaugelink.errors import InputError
from gaugelink.uncertainty.estimate import Influence, Quantity, Shape, Term
from gaugelink.uncertainty.evaluate import evaluate
from gaugelink.uncertainty.monte_carlo import (
    LEAST_BLOCK,
    Adaptive,
    block_size,
    is_stable,
    run_simulation,
    tolerance_of,
)


def block(**change: float) -> Any:
    return SimpleNamespace(**({"mean": 10.0, "std": 2.0, "low": 6.0, "high": 14.0} | change))


@pytest.mark.parametrize(
    ("u", "digits", "tolerance"),
    [(2.0, 1, 0.5), (2.0, 2, 0.05), (2.0, 3, 0.005), (0.0539, 2, 0.0005), (0.0, 2, 0.0)],
)
def test_tolerance_by_digits(u: float, digits: int, tolerance: float) -> None:
    # 2.0 and 0.5, 0.05, 0.005: JCGM 101:2008, 9.2.2
    assert tolerance_of(u, digits) == pytest.approx(tolerance)


@pytest.mark.parametrize(
    ("coverage", "size"), [(0.95, 10_000), (0.99, 10_000), (0.999, 100_000), (0.5, 10_000)]
)
def test_block_has_a_hundred_draws_beyond_its_interval(coverage: float, size: int) -> None:
    assert block_size(coverage) == size  # JCGM 101:2008, 7.9.4 b)


# Two blocks that differ by d: the standard deviation of their average is d / 2, twice it d.
# u = 2 has a tolerance of 0.05 at two digits, 0.5 at one.
@pytest.mark.parametrize("figure", ["mean", "low", "high"])
def test_two_blocks_by_hand(figure: str) -> None:
    base = block()
    for d, stable in ((0.049, True), (0.051, False)):
        blocks = [base, block(**{figure: getattr(base, figure) + d})]
        assert is_stable(blocks, 2) is stable
        assert is_stable(blocks, 1)


def test_more_blocks_know_the_average_better() -> None:
    noisy = [block(low=6.0), block(low=6.06)]
    assert not is_stable(noisy, 2)
    assert is_stable(noisy * 2, 2)


def test_one_block_is_never_stable() -> None:
    assert not is_stable([block()], 1)


def test_without_a_variance_only_the_interval_is_followed() -> None:
    blocks = [block(mean=-1e9, std=1e9), block(mean=1e9, std=1e3)]
    assert not is_stable(blocks, 2)
    assert is_stable(blocks, 2, has_u=False)


def additive(x: Any) -> dict[str, Any]:
    return {"Y": x["X0"] + x["X1"] + x["X2"] + x["X3"]}


@pytest.mark.parametrize("digits", [1, 2])
def test_additive_example_comes_to_its_tolerance(digits: int) -> None:
    case = load("gum_s1_additive")["cases"][1]  # JCGM 101, 9.2.3, rectangular
    inputs = [single(f"X{i}", 0.0, 1.0, Shape.RECTANGULAR) for i in range(4)]
    run = run_simulation(additive, inputs, coverage=0.95, draws=Adaptive(digits=digits), seed=5)
    (output,) = run.outputs
    tolerance = tolerance_of(2.0, digits)
    assert run.stable
    assert run.draws % LEAST_BLOCK == 0
    assert 2 * LEAST_BLOCK <= run.draws <= 200_000
    assert output.high == pytest.approx(case["exact_half_width"], abs=tolerance)
    assert output.low == pytest.approx(-case["exact_half_width"], abs=tolerance)
    assert output.std == pytest.approx(2.0, abs=tolerance)


def test_more_digits_take_more_draws_and_the_most_is_kept() -> None:
    inputs = [single(f"X{i}", 0.0, 1.0) for i in range(4)]
    draws = []
    for asked in (Adaptive(digits=1), Adaptive(digits=2), Adaptive(digits=4, most=120_000)):
        run = run_simulation(additive, inputs, coverage=0.95, draws=asked, seed=5)
        draws.append(run.draws)
    assert draws[0] < draws[1] < draws[2] == 120_000
    assert run.stable is False


def test_evaluation_says_how_many_draws_it_took() -> None:
    run = evaluate(mass_model, mass_quantities(), units={"dm": "mg"}, draws=Adaptive(), seed=2)
    assert run.stable
    assert run.draws > 2 * LEAST_BLOCK
    recomputed = load("gum_s1_mass")["recomputed"]
    assert run["dm"].high == pytest.approx(recomputed["high"], abs=0.002)
    again = evaluate(mass_model, mass_quantities(), units={"dm": "mg"}, draws=Adaptive(), seed=2)
    assert again == run
    fixed = evaluate(mass_model, mass_quantities(), units={"dm": "mg"}, draws=1000)
    assert (fixed.draws, fixed.stable) == (1000, None)


@pytest.mark.parametrize("dof", [1.0, 2.0])
def test_an_input_without_a_variance_stops_by_its_interval(dof: float) -> None:
    scatter = Influence(label="few readings", kind="A", u=1.0, shape=Shape.STUDENT, dof=dof)
    quantity = Quantity(label="x", value=0.0, terms=(Term(influence=scatter),))
    run = run_simulation(
        lambda x: {"y": x["x"]}, [quantity], coverage=0.9, draws=Adaptive(digits=1), seed=1
    )
    assert run.stable
    assert run.outputs[0].high == pytest.approx(stats.t.ppf(0.95, dof), rel=0.08)


@pytest.mark.parametrize(("most", "draws"), [(19_999, 10_000), (20_000, 20_000)])
def test_no_block_is_begun_that_goes_beyond_the_most(most: int, draws: int) -> None:
    inputs = [single(f"X{i}", 0.0, 1.0) for i in range(4)]
    asked = Adaptive(digits=5, most=most)
    run = run_simulation(additive, inputs, coverage=0.95, draws=asked, seed=5)
    assert (run.draws, run.stable) == (draws, False)


def test_constant_and_cancelling_outputs_do_not_keep_it_running() -> None:
    run = run_simulation(
        lambda x: {
            "c": 7.0,
            "zero": x["x"] - x["x"],
            "near": (x["x"] + 0.1) * 3 - 3 * x["x"],
        },
        [single("x", 10.0, 0.1)],
        coverage=0.95,
        draws=Adaptive(),
        seed=1,
    )
    assert (run.stable, run.draws) == (True, 2 * LEAST_BLOCK)


@pytest.mark.parametrize("change", [{"digits": 0}, {"most": 5000}])
def test_impossible_requests_are_refused(change: dict[str, int]) -> None:
    with pytest.raises(InputError, match="not possible") as caught:
        Adaptive(**change)
    assert caught.value.hint


def test_an_impossible_coverage_is_refused_before_a_block_is_sized() -> None:
    with pytest.raises(InputError, match="coverage probability"):
        run_simulation(additive, [], coverage=1.0, draws=Adaptive(), seed=1)
    assert math.isfinite(block_size(0.9999))
