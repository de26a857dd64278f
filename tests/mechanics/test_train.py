"""Trains in print and computed: fixtures/reference/mechanics_trains.json."""

from __future__ import annotations

import math
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from watch_springs import reference

from gaugelink.errors import InputError
from gaugelink.mechanics.train import Mesh, Train, crown_turns, hours_per_turn, train_from_text

KNOWN = reference("trains")


@pytest.mark.parametrize("row", KNOWN["trains"], ids=lambda row: row["text"])
def test_ratio_of_trains(row: dict[str, Any]) -> None:
    assert train_from_text(row["text"]).ratio == pytest.approx(row["ratio"])


def test_crown_turns_to_wind_a_barrel() -> None:
    row = KNOWN["winding"]
    turns = crown_turns(row["ratchet_turns"], train_from_text(row["text"]))
    assert turns == pytest.approx(row["crown_turns"])


def test_reserve_is_turns_times_hours() -> None:
    row = KNOWN["reserve"]
    assert row["turns"] * hours_per_turn(train_from_text("80/10")) == pytest.approx(row["hours"])


def test_train_without_a_centre_wheel_takes_the_time_of_its_last_pinion() -> None:
    train = train_from_text("72/12 70/10")
    assert hours_per_turn(train, last_turn_h=1 / 7.5) == pytest.approx(5.6)


@pytest.mark.parametrize(
    "text", ["80/10 75/12", "80/10, 75/12", " 80 / 10 x 75 /12 ", "80/10*75/12", "80/10×75/12"]
)
def test_ways_to_write_a_train(text: str) -> None:
    assert train_from_text(text).meshes == (
        Mesh(wheel=80, pinion=10),
        Mesh(wheel=75, pinion=12),
    )


@settings(deadline=None)
@given(st.lists(st.tuples(st.integers(1, 1000), st.integers(1, 1000)), min_size=1, max_size=6))
def test_ratio_is_the_exact_product(pairs: list[tuple[int, int]]) -> None:
    train = train_from_text(" ".join(f"{wheel}/{pinion}" for wheel, pinion in pairs))
    exact = math.prod(Fraction(wheel, pinion) for wheel, pinion in pairs)
    assert train.ratio == pytest.approx(float(exact))
    assert hours_per_turn(train) == train.ratio


@pytest.mark.parametrize(
    "text",
    [
        *("", "80", "80/", "/10", "80/10/5", "80:10", "80/10 +", "80/0", "0/10", "-80/10"),
        *("8.5/10", "1001/10", "80/10 75", "eighty/10", "80/10,,75/12"),
    ],
)
def test_what_is_no_train_is_refused(text: str) -> None:
    with pytest.raises(InputError) as refused:
        train_from_text(text)
    assert refused.value.hint


@pytest.mark.parametrize("hours", [0.0, -1.0, math.nan, math.inf])
def test_impossible_time_per_turn_is_refused(hours: float) -> None:
    with pytest.raises(InputError):
        hours_per_turn(Train(meshes=(Mesh(wheel=80, pinion=10),)), last_turn_h=hours)


def test_direct_drive_has_a_ratio_of_one() -> None:
    assert hours_per_turn(Train(meshes=()), last_turn_h=6.0) == 6.0


@pytest.mark.parametrize("text", ["80/10", "54/36 36/16"])
def test_a_train_is_written_as_it_is_read(text: str) -> None:
    assert train_from_text(text).text == text
    assert train_from_text(train_from_text(text.replace(" ", " x ")).text).text == text
