"""``gaugelink size``: the watch around the barrel, the found spring's clues, the drawings."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as ET

import pytest
from cli_gauges import presses, without
from cli_runs import call, is_clear

FAST = ("--draws", "2000")
BARREL = ("--bore", "11.0", "--depth", "1.80", "--lid", "0.20", "--arbor", "3.67")
FOUND = ("--found-thickness", "0.120", "--found-height", "1.45")


def sized(home: Path, *arguments: str) -> Any:
    done = call(home, "size", *arguments, *FAST, "--json")
    assert (done.code, done.err) == (0, "")
    return done.data


def half_area(data: Any) -> Any:
    return next(rule for rule in data["rules"] if rule["rule"] == "half-area")


def test_the_watch_reaches_the_sizing(tmp_path: Path) -> None:
    data = sized(
        tmp_path,
        *BARREL,
        *("--material", "cobalt-nickel", "--end", "tongue", "--length-without-end"),
        *("--stopwork", "4 1", "--train", "80/10", "--winding-train", "54/36 36/16"),
    )
    arrangement = data["arrangement"]
    assert arrangement["material"]["name"] == "cobalt-nickel"
    assert arrangement["end"]["name"] == "tongue"
    assert arrangement["length_includes_end"] is False
    assert arrangement["stopwork"] == {"turns": 4.0, "set_up_turns": 1.0}
    assert (arrangement["train"], arrangement["hours_per_turn"]) == ("80/10", 8.0)
    mechanics = half_area(data)["mechanics"]
    assert mechanics["hours_usable"]["value"] == pytest.approx(32.0)
    assert mechanics["crown_turns"]["value"] == pytest.approx(4 * 27 / 8)


def test_a_train_of_any_length_ends_where_it_is_said_to(tmp_path: Path) -> None:
    train = ("--train", "80/10 75/12", "--last-turn-h", "0.16")
    assert sized(tmp_path, *BARREL, *train)["arrangement"]["hours_per_turn"] == pytest.approx(8.0)


def test_a_motor_barrel_drives_from_its_arbor(tmp_path: Path) -> None:
    typed = (*BARREL, "--barrel", "motor", "--train", "80/10")
    refused = sized(tmp_path, *typed)["arrangement"]
    assert refused["hours_per_turn"] is None
    assert "belong to the winding" in refused["refused"][0]["reason"]
    driven = sized(tmp_path, *typed, "--train-from", "arbor")["arrangement"]
    assert (driven["hours_per_turn"], driven["refused"]) == (8.0, [])


def test_a_fusee_says_what_is_not_worked_out_and_why(tmp_path: Path) -> None:
    fusee = ("--barrel", "fusee", "--hours-per-turn", "8", "--full")
    done = call(tmp_path, "size", *BARREL, *FAST, *fusee)
    assert (done.code, done.err) == (0, "")
    assert "NOT WORKED OUT" in done.out
    assert "THE SPRING BY RULE" not in done.out


def test_a_slipping_bridle_makes_the_watch_self_winding(tmp_path: Path) -> None:
    data = sized(tmp_path, *BARREL, "--end", "slipping-bridle")
    assert data["arrangement"]["winding"] == "automatic"
    assert "slip-sets-full-wind" in {warning["code"] for warning in data["warnings"]}


def test_amplitude_and_wish_reach_the_result(tmp_path: Path) -> None:
    data = sized(
        tmp_path,
        *(*BARREL, *FOUND, "--hours-per-turn", "8", "--documented", "1.45 x 0.13 x 350"),
        *("--amplitude", "245", "--position", "vertical", "--wind", "24h"),
        *("--wished-amplitude", "270"),
    )
    motion = data["motion"]
    assert (motion["amplitude"], motion["position"]) == (245.0, "vertical")
    assert (motion["wind"], motion["wished_amplitude"]) == ("24 h later", 270)
    assert motion["wished_torque_ratio"]["high"] == pytest.approx((270 / 245) ** 2)
    assert data["documented"]["mechanics"]["amplitude"] is None  # the found length is not known


CLUES = [
    (("--found-mass", "497 mg"), "mass"),
    (("--found-mass", "0.497 g"), "mass"),
    (("--found-mass", "497 +- 2"), "mass"),
    (("--found-coils", "11.7 +- 0.2"), "coils on the wall"),
    (("--found-band-inside", "8.2 +- 0.05"), "band on the wall"),
    (("--found-core", "4", "--found-wound-outside", "8.4"), "outside in a winder"),
    (("--found-core", "4", "--found-core-coils", "18.4"), "coils in a winder"),
]


@pytest.mark.parametrize(("typed", "method"), CLUES, ids=lambda value: str(value)[:30])
def test_each_clue_gives_the_length(typed: tuple[str, ...], method: str, tmp_path: Path) -> None:
    data = sized(tmp_path, *BARREL, *FOUND, *typed)
    found = data["found_length"]
    assert [each["method"] for each in found["methods"]] == [method]
    assert 300 < found["value"] < 420
    assert data["inputs"]["found.length"]["value"] == pytest.approx(found["value"])


def test_mass_with_and_without_unit_is_one_mass(tmp_path: Path) -> None:
    lengths = [
        sized(tmp_path, *BARREL, *FOUND, "--found-mass", text)["found_length"]["value"]
        for text in ("497", "497 mg", "0.497 g")
    ]
    assert lengths == [pytest.approx(lengths[0])] * 3


def test_condition_reaches_the_finding(tmp_path: Path) -> None:
    data = sized(
        tmp_path,
        *(*BARREL, *FOUND, "--found-free-diameter", "24", "--found-loose-coils", "4"),
        *("--found-thickness-spread", "0.01"),
    )
    tired = data["finding"]["questions"][0]
    assert (tired["question"], tired["leaning"]) == ("tired", "yes")
    codes = [clue["code"] for clue in tired["clues"]]
    assert codes == ["free-diameter", "loose-coils", "thickness-spread"]


def test_the_spread_of_a_measured_thickness_is_read(tmp_path: Path) -> None:
    """Five readings of an invented strip, 0.118 to 0.130 mm thick."""
    values = (0.0, 0.118, 0.125, 0.130, 0.121, 0.119, 0.0)
    address = presses(tmp_path / "m.jsonl", *values, places=3) + "&kind=micrometer"
    plan = without("found_thickness")
    assert call(tmp_path, "measure", address, "--json", *plan).code == 0
    clues = sized(tmp_path, "1", *BARREL)["finding"]["questions"][0]["clues"]
    assert [clue["code"] for clue in clues] == ["thickness-spread"]
    assert "varies by 0.012 mm" in clues[0]["seen"]
    typed = sized(tmp_path, "1", *BARREL, "--found-thickness", "0.12")
    assert typed["finding"]["questions"][0]["clues"] == []


def test_one_step_of_a_caliper_tires_no_spring(tmp_path: Path) -> None:
    address = presses(tmp_path / "c.jsonl", 0.0, 0.12, 0.13, 0.12, 0.12, 0.13, 0.0)
    assert call(tmp_path, "measure", address, *without("found_thickness")).code == 0
    tired = sized(tmp_path, "1", *BARREL)["finding"]["questions"][0]
    (clue,) = (c for c in tired["clues"] if c["code"] == "thickness-spread")
    assert (clue["speaks"], tired["leaning"]) == ("neither", "open")
    assert "varies by 0.010 mm" in clue["seen"]


BAD = [
    (("--material", "tin"), 2, "No spring material is called 'tin'."),
    (("--end", "knot"), 2, "No outer end is called 'knot'."),
    (("--train", "eighty"), 2, "is not a train"),
    (("--stopwork", "four"), 2, "is not turns and set-up"),
    (("--last-turn-h", "0"), 2, "is not a number above zero"),
    (("--wished-amplitude", "280"), 2, "--wished-amplitude needs --amplitude"),
    (("--amplitude", "400"), 6, "is not possible"),
    (("--found-mass", "heavy"), 2, "is not a mass"),
    (("--found-mass", "3 mm"), 2, "is not a unit of mass"),
    (("--found-coils", "11 mm"), 2, "is not a unit of count"),
    (("--found-mass", "500"), 6, "without its thickness"),
    (("--winding", "automatic", "--end", "hook"), 6, "does not belong"),
    (("--train", "80/10", "--hours-per-turn", "7"), 6, "gives 8 h"),
]


@pytest.mark.parametrize(("typed", "code", "says"), BAD, ids=lambda value: str(value)[:30])
def test_what_cannot_be_used_is_one_sentence_and_a_hint(
    typed: tuple[str, ...], code: int, says: str, tmp_path: Path
) -> None:
    done = call(tmp_path, "size", *BARREL, *FAST, *typed)
    assert (done.code, done.out) == (code, "")
    sentence, hint = done.err.splitlines()
    assert says in sentence
    assert hint.startswith("  ")


def test_a_drawing_is_written_and_told_of(tmp_path: Path) -> None:
    path = tmp_path / "barrel.svg"
    done = call(tmp_path, "size", *BARREL, *FAST, "--svg", str(path))
    assert done.code == 0
    assert str(path) in done.err
    assert ET.parse(path).getroot().tag.endswith("svg")


@pytest.mark.parametrize(("option", "what"), [("--svg", "The drawing"), ("--dsi", "The D-SI file")])
def test_a_file_that_cannot_be_written_is_said(option: str, what: str, tmp_path: Path) -> None:
    path = tmp_path / "nowhere" / "barrel.xml"
    done = call(tmp_path, "size", *BARREL, *FAST, "--json", option, str(path))
    assert done.code == 4
    assert is_clear(done.err, f"{path}: {what} cannot be written (")
    assert f"{option} FILE" in done.err


@pytest.mark.parametrize("option", ["--svg", "--dsi"])
def test_a_file_replaces_an_earlier_one_and_no_other(option: str, tmp_path: Path) -> None:
    path = tmp_path / "mine.txt"
    path.write_text("mine", "utf-8")
    done = call(tmp_path, "size", *BARREL, *FAST, option, str(path))
    assert (done.code, done.out) == (2, "")
    assert is_clear(done.err, "is there already and is not a")
    assert path.read_text("utf-8") == "mine"
    path.unlink()
    for _ in range(2):
        assert call(tmp_path, "size", *BARREL, *FAST, option, str(path)).code == 0


@pytest.mark.parametrize(("asked", "drawn"), [((), False), (("--draw",), True)])
def test_text_in_a_pipe_is_drawn_only_when_asked(
    asked: tuple[str, ...], drawn: bool, tmp_path: Path
) -> None:
    done = call(tmp_path, "size", *BARREL, *FAST, *asked)
    assert ("torque in N mm against barrel turns" in done.out) is drawn
    assert ("coils on the arbor" in done.out) is drawn


@pytest.mark.skipif(sys.platform == "win32", reason="a pseudo-terminal is POSIX")
@pytest.mark.parametrize(("asked", "drawn"), [((), False), (("--draw",), True)])
def test_text_at_a_terminal_is_drawn_only_when_asked(
    asked: tuple[str, ...], drawn: bool, tmp_path: Path
) -> None:
    from cli_terminal import Terminal

    with Terminal(tmp_path, "size", *BARREL, *FAST, *asked) as terminal:
        terminal.wait_for(b"The rest: --full.")
        assert terminal.finish() == 0
        assert ("⣿".encode() in terminal.shown) is drawn
