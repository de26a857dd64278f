"""The torque model within the sizing: which figures there are, and what its spread does."""

from __future__ import annotations

import math
from dataclasses import astuple, replace

import numpy as np
import pytest
from barrels import DRAWS, exact, healthy, spring
from clip_oracle import ClipOracle
from table_barrel import BARREL, found_model, table_barrel, table_model, table_spring, value

from gaugelink.errors import SizingError
from gaugelink.mechanics.arrangement import Arrangement, Stopwork, Winding
from gaugelink.mechanics.materials import end_named, with_end
from gaugelink.mechanics.motion import MeasuredAmplitude
from gaugelink.mechanics.spring import SpringInBarrel
from gaugelink.mechanics.torque import run_down, torque_after, usable_turns
from gaugelink.mechanics.train import train_from_text
from gaugelink.sizing.inputs import GivenSpring, quantities
from gaugelink.sizing.measurement_model import measurement_model
from gaugelink.sizing.rules import rules_for
from gaugelink.sizing.size_spring import size_spring
from gaugelink.uncertainty.monte_carlo import draw_blocks


def spiral(spring: SpringInBarrel) -> SpringInBarrel:
    """A round arbor and a round wall each leave a spiral a wedge of half a thickness."""
    e = spring.thickness_mm
    return replace(spring, bore_mm=spring.bore_mm - e, arbor_mm=spring.arbor_mm + e)


def test_budget_names_the_free_shape_as_type_b() -> None:
    result = size_spring(healthy(), draws=DRAWS)
    rows = {r.influence: r for r in result.budget if r.output == "half-area.turns_usable"}
    stress = rows["full wind stress of the new spring assumed"]
    assert stress.kind == "B"
    assert stress.share > 0.5  # the material is open
    assert rows["coils at hub and hook assumed"].share > 0.1
    assert sum(row.share for row in rows.values()) == pytest.approx(1.0)


NEW, OWN = (
    "full wind stress of the new spring assumed",
    "full wind stress of the found spring assumed",
)


def test_material_hardly_matters_to_the_ratio_of_two_new_springs() -> None:
    """A found spring has lost nobody knows how much: there its own strength is nearly all."""
    documented = spring("documented", 0.12, 1.2, 350.0)
    result = size_spring(healthy(documented=documented, hours_per_turn=8.0), draws=DRAWS)

    def shares(output: str) -> dict[str, float]:
        return {row.influence: row.share for row in result.budget if row.output == output}

    new, found = shares("documented.ratio_day_low"), shares("found.ratio_low")
    assert new["depth as typed"] > 0.5
    assert new[NEW] + new["modulus of the new spring assumed"] < 0.1
    assert shares("documented.ratio_low").get(NEW, 0.0) == pytest.approx(0.0, abs=1e-9)
    assert found[OWN] + found["strength that the found spring kept"] + found[NEW] > 0.9


def test_ratios_are_those_of_the_mechanics_at_full_wind_and_a_day_later() -> None:
    documented = spring("documented", 0.12, 1.2, 350.0)
    result = size_spring(healthy(documented=documented, hours_per_turn=8.0), draws=DRAWS)
    assert result.found is not None
    found, new = found_and_documented()
    for ratio, turns in ((result.found.ratio_full, 0.0), (result.found.ratio_day, 3.0)):
        assert ratio is not None
        want = float(torque_after(found, turns) / torque_after(new, turns))
        # of its own strength and of no other's shape: one number, and not a band
        assert (ratio.band.low, ratio.band.high) == pytest.approx((want, want), rel=1e-3)
        assert ratio.whole.low < ratio.band.low <= ratio.band.high < ratio.whole.high


# What judgement says a found spring kept on average: all of it or anything from 0.55 of it
# on, each with a probability of a half. An unknown spring: 181 to 221 GPa, and lognormal with
# a median of 2450 MPa, see mechanics/materials.toml.
KEPT = 0.5 + 0.5 * (0.55 + 1) / 2
OPEN_GPA, OPEN_MPA = 201.0, 2450.0 * math.exp(0.18**2 / 2)


