"""The torque model within the sizing: which figures there are, and what its spread does."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from barrels import DRAWS, healthy, spring
from table_barrel import found_model, table_barrel, table_spring, value

from gaugelink.errors import SizingError
from gaugelink.mechanics.arrangement import Arrangement, Stopwork, Winding
from gaugelink.mechanics.materials import end_named, with_end
from gaugelink.mechanics.motion import MeasuredAmplitude
from gaugelink.mechanics.spring import SpringInBarrel
from gaugelink.mechanics.stopwork import torque_ratio
from gaugelink.mechanics.torque import run_down, torque_after, usable_turns
from gaugelink.mechanics.train import train_from_text
from gaugelink.sizing.inputs import quantities
from gaugelink.sizing.measurement_model import measurement_model
from gaugelink.sizing.rules import rules_for
from gaugelink.sizing.size_spring import size_spring
from gaugelink.uncertainty.monte_carlo import draw_blocks


def test_budget_names_the_free_shape_as_type_b() -> None:
    result = size_spring(healthy(), draws=DRAWS)
    rows = {r.influence: r for r in result.budget if r.output == "half-area.turns_usable"}
    assert rows["full wind stress assumed"].kind == "B"
    assert rows["full wind stress assumed"].share > 0.9  # the material is open
    assert sum(row.share for row in rows.values()) == pytest.approx(1.0)


def test_material_hardly_matters_to_the_ratio_of_two_springs() -> None:
    documented = spring("documented", 0.12, 1.2, 350.0)
    inputs = healthy(documented=documented, hours_per_turn=8.0)
    result = size_spring(inputs, draws=DRAWS)
    rows = [r for r in result.budget if r.output == "found.ratio_low"]
    shares = {row.influence: row.share for row in rows}
    assert shares["found.thickness as typed"] > 0.5
    assert shares["full wind stress assumed"] + shares["modulus assumed"] < 0.01


def test_ratios_are_those_of_the_mechanics_at_full_wind_and_a_day_later() -> None:
    documented = spring("documented", 0.12, 1.2, 350.0)
    result = size_spring(healthy(documented=documented, hours_per_turn=8.0), draws=DRAWS)
    assert result.found is not None
    ours = {
        name: SpringInBarrel(
            bore_mm=11.0,
            arbor_mm=3.7,
            thickness_mm=e,
            length_mm=length,
            height_mm=1.2,
            modulus_mpa=212_000.0,
            full_wind_stress_mpa=2200.0,
        )
        for name, e, length in (("found", 0.125, 340.0), ("documented", 0.12, 350.0))
    }
    for ratio, turns in ((result.found.ratio_full, 0.0), (result.found.ratio_day, 3.0)):
        assert ratio is not None
        want = torque_ratio(ours["found"], ours["documented"], turns=turns)
        assert ratio.band.low == pytest.approx(float(want.low))
        assert ratio.band.high == pytest.approx(float(want.high))
        assert ratio.whole.low < ratio.band.low <= ratio.band.high < ratio.whole.high


def test_no_ratio_a_day_later_where_a_spring_may_have_run_down() -> None:
    result = size_spring(healthy(hours_per_turn=4.0), draws=DRAWS)  # 6 turns a day
    assert result.found is not None
    assert result.found.ratio_full is not None
    assert result.found.ratio_day is None


def test_a_spring_that_runs_down_within_the_day_keeps_nothing() -> None:
    model = found_model(table_barrel(2000.0, 351.974676, hours_per_turn=3.0))
    assert value(model.torque_kept) == 0.0


def test_without_a_length_there_is_a_ratio_at_full_wind_and_no_model() -> None:
    result = size_spring(healthy(found=spring("found", 0.13, 1.2), hours_per_turn=8.0), draws=DRAWS)
    assert result.found is not None
    assert result.found.figures.torque_model is None
    assert result.found.figures.turns_usable is None
    assert result.found.ratio_day is None
    ratio, half = result.found.ratio_full, 0.13 / (11.0 / 87)
    assert ratio is not None
    height = 1.2 / 1.23
    assert ratio.band.low == pytest.approx(height * half**2)
    assert ratio.band.high == pytest.approx(height * half**3)


@pytest.mark.parametrize("unknown", ["found", "documented"])
def test_heights_are_taken_as_equal_where_one_is_not_known(unknown: str) -> None:
    heights = {"found": 1.2, "documented": 1.0, unknown: None}
    inputs = healthy(
        found=spring("found", 0.13, heights["found"], 340.0),
        documented=spring("documented", 0.12, heights["documented"], 350.0),
    )
    result = size_spring(inputs, draws=DRAWS)
    assert result.found is not None
    assert result.found.ratio_full is not None
    assert result.found.ratio_full.band.low == pytest.approx((13 / 12) ** 2)
    assert result.found.ratio_full.band.high == pytest.approx((13 / 12) ** 3)


def test_without_a_height_there_are_turns_and_no_torque() -> None:
    model = found_model(healthy(found=spring("found", 0.125, None, 340.0)))
    assert model.turns_usable.value > 0
    assert (model.torque_full, model.energy) == (None, None)


def test_hours_and_crown_turns_only_where_they_are_known() -> None:
    bare = found_model(healthy())
    assert (bare.hours_usable, bare.torque_kept, bare.crown_turns) == (None, None, None)
    # 54/36 x 36/16: winding pinion 16, crown wheel 36, ratchet 54; 27 crown turns for 8
    # turns. the-smoking-barrel blog, "Let's get mathematical part 2", 2012
    wound = found_model(healthy(winding_train=train_from_text("54/36 36/16")))
    assert value(wound.crown_turns) == pytest.approx(wound.turns_usable.value * 27 / 8)


def test_stopwork_takes_its_turns_out_of_the_middle() -> None:
    stopwork = Stopwork(turns=4.0, set_up_turns=1.0)
    inputs = table_barrel(2000.0, 351.974676, arrangement=Arrangement(stopwork=stopwork))
    model, spring = found_model(inputs), table_spring(2000.0)
    top = float(run_down(spring).turns_usable) - 5.0
    assert value(model.turns_working) == pytest.approx(4.0)
    assert value(model.hours_usable) == pytest.approx(32.0)
    full, later = (float(torque_after(spring, top + t)) for t in (0.0, 3.0))
    assert value(model.torque_full) == pytest.approx(full)
    assert value(model.torque_kept) == pytest.approx(later / full)
    assert model.warnings == ()


@pytest.mark.parametrize(
    ("turns", "short"), [(5.3, False), (5.4, True), (7.0, True)]
)  # 6.311 usable, 7.213 in rings
def test_a_stopwork_that_asks_for_too_much_is_warned_of(turns: float, short: bool) -> None:
    stopwork = Stopwork(turns=turns, set_up_turns=1.0)
    result = size_spring(
        table_barrel(2000.0, 351.974676, arrangement=Arrangement(stopwork=stopwork)), draws=DRAWS
    )
    assert ("found-stopwork-short" in {each.code for each in result.warnings}) is short


def test_a_stopwork_that_holds_within_the_day_leaves_no_torque() -> None:
    for turns, drives in ((3.0, True), (2.9, False)):
        arrangement = Arrangement(stopwork=Stopwork(turns=turns, set_up_turns=1.0))
        model = found_model(table_barrel(2000.0, 351.974676, arrangement=arrangement))
        assert (value(model.torque_kept) > 0) is drives
        assert value(model.hours_usable) == pytest.approx(8.0 * turns)


def test_an_open_free_shape_leaves_the_turns_of_the_stopwork_alone() -> None:
    """11 x 3.7 mm, 0.12 x 360 mm, 1200 to 3200 MPa: 5.1 to 7.1 usable turns, more than 4 + 1."""
    documented = spring("documented", 0.12, 1.2, 360.0)
    arrangement = Arrangement(stopwork=Stopwork(turns=4.0, set_up_turns=1.0))
    result = size_spring(healthy(documented=documented, arrangement=arrangement), draws=DRAWS)
    assert result.documented is not None
    model = result.documented.figures.torque_model
    assert model is not None
    assert model.turns_working is not None
    assert model.turns_usable.low == pytest.approx(5.1, abs=0.06)
    assert model.turns_usable.high == pytest.approx(7.1, abs=0.06)
    assert model.turns_working.low == model.turns_working.high == pytest.approx(4.0)


def test_ratios_with_a_stopwork_are_those_at_its_top() -> None:
    documented = spring("documented", 0.12, 1.2, 350.0)
    stopwork = Stopwork(turns=3.0, set_up_turns=1.0)
    inputs = healthy(documented=documented, hours_per_turn=8.0)
    plain = size_spring(inputs, draws=DRAWS).found
    inputs = replace(inputs, arrangement=Arrangement(stopwork=stopwork))
    result = size_spring(inputs, draws=DRAWS)
    assert plain is not None
    assert result.found is not None
    ours = {
        name: replace(
            table_spring(2200.0),
            arbor_mm=3.7,
            thickness_mm=e,
            length_mm=length,
            height_mm=1.2,
            modulus_mpa=212_000.0,
        )
        for name, e, length in (("found", 0.125, 340.0), ("documented", 0.12, 350.0))
    }
    for which, turns in (("ratio_full", 0.0), ("ratio_day", 3.0)):
        ratio, before = getattr(result.found, which), getattr(plain, which)
        want = torque_ratio(*ours.values(), turns=turns, stopwork=stopwork)
        assert (ratio.band.low, ratio.band.high) == pytest.approx((want.low, want.high))
        assert ratio.band.low > before.band.low + 0.005


def test_without_a_length_the_ratio_with_a_stopwork_is_that_at_full_wind() -> None:
    arrangement = Arrangement(stopwork=Stopwork(turns=4.0, set_up_turns=1.0))
    inputs = healthy(found=spring("found", 0.13, 1.2))
    plain, stopped = (
        size_spring(each, draws=DRAWS).found
        for each in (inputs, replace(inputs, arrangement=arrangement))
    )
    assert plain is not None
    assert stopped is not None
    assert plain.ratio_full is not None
    assert stopped.ratio_full == plain.ratio_full


def test_the_outer_end_takes_room_and_from_given_springs_length() -> None:
    bridle = end_named("slipping-bridle")
    arrangement = Arrangement(winding=Winding.AUTOMATIC, end=bridle)
    for counted in (True, False):
        inputs = table_barrel(
            2000.0, 351.974676, arrangement=arrangement, length_includes_end=counted
        )
        acting = with_end(table_spring(2000.0), bridle, length_includes_end=counted)
        turns = found_model(inputs).turns_usable
        assert turns.value == pytest.approx(float(usable_turns(acting)))
        assert turns.low < turns.value < turns.high  # the bands of the end
    by_rule = size_spring(table_barrel(2000.0, 340.0, arrangement=arrangement), draws=DRAWS)
    half = next(rule.figures for rule in by_rule.rules if rule.rule == "half-area")
    spring = replace(
        table_spring(2000.0), thickness_mm=value(half.thickness), length_mm=value(half.length)
    )
    acting = with_end(spring, bridle, length_includes_end=False)
    assert value(half.turns_usable) == pytest.approx(float(usable_turns(acting)))


def test_one_model_serves_floats_and_arrays() -> None:
    inputs = healthy(hours_per_turn=7.5, documented=spring("documented", 0.12, 1.2, 350.0))
    model, known = measurement_model(inputs, rules_for(None)), quantities(inputs)
    block = next(iter(draw_blocks(known, draws=1000, seed=1)))
    many = model(block)
    for index in (0, 7, 999):
        one = model({k: float(v[index]) if np.ndim(v) else v for k, v in block.items()})
        for label, figure in one.items():
            assert np.broadcast_to(many[label], 1000)[index] == pytest.approx(figure), label


def test_a_spring_too_long_for_its_end_is_an_error_with_a_hint() -> None:
    full = spring("found", 0.125, 1.2, 646.0)  # 0.96 of the bare ring
    arrangement = Arrangement(winding=Winding.AUTOMATIC, end=end_named("slipping-bridle"))
    with pytest.raises(SizingError, match="does not fit its barrel with long stiff leaf") as caught:
        size_spring(
            healthy(found=full, arrangement=arrangement, length_includes_end=False), draws=DRAWS
        )
    assert caught.value.hint


@pytest.mark.parametrize("hours_per_turn", [3.0, 4.5, 5.0, 5.5, 6.0])
def test_springs_that_may_run_down_within_the_day_do_not_stop_the_sizing(
    hours_per_turn: float,
) -> None:
    documented = spring("documented", 0.12, 1.2, 350.0)
    amplitude = MeasuredAmplitude(amplitude_deg=250.0)
    inputs = healthy(documented=documented, hours_per_turn=hours_per_turn, amplitude=amplitude)
    result = size_spring(inputs, draws=DRAWS)
    assert result.found is not None
    assert result.found.figures.torque_model is not None
    assert value(result.found.figures.torque_model.torque_kept) >= 0.0
