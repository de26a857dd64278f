from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from published import single
from scipy import stats

from gaugelink.errors import InputError, SizingError
from gaugelink.uncertainty import monte_carlo
from gaugelink.uncertainty.estimate import Influence, Model, Quantity, Shape, Term
from gaugelink.uncertainty.monte_carlo import OutputDistribution, draw_blocks, outputs_at, simulate

BORE = single("bore", 11.0, 0.02)
ARBOR = single("arbor", 3.7, 0.03, Shape.RECTANGULAR)


def run(
    model: Model,
    quantities: Sequence[Quantity],
    *,
    coverage: float = 0.95,
    draws: int = 20_000,
    seed: int = 1,
) -> tuple[OutputDistribution, ...]:
    return simulate(model, quantities, coverage=coverage, draws=draws, seed=seed)


def ring(x: Mapping[str, Any]) -> dict[str, Any]:
    return {"ring": x["bore"] ** 2 - x["arbor"] ** 2, "bore again": x["bore"]}


@pytest.mark.parametrize(("coverage", "draws"), [(0.95, 1000), (0.95, 20_001), (0.6827, 9_999)])
def test_interval_is_the_pair_of_order_statistics_of_the_standard(
    coverage: float, draws: int
) -> None:
    seen = []

    def model(x: Mapping[str, Any]) -> dict[str, Any]:
        seen.append(np.array(x["bore"]))
        return {"bore again": x["bore"]}

    (output,) = run(model, [BORE], coverage=coverage, draws=draws)
    ordered = np.sort(np.concatenate(seen))
    q = int(coverage * draws + 0.5)  # JCGM 101:2008, 7.7.2
    r = int((draws - q + 1) / 2)
    assert ordered.size == draws
    assert (output.low, output.high) == (ordered[r - 1], ordered[r + q - 1])
    assert output.mean == pytest.approx(ordered.mean())
    assert output.std == pytest.approx(ordered.std(ddof=1))


def test_same_seed_same_numbers() -> None:
    assert run(ring, [BORE, ARBOR]) == run(ring, [BORE, ARBOR])


def test_another_seed_gives_other_numbers() -> None:
    assert run(ring, [BORE, ARBOR], seed=1)[0].low != run(ring, [BORE, ARBOR], seed=2)[0].low


def test_numbers_depend_neither_on_order_nor_on_other_quantities() -> None:
    alone = run(ring, [BORE, ARBOR])
    assert run(ring, [single("lid", 0.4, 0.01), ARBOR, BORE]) == alone


def test_numbers_do_not_depend_on_the_block_size(monkeypatch: pytest.MonkeyPatch) -> None:
    whole = run(ring, [BORE, ARBOR])
    monkeypatch.setattr(monte_carlo, "BLOCK", 333)
    for output, same in zip(run(ring, [BORE, ARBOR]), whole, strict=True):
        assert (output.low, output.high) == (same.low, same.high)
        # Sums of blocks differ in their last bits.
        assert output[1:3] == pytest.approx(same[1:3], rel=1e-12)


def awkward(x: Mapping[str, Any]) -> dict[str, Any]:
    """Outputs of which many draws have one value, or no value, or hardly differ."""
    bore = x["bore"]
    return {
        "at an end for a third": np.maximum(bore - 10.99, 0.0),
        "at both ends": np.clip(bore, 10.985, 11.015),
        "in the last bits": (bore * bore) / bore / 11.0 * 1e-9 + 0.5,
        "four values": np.round(50.0 * bore) / 50.0,
        "a tail": 1.0 / (bore - 10.94),
        "none for a sixth": (bore - 10.98) ** 0.5,
        "constant": 0.1,
    }


