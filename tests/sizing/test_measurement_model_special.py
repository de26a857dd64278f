"""Fusee, slipping bridle, motor barrel and stopwork: one case each, worked out beside the package.

fixtures/reference/special_barrels.py works them out by quadrature; the steps that go by hand
stand here. The springs are new ones of the median strength and the middle modulus of their class.
"""

from __future__ import annotations

import json
import math
from dataclasses import replace
from typing import Any

import pytest
from barrels import DRAWS, REFERENCE, exact

from gaugelink.errors import SizingError
from gaugelink.mechanics.arrangement import Arrangement, Asked, BarrelKind, Stopwork, Winding
from gaugelink.mechanics.band import SourcedBand
from gaugelink.mechanics.materials import Material, material_named
from gaugelink.mechanics.train import train_from_text
from gaugelink.report.json_sizing import size_json
from gaugelink.report.text_size import size_text
from gaugelink.sizing.covered import covered
from gaugelink.sizing.inputs import GivenCone, GivenFusee, GivenSpring, SizingInputs, typed_input
from gaugelink.sizing.results import SizeResult, TorqueModel
from gaugelink.sizing.size_spring import size_spring

CASES = json.loads((REFERENCE / "special_barrels.json").read_text(encoding="utf-8"))


def at_its_median(case: dict[str, Any]) -> Material:
    """The shipped material, whose median and middle modulus the case has, and no spread."""
    shipped = material_named(case["material"])
    assert shipped.healthy_mpa.median == case["stress_mpa"]
    assert shipped.modulus_gpa.middle == case["modulus_gpa"]
    modulus = SourcedBand(low=case["modulus_gpa"], high=case["modulus_gpa"], source="the case")
    return replace(
        shipped, modulus_gpa=modulus, healthy_mpa=replace(shipped.healthy_mpa, spread=0.0)
    )


def inputs_of(case: dict[str, Any], **changes: Any) -> SizingInputs:
    sizes = {
        size: exact(f"documented.{size}", case[f"{size}_mm"])
        for size in ("thickness", "height", "length")
    }
    fields: dict[str, Any] = {
        "bore": exact("bore", case["bore_mm"]),
        "arbor": exact("arbor", case["arbor_mm"]),
        "documented": GivenSpring(**sizes),
        "material": at_its_median(case),
    }
    return SizingInputs(**{**fields, **changes})


def sized(inputs: SizingInputs) -> SizeResult:
    return size_spring(inputs, draws=DRAWS)


def model_of(result: SizeResult) -> TorqueModel:
    assert result.documented is not None
    model = result.documented.figures.torque_model
    assert model is not None
    return model


def value(estimate: Any) -> float:
    assert estimate is not None
    return float(estimate.value)


FUSEE, FUSEE_FOUND = CASES["fusee"]["given"], CASES["fusee"]["found"]


def fusee(**changes: Any) -> GivenFusee:
    cone = GivenCone(
        small=exact("fusee_small", FUSEE["small_mm"]),
        large=exact("fusee_large", FUSEE["large_mm"]),
        turns=typed_input("fusee_turns", FUSEE["chain_turns_on_cone"], 0.0, "1"),
        set_up=typed_input("fusee_set_up", FUSEE["set_up"], 0.0, "1"),
    )
    fields: dict[str, Any] = {
        "cone": cone,
        "barrel_outside": exact("barrel_outside", FUSEE["barrel_outside_mm"]),
        "middle": exact("fusee_middle", FUSEE["middle_mm"]),
    }
    return GivenFusee(**{**fields, **changes})


def of_fusee(**changes: Any) -> SizingInputs:
    fields = {"fusee": fusee(), "hours_per_turn": FUSEE["hours_per_fusee_turn"]}
    return inputs_of(FUSEE, arrangement=Arrangement(kind=BarrelKind.FUSEE), **{**fields, **changes})


def test_a_fusee_is_as_worked_out() -> None:
    """The chain by hand, for a cone as hollow as (11.5 - 10.3) / (11.5 - 9.983) = 0.791.

    The straight cone has (8 + 15) / 2 = 11.5 mm half way and on the mean, the curve
    1 / sqrt((1/64 + 1/225) / 2) = 9.983 and 2 / (1/8 + 1/15) = 10.435: on the mean 10.658 mm.
    Six turns of that are 200.89 mm, and 6 * 10.658 / 20.5 = 3.119 turns of the barrel. The spring
    has 6.880 turns: 3.119 for the chain and 0.75 of set-up leave 3.011.
    """
    result = sized(of_fusee())
    model, chain = model_of(result), result.watch.fusee
    assert chain is not None
    assert model.fusee is not None
    found = FUSEE_FOUND
    assert value(chain.length) == pytest.approx(200.89, abs=0.01)
    assert value(chain.length) == pytest.approx(found["chain_mm"], abs=0.01)
    assert value(chain.barrel_turns) == pytest.approx(found["barrel_turns"], abs=1e-4)
    assert value(model.turns_usable) == pytest.approx(found["usable_turns"], abs=2e-3)
    assert value(model.fusee.spare_turns) == pytest.approx(found["spare_turns"], abs=2e-3)
    assert value(model.fusee.top) == pytest.approx(found["top_nmm"], abs=2e-3)
    assert value(model.fusee.bottom) == pytest.approx(found["bottom_nmm"], abs=3e-3)
    # Five places along the cone instead of 201, and both ends alike instead of a search.
    assert value(model.fusee.evenness) == pytest.approx(found["evenness"], abs=0.005)
    assert value(model.fusee.best_set_up) == pytest.approx(found["best_set_up"], abs=0.02)
    assert value(model.fusee.best_evenness) == pytest.approx(found["best_evenness"], abs=0.005)
    assert value(model.hours_to_stop) == pytest.approx(found["hours"])
    assert [no.asked for no in result.refused] == [Asked.SIZE]  # hours are given


