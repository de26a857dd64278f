"""A sizing as text: what has to stand in it, and in the golden files."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from gaugelink.mechanics.arrangement import Arrangement, BarrelKind, Stopwork, Winding
from gaugelink.mechanics.motion import POWER_SAYING
from gaugelink.report.table import (
    SPRING_CAUTIONS,
    WIDTH,
    opening_cautions,
    span,
    spring_cautions,
)
from gaugelink.report.text_size import size_text
from gaugelink.sizing.inputs import GivenSpring, SizingInputs, typed_input, with_found_length
from gaugelink.sizing.size_spring import size_spring
from gaugelink.uncertainty.estimate import Estimate

FIXTURES = Path(__file__).parents[2] / "fixtures"
GOLDEN = (
    *("size_bore.txt", "size_core.txt", "size_fusee.txt", "size_inches.txt", "size_motor.txt"),
    *("size_swing.txt", "size_twin.txt", "size_typed.txt", "size_watch.txt"),
    *("size_fusee_full.txt", "size_typed_full.txt", "size_watch_full.txt"),
)


def text_of(**given: GivenSpring | float) -> str:
    inputs = SizingInputs(bore=typed_input("bore", 11.02), **given)  # type: ignore[arg-type]
    return size_text(size_spring(inputs, draws=2_000))


def test_a_bore_alone_gives_the_rules_and_says_what_was_assumed() -> None:
    text = text_of()
    assert "THE SPRING BY RULE" in text
    assert "AVAILABLE HEIGHT" not in text
    assert "SPRINGS COMPARED" not in text
    assert "No arbor was given" in text


def test_every_rule_stands_in_the_table_with_its_basis() -> None:
    text = text_of(wanted_turns=6.5)
    result = size_spring(
        SizingInputs(bore=typed_input("bore", 11.02), wanted_turns=6.5), draws=2_000
    )
    flowing = " ".join(text.split())
    for rule in result.rules:
        assert f"{rule.rule}: {rule.basis}" in flowing
        assert re.search(rf"^  {rule.rule} +0\.1", text, re.MULTILINE)


def test_a_spring_of_unknown_length_has_dashes() -> None:
    found = GivenSpring(thickness=typed_input("found.thickness", 0.13))
    sizes, effects = re.findall(r"^  found  .*$", text_of(found=found), re.MULTILINE)
    assert sizes.split()[:2] == ["found", "-"]
    assert sizes.count(" -") == 3  # height, length and fill
    assert effects.split() == ["found", "-", "-", "-"]  # all three kinds of turns


@pytest.mark.parametrize("name", GOLDEN)
def test_no_label_of_the_program_reaches_the_reader(name: str) -> None:
    text = golden(name)
    assert re.findall(r"[a-z]+[._][a-z]+", text.replace("mysterieuse-uhren.de", "")) == []


@pytest.mark.parametrize("name", GOLDEN)
def test_no_line_is_wider_than_the_narrowest_terminal(name: str) -> None:
    text = golden(name)
    assert max(map(len, text.splitlines())) <= WIDTH


def golden(name: str) -> str:
    """What ``tests/test_frozen.py`` proves to be what is made now."""
    return (FIXTURES / "golden" / name).read_text(encoding="utf-8")


def section(text: str, title: str) -> str:
    (found,) = [part for part in text.split("\n\n") if part.startswith(title)]
    return " ".join(found.split())


def titles(text: str) -> list[str]:
    return re.findall(r"^([A-Z][A-Z ]+[A-Z])\b", text, re.MULTILINE)


def test_the_movement_comes_first_then_the_answer() -> None:
    assert titles(text_of())[0] == "BY DOCUMENT AND RULE"
    watch = golden("size_watch_full.txt")
    assert titles(watch)[:3] == [
        "FIRST THE MOVEMENT",
        "BY DOCUMENT AND RULE",
        "WHAT THE OLD SPRING TELLS US",
    ]
    first = section(watch, "FIRST THE MOVEMENT")
    assert "A stronger spring does not cure dirt" in first
    assert "The documented spring may make the movement knock" in first
    assert POWER_SAYING in first


def test_the_answer_says_when_the_documented_spring_is_too_high() -> None:
    answer = " ".join(section(golden("size_typed_full.txt"), "BY DOCUMENT AND RULE").split())
    # 0.02 mm too much, u 0.0224 mm: P = 0.81 by the table of the normal distribution
    assert "PERHAPS TOO HIGH FOR THIS BARREL (probability 81 %)" in answer
    assert "TOO HIGH" not in section(golden("size_watch_full.txt"), "BY DOCUMENT AND RULE")


def test_every_clue_of_the_finding_stands_with_its_ground() -> None:
    read = section(golden("size_watch_full.txt"), "WHAT THE OLD SPRING TELLS US")
    # Four are a tired spring's, but a healthy one of this size may have 3.2: within 0.5 either way.
    assert "? 4 inner coils were loose in the barrel" in read
    assert "+ Lying free it is 2.2 bores wide" in read
    assert read.count("Wikipedia") == 2
    assert read.count("common practice") == 5
    assert read.endswith("not a verdict.")


def test_the_ways_to_the_length_and_their_weights_are_shown() -> None:
    shown = section(golden("size_watch_full.txt"), "ITS LENGTH WITHOUT UNCOILING")
    weights = [int(part) for part in re.findall(r"(\d+) %", shown)]
    assert len(weights) == 2
    assert sum(weights) == pytest.approx(100, abs=1)


def test_the_shares_of_the_uncertainty_stand_beside_bars_of_their_length() -> None:
    budget = (
        golden("size_watch_full.txt").partition("WHERE THE UNCERTAINTY")[2].partition("\n\n")[0]
    )
    rows = re.findall(r"^ +(\d+) %  (#+) +(.+)$", budget, re.MULTILINE)
    assert ("80", "#" * 16, "depth as typed") in rows
    assert all(len(bar) == pytest.approx(int(share) / 5, abs=0.6) for share, bar, _ in rows)
    assert len(rows) == 11


def test_a_fusee_is_told_why_there_is_no_rule() -> None:
    text = golden("size_fusee_full.txt")
    assert "THE SPRING BY RULE" not in text
    assert "Copy the old spring" in section(text, "BY DOCUMENT AND RULE")
    refused = section(text, "NOT WORKED OUT")
    assert "hours per turn from the teeth of the barrel:" in refused
    assert "thickness and length by rule:" in refused
    assert "let the set-up down" in section(text, "BEFORE YOU OPEN THE BARREL")


CAUTIONED = [
    (Arrangement(kind=BarrelKind.MOTOR), "the other way round"),
    (Arrangement(kind=BarrelKind.TWIN), "let down both"),
    (Arrangement(winding=Winding.AUTOMATIC), "never lever a bridge off a wound barrel"),
    (Arrangement(stopwork=Stopwork(turns=4.0, set_up_turns=1.0)), "set-up of the stopwork"),
]


@pytest.mark.parametrize(("arrangement", "words"), CAUTIONED)
def test_a_special_barrel_has_its_own_caution(arrangement: Arrangement, words: str) -> None:
    cautions = spring_cautions(arrangement)
    assert words in " ".join(cautions.split())
    assert "Local rules and licensed" in cautions
    assert max(map(len, cautions.splitlines())) <= WIDTH
    assert spring_cautions(Arrangement()) == SPRING_CAUTIONS


@pytest.mark.parametrize(
    ("arrangement", "words"),
    [
        (Arrangement(kind=BarrelKind.FUSEE), "let the set-up down at the barrel arbor"),
        (Arrangement(kind=BarrelKind.TWIN), "let down both before either is opened"),
        (Arrangement(kind=BarrelKind.MOTOR), "note which way it winds"),
        (Arrangement(winding=Winding.AUTOMATIC), "access to the click"),
    ],
)
def test_a_special_barrel_is_told_before_it_is_opened(arrangement: Arrangement, words: str) -> None:
    opening, _, fitting = spring_cautions(arrangement).partition("BEFORE YOU FIT IT")
    assert opening.startswith("BEFORE YOU OPEN THE BARREL\n")
    assert words in " ".join(opening.split())
    assert words not in " ".join(fitting.split())
    assert words in " ".join(opening_cautions(arrangement).split())


@pytest.mark.parametrize(
    ("low", "high", "written"),
    [
        (5.87, 6.63, "5.9..6.6"),
        (34.2, 50.1, "34..50"),
        (0.00712, 0.00934, "0.0071..0.0093"),
        (4.0, 4.0, "4"),
        (178.9, 321.9, "179..322"),
        (0.0, 3.3e-14, "0"),
        (-2e-15, 2e-15, "0"),
    ],
)
def test_a_span_is_written_no_finer_than_it_is_known(low: float, high: float, written: str) -> None:
    value = (low + high) / 2
    estimate = Estimate(label="x", value=value, u=0.1, dof=9.0, unit="1", low=low, high=high)
    assert span(estimate) == written


@pytest.mark.parametrize(("typed_mm", "said"), [(None, False), (400.0, True)])
def test_a_typed_length_beside_clues_is_said_to_be_the_used_one(
    typed_mm: float | None, said: bool
) -> None:
    typed = typed_input("found.length", typed_mm) if typed_mm else None
    found = GivenSpring(thickness=typed_input("found.thickness", 0.12), length=typed)
    known = SizingInputs(bore=typed_input("bore", 11.0), found=found)
    clues = {"coils": typed_input("found.coils", 11.672, unit="1")}
    text = size_text(size_spring(with_found_length(known, clues), draws=2_000))
    assert ("The typed length of 400 mm is used; this is to compare." in text) is said


def test_turns_are_always_said_to_be_of_a_kind() -> None:
    text = text_of(found=GivenSpring(thickness=typed_input("found.thickness", 0.13)))
    heads = re.findall(r"^ +(.*)\bturns(?=\s*(?:,|$|  ))(.*)$", text, re.MULTILINE)
    assert ("", ", rings     spiral    usable") in [(a, b.rstrip()) for a, b in heads], heads


@pytest.mark.parametrize("text", [text_of(), text_of(wanted_turns=6.5)])
def test_lines_fit_and_the_cautions_come_last(text: str) -> None:
    prose = [line for line in text.splitlines() if "±" not in line]
    assert max(map(len, prose)) <= WIDTH
    assert text.endswith(f"\n\n{SPRING_CAUTIONS}\n")
    assert all(line == line.rstrip() for line in text.splitlines())
