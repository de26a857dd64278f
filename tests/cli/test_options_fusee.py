"""What is told of a fusee: read as typed, whole or not at all, and with its own barrel."""

from __future__ import annotations

import pytest

from gaugelink.cli.barrel import sizing_inputs
from gaugelink.cli.options import Typed
from gaugelink.errors import GaugelinkError, InputError, SizingError

WHOLE: Typed = {
    "bore": "18",
    "barrel": "fusee",
    "fusee": "8 15,5 6",
    "fusee_middle": "10.3 +- 0.02",
    "barrel_outside": "20.5",
    "train": "50/10",
}


def test_words_of_a_fusee_arrive_in_their_fields() -> None:
    fusee = sizing_inputs(WHOLE, None).inputs.fusee
    assert fusee is not None
    assert (fusee.cone.small.value, fusee.cone.large.value) == (8.0, 15.5)
    assert (fusee.cone.turns.value, fusee.cone.turns.unit) == (6.0, "1")
    # Workshop Receipts, 4th series, 1885: about three quarters of a turn of set-up.
    assert fusee.cone.set_up.value == 0.75
    assert fusee.middle is not None
    assert [term.influence.u for term in fusee.middle.terms] == [0.02]
    assert fusee.barrel_outside.value == 20.5
    assert fusee.hours_per_turn == 5.0
    again = sizing_inputs({**WHOLE, "fusee": "8 15.5 6 0"}, None).inputs.fusee
    assert again is not None
    assert again.cone.set_up.value == 0.0


@pytest.mark.parametrize(
    ("changes", "kind", "says"),
    [
        ({"fusee": "8 15"}, InputError, "not two diameters and turns"),
        ({"fusee": "8 15 6 1 2"}, InputError, "not two diameters and turns"),
        ({"fusee": "8 wide 6"}, InputError, "fusee"),
        ({"fusee": ""}, InputError, "nothing was typed"),
        ({"barrel_outside": ""}, InputError, "nothing was typed"),
        ({"barrel": "motor"}, SizingError, "motor barrel does not pull a fusee"),
        ({"stopwork": "4 1"}, SizingError, "no stopwork"),
    ],
)
def test_what_is_no_whole_fusee_is_refused(
    changes: Typed, kind: type[GaugelinkError], says: str
) -> None:
    with pytest.raises(kind, match=says) as refused:
        sizing_inputs({**WHOLE, **changes}, None)
    assert refused.value.hint