def test_what_a_fusee_gives_is_said_and_written() -> None:
    result = sized(of_fusee())
    text = " ".join(size_text(result).split())
    assert "The chain is 200.89 mm long and takes 3.119" in text
    assert "Even: least torque over most along the chain. Spare" in text
    assert "How hollow the cone is was assumed" not in text
    data = size_json(result)
    at = data["documented"]["mechanics"]["fusee"]
    assert at["top"]["unit"] == "N mm"
    assert at["evenness"]["low"] <= at["evenness"]["value"] <= at["evenness"]["high"]
    assert data["arrangement"]["fusee"]["hours_per_turn"] == 5
    assert data["documented"]["mechanics"]["upper_limit"] is False


def test_without_the_diameter_half_way_the_interval_holds_both_shapes() -> None:
    known, open_ = sized(of_fusee()), sized(of_fusee(fusee=fusee(middle=None)))
    chains = [result.watch.fusee for result in (known, open_)]
    assert chains[0] is not None
    assert chains[1] is not None
    assert chains[1].length.low < math.pi * 6 * 10.5
    assert chains[1].length.high > math.pi * 6 * 11.4
    assert chains[0].length.u == 0.0
    assert "--fusee-middle" in size_text(open_)


def test_a_chain_of_too_many_turns_is_warned_of_and_shortens_the_run() -> None:
    long = replace(fusee().cone, turns=typed_input("fusee_turns", 13.0, 0.0, "1"))
    result = sized(of_fusee(fusee=fusee(cone=long)))
    assert "documented-fusee-short" in {each.code for each in result.warnings}
    model = model_of(result)
    assert model.fusee is not None
    assert model.fusee.spare_turns.high < 0
    assert value(model.hours_to_stop) < 13 * FUSEE["hours_per_fusee_turn"]
    assert "fusee-short" not in {each.code for each in model_of(sized(of_fusee())).warnings}


def test_a_train_from_the_fusee_gives_the_same_hours_and_is_asked_for_no_more() -> None:
    wishes = covered(of_fusee(hours_per_turn=None, train=train_from_text("50/10")))
    assert wishes.refused == ()
    assert wishes.inputs.fusee is not None
    assert wishes.inputs.fusee.hours_per_turn == 5.0
    assert covered(wishes.inputs) == wishes
    without = covered(of_fusee(fusee=None))
    assert [no.asked for no in without.refused] == [Asked.RESERVE]
    assert "--fusee" in without.refused[0].hint


WRONG: list[tuple[dict[str, Any], str]] = [
    ({"arrangement": Arrangement()}, "does not pull a fusee"),
    (
        {
            "arrangement": Arrangement(
                kind=BarrelKind.FUSEE, stopwork=Stopwork(turns=4.0, set_up_turns=1.0)
            )
        },
        "no stopwork",
    ),
    ({"fusee": fusee(barrel_outside=exact("barrel_outside", 17.0))}, "not wider than its bore"),
    ({"fusee": fusee(middle=exact("fusee_middle", 16.0))}, "Half way along"),
    ({"fusee": fusee(cone=replace(fusee().cone, small=exact("fusee_small", 16.0)))}, "small end"),
]


@pytest.mark.parametrize(("changes", "says"), WRONG)
def test_a_fusee_that_cannot_be_is_refused(changes: dict[str, Any], says: str) -> None:
    inputs = replace(of_fusee(), **changes)
    with pytest.raises(SizingError, match=says):
        sized(inputs)


