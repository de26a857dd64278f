"""A choice as text: the answer comes first, and everything fits the terminal."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

import pytest

from gaugelink.choosing.choice import Choice, Reach
from gaugelink.choosing.choose_spring import choose_spring
from gaugelink.choosing.state import ChoosingInputs
from gaugelink.mechanics.motion import MeasuredAmplitude
from gaugelink.recommending.recommend import recommend
from gaugelink.report.table import SPRING_CAUTIONS, WIDTH
from gaugelink.report.text_choice import choose_text
from gaugelink.sizing.inputs import GivenSpring, SizingInputs, typed_input
from gaugelink.sizing.results import SizeResult
from gaugelink.sizing.size_spring import size_spring
from gaugelink.stock.stock_spring import StockSpring

DOCUMENTED = GivenSpring(
    thickness=typed_input("documented.thickness", 0.12),
    height=typed_input("documented.height", 1.5),
    length=typed_input("documented.length", 350.0),
)


def spring(item: str, height: float, thickness: float, length: float = 350.0) -> StockSpring:
    return StockSpring(item=item, height_mm=height, thickness_mm=thickness, length_mm=length)


STOCK = [
    spring(f"{e:g}/{h:g}/{n:g}", h, e, n)
    for e in (0.11, 0.12, 0.13, 0.2)
    for h in (1.4, 1.5, 1.6)
    for n in (330.0, 360.0, 700.0)
]


def choice(*stock: StockSpring, **more: Any) -> Choice:
    sizes = {"bore": 11.0, "arbor": 3.67, "depth": 1.92, "lid": 0.31}
    typed = {name: typed_input(name, value) for name, value in sizes.items()}
    barrel = SizingInputs(**{**typed, "documented": DOCUMENTED, **more})
    found = choose_spring(ChoosingInputs(barrel=barrel), stock, draws=1000)
    SIZED[id(found.reference)] = size_spring(barrel, draws=1000)
    return found


SIZED: dict[int, SizeResult] = {}  # of each choice, which a test may change, by its reference


def told(found: Choice, show: int = 8) -> str:
    answer = recommend(SIZED[id(found.reference)], found)
    return choose_text(found, answer, show=show)


def flowing(found: Choice, show: int = 8) -> str:
    return " ".join(told(found, show).split())


def test_the_first_lines_are_what_to_take_and_what_to_order() -> None:
    take, order, *_ = told(choice(*STOCK)).splitlines()
    assert re.fullmatch(r"Take 0\.12/1\.\d/\d+ \(1\.\d x 0\.12 x \d+ mm\)", take)
    assert order == "Order 1.50 x 0.12 x 350 mm"


def test_how_sure_it_is_stands_in_one_figure() -> None:
    found = choice(*STOCK)
    assert found.decision is not None
    for with_strip in (0.42, 0.9):
        decision = replace(found.decision, stability=0.9, stability_with_strip=with_strip)
        text = flowing(replace(found, decision=decision))
        assert (
            f"The best choice in {100 * with_strip:.0f} of 100 cases, allowing for strip tolerance"
            in text
        )


def test_a_spring_to_be_cut_says_so_at_once() -> None:
    found = choice(spring("long", 1.4, 0.12, 700.0))
    text = told(found)
    assert text.startswith("Take long (1.4 x 0.12 x 700 mm), cut to 350 mm\n")
    assert "1.4 x 0.12 x 350*" in text
    assert "* to be cut to this length" in text
    assert text.count("Before you cut: eye protection") == 1
    assert "Before you cut" not in told(choice(spring("whole", 1.4, 0.12)))


@pytest.mark.parametrize("show", [1, 3, 8])
def test_no_more_springs_are_listed_than_asked_for(show: int) -> None:
    found = choice(*STOCK)
    text = told(found, show)
    table = text.split("SPRINGS OF THE STOCK")[1].split("WHY")[0]
    rows = [line for line in table.splitlines() if re.match(r"  0\.1", line)]
    assert len(rows) == show
    assert f"({found.ranked - show} more)" in table


def test_the_reasons_of_the_first_and_their_points_are_told() -> None:
    found = choice(*STOCK)
    text = flowing(found)
    for reason in found.picks[0].reasons:
        assert reason.text in text
        if reason.points >= 0.05:
            assert f"{reason.text} Costs {reason.points:.1f} points." in text


def test_refusals_are_grouped_with_their_number_and_an_example() -> None:
    text = flowing(choice(*STOCK))
    assert "REFUSED: 18 of 36" in text
    assert re.search(
        r"- 12 too high for the barrel, such as 0\.11/1\.6/330: 1\.6 mm high has a chance", text
    )
    assert re.search(r"- 9 far too strong, such as 0\.2/1\.4/330: ", text)


def test_what_would_make_it_surer_is_told() -> None:
    found = choice(spring("low", 1.45, 0.12), spring("high", 1.5, 0.12))
    text = flowing(found)
    assert "The measurements cannot separate low from the rest" in text
    assert "If the depth were known exactly" in text
    clear = flowing(choice(spring("only", 1.4, 0.12)))
    assert "Measuring better would not change the choice." in clear


def test_where_nothing_fits_it_says_what_is_least_bad_and_what_to_order() -> None:
    text = told(choice(spring("low", 1.1, 0.12)))
    assert text.startswith("Order 1.50 x 0.12 x 350 mm\n")
    assert "Nothing in stock fits as it is; the least bad change: low" in text
    assert SPRING_CAUTIONS not in text
    assert "Nothing in stock fits this barrel, not even" in told(choice(spring("x", 3.0, 0.12)))


def test_an_empty_stock_is_said_to_be_empty() -> None:
    assert "The stock is empty" in told(choice())


def test_the_cautions_stand_where_a_spring_is_about_to_be_fitted() -> None:
    assert told(choice(*STOCK), 8).endswith(SPRING_CAUTIONS + "\n")


def test_springs_that_miss_a_wished_amplitude_are_marked() -> None:
    sizes = {"thickness": 0.115, "height": 1.45}
    found = choice(
        *(spring(f"of-{e:g}", 1.45, e) for e in (0.115, 0.12, 0.13)),
        found=GivenSpring(**{n: typed_input(f"found.{n}", v) for n, v in sizes.items()}),
        amplitude=MeasuredAmplitude(amplitude_deg=240.0),
        wished_amplitude_deg=256.0,
    )
    assert found.wish is not None
    marks = {Reach.SHORT: "<", Reach.WITHIN: " ", Reach.BEYOND: ">"}
    picks = (replace(p, reach=reach) for p, reach in zip(found.picks, marks, strict=True))
    found = replace(found, picks=tuple(picks))
    text = told(found, 8)
    for pick in found.picks:
        assert pick.reach is not None
        row = rf"^  {pick.spring.item} .*\d\.\.\d+{marks[pick.reach]}  +\d+\.\d$"
        assert re.search(row, text, re.MULTILINE), text
    assert (
        "< swings less, > more than the 256 degrees you want, which take 1.10 to 1.14 times the "
        "torque of the found spring; the ranking goes by the torque of the documented spring "
        "alone."
    ) in flowing(found)
    assert "wished" not in told(choice(*STOCK), 8)


@pytest.mark.parametrize("wished", [None, 280.0])
@pytest.mark.parametrize("amplitude", [None, 250.0])
@pytest.mark.parametrize("hours", [None, 8.0])
def test_every_line_fits_the_narrowest_terminal(
    hours: float | None, amplitude: float | None, wished: float | None
) -> None:
    long_name = spring("a very long name of an item indeed", 1.45, 0.1225, 365.5)
    given = {name: typed_input(f"found.{name}", v) for name, v in (("thickness", 0.12),)}
    found = choice(
        *STOCK,
        long_name,
        hours_per_turn=hours,
        found=GivenSpring(**given),
        amplitude=MeasuredAmplitude(amplitude_deg=amplitude) if amplitude else None,
        wished_amplitude_deg=wished,
    )
    text = told(found, 20)
    assert max(map(len, text.splitlines())) <= WIDTH
    assert ("amplitude" in text) == (amplitude is not None)
    assert re.search(r"^  a ve.*…  ", text, re.MULTILINE)