def found_and_documented() -> tuple[SpringInBarrel, SpringInBarrel]:
    """The healthy example and a documented one, of unknown material, as true spirals."""
    found, new = (
        SpringInBarrel(
            bore_mm=11.0 - e,
            arbor_mm=3.7 + e,
            thickness_mm=e,
            length_mm=length,
            height_mm=1.2,
            modulus_mpa=1000 * OPEN_GPA,
            full_wind_stress_mpa=part * OPEN_MPA,
        )
        for e, length, part in ((0.125, 340.0, KEPT), (0.12, 350.0, 1.0))
    )
    return found, new


def test_no_ratio_a_day_later_where_a_spring_may_have_run_down() -> None:
    result = size_spring(healthy(hours_per_turn=4.0), draws=DRAWS)  # 6 turns a day
    assert result.found is not None
    assert result.found.ratio_full is not None
    assert result.found.ratio_day is None


def test_a_spring_that_runs_down_within_the_day_keeps_nothing() -> None:
    model = table_model(table_barrel(2000.0, 351.974676, hours_per_turn=3.0))
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
    assert ratio.band.low == pytest.approx(KEPT * height * half**2, rel=5e-4)
    assert ratio.band.high == ratio.band.low


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
    assert result.found.ratio_full.band.low == pytest.approx(KEPT * (13 / 12) ** 2, rel=5e-4)
    assert result.documented is not None
    ratio, thick = result.documented.ratio_full, 0.12 / (11.0 / 87)
    assert ratio is not None  # two new springs may be of one free shape as well
    if unknown == "documented":
        assert ratio.band.high == pytest.approx(thick**2)
        assert ratio.band.low == pytest.approx(thick**3)


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
    model, spring = table_model(inputs), spiral(table_spring(2000.0))
    top = float(run_down(spring).turns_usable) - 5.0
    assert value(model.turns_working) == pytest.approx(4.0)
    assert value(model.hours_usable) == pytest.approx(32.0)
    full, later = (float(torque_after(spring, top + t)) for t in (0.0, 3.0))
    assert value(model.torque_full) == pytest.approx(full)
    assert value(model.torque_kept) == pytest.approx(later / full)
    assert model.warnings == ()


@pytest.mark.parametrize(
    ("turns", "short"), [(5.0, False), (5.1, True), (7.0, True)]
)  # 6.072 usable as a spiral, 6.311 in rings
def test_a_stopwork_that_asks_for_too_much_is_warned_of(turns: float, short: bool) -> None:
    stopwork = Stopwork(turns=turns, set_up_turns=1.0)
    result = size_spring(
        table_barrel(2000.0, 351.974676, arrangement=Arrangement(stopwork=stopwork)), draws=DRAWS
    )
    assert ("documented-stopwork-short" in {each.code for each in result.warnings}) is short


def test_a_stopwork_that_holds_within_the_day_leaves_no_torque() -> None:
    for turns, drives in ((3.0, True), (2.9, False)):
        arrangement = Arrangement(stopwork=Stopwork(turns=turns, set_up_turns=1.0))
        model = table_model(table_barrel(2000.0, 351.974676, arrangement=arrangement))
        assert (value(model.torque_kept) > 0) is drives
        assert value(model.hours_usable) == pytest.approx(8.0 * turns)


def test_an_open_free_shape_leaves_the_turns_of_the_stopwork_alone() -> None:
    """11 x 3.7 mm, 0.12 x 360 mm, of any material: surely more usable turns than 4 + 1."""
    documented = spring("documented", 0.12, 1.2, 360.0)
    arrangement = Arrangement(stopwork=Stopwork(turns=4.0, set_up_turns=1.0))
    result = size_spring(healthy(documented=documented, arrangement=arrangement), draws=DRAWS)
    assert result.documented is not None
    model = result.documented.figures.torque_model
    assert model is not None
    assert model.turns_working is not None
    assert 5.5 < model.turns_usable.low < 6.0
    assert 6.5 < model.turns_usable.high < 7.0
    assert model.turns_working.low == model.turns_working.high == pytest.approx(4.0)


