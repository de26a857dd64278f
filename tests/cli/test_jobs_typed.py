"""What is typed of a job is read word by word, or refused in one sentence with a hint."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from gaugelink.cli.jobs_facts import parse_after, parse_chosen, parse_train
from gaugelink.errors import GaugelinkError, InputError, SizingError
from gaugelink.jobbook.facts import (
    After,
    Amplitude,
    Chosen,
    ForeseenSpan,
    Lay,
    TrainData,
    WindState,
)

UP, EDGE = Lay.DIAL_UP, Lay.VERTICAL


def test_all_that_was_seen_after_fitting() -> None:
    text = "crown_turns=28 hours=41,5 amplitude=265@dial-up,wound amplitude=240@24h vertical"
    assert parse_after(f"{text} amplitude=250 noise=none at full wind") == After(
        crown_turns=28.0,
        hours_run=41.5,
        amplitudes=(
            Amplitude(deg=265.0, position=UP, wind=WindState.WOUND),
            Amplitude(deg=240.0, position=EDGE, wind=WindState.AFTER_24_H),
            Amplitude(deg=250.0),
        ),
        noise="none at full wind",
    )


def test_a_chosen_spring_with_all_that_was_foreseen() -> None:
    text = "A 17/b size=1.55 x 0.13 x 370 turns=6.1 crown_turns=26..28 hours=38.5..44"
    assert parse_chosen(f"{text} torque_ratio=.95..1.05 amplitude=240..275@dial-up") == Chosen(
        item="A 17/b",
        height_mm=1.55,
        thickness_mm=0.13,
        length_mm=370.0,
        turns=ForeseenSpan(low=6.1, high=6.1),
        crown_turns=ForeseenSpan(low=26.0, high=28.0),
        hours=ForeseenSpan(low=38.5, high=44.0),
        torque_ratio=ForeseenSpan(low=0.95, high=1.05),
        amplitude_deg=ForeseenSpan(low=240.0, high=275.0),
        position=UP,
    )
    assert parse_chosen("A17") == Chosen(item="A17")


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("80/10 75/12", TrainData(teeth="80/10 75/12")),
        ("hours_per_turn=7.5", TrainData(hours_per_turn=7.5)),
        ("80/10 hours_per_turn=8", TrainData(teeth="80/10", hours_per_turn=8.0)),
    ],
)
def test_a_train_by_its_teeth_or_its_hours(text: str, expected: TrainData) -> None:
    assert parse_train(text) == expected


REFUSED = [
    (parse_after, "", "not understood"),
    (parse_after, "all well", "not understood"),
    (parse_after, "good hours=41", "not understood"),
    (parse_after, "mood=good", "not understood"),
    (parse_after, "noise=", "not understood"),
    (parse_after, "hours=41 hours=42", "given twice"),
    (parse_after, "hours=-1", "not a number above zero"),
    (parse_after, "hours=0", "not a number above zero"),
    (parse_after, "hours=nan", "not a number above zero"),
    (parse_after, "hours=1e9", "up to 1000"),
    (parse_after, "crown_turns=inf", "up to 200"),
    (parse_after, "amplitude=400", "up to 360"),
    (parse_after, "amplitude=265@upside", "neither a position"),
    (parse_after, "amplitude=265@dial-up,crown-up", "comes twice"),
    (parse_after, "amplitude=240..265", "not a number"),
    (parse_chosen, "", "does not name a spring"),
    (parse_chosen, "size=1.2x0.1x300", "does not name a spring"),
    (parse_chosen, "A size=1.2x0.1", "height x thickness x length"),
    (parse_chosen, "A size=1.2x0.1x3 ell", "not a unit of length"),
    (parse_chosen, "A hours=44..38", "runs from high to low"),
    (parse_chosen, "A hours=38..", "not a number"),
    (parse_chosen, "A noise=none", "not understood"),
    (parse_chosen, "A hours=38 hours=39", "given twice"),
    (parse_train, "", "not understood"),
    (parse_train, "80-10", "not a train of wheels"),
    (parse_train, "80/10, 75/12", "not a train of wheels"),
    (parse_train, "80/0", "not possible"),
]


@pytest.mark.parametrize(("parse", "text", "sentence"), REFUSED)
def test_what_cannot_be_used_is_refused_with_a_hint(
    parse: Callable[[str], object], text: str, sentence: str
) -> None:
    is_refused(parse, text, sentence, InputError)


@pytest.mark.parametrize("text", ["80/10 75/12 hours_per_turn=7.5", "80/10 hours_per_turn=8.1"])
def test_a_train_that_gives_other_hours_is_refused_as_a_sizing_does(text: str) -> None:
    is_refused(parse_train, text, "The train gives .* h for a turn of the barrel, not", SizingError)


def is_refused(
    parse: Callable[[str], object], text: str, sentence: str, kind: type[GaugelinkError]
) -> None:
    with pytest.raises(kind, match=sentence) as caught:
        parse(text)
    assert str(caught.value).endswith(".")
    assert caught.value.hint.endswith(".")


def test_an_amplitude_of_which_nothing_was_said_is_open() -> None:
    assert parse_after("amplitude=265@") == parse_after("amplitude=265")
