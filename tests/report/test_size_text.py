"""A sizing as text: the golden file, and what has to stand in it."""

from __future__ import annotations

import re
import runpy
from collections.abc import Callable
from pathlib import Path

import pytest

from gaugelink.report.cautions import SPRING_CAUTIONS
from gaugelink.report.size_text import size_text
from gaugelink.report.table import WIDTH
from gaugelink.sizing import GivenSpring, SizingInputs, size_spring, typed_input

FIXTURES = Path(__file__).parents[2] / "fixtures"
GOLDEN: dict[str, Callable[[], str]] = runpy.run_path(str(FIXTURES / "make_golden.py"))["GOLDEN"]


@pytest.mark.parametrize("name", GOLDEN)
def test_the_text_is_the_golden_one(name: str) -> None:
    """After a wanted change: ``python fixtures/make_golden.py``, and read the difference."""
    kept = (FIXTURES / "golden" / name).read_text(encoding="utf-8")
    assert GOLDEN[name]() == kept


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
    assert effects.split() == ["found", "-", "-"]  # both kinds of turns


def test_no_label_of_the_program_reaches_the_reader() -> None:
    text = (FIXTURES / "golden" / "size_typed.txt").read_text(encoding="utf-8")
    assert re.findall(r"[a-z]+[._][a-z]+", text.replace("mysterieuse-uhren.de", "")) == []


def test_turns_are_always_said_to_be_of_a_kind() -> None:
    text = text_of(found=GivenSpring(thickness=typed_input("found.thickness", 0.13)))
    headings = re.findall(r"turns(?=\s*(?:,|$|  ))(, \w+)?", text, re.MULTILINE)
    assert ", rings" in headings
    assert ", spiral" in headings


@pytest.mark.parametrize("text", [text_of(), text_of(wanted_turns=6.5)])
def test_lines_fit_and_the_cautions_come_last(text: str) -> None:
    prose = [line for line in text.splitlines() if "±" not in line]
    assert max(map(len, prose)) <= WIDTH
    assert text.endswith(f"\n\n{SPRING_CAUTIONS}\n")
    assert all(line == line.rstrip() for line in text.splitlines())
