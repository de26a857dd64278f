from __future__ import annotations

import math

import pytest
from watch_springs import healthy

from gaugelink.errors import SizingError
from gaugelink.mechanics.arrangement import (
    Arrangement,
    Asked,
    BarrelKind,
    Stopwork,
    Winding,
    check_arrangement,
    refuse_uncovered,
)
from gaugelink.mechanics.materials import end_named
from gaugelink.mechanics.stopwork import winding_advice, working_turns
from gaugelink.mechanics.torque import torque_after, usable_turns

# What the trade knows not to hold; everything else is covered.
UNCOVERED = {(BarrelKind.FUSEE, asked) for asked in Asked} | {
    (BarrelKind.MOTOR, Asked.HOURS_FROM_BARREL),
    (BarrelKind.TWIN, Asked.HOURS_FROM_BARREL),
    (BarrelKind.TWIN, Asked.RESERVE),
    (Winding.AUTOMATIC, Asked.CROWN_TURNS),
}


@pytest.mark.parametrize("asked", Asked)
@pytest.mark.parametrize("winding", Winding)
@pytest.mark.parametrize("kind", BarrelKind)
def test_what_no_rule_covers_is_refused_and_the_rest_is_not(
    kind: BarrelKind, winding: Winding, asked: Asked
) -> None:
    arrangement = Arrangement(kind=kind, winding=winding)
    blamed = [feature for feature in (kind, winding) if (feature, asked) in UNCOVERED]
    if not blamed:
        refuse_uncovered(arrangement, asked)
        return
    with pytest.raises(SizingError) as refused:
        refuse_uncovered(arrangement, asked)
    assert refused.value.inputs == (blamed[0].value,)
    assert str(refused.value).endswith(".")
    assert refused.value.hint.endswith(".")


def test_reasons_name_what_is_different() -> None:
    def reason(arrangement: Arrangement, asked: Asked) -> str:
        with pytest.raises(SizingError) as refused:
            refuse_uncovered(arrangement, asked)
        return f"{refused.value} {refused.value.hint}"

    assert "arbor drives" in reason(Arrangement(kind=BarrelKind.MOTOR), Asked.HOURS_FROM_BARREL)
    assert "fusee" in reason(Arrangement(kind=BarrelKind.FUSEE), Asked.SIZE)
    assert "slip" in reason(Arrangement(winding=Winding.AUTOMATIC), Asked.CROWN_TURNS)


@pytest.mark.parametrize("end", ["hole", "hook", "tongue", "t-end", "brace"])
def test_fixed_end_does_not_go_into_a_smooth_wall(end: str) -> None:
    check_arrangement(Arrangement(end=end_named(end)))
    with pytest.raises(SizingError, match="own motion"):
        check_arrangement(Arrangement(end=end_named(end), winding=Winding.AUTOMATIC))


def test_slipping_bridle_does_not_go_into_a_hooked_barrel() -> None:
    bridle = end_named("slipping-bridle")
    check_arrangement(Arrangement(end=bridle, winding=Winding.AUTOMATIC))
    with pytest.raises(SizingError, match="by hand"):
        check_arrangement(Arrangement(end=bridle))


def test_end_that_was_not_told_goes_anywhere() -> None:
    for winding in Winding:
        check_arrangement(Arrangement(winding=winding))


@pytest.mark.parametrize(
    "arrangement",
    [
        Arrangement(winding=Winding.AUTOMATIC, stopwork=Stopwork(turns=4, set_up_turns=1)),
        Arrangement(stopwork=Stopwork(turns=0, set_up_turns=1)),
        Arrangement(stopwork=Stopwork(turns=4, set_up_turns=-1)),
        Arrangement(stopwork=Stopwork(turns=math.nan, set_up_turns=1)),
        Arrangement(stopwork=Stopwork(turns=4, set_up_turns=math.inf)),
    ],
)
def test_impossible_stopwork_is_refused(arrangement: Arrangement) -> None:
    with pytest.raises(SizingError) as refused:
        check_arrangement(arrangement)
    assert "stopwork" in refused.value.inputs


def test_without_stopwork_all_usable_turns_work() -> None:
    work = working_turns(healthy(), None)
    assert (work.first, work.last) == (0.0, pytest.approx(usable_turns(healthy())))


def test_stopwork_selects_the_middle_turns() -> None:
    stopwork = Stopwork(turns=4.0, set_up_turns=1.5)
    check_arrangement(Arrangement(stopwork=stopwork))
    work = working_turns(healthy(), stopwork)
    assert work.turns == pytest.approx(4.0)
    assert work.last == pytest.approx(6.311 - 1.5, abs=6e-4)  # of the reference table
    # and leaves out the strongest and the weakest, which is what it is for
    top, end = (float(torque_after(healthy(), t)) for t in (work.first, work.last))
    assert top < healthy().full_wind_torque_nmm
    assert end > torque_after(healthy(), usable_turns(healthy())) + 1.0


def test_the_least_set_up_counts_in_full() -> None:
    """There is no torque between the usable turns and the rings, so nothing is set up there."""
    for set_up in (0.0, 0.2):
        work = working_turns(healthy(), Stopwork(turns=5.0, set_up_turns=set_up))
        assert work.last == pytest.approx(float(usable_turns(healthy())) - set_up)
        assert work.turns == pytest.approx(5.0)


def test_stopwork_beyond_the_turns_of_the_spring_is_refused() -> None:
    with pytest.raises(SizingError, match=r"6\.3 usable turns"):
        working_turns(healthy(), Stopwork(turns=5.0, set_up_turns=1.4))


def test_slipping_bridle_makes_full_wind_an_upper_limit() -> None:
    (advice,) = winding_advice(Arrangement(winding=Winding.AUTOMATIC))
    assert "upper limits" in advice.text
    assert winding_advice(Arrangement()) == ()