def test_a_bridle_slips_as_worked_out() -> None:
    """By hand: M = 2740 * 1.5 * 0.12^2 / 6 = 9.864 N mm with tight coils.

    It loses 0 to 15 % (judgement: nothing was found in print), in the middle 7.5 %: 9.124 N mm.
    While nothing lies on the wall a turn takes 2 pi E I / L = 2 pi * 208 500 * 1.5 * 0.12^3 / 12 /
    350 = 0.8085 N mm, so that 0.740 N mm are 0.915 turns of the 6.574.
    """
    case, found = CASES["slipping"]["given"], CASES["slipping"]["found"]
    by_itself = Arrangement(winding=Winding.AUTOMATIC)
    hours = case["hours_per_turn"]
    result = sized(inputs_of(case, arrangement=by_itself, hours_per_turn=hours))
    slipping = model_of(result)
    tight = model_of(sized(inputs_of(case, hours_per_turn=hours)))
    full = slipping.torque_full
    assert full is not None
    assert value(tight.torque_full) == pytest.approx(9.864)
    assert full.value == pytest.approx(found["torque_nmm"], abs=1e-3)
    assert full.low == pytest.approx(found["torque_low_nmm"], abs=0.02)
    assert full.high == pytest.approx(found["torque_high_nmm"], abs=0.02)
    assert value(tight.turns_usable) == pytest.approx(found["turns_tight"], abs=1e-3)
    assert value(slipping.turns_usable) == pytest.approx(found["turns"], abs=2e-3)
    assert value(slipping.turns_usable) == pytest.approx(6.574 - 0.915, abs=2e-3)
    assert value(slipping.hours_usable) == pytest.approx(found["hours_to_no_torque"], abs=0.02)
    # Over the part that it loses the torque falls straight: 2 pi turns times the mean.
    lost = 2 * math.pi * 0.915 * (9.864 + 9.124) / 2
    assert value(tight.energy) - value(slipping.energy) == pytest.approx(lost, rel=2e-3)
    assert (slipping.upper_limit, tight.upper_limit) == (True, False)
    assert size_json(result)["documented"]["mechanics"]["upper_limit"] is True
    text = " ".join(size_text(result).split())
    assert "at most" in text
    assert "(judgement: no published figure)" in text


def test_a_motor_barrel_goes_by_its_arbor_as_worked_out() -> None:
    """By hand: a wheel of 72 on the arbor, a pinion of 10 that turns once an hour: 7.2 h.

    M = 2200 * 2.6 * 0.18^2 / 6 = 30.888 N mm at the arbor; it is the same whichever end turns.
    """
    case, found = CASES["motor"]["given"], CASES["motor"]["found"]
    inputs = inputs_of(
        case,
        arrangement=Arrangement(kind=BarrelKind.MOTOR),
        train=train_from_text(f"{case['wheel']}/{case['pinion']}"),
        train_from_arbor=True,
    )
    result = sized(inputs)
    model = model_of(result)
    assert result.refused == ()
    assert result.watch.hours_per_turn == pytest.approx(found["hours_per_turn"])
    assert value(model.torque_full) == pytest.approx(30.888)
    assert value(model.torque_half_turn) == pytest.approx(found["torque_half_turn_nmm"], abs=2e-3)
    assert value(model.turns_usable) == pytest.approx(found["turns"], abs=1e-3)
    assert value(model.hours_usable) == pytest.approx(found["hours_to_no_torque"], abs=0.01)
    assert value(model.hours_to_stop) == pytest.approx(found["hours_to_stop"], abs=0.02)
    assert value(model.torque_kept) == pytest.approx(found["kept_24_h"], abs=1e-3)
    assert "Torque is that of the barrel arbor" in " ".join(size_text(result).split())
    from_teeth = covered(replace(inputs, train_from_arbor=False))
    assert [no.asked for no in from_teeth.refused] == [Asked.HOURS_FROM_BARREL]


def test_a_stopwork_selects_its_turns_as_worked_out() -> None:
    """By hand: the top lies 6.176 - 0.5 - 5 = 0.676 turns below full wind.

    A turn takes 2 pi E I / L = 2 pi * 188 500 * 1.9 * 0.15^3 / 12 / 390 = 1.623 N mm while nothing
    lies on the wall: 2375 * 1.9 * 0.15^2 / 6 - 0.676 * 1.623 = 16.922 - 1.097 = 15.825 N mm.
    Five turns of 8 h are 40 h; the train needs 0.275 of the torque half a turn after full wind,
    0.275 * (16.922 - 0.811) = 4.43 N mm, more than the 4.17 N mm at the end: it stops before.
    """
    case, found = CASES["stopwork"]["given"], CASES["stopwork"]["found"]
    stop = Stopwork(turns=case["turns"], set_up_turns=case["set_up"])
    inputs = inputs_of(
        case, arrangement=Arrangement(stopwork=stop), hours_per_turn=case["hours_per_turn"]
    )
    model = model_of(sized(inputs))
    assert value(model.turns_working) == pytest.approx(case["turns"])
    assert value(model.torque_full) == pytest.approx(15.825, abs=2e-3)
    assert value(model.torque_full) == pytest.approx(found["torque_top_nmm"], abs=2e-3)
    assert value(model.torque_half_turn) == value(model.torque_full)  # the top lies below that
    assert value(model.torque_kept) == pytest.approx(found["kept_24_h"], abs=1e-3)
    assert value(model.hours_usable) == pytest.approx(found["hours_between_stops"])
    assert value(model.hours_to_stop) == pytest.approx(found["hours_to_stop"], abs=0.03)
    assert value(model.turns_usable) - 0.5 - 5 == pytest.approx(
        found["turns_tight_to_top"], abs=2e-3
    )
    assert model.hours_to_stop is not None
    assert model.hours_to_stop.high <= 40.0 + 1e-9
