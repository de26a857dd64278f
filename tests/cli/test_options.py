"""The table of what a sizing can be told: whole, read as it says, and enough for a new option."""

from __future__ import annotations

import dataclasses
import os
import re
import shutil
import sqlite3
import subprocess
import sys
from contextlib import closing
from inspect import signature
from pathlib import Path

import pytest
from cli_runs import call

import gaugelink
from gaugelink.cli.app import COMMANDS
from gaugelink.cli.barrel import kept_with, latest_words, sizing_inputs, spoken
from gaugelink.cli.choose import choose
from gaugelink.cli.options import (
    BARREL_OPTIONS,
    HEADINGS,
    BarrelOption,
    Seed,
    Typed,
    told_of_barrel,
)
from gaugelink.cli.report import report
from gaugelink.cli.size import size
from gaugelink.errors import InputError
from gaugelink.jobbook.facts import ChoiceVersion, SizeVersion, StoredFact
from gaugelink.mechanics.arrangement import Arrangement, Winding
from gaugelink.mechanics.found_length import LengthClues
from gaugelink.mechanics.motion import MeasuredAmplitude
from gaugelink.sizing.inputs import FoundSeen, GivenFusee, GivenSpring, SizingInputs

ROWS = {row.name: row for row in BARREL_OPTIONS}
PARTS = {
    "found": GivenSpring,
    "clues": LengthClues,
    "seen": FoundSeen,
    "arrangement": Arrangement,
    "amplitude": MeasuredAmplitude,
    "fusee": GivenFusee,
}
TOLD = {"size": size, "choose": choose, "report": report}


def names_of(kind: type) -> set[str]:
    return {field.name for field in dataclasses.fields(kind)}


def row_named(value: object) -> str:
    return value.name if isinstance(value, BarrelOption) else ""


@pytest.mark.parametrize("row", BARREL_OPTIONS, ids=row_named)
def test_a_row_fills_a_field_that_there_is(row: BarrelOption) -> None:
    field, _, part = (row.fills or row.name).partition(".")
    assert (part in names_of(PARTS[field])) if part else (field in names_of(SizingInputs))


def test_no_two_rows_have_a_name_or_a_field_in_common() -> None:
    assert len(ROWS) == len(BARREL_OPTIONS)
    assert len({row.fills or row.name for row in BARREL_OPTIONS}) == len(BARREL_OPTIONS)


@pytest.mark.parametrize("command", TOLD)
def test_a_command_has_a_parameter_for_each_row_that_is_for_it(command: str) -> None:
    parameters = set(signature(TOLD[command]).parameters)
    assert parameters & ROWS.keys() == {
        row.name for row in BARREL_OPTIONS if row.only in ("", command)
    }
    assert "typed" not in parameters


def test_what_is_for_one_command_names_a_command_that_there_is() -> None:
    assert {row.only for row in BARREL_OPTIONS} - {""} <= TOLD.keys()
    assert TOLD.keys() <= {name for name, _, _ in COMMANDS}


CHOICES = [(row, choice) for row in BARREL_OPTIONS for choice in row.choices]


@pytest.mark.parametrize(("row", "choice"), CHOICES, ids=lambda v: row_named(v) or str(v))
def test_every_choice_is_read_as_something_of_its_own(row: BarrelOption, choice: str) -> None:
    others = [row.value(other) for other in row.choices if other != choice]
    assert row.value(choice) not in others


@pytest.mark.parametrize("row", [r for r in BARREL_OPTIONS if r.choices], ids=row_named)
def test_what_is_none_of_the_choices_is_refused_from_python_too(row: BarrelOption) -> None:
    with pytest.raises(InputError, match="not one of the choices") as refused:
        sizing_inputs({"bore": "11", row.name: "sideways"}, None)
    assert row.choices[0] in refused.value.hint


def test_a_word_that_no_row_has_is_refused() -> None:
    with pytest.raises(InputError, match="has no option 'boar'"):
        sizing_inputs({"bore": "11", "boar": "11"}, None)


@pytest.mark.parametrize(
    "row", [r for r in BARREL_OPTIONS if r.read and r.name != "bore"], ids=row_named
)
def test_an_empty_text_is_refused(row: BarrelOption) -> None:
    with pytest.raises(InputError, match=row.spoken):
        sizing_inputs({"bore": "11", row.name: ""}, None)


def test_a_command_gets_only_what_was_typed() -> None:
    got: list[Typed] = []

    @told_of_barrel
    def size(*, typed: Typed, seed: Seed = 1) -> None:
        got.append({**typed, "seed": str(seed)})

    options: dict[str, object] = dict.fromkeys(signature(size).parameters)
    size(**{**options, "length_without_end": False, "bore": "11", "train": "", "seed": 2})
    assert got == [{"bore": "11", "train": "", "seed": "2"}]


def test_a_flag_that_is_not_up_says_nothing() -> None:
    typed: Typed = {"bore": "11", "length_without_end": False}
    assert sizing_inputs(typed, None) == sizing_inputs({"bore": "11"}, None)


