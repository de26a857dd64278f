"""What no rule covers is refused with its reason; what the train gives is worked out."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from barrels import DRAWS, healthy, spring

from gaugelink.errors import SizingError
from gaugelink.mechanics.arrangement import Arrangement, Asked, BarrelKind, Stopwork, Winding
from gaugelink.mechanics.materials import end_named
from gaugelink.mechanics.train import train_from_text
from gaugelink.sizing.covered import covered, refused_rules
from gaugelink.sizing.size_spring import size_spring

TRAIN, WINDING_TRAIN = train_from_text("80/10"), train_from_text("54/36 36/16")


def of(**parts: Any) -> Arrangement:
    return Arrangement(**parts)


@pytest.mark.parametrize(
    ("train", "last_turn_h", "hours"),
    [
        ("80/10", 1.0, 8.0),  # W. L. Goodrich, The Modern Clock, 1905, ch. XV
        ("72/10", 1.0, 7.2),
        ("80/10 75/10", 1 / 7.5, 8.0),  # a train without a centre wheel ends elsewhere
    ],
)
def test_hours_follow_from_the_train(train: str, last_turn_h: float, hours: float) -> None:
    asked = healthy(train=train_from_text(train), last_turn_h=last_turn_h)
    wishes = covered(asked)
    assert wishes.inputs.hours_per_turn == pytest.approx(hours)
    assert wishes.refused == ()


REFUSED = [
    (of(kind=BarrelKind.FUSEE), {"train": TRAIN}, {Asked.HOURS_FROM_BARREL}),
    (of(kind=BarrelKind.FUSEE), {"hours_per_turn": 8.0}, {Asked.RESERVE}),
    (of(kind=BarrelKind.FUSEE), {"winding_train": WINDING_TRAIN}, {Asked.CROWN_TURNS}),
    (of(kind=BarrelKind.MOTOR), {"train": TRAIN}, {Asked.HOURS_FROM_BARREL}),
    (of(kind=BarrelKind.TWIN), {"train": TRAIN}, {Asked.HOURS_FROM_BARREL}),
    (of(kind=BarrelKind.TWIN), {"hours_per_turn": 8.0}, {Asked.RESERVE}),
    (of(winding=Winding.AUTOMATIC), {"winding_train": WINDING_TRAIN}, {Asked.CROWN_TURNS}),
    (of(kind=BarrelKind.MOTOR), {"train": TRAIN, "train_from_arbor": True}, set()),
    (of(), {"train": TRAIN, "winding_train": WINDING_TRAIN}, set()),
    (of(kind=BarrelKind.FUSEE), {}, set()),
]


@pytest.mark.parametrize(("arrangement", "wishes", "refused"), REFUSED)
def test_wishes_that_no_rule_covers_are_dropped_with_a_reason(
    arrangement: Arrangement, wishes: dict[str, Any], refused: set[Asked]
) -> None:
    kept = covered(healthy(arrangement=arrangement, **wishes))
    assert {no.asked for no in kept.refused} == refused
    assert all(no.reason and no.hint for no in kept.refused)
    if refused & {Asked.HOURS_FROM_BARREL, Asked.RESERVE}:
        assert kept.inputs.hours_per_turn is None
    if Asked.CROWN_TURNS in refused:
        assert kept.inputs.winding_train is None
    again = covered(kept.inputs)
    assert (again.inputs, again.refused) == (kept.inputs, ())


def test_only_a_fusee_has_no_rules() -> None:
    for kind in BarrelKind:
        refused = refused_rules(healthy(arrangement=of(kind=kind)))
        assert bool(refused) is (kind is BarrelKind.FUSEE)


def test_a_fusee_is_sized_by_its_springs_alone() -> None:
    documented = spring("documented", 0.12, 1.2, 350.0)
    inputs = healthy(arrangement=of(kind=BarrelKind.FUSEE), documented=documented)
    result = size_spring(inputs, draws=DRAWS)
    assert result.rules == ()
    assert [no.asked for no in result.refused] == [Asked.SIZE]
    assert result.found is not None
    assert result.documented is not None
    assert result.found.torque_reference == "Against the documented spring."
    assert result.found.ratio_full is not None
    assert result.documented.figures.turns_usable is not None
    assert (result.documented.torque_ratio, result.documented.ratio_full) == (None, None)
    assert result.documented.torque_reference.startswith("Against nothing")


def test_a_fusee_with_no_spring_at_all_still_says_why() -> None:
    inputs = healthy(arrangement=of(kind=BarrelKind.FUSEE), found=None)
    result = size_spring(inputs, draws=DRAWS)
    assert (result.rules, result.found, result.documented) == ((), None, None)
    assert "fusee" in result.refused[0].reason


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"train": TRAIN, "hours_per_turn": 7.5}, "gives 8 h for a turn of the barrel, not 7.5"),
        ({"train": TRAIN, "train_from_arbor": True}, "arbor of a going barrel"),
        ({"arrangement": of(end=end_named("slipping-bridle"))}, "does not belong"),
        ({"arrangement": of(winding=Winding.AUTOMATIC, end=end_named("hook"))}, "does not belong"),
        ({"arrangement": of(stopwork=Stopwork(turns=0.0, set_up_turns=1.0))}, "not possible"),
    ],
)
def test_parts_that_do_not_go_together_are_an_error(changes: dict[str, Any], says: str) -> None:
    with pytest.raises(SizingError, match=says) as caught:
        size_spring(healthy(**changes), draws=DRAWS)
    assert caught.value.hint


def test_hours_rounded_by_hand_are_taken_as_stated() -> None:
    inputs = healthy(train=train_from_text("78/11"), hours_per_turn=7.1)
    assert covered(inputs).inputs.hours_per_turn == 7.1
    assert covered(replace(inputs, hours_per_turn=None)).inputs.hours_per_turn == pytest.approx(
        78 / 11
    )