def test_ratios_with_a_stopwork_are_those_at_its_top() -> None:
    documented = spring("documented", 0.12, 1.2, 350.0)
    stopwork = Stopwork(turns=3.0, set_up_turns=1.0)
    inputs = healthy(documented=documented, hours_per_turn=12.0)
    plain = size_spring(inputs, draws=DRAWS).found
    inputs = replace(inputs, arrangement=Arrangement(stopwork=stopwork))
    result = size_spring(inputs, draws=DRAWS)
    assert plain is not None
    assert result.found is not None
    tops = [(each, float(usable_turns(each)) - 4.0) for each in found_and_documented()]
    for which, turns in (("ratio_full", 0.0), ("ratio_day", 2.0)):
        ratio, before = getattr(result.found, which), getattr(plain, which)
        found, new = (float(torque_after(each, top + turns)) for each, top in tops)
        assert (ratio.band.low, ratio.band.high) == pytest.approx((found / new,) * 2, rel=2e-3)
        assert abs(ratio.band.low - before.band.low) > 0.005


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
    bridle = end_named("brace")  # a slipping bridle takes turns besides, where it slips
    arrangement = Arrangement(end=bridle)
    for counted in (True, False):
        inputs = table_barrel(
            2000.0, 351.974676, arrangement=arrangement, length_includes_end=counted
        )
        acting = with_end(table_spring(2000.0), bridle, length_includes_end=counted)
        turns = table_model(inputs).turns_usable
        assert turns.value == pytest.approx(float(usable_turns(spiral(acting))))
        assert turns.low < turns.value < turns.high  # the bands of the end
    by_rule = size_spring(table_barrel(2000.0, 340.0, arrangement=arrangement), draws=DRAWS)
    half = next(rule.figures for rule in by_rule.rules if rule.rule == "half-area")
    spring = replace(
        table_spring(2000.0), thickness_mm=value(half.thickness), length_mm=value(half.length)
    )
    acting = with_end(spring, bridle, length_includes_end=False)
    assert value(half.turns_usable) == pytest.approx(float(usable_turns(spiral(acting))))


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


# Where a watch stops: between 0.15 and 0.40 of the torque of a healthy spring half a turn after
# full wind, judgement.
STOPS_AT = 0.275


def clip_of(spring: SpringInBarrel) -> ClipOracle:
    return ClipOracle(*(float(part) for part in astuple(spiral(spring))))


@pytest.mark.parametrize("stress", [1500.0, 2000.0, 2900.0])
def test_a_watch_runs_until_too_little_torque_is_left(stress: float) -> None:
    """By quadrature of the clip model: turns given where the torque has fallen to that part."""
    known = clip_of(table_spring(stress))
    model = table_model(table_barrel(stress, 351.974676, hours_per_turn=8.0))
    half = known.torque_after(0.5)
    assert value(model.torque_half_turn) == pytest.approx(half, rel=1e-6)
    turns = known.turns_given(STOPS_AT * half)
    assert value(model.hours_to_stop) == pytest.approx(8.0 * turns, rel=1e-6)
    assert value(model.hours_to_stop) < value(model.hours_usable)


def test_a_weaker_spring_is_stopped_by_what_the_documented_one_drives() -> None:
    """The found spring's own half of it would let the watch run on where in truth it stops."""
    height, length = BARREL["height_mm"], 351.974676
    found = GivenSpring(
        thickness=exact("found.thickness", 0.12),
        height=exact("found.height", height),
        length=exact("found.length", length),
    )
    inputs = table_barrel(2000.0, length, hours_per_turn=8.0, found=found)
    model = found_model(inputs)
    healthy_one, weak = (
        clip_of(table_spring(value(stress)))
        for stress in (table_model(inputs).stress_full, model.stress_full)
    )
    assert weak.stress == pytest.approx(KEPT * 2000.0, rel=5e-4)
    turns = weak.turns_given(STOPS_AT * healthy_one.torque_after(0.5))
    assert value(model.hours_to_stop) == pytest.approx(8.0 * turns, rel=1e-6)


def test_a_stopwork_ends_the_run_where_it_holds_before_the_torque_does() -> None:
    known = clip_of(table_spring(2000.0))
    needs = STOPS_AT * known.torque_after(0.5)
    for turns, set_up in ((3.0, 1.5), (4.5, 0.1)):
        stopwork = Stopwork(turns=turns, set_up_turns=set_up)
        inputs = table_barrel(2000.0, 351.974676, arrangement=Arrangement(stopwork=stopwork))
        last = known.usable() - set_up
        runs = min(known.turns_given(needs), last) - (last - turns)
        assert value(table_model(inputs).hours_to_stop) == pytest.approx(8.0 * runs, rel=1e-6)
