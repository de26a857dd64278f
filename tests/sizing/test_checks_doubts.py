from __future__ import annotations

from typing import Any

import pytest
from barrels import DRAWS, exact, healthy, spring

from gaugelink.mechanics.train import train_from_text as chain
from gaugelink.model import DepthReference
from gaugelink.sizing.checks import doubts
from gaugelink.sizing.size_spring import size_spring


def _warnings(**changes: Any) -> dict[str, str]:
    result = size_spring(healthy(**changes), draws=DRAWS)
    return {warning.code: warning.text for warning in result.warnings}


DOUBTFUL = [
    ({"bore": exact("bore", 254.0), "arbor": exact("arbor", 80.0), "found": None}, "bore", "254"),
    ({"bore": exact("bore", 2.9), "arbor": exact("arbor", 1.0), "found": None}, "bore", "2.9"),
    ({"depth": exact("depth", 16.4), "lid": exact("lid", 3.1)}, "depth", "16.4"),
    ({"arbor": exact("arbor", 2.6), "found": None}, "arbor", "0.24 of the bore"),
    ({"arbor": exact("arbor", 4.6), "found": None}, "arbor", "0.42 of the bore"),
    ({"recess": exact("recess", 0.16)}, "recess", "more than half"),
    ({"arbor": None}, "arbor-assumed", "a third of the bore"),
    ({"lid": None}, "lid-missing", "no height"),
    ({"found": spring("found", 0.105)}, "found-thickness", "105 times"),
    ({"found": spring("found", 0.145)}, "found-thickness", "76 times"),
    ({"documented": spring("documented", 0.145)}, "documented-thickness", "76 times"),
    ({"found": spring("found", 0.19)}, "found-set", "only 19 times"),
    ({"documented": spring("documented", 0.19)}, "documented-set", "only 19 times"),
    ({"found": spring("found", 0.125, 1.2, 290.0)}, "found-fill", "fills 0.43"),
    ({"found": spring("found", 0.125, 1.2, 430.0)}, "found-fill", "fills 0.64"),
    ({"documented": spring("documented", 0.125, 1.2, 430.0)}, "documented-fill", "fills 0.64"),
    ({"found": spring("found", 0.125, 1.2, 190.0)}, "found-short", "piece of it missing"),
    ({"found": spring("found", 0.125, 1.30)}, "found-height", "too high for its barrel"),
    ({"documented": spring("documented", 0.125, 1.30)}, "documented-height", "available 1.23"),
    ({"wanted_turns": 4.5}, "wanted-turns-set", "only 19 times"),
    ({"wanted_turns": 4.5}, "wanted-turns-thickness", "58 times"),
    (
        {"hours_per_turn": 40.0},
        "hours-per-turn",
        "lasts 40 h, outside the usual 4 to 30: is it one",
    ),
    ({"train": chain("80/10 75/12")}, "hours-per-turn", "lasts 50 h"),
    ({"train": chain("80/10 75/12")}, "hours-per-turn", "last pinion of the train turn once an"),
    ({"wanted_turns": 0.2}, "rule-left-out", "wanted-turns is left out"),
]


def test_healthy_barrel_and_spring_raise_no_warning() -> None:
    assert _warnings(documented=spring("documented", 0.12, 1.2, 360.0), wanted_turns=7.0) == {}


@pytest.mark.parametrize(("changes", "code", "text"), DOUBTFUL)
def test_doubtful_inputs_are_warned_of(changes: dict[str, Any], code: str, text: str) -> None:
    warnings = _warnings(**changes)
    assert text in warnings[code]
    assert warnings[code].endswith((".", "?"))


@pytest.mark.parametrize("hours", [6.0, 8.0, 24.0])
def test_usual_hours_a_turn_are_not_doubted(hours: float) -> None:
    assert _warnings(hours_per_turn=hours) == {}


def test_short_spring_is_warned_of_once() -> None:
    assert set(_warnings(found=spring("found", 0.125, 1.2, 190.0))) == {"found-short"}


def test_spring_as_high_as_the_available_height_is_not_too_high() -> None:
    # 1.64 - 0.31 - 0.10 is a little under 1.23 in binary
    assert _warnings(found=spring("found", 0.125, 1.23)) == {}


def test_seat_depth_does_not_miss_the_lid() -> None:
    seat = {"depth": exact("depth", 1.33), "depth_reference": DepthReference.SEAT}
    assert _warnings(lid=None, **seat) == {}


# A barrel and a spring that nothing is to be said of; mm.
KNOWN = {
    "bore": 10.0,
    "arbor": 3.3,
    "depth": 1.64,
    "lid": 0.31,
    "height": 1.23,
    "found.thickness": 0.12,
    "found.height": 1.20,
    "found.fill": 0.5,
}


@pytest.mark.parametrize(
    ("code", "within", "beyond"),
    [
        ("bore", {"bore": 3.0}, {"bore": 2.99}),
        ("bore", {"bore": 30.0}, {"bore": 30.1}),
        ("depth", {"depth": 0.5}, {"depth": 0.49}),
        ("depth", {"depth": 9.0}, {"depth": 9.1}),
        ("arbor", {"arbor": 2.5}, {"arbor": 2.49}),
        ("arbor", {"arbor": 4.0}, {"arbor": 4.01}),
        ("recess", {"recess": 0.155}, {"recess": 0.156}),
        ("found-thickness", {"found.thickness": 0.125}, {"found.thickness": 0.1251}),
        ("found-thickness", {"found.thickness": 0.1}, {"found.thickness": 0.0999}),
        (
            "found-set",
            {"arbor": 2.5, "found.thickness": 0.125},
            {"arbor": 2.499, "found.thickness": 0.125},
        ),
        ("found-fill", {"found.fill": 0.45}, {"found.fill": 0.449}),
        ("found-fill", {"found.fill": 0.62}, {"found.fill": 0.621}),
        ("found-short", {"found.fill": 0.30}, {"found.fill": 0.299}),
        ("found-height", {"found.height": 1.2349}, {"found.height": 1.2351}),
    ],
)
def test_each_limit_is_where_common_practice_has_it(
    code: str, within: dict[str, float], beyond: dict[str, float]
) -> None:
    assert doubts(healthy(), KNOWN, ()) == ()
    for changes, doubted in ((within, False), (beyond, True)):
        found = doubts(healthy(), {**KNOWN, **changes}, ())
        assert (code in {warning.code for warning in found}) is doubted, changes


@pytest.mark.parametrize(
    ("hours", "doubted"), [(3.99, True), (4, False), (30, False), (30.1, True)]
)
def test_hours_a_turn_are_doubted_beyond_their_limits(hours: float, doubted: bool) -> None:
    found = doubts(healthy(hours_per_turn=hours), KNOWN, ())
    assert [warning.code for warning in found] == ["hours-per-turn"] * doubted


def test_how_far_off_an_assumed_arbor_may_be_is_said() -> None:
    (warning,) = doubts(healthy(arbor=None), KNOWN, ())
    assert warning.text.endswith("which may be 10 % off.")