@pytest.mark.parametrize("coverage", [0.05, 0.6827, 0.95, 0.9999])
@pytest.mark.parametrize("part", [None, 0.001])
def test_the_draws_kept_hold_the_ends_exactly(
    coverage: float, part: float | None, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whatever the first block promised; too small a part makes the run begin anew."""
    if part is not None:
        monkeypatch.setattr(monte_carlo, "_part_kept", lambda *_: part)
    draws = np.concatenate([x["bore"] for x in draw_blocks([BORE], draws=50_000, seed=1)])
    with np.errstate(invalid="ignore"):
        wanted = awkward({"bore": draws})
    for output in run(awkward, [BORE], coverage=coverage, draws=50_000):
        row = np.broadcast_to(wanted[output.label], 50_000)
        ordered = np.sort(row[np.isfinite(row)])
        q = int(coverage * ordered.size + 0.5)  # JCGM 101:2008, 7.7.2
        r = int((ordered.size - q + 1) / 2)
        assert (output.low, output.high) == (ordered[r - 1], ordered[min(r + q, ordered.size) - 1])
        assert output.mean == pytest.approx(ordered.mean(), rel=1e-12)
        assert output.std == pytest.approx(ordered.std(ddof=1), rel=1e-9, abs=1e-15)
        assert output.excluded_share == pytest.approx(1 - ordered.size / row.size)


def test_few_of_the_draws_are_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    kept = []
    whole = monte_carlo.order_statistics

    def counted(row: Any, low: int, high: int) -> tuple[float, float]:
        kept.append(row.size)
        return whole(row, low, high)

    monkeypatch.setattr(monte_carlo, "order_statistics", counted)
    run(ring, [BORE, ARBOR], draws=100_000)
    assert all(5000 < n < 10_000 for n in kept)


def test_draws_of_two_influences_are_independent() -> None:
    pairs = [
        np.corrcoef(x["bore"], x["arbor"])[0, 1]
        for x in draw_blocks([BORE, ARBOR], draws=400_000, seed=3)
    ]
    assert abs(np.mean(pairs)) < 4 / math.sqrt(400_000)


@pytest.mark.parametrize(
    ("shape", "dof", "std", "half_width"),
    [
        (Shape.NORMAL, math.inf, 1.0, stats.norm.ppf(0.975)),
        (Shape.RECTANGULAR, math.inf, 1.0, 0.95 * math.sqrt(3)),
        (Shape.STUDENT, 5, math.sqrt(5 / 3), stats.t.ppf(0.975, 5)),
        (Shape.STUDENT, math.inf, 1.0, stats.norm.ppf(0.975)),
    ],
)
def test_each_shape_has_its_spread_and_its_tails(
    shape: Shape, dof: float, std: float, half_width: float
) -> None:
    influence = Influence(label="e", kind="B", u=1.0, shape=shape, dof=dof)
    quantity = Quantity(label="x", value=5.0, terms=(Term(influence=influence, factor=2.0),))
    (output,) = run(lambda x: {"y": x["x"]}, [quantity], draws=400_000)
    assert output.mean == pytest.approx(5.0, abs=0.02)
    assert output.std == pytest.approx(2 * std, rel=0.02)
    assert (output.high - output.low) / 2 == pytest.approx(2 * half_width, rel=0.01)


def test_bore_minus_depth_cancels_the_shared_gauge_error() -> None:
    gauge = Influence(label="caliper error", kind="B", u=0.0115, shape=Shape.RECTANGULAR)
    shared = (Term(influence=gauge),)
    bore = Quantity(label="bore", value=11.02, terms=shared)
    depth = Quantity(label="depth", value=2.3, terms=shared)
    difference, total = run(
        lambda x: {"difference": x["bore"] - x["depth"], "total": x["bore"] + x["depth"]},
        [bore, depth],
    )
    assert difference.high - difference.low < 1e-14
    assert total.std == pytest.approx(2 * 0.0115, rel=0.02)


def test_draws_without_a_value_are_left_out_and_reported() -> None:
    # x - 2 u is negative for one normal draw in 44: 0.02275
    output, plain = run(
        lambda x: {"root": (x["x"] - 0.8) ** 0.5, "plain": x["x"]},
        [single("x", 1.0, 0.1)],
        draws=200_000,
    )
    assert output.excluded_share == pytest.approx(stats.norm.cdf(-2), abs=0.0015)
    assert plain.excluded_share == 0.0
    assert 0.0 < output.low < output.mean < output.high


def test_infinite_draws_count_as_without_a_value() -> None:
    (output,) = run(lambda x: {"y": 1 / np.maximum(x["x"], 0.0)}, [single("x", 1.0, 1.0)])
    assert output.excluded_share == pytest.approx(stats.norm.cdf(-1), abs=0.015)
    assert math.isfinite(output.std)


def test_an_output_without_any_value_is_refused() -> None:
    with pytest.raises(SizingError, match=r"^fill has no value in any of 1000 draws\.$"):
        run(lambda x: {"fill": (x["bore"] - 20.0) ** 0.5}, [BORE], draws=1000)


def test_exact_inputs_and_constant_outputs_have_no_spread() -> None:
    clearance = Quantity(label="clearance", value=0.1)
    exact, constant = run(lambda x: {"exact": x["clearance"], "constant": 3.0}, [clearance])
    assert (exact.low, exact.high) == (0.1, 0.1)
    assert exact.std == pytest.approx(0.0, abs=1e-15)
    assert (constant.low, constant.high) == (3.0, 3.0)


def test_blocks_hold_all_draws_and_exact_values_stay_floats() -> None:
    blocks = list(draw_blocks([BORE, Quantity(label="clearance", value=0.1)], draws=20_001, seed=0))
    sizes = [np.size(block["bore"]) for block in blocks]
    assert sum(sizes) == 20_001
    assert max(sizes) <= monte_carlo.BLOCK
    assert {block["clearance"] for block in blocks} == {0.1}


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"draws": 999}, "999 draws are too few"),
        ({"draws": -5}, "too few"),
        ({"seed": -1}, "seed of -1"),
        ({"coverage": 1.0}, "coverage must be between 0 and 1, not 1"),
    ],
)
def test_impossible_requests_are_refused(change: dict[str, Any], message: str) -> None:
    with pytest.raises(InputError, match=message) as caught:
        run(ring, [BORE, ARBOR], **change)
    assert caught.value.hint


def test_the_fewest_draws_and_the_first_seed_are_taken() -> None:
    assert len(run(ring, [BORE, ARBOR], draws=1000, seed=0)) == 2


def test_a_model_is_asked_about_many_points_and_about_none() -> None:
    def model(x: Mapping[str, Any]) -> dict[str, Any]:
        return {"twice": 2 * x.get("x", 4.0), "constant": 3.0}

    points = outputs_at(model, {"x": [1.0, 2.0, 3.0]})
    assert points == (("twice", "constant"), [[2.0, 4.0, 6.0], [3.0, 3.0, 3.0]])
    assert outputs_at(model, {}) == (("twice", "constant"), [[8.0], [3.0]])


def test_clashing_labels_are_refused() -> None:
    with pytest.raises(ValueError, match="same label"):
        run(ring, [BORE, replace(ARBOR, label="bore")])
