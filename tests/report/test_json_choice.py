"""A choice as JSON: the keys that other programs rely on."""

from __future__ import annotations

import json
from typing import Any

import pytest

from gaugelink.choosing.choose_spring import choose_spring
from gaugelink.choosing.state import ChoosingInputs
from gaugelink.mechanics.motion import MeasuredAmplitude
from gaugelink.recommending.recommend import recommend
from gaugelink.report.json_choice import choose_json
from gaugelink.sizing.inputs import GivenSpring, SizingInputs, typed_input
from gaugelink.sizing.size_spring import size_spring
from gaugelink.stock.stock_spring import StockSpring

ESTIMATE = {"value", "u", "dof", "unit", "low", "high"}
BAND = {"low", "high"}


def spring(item: str, height: float, thickness: float, length: float = 350.0) -> StockSpring:
    return StockSpring(item=item, height_mm=height, thickness_mm=thickness, length_mm=length)


STOCK = (spring("a", 1.45, 0.12), spring("b", 1.5, 0.12, 700.0), spring("high", 1.7, 0.12))


def data(*stock: StockSpring, **more: Any) -> Any:
    sizes = {"bore": 11.0, "arbor": 3.67, "depth": 1.92, "lid": 0.31}
    typed = {name: typed_input(name, value) for name, value in sizes.items()}
    inputs = ChoosingInputs(barrel=SizingInputs(**{**typed, **more}))
    choice = choose_spring(inputs, stock or STOCK, draws=1000)
    answer = recommend(size_spring(inputs.barrel, draws=1000), choice)
    return json.loads(json.dumps(choose_json(choice, 7, answer), allow_nan=False))


def test_the_promised_keys_stand_at_the_top() -> None:
    found = data()
    assert {"schema", "job", "picks", "refused", "decision"} <= found.keys()
    assert (found["schema"], found["job"]) == (1, 7)
    assert found["height"].keys() == ESTIMATE
    assert found["stock_size"] == 3
    assert found["ranked"] == len(found["picks"]) == 2


def test_a_pick_has_its_size_its_figures_and_its_reasons() -> None:
    first, cut = data(hours_per_turn=8.0)["picks"]
    assert (first["item"], first["height"], first["thickness"]) == ("a", 1.45, 0.12)
    assert (first["length"], first["cut_to"]) == (350.0, None)
    assert (cut["length"], cut["cut_to"]) == (700.0, pytest.approx(380, abs=40))
    for name in ("turns", "turns_usable", "hours", "fill"):
        assert first[name].keys() == ESTIMATE, name
    assert first["torque_ratio"].keys() == BAND
    assert 0 <= first["probability_fits"] <= 1
    assert first["amplitude"] is None
    assert all(isinstance(reason, str) for reason in first["reasons"])
    assert [cost["text"] for cost in first["costs"]] == first["reasons"]
    assert sum(cost["points"] for cost in first["costs"]) == pytest.approx(first["score"])


def test_what_is_not_known_is_null() -> None:
    first = data(depth=None, lid=None)["picks"][0]
    assert first["probability_fits"] is None
    assert first["hours"] is None


def test_an_amplitude_is_a_band() -> None:
    sizes = {"thickness": 0.12, "height": 1.45}
    found = GivenSpring(**{n: typed_input(f"found.{n}", v) for n, v in sizes.items()})
    first = data(found=found, amplitude=MeasuredAmplitude(amplitude_deg=270.0))["picks"][0]
    assert first["amplitude"].keys() == BAND


def test_a_wish_stands_beside_what_it_takes_and_each_pick_says_how_it_lies() -> None:
    plain = data()
    wished = {"wished_amplitude", "wished_torque_ratio", "wished_thickness"}
    assert {plain[key] for key in wished} == {None}
    assert plain["picks"][0]["wish"] is None
    sizes = {"thickness": 0.12, "height": 1.45}
    found = GivenSpring(**{n: typed_input(f"found.{n}", v) for n, v in sizes.items()})
    # The found one may be tired: a new one of its thickness may give twice its torque.
    amplitude = MeasuredAmplitude(amplitude_deg=170.0)
    more = 300.0 / 170.0
    wishing = data(found=found, amplitude=amplitude, wished_amplitude_deg=300.0)
    assert wishing["wished_amplitude"] == 300.0
    # The power 1.5 to 2 of the amplitudes; its square root and its cube root of the thickness.
    assert wishing["wished_torque_ratio"] == pytest.approx({"low": more**1.5, "high": more**2})
    assert wishing["wished_thickness"] == pytest.approx(
        {"low": 0.12 * more**0.5, "high": 0.12 * more}
    )
    assert [pick["wish"] for pick in wishing["picks"]] == ["short", "short"]
    assert "short of the 300 wished for" in " ".join(wishing["picks"][0]["reasons"])


def test_a_refused_spring_has_reasons_and_headings() -> None:
    (refused,) = data()["refused"]
    assert refused["item"] == "high"
    assert refused["why"] == ["too high for the barrel"]
    assert len(refused["reasons"]) == 1


def test_the_decision_says_how_stable_and_what_to_measure() -> None:
    decision = data()["decision"]
    assert 0 <= decision["stability"] <= 1
    for better in decision["better_measured"]:
        assert {"input", "gain"} <= better.keys()
        assert better["gain"] > 0


def test_where_nothing_fits_the_same_keys_are_there() -> None:
    found = data(spring("high", 1.7, 0.12))
    assert (found["picks"], found["nothing_fits"]) == ([], True)
    assert found["decision"] == {"stability": None, "better_measured": []}
    assert found["least_bad"] is None
    assert found["order"]["thickness"].keys() == {"target", "low", "high"}
