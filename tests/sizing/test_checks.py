from __future__ import annotations

import math
from typing import Any

import pytest
from barrels import exact, healthy, spring

from gaugelink.errors import SizingError
from gaugelink.model import DepthReference
from gaugelink.sizing import rules as eq
from gaugelink.sizing.checks import check_inputs, fits, rules_that_fit
from gaugelink.sizing.inputs import GivenSpring

REFUSED = [
    ({"bore": exact("bore", 0.0)}, "bore is 0 mm", ("bore",)),
    ({"bore": exact("bore", -11.0)}, "bore is -11 mm", ("bore",)),
    ({"depth": exact("depth", -1.6)}, "depth is -1.6 mm", ("depth",)),
    ({"lid": exact("lid", 0.0)}, "lid is 0 mm", ("lid",)),
    ({"recess": exact("recess", -0.1)}, "recess is -0.1 mm", ("recess",)),
    ({"clearance": exact("clearance", -0.1)}, "clearance is -0.1 mm", ("clearance",)),
    ({"arbor": exact("arbor", 0.0)}, "arbor is 0 mm", ("arbor",)),
    ({"found": spring("found", 0.0)}, "found thickness is 0 mm", ("found.thickness",)),
    ({"found": spring("found", 0.12, -1.0)}, "found height is -1 mm", ("found.height",)),
    ({"found": spring("found", 0.12, 1.0, 0.0)}, "found length is 0 mm", ("found.length",)),
    ({"hours_per_turn": 0.0}, "hours per turn cannot be 0", ("hours_per_turn",)),
    ({"wanted_turns": -7.0}, "wanted turns cannot be -7", ("wanted_turns",)),
    ({"wanted_turns": math.inf}, "wanted turns cannot be inf", ("wanted_turns",)),
    ({"arbor": exact("arbor", 11.0)}, "arbor of 11 mm is not narrower", ("arbor", "bore")),
    ({"arbor": exact("arbor", 10.6)}, "leaves no room for a spring", ("arbor", "bore")),
    ({"recess": exact("recess", 0.31)}, "as deep as the lid", ("recess", "lid")),
    ({"recess": exact("recess", 0.50)}, "as deep as the lid", ("recess", "lid")),
    ({"lid": exact("lid", 1.64)}, "does not go into a depth", ("lid", "depth")),
    ({"lid": exact("lid", 2.0)}, "does not go into a depth", ("lid", "depth")),
    ({"depth": exact("depth", 0.40)}, "leaves no height", ("clearance", "depth")),
    (
        {"depth": exact("depth", 0.1), "depth_reference": DepthReference.SEAT},
        "leaves no height",
        ("clearance", "depth"),
    ),
    (
        {"found": spring("found", 0.125, 1.2, 690.0)},
        "found spring of 0.125 mm x 690 mm does not fit",
        ("found.thickness", "found.length"),
    ),
    (
        {"documented": spring("documented", 12.0, 1.2, 340.0)},
        "documented spring of 12 mm x 340 mm does not fit",
        ("documented.thickness", "documented.length"),
    ),
    ({"found": spring("found", 3.65)}, "thicker than the ring is wide", ("found.thickness",)),
]


def test_healthy_inputs_pass() -> None:
    check_inputs(healthy())
    assert rules_that_fit(healthy())[1] == ()


@pytest.mark.parametrize(("changes", "text", "inputs"), REFUSED)
def test_impossible_inputs_are_refused(
    changes: dict[str, Any], text: str, inputs: tuple[str, ...]
) -> None:
    with pytest.raises(SizingError, match=text) as caught:
        check_inputs(healthy(**changes))
    assert caught.value.inputs == inputs
    assert caught.value.hint.endswith(".")


def test_value_that_is_not_finite_is_refused() -> None:
    bore = exact("bore", 11.0)
    broken = type(bore)(label="bore", value=math.nan)
    with pytest.raises(SizingError, match="bore is nan mm"):
        check_inputs(healthy(bore=broken))


def test_lid_thicker_than_the_depth_is_fine_where_the_depth_goes_to_the_seat() -> None:
    check_inputs(healthy(lid=exact("lid", 2.0), depth_reference=DepthReference.SEAT))


def test_recess_that_makes_room_is_counted() -> None:
    changes = {"depth": exact("depth", 0.40), "recess": exact("recess", 0.15)}
    check_inputs(healthy(**changes))


def test_spring_fits_up_to_one_thickness_less_than_the_ring() -> None:
    longest = math.pi * (11.0**2 - 3.7**2) / (4 * 0.125)
    assert eq.fill(11.0, 3.7, 0.125, longest) == pytest.approx(1.0)
    assert not fits(11.0, 3.7, 0.125, longest)
    assert not fits(11.0, 3.7, 0.125, 0.97 * longest)
    assert fits(11.0, 3.7, 0.125, 0.96 * longest)
    assert eq.spiral_turns(11.0, 3.7, 0.125, 0.96 * longest) > 0


def test_rules_that_do_not_fit_a_wide_arbor_are_told_apart() -> None:
    inputs = healthy(arbor=exact("arbor", 7.6), found=None)
    kept, left_out = rules_that_fit(inputs)
    assert [rule.name for rule in kept] == ["ratio-30", "half-area"]
    assert [rule.name for rule in left_out] == ["ratio-35", "thirds-run-down", "thirds-wound"]


def test_spring_without_a_length_is_judged_by_its_thickness() -> None:
    check_inputs(healthy(found=GivenSpring(thickness=exact("found.thickness", 3.64))))