def test_words_of_everything_arrive_in_their_fields() -> None:
    known = sizing_inputs(
        {
            "bore": "11 +- 0.01",
            "depth": "1.6",
            "depth_from": "seat",
            "clearance": "0.2",
            "found_thickness": "0.12",
            "found_height": "1.5",
            "found_mass": "0.53 g",
            "found_loose_coils": "3",
            "found_thickness_spread": "0.004",
            "documented": "1.5 x 0.13 x 360",
            "end": "slipping-bridle",
            "length_without_end": True,
            "amplitude": "240",
            "position": "vertical",
            "wished_amplitude": "280",
            "wanted_turns": "6.5",
        },
        None,
    ).inputs
    assert known.bore.value == 11
    assert [term.influence.u for term in known.bore.terms] == [0.01]
    assert known.depth is not None
    assert (known.depth.value, str(known.depth_reference)) == (1.6, "seat")
    assert known.clearance.value == 0.2
    assert known.found is not None
    assert known.found.length is not None  # from the mass
    assert 330 < known.found.length.value < 375
    assert known.seen == FoundSeen(loose_coils=3.0, thickness_spread_mm=0.004)
    assert known.documented is not None
    assert known.documented.thickness.label == "documented.thickness"
    assert known.arrangement.winding is Winding.AUTOMATIC  # what a bridle is for
    assert not known.length_includes_end
    assert known.amplitude == MeasuredAmplitude(
        amplitude_deg=240.0, position=ROWS["position"].value("vertical")
    )
    assert (known.wished_amplitude_deg, known.wanted_turns) == (280.0, 6.5)


def test_words_are_kept_and_said_again_but_those_for_one_command() -> None:
    typed = {"bore": "11 mm", "clearance": "0.1", "length_without_end": True, "train": ""}
    kept = kept_with({"schema": 1}, {**typed, "wanted_turns": "6"})
    assert kept == {
        "schema": 1,
        "typed": {"bore": "11 mm", "clearance": "0.1", "length_without_end": True},
    }
    assert spoken(kept["typed"]) == "--bore '11 mm' --clearance 0.1 --length-without-end"


def test_kept_words_that_no_option_could_have_been_are_passed_over() -> None:
    def kept(number: int, fact: SizeVersion | ChoiceVersion) -> StoredFact:
        return StoredFact(job_id=1, number=number, written_utc="", fact=fact)

    junk = {"bore": True, "depth": 1.6, "boar": "11", "length_without_end": "yes", "arbor": None}
    sized = SizeVersion(result={"typed": {"bore": "11", **junk, "lid": "0.3"}}, software="")
    bare = ChoiceVersion(result={"typed": junk}, software="")
    assert latest_words([kept(1, sized), kept(2, bare)]) == {"lid": "0.3"}


@pytest.mark.parametrize("command", TOLD)
def test_the_help_stands_under_headings_and_is_narrow(
    command: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    page = call(tmp_path, command, "--help").out
    headings = re.findall(r"^(\S.*):$", page, re.M)
    wanted = [h for h in HEADINGS if command != "size" or h != "Stock"]
    assert headings == ["Arguments", *wanted, "Output"]
    starts = {
        line.index(match[1])
        for line in page.partition("Barrel:")[2].splitlines()
        if (match := re.match(r"  --.*?  +(\S.*)$", line))
    }
    assert len(starts) == 1
    assert max(map(len, page.splitlines())) <= 80


ROW = '    BarrelOption("rust", FOUND, "How deep rust goes.", "mm", "seen.rust_mm", read_bare),\n'
FIELD = "    rust_mm: float | None = None\n"
SCRIPT = """
import sys
from gaugelink.__main__ import run
from gaugelink.cli.barrel import sizing_inputs

print(sizing_inputs({"bore": "11", "rust": "0.5 um"}, None).inputs.seen.rust_mm)
for words in sys.argv[1:]:
    sys.argv = ["gaugelink", *words.split()]
    try:
        run()
    except SystemExit as stop:
        print("ended with", stop.code)
"""


@pytest.mark.campaign  # it compiles the whole package once more
def test_a_new_option_touches_two_files(tmp_path: Path) -> None:
    tree = tmp_path / "gaugelink"
    shutil.copytree(
        Path(gaugelink.__file__).parent, tree, ignore=shutil.ignore_patterns("__pycache__")
    )
    insert_after(tree / "cli" / "options.py", "BARREL_OPTIONS = (\n", ROW)
    insert_after(tree / "mechanics" / "signs.py", "    loose_coils: float | None = None\n", FIELD)
    journal = Path(__file__).parents[2] / "fixtures" / "journals" / "schema-2.sql"
    with closing(sqlite3.connect(tmp_path / "journal.sqlite")) as made:
        made.executescript(journal.read_text(encoding="utf-8"))
    done = subprocess.run(
        [
            *(sys.executable, "-c", SCRIPT),
            *(f"{command} --help" for command in TOLD),
            "size 1 --rust 0.02 --draws 2000 --json",
            "jobs 1 --json",
            "report 1 --text --draws 2000",
        ],
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": str(tmp_path), "GAUGELINK_HOME": str(tmp_path)},
        capture_output=True,
        text=True,
        check=True,
        timeout=120,
    )
    assert done.stdout.startswith("0.0005\n")
    helped = re.findall(
        r"^Found spring:\n(?:  .*\n)*?  --rust MM +How deep rust goes\.$", done.stdout, re.M
    )
    assert len(helped) == len(TOLD)
    assert re.search(r'"typed": {\s*"rust": "0.02"', done.stdout)
    assert "Also used, as typed for job 1 before: --rust 0.02" in done.stderr
    assert "ended with" not in done.stdout.replace("ended with 0", "")


def insert_after(path: Path, line: str, new: str) -> None:
    text = path.read_text(encoding="utf-8")
    assert text.count(line) == 1
    path.write_text(text.replace(line, line + new), encoding="utf-8")
