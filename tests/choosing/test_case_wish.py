"""A wished amplitude: what is said of each spring, and that nothing else changes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import pytest
from choosing_bench import DOCUMENTED, STEEL, given, healthy_steel, job, spring

from gaugelink.choosing.case import Reach, Wish, reach_of, wish_of
from gaugelink.choosing.choice import Choice
from gaugelink.choosing.choose_spring import choose_spring
from gaugelink.errors import SizingError
from gaugelink.mechanics.motion import Expected, MeasuredAmplitude, Wind, thickness_for_amplitude
from gaugelink.stock.stock_spring import StockSpring

FOUND = given(0.115, 1.45, 350.0, name="found")
MEASURED = MeasuredAmplitude(amplitude_deg=240.0)
STOCK = [spring(e, 1.45) for e in (0.105, 0.115, 0.12, 0.125, 0.13, 0.14)]


def chosen(
    wished_deg: float | None, stock: Sequence[StockSpring] = STOCK, **of_barrel: object
) -> Choice:
    known = {"documented": DOCUMENTED, "found": FOUND, "amplitude": MEASURED, **of_barrel}
    return choose_spring(job(**known, wished_amplitude_deg=wished_deg), stock, draws=1000)


def expected(low_deg: float, high_deg: float) -> Expected:
    return Expected(
        low_deg=low_deg, high_deg=high_deg, may_knock=False, will_knock=False, extrapolated=False
    )


@pytest.mark.parametrize(
    ("low_deg", "high_deg", "reach"),
    [
        (240.0, 260.0, Reach.SHORT),
        (260.0, 269.4, Reach.SHORT),  # written 269
        (260.0, 269.6, Reach.WITHIN),  # written 270
        (260.0, 280.0, Reach.WITHIN),
        (270.4, 280.0, Reach.WITHIN),  # written 270
        (270.6, 280.0, Reach.BEYOND),  # written 271
        (270.0, 270.0, Reach.WITHIN),
    ],
)
def test_a_wish_is_compared_in_the_whole_degrees_that_are_written(
    low_deg: float, high_deg: float, reach: Reach
) -> None:
    wish = Wish(amplitude_deg=270.0, takes=thickness_for_amplitude(MEASURED, 270.0, 0.115))
    assert reach_of(wish, expected(low_deg, high_deg)) is reach


@pytest.mark.parametrize(
    ("wished_deg", "thinnest", "thickest"),
    [(256.0, Reach.WITHIN, Reach.BEYOND), (270.0, Reach.SHORT, Reach.WITHIN)],
)
def test_each_spring_shown_is_told_whether_it_meets_the_wish(
    wished_deg: float, thinnest: Reach, thickest: Reach
) -> None:
    """Thickness as found, 0.115 mm, may swing 240 to some 267, as the found one may be tired."""
    strip = [replace(each, material=STEEL.name) for each in STOCK]
    choice = chosen(wished_deg, strip, **healthy_steel())
    reaches = {pick.spring.thickness_mm: pick.reach for pick in choice.picks}
    assert reaches == {
        0.115: thinnest,
        0.12: Reach.WITHIN,
        0.125: Reach.WITHIN,
        0.13: thickest,
    }
    words = {Reach.SHORT: "short of the", Reach.WITHIN: "and", Reach.BEYOND: "more than the"}
    for pick in choice.picks:
        assert pick.amplitude_deg is not None
        assert pick.reach is not None
        low, high = f"{pick.amplitude_deg.low:.0f}", f"{pick.amplitude_deg.high:.0f}"
        (told,) = [reason for reason in pick.reasons if "wished" in reason.text]
        assert told.text.startswith(
            f"Swings {low} to {high} degrees, {words[pick.reach]} {wished_deg:g} "
        )
        assert told.points == 0.0


@pytest.mark.parametrize("wished_deg", [200.0, 270.0, 319.0])
def test_a_wish_moves_no_spring_and_changes_no_refusal(wished_deg: float) -> None:
    plain, wishing = chosen(None), chosen(wished_deg)
    assert plain.wish is None
    assert wishing.wish is not None
    assert [replace(p, reach=None, reasons=()) for p in wishing.picks] == [
        replace(p, reasons=()) for p in plain.picks
    ]
    assert list(wishing.refused) == list(plain.refused)
    assert wishing.decision == plain.decision


def test_what_knocks_stays_refused_though_a_wish_asks_for_it() -> None:
    lively = MeasuredAmplitude(amplitude_deg=300.0)
    choice = chosen(318.0, amplitude=lively)
    refused = {each.item: [why.value for why in each.why] for each in choice.refused}
    assert refused["1.45 x 0.13 x 350"] == ["would make the watch knock"]


@pytest.mark.parametrize(("wished_deg", "word"), [(320.0, "knocks"), (400.0, "not possible")])
def test_a_wish_that_no_movement_may_have_is_refused(wished_deg: float, word: str) -> None:
    with pytest.raises(SizingError, match=word) as refused:
        chosen(wished_deg)
    assert refused.value.hint


@pytest.mark.parametrize(("wished_deg", "asked"), [(270.0, True), (220.0, False)])
def test_before_a_stronger_spring_the_movement_is_looked_at(wished_deg: float, asked: bool) -> None:
    codes = [each.code for each in chosen(wished_deg).warnings]
    assert ("stronger-spring" in codes) == asked
    assert codes.count("amplitude-low") == 1


def test_a_wish_beside_a_found_spring_of_unknown_size_says_nothing() -> None:
    choice = chosen(270.0, found=None)
    assert choice.wish is None
    assert {pick.reach for pick in choice.picks} == {None}
    assert "amplitude-unused" in {each.code for each in choice.warnings}


def test_a_found_spring_that_has_run_down_tells_no_spring_from_another() -> None:
    later = MeasuredAmplitude(amplitude_deg=230.0, wind=Wind.DAY_LATER)
    short = given(0.2, 1.45, 200.0, name="found")
    choice = chosen(250.0, amplitude=later, found=short, hours_per_turn=4.0)
    assert choice.picks
    for pick in choice.picks:
        assert pick.reach is None
        assert not any("wished" in reason.text for reason in pick.reasons)


def test_without_a_measured_amplitude_there_is_nothing_to_wish_from() -> None:
    assert wish_of(job(found=FOUND, wished_amplitude_deg=270.0).barrel) is None
