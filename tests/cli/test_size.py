"""``gaugelink size``: typed values, a job, and both."""

from __future__ import annotations

import math
import re
import sqlite3
import statistics
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from cli_gauges import presses, without
from cli_runs import call, is_clear

from gaugelink.jobbook import schema
from gaugelink.jobbook.book import Book

WAIT = Book.__init__.__kwdefaults__ or {}
FAST = ("--draws", "2000", "--json")
BARREL = ("--bore", "11.02", "--depth", "1.64", "--lid", "0.31", "--arbor", "3.70")

BORES, ARBORS = (11.52, 11.51, 11.53, 11.52, 11.51), (3.80, 3.81, 3.80)


def missed_mm(*readings_mm: float) -> float:
    """Half of what sweeps miss: sqrt(5) / 2 of what they scatter beyond half a step."""
    return math.sqrt(5) / 4 * math.sqrt(statistics.variance(readings_mm) - 0.005**2)


# The mean reading, what sweeps for the largest miss on average, and what inside jaws whose flats
# are unknown (0 to 0.3 mm) read low on average.
BORE_MM = 11.518 + missed_mm(*BORES) + 0.3**2 / 3 / (2 * 11.518)


def sized(home: Path, *arguments: str) -> Any:
    done = call(home, "size", *arguments, *FAST)
    assert (done.code, done.err) == (0, "")
    return done.data


def value(home: Path, name: str, *arguments: str) -> Any:
    return sized(home, *arguments)["inputs"][name]


def measured(home: Path, *extra: str) -> None:
    """Keep a job of an invented barrel, depth to the rim unless ``extra`` says otherwise."""
    values = (0.0, *BORES, 1.92, 1.93, 1.92, *ARBORS, 0.0)
    address = presses(home / "caliper.jsonl", *values)
    plan = without("bore", "depth", "arbor")
    assert call(home, "measure", address, "--json", *plan, *extra).data["closed"]


@pytest.mark.parametrize(
    ("typed", "value_mm", "u_mm"),
    [
        ("11.02", 11.02, 0.02),  # the default for a bore: common practice
        ("11,02", 11.02, 0.02),
        ("11.02+-0.03", 11.02, 0.03),
        ("11.02 +- 0.03 mm", 11.02, 0.03),
        ("11.02 +- 0", 11.02, 0.0),
        ("0.433 in", 10.9982, 0.02),
        ("0.433 +- 0.001 in", 10.9982, 0.0254),
        ("4.9 ligne", 4.9 * 2.2558291, 0.02),
    ],
)
def test_a_bore_may_be_typed_in_many_ways(
    typed: str, value_mm: float, u_mm: float, tmp_path: Path
) -> None:
    bore = value(tmp_path, "bore", "--bore", typed)
    assert bore["value"] == pytest.approx(value_mm)
    assert bore["u"] == pytest.approx(u_mm)
    assert (bore["unit"], bore["dof"]) == ("mm", None)


def test_every_typed_length_reaches_the_sizing(tmp_path: Path) -> None:
    found = ("--found-thickness", "0.13", "--found-height", "1.2", "--found-length", "330")
    data = sized(tmp_path, *BARREL, "--recess", "0.05", "--clearance", "0.08", *found)
    # Of the material, the train and the coils: not typed.
    assumed = {"modulus", "full_wind_stress", "coils_off", "stops_at"}
    assumed |= {f"found.{part}" for part in ("modulus", "healthy_stress", "strength_kept")}
    values = {name: e["value"] for name, e in data["inputs"].items() if name not in assumed}
    assert values == {
        "bore": 11.02,
        "depth": 1.64,
        "lid": 0.31,
        "recess": 0.05,
        "arbor": 3.7,
        "clearance": 0.08,
        "found.thickness": 0.13,
        "found.height": 1.2,
        "found.length": 330.0,
    }
    # depth - (lid - recess) - clearance
    assert data["height"]["value"] == pytest.approx(1.64 - 0.26 - 0.08)


def test_an_arbor_that_was_not_given_is_a_third_of_the_bore(tmp_path: Path) -> None:
    data = sized(tmp_path, "--bore", "12")
    assert data["inputs"]["arbor"]["value"] == pytest.approx(4.0)
    assert "arbor-assumed" in [warning["code"] for warning in data["warnings"]]


def test_a_depth_to_the_seat_needs_no_lid(tmp_path: Path) -> None:
    data = sized(tmp_path, "--bore", "11.02", "--depth", "1.30", "--depth-from", "seat")
    assert data["height"]["value"] == pytest.approx(1.20)


def test_a_documented_size_is_compared_and_exact(tmp_path: Path) -> None:
    data = sized(tmp_path, *BARREL, "--documented", "1.20 x 0.125 x 340")
    assert data["documented"]["thickness"]["value"] == 0.125
    assert data["documented"]["thickness"]["u"] == 0.0
    assert data["inputs"]["documented.length"]["value"] == 340.0
    assert data["documented"]["torque_ratio"]["low"] <= data["documented"]["torque_ratio"]["high"]


def test_hours_and_turns_may_be_asked_for(tmp_path: Path) -> None:
    data = sized(tmp_path, *BARREL, "--hours-per-turn", "7,5", "--wanted-turns", "6.5")
    asked = {rule["rule"]: rule for rule in data["rules"]}["wanted-turns"]
    assert asked["turns"]["value"] == pytest.approx(6.5)
    assert asked["hours"]["value"] == pytest.approx(6.5 * 7.5)


def test_coverage_seed_and_draws_are_kept_and_repeatable(tmp_path: Path) -> None:
    options = (*BARREL, "--coverage", "0.9", "--seed", "5")
    data = sized(tmp_path, *options)
    assert (data["coverage"], data["seed"], data["draws"]) == (0.9, 5, 2000)
    assert sized(tmp_path, *options) == data
    assert sized(tmp_path, *options, "--seed", "6") != data
    wider = sized(tmp_path, *options, "--coverage", "0.99")["inputs"]["bore"]
    assert wider["high"] - wider["low"] > data["inputs"]["bore"]["high"] - 11.02


def test_the_text_says_what_the_json_says(tmp_path: Path) -> None:
    text = call(tmp_path, "size", *BARREL, "--full", "--draws", "2000")
    assert (text.code, text.err) == (0, "")
    for rule in sized(tmp_path, *BARREL)["rules"]:
        sizes, effects = re.findall(rf"^  {rule['rule']} .*±.*$", text.out, re.MULTILINE)
        assert sizes.split()[1].startswith(str(rule["thickness"]["value"])[:5])
        assert effects.split()[1].startswith(str(rule["turns"]["value"])[:3])


def test_a_job_is_sized_with_its_own_uncertainty(tmp_path: Path) -> None:
    measured(tmp_path)
    data = sized(tmp_path, "1", "--lid", "0.34")
    bore = data["inputs"]["bore"]
    assert bore["value"] == pytest.approx(BORE_MM, abs=1e-5)
    assert 0.01 < bore["u"] < 0.03
    assert bore["dof"] is not None
    assert data["inputs"]["lid"]["dof"] is None
    assert {row["kind"] for row in data["budget"]} == {"A", "B"}
    assert any("scale shift" in row["input"] for row in data["budget"])


def test_a_typed_value_takes_the_place_of_a_measured_one(tmp_path: Path) -> None:
    measured(tmp_path)
    assert value(tmp_path, "bore", "1", "--bore", "11.30 +- 0.01") == {
        **value(tmp_path, "bore", "--bore", "11.30 +- 0.01"),
    }
    arbor_mm = statistics.mean(ARBORS) - missed_mm(*ARBORS)
    arbor = value(tmp_path, "arbor", "1", "--bore", "11.30")
    assert arbor["value"] == pytest.approx(arbor_mm, abs=1e-5)


@pytest.mark.parametrize(
    ("measured_from", "asked", "height_mm"),
    [
        ("rim", [], 1.92333 - 0.34 - 0.1),
        ("seat", [], 1.92333 - 0.1),
        ("rim", ["--depth-from", "seat"], 1.92333 - 0.1),
        ("seat", ["--depth-from", "rim"], 1.92333 - 0.34 - 0.1),
    ],
)
def test_the_depth_reference_is_that_of_the_job_unless_typed(
    measured_from: str, asked: list[str], height_mm: float, tmp_path: Path
) -> None:
    measured(tmp_path, "--depth-from", measured_from)
    data = sized(tmp_path, "1", "--lid", "0.34", *asked)
    assert data["height"]["value"] == pytest.approx(height_mm, abs=1e-5)


def test_a_job_may_be_sized_from_another_file(tmp_path: Path) -> None:
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    measured(elsewhere)
    journal = str(elsewhere / "journal.sqlite")
    assert value(tmp_path, "bore", "1", "--journal", journal)["value"] == pytest.approx(
        BORE_MM, abs=1e-5
    )
    assert not (tmp_path / "journal.sqlite").exists()


FOUND = ("--found-thickness", "0.12", "--found-height", "1.45", "--found-length", "350")
WOUND = (*FOUND, "--winding-train", "54/36 36/16")


@pytest.mark.parametrize(
    ("option", "typed", "code", "said"),
    [
        ("--found-free-coils", "many", 2, "'many' is not a count"),
        ("--found-crown-turns", "some", 2, "'some' is not a count"),
        ("--found-crown-turns", "0", 6, "The found crown turns cannot be 0."),
        ("--found-free-diameter", "0", 6, "The found free diameter cannot be 0."),
        ("--found-s-shape", "perhaps", 2, "'perhaps' is not one of 'seen', 'gone'"),
        ("--found-weight", "119 mm", 2, "is not a unit of mass"),
        ("--found-weight", "0", 6, "The weight on the barrel cannot be 0."),
        ("--found-weight-radius", "6 g", 2, "is not a unit of length"),
        ("--found-weight-radius", "0", 6, "The radius of the weight's thread cannot be 0."),
        ("--found-material", "tin", 2, "No spring material is called 'tin'."),
    ],
)
def test_a_sign_that_cannot_be_read_is_one_sentence(
    option: str, typed: str, code: int, said: str, tmp_path: Path
) -> None:
    given = ("--found-weight", "119 g", "--found-weight-radius", "6", option, typed)
    done = call(tmp_path, "size", "--bore", "11", *WOUND, *given, *FAST)
    assert (done.code, done.out) == (code, "")
    assert said in done.err
    assert "Traceback" not in done.err


@pytest.mark.parametrize(
    ("given", "code", "said"),
    [
        ((*FOUND, "--found-weight", "119 g"), "weight-unused", "--found-weight-radius"),
        ((*FOUND, "--found-weight-radius", "6"), "weight-unused", "--found-weight)"),
        (
            (*FOUND[:2], *FOUND[4:], "--found-weight", "119", "--found-weight-radius", "6"),
            "weight-unused",
            "--found-height",
        ),
        ((*FOUND, "--found-crown-turns", "20"), "crown-turns-unused", "--winding-train"),
        (
            (*FOUND[:4], "--found-loose-coils", "3"),
            "signs-unused",
            "only with its thickness and length",
        ),
        (
            (*FOUND[:4], "--found-s-shape", "seen"),
            "signs-unused",
            "only with its thickness and length",
        ),
        ((*FOUND, "--found-weight", "119 g", "--found-weight-radius", "6"), None, ""),
        ((*WOUND, "--found-crown-turns", "20"), None, ""),
        ((*FOUND, "--found-free-coils", "9"), None, ""),
    ],
)
def test_what_was_seen_and_tells_nothing_is_said_so(
    given: tuple[str, ...], code: str | None, said: str, tmp_path: Path
) -> None:
    """By the sizing and by the choice alike."""
    stock = tmp_path / "springs.csv"
    stock.write_text("item,height,thickness,length\nA1,1.45,0.12,350\n", encoding="utf-8")
    for warnings in (
        sized(tmp_path, *BARREL, *given)["warnings"],
        call(tmp_path, "choose", *BARREL, *given, "--stock", str(stock), *FAST).data["warnings"],
    ):
        unused = {each["code"]: each["text"] for each in warnings if "unused" in each["code"]}
        assert list(unused) == ([] if code is None else [code])
        assert all(said in text for text in unused.values())


def test_a_weight_tells_the_torque_half_a_turn_below_full_wind(tmp_path: Path) -> None:
    """m g r: 119 g at 6 mm are 7.00 N mm, known to hypot(5 % friction, 3 %, 0.1 mm of 6)."""
    weighed = ("--found-weight", "119 g", "--found-weight-radius", "6 +- 0.1")
    model = sized(tmp_path, *BARREL, *FOUND, *weighed)["found"]["mechanics"]
    torque = model["torque_half_turn"]
    assert torque["low"] < 7.0 < torque["high"]
    assert torque["value"] == pytest.approx(7.0, rel=0.08)
    unseen = sized(tmp_path, *BARREL, *FOUND)["found"]["mechanics"]["torque_half_turn"]
    assert torque["high"] - torque["low"] < 0.6 * (unseen["high"] - unseen["low"])


def test_the_found_spring_may_be_of_another_material_than_new_ones(tmp_path: Path) -> None:
    steel = (*BARREL, *FOUND, "--documented", "1.45 x 0.12 x 350", "--material", "stainless")
    data = sized(tmp_path, *steel, "--found-material", "carbon-steel")
    assert data["arrangement"]["found_material"]["name"] == "carbon-steel"
    assert data["arrangement"]["material"]["name"] == "stainless"
    # Prior medians of materials.toml, 2200 of 2375 MPa, and the found one may be tired.
    same = sized(tmp_path, *steel)
    assert data["found"]["mechanics"]["stress_full"]["value"] == pytest.approx(
        same["found"]["mechanics"]["stress_full"]["value"] * 2200 / 2375, rel=0.01
    )
    assert same["arrangement"]["found_material"] is None


def test_a_tired_spring_gives_less_than_a_new_one_of_its_size(tmp_path: Path) -> None:
    """Six loose coils: a healthy one of this size has 1.6 to 4.8 (strength notes of the model)."""
    known = (*BARREL, *FOUND, "--documented", "1.45 x 0.12 x 350", "--material", "carbon-steel")
    tired = sized(tmp_path, *known, "--found-loose-coils", "6")["found"]
    gain, ratio = tired["new_over_found"], tired["ratio_full_wind"]
    assert gain["interval"]["low"] > 1.0
    assert gain["interval"]["low"] == pytest.approx(1 / ratio["interval"]["high"])
    assert gain["high"] == pytest.approx(1 / ratio["low"])
    tired_text = ("--found-loose-coils", "6", "--full", "--draws", "2000")
    text = call(tmp_path, "size", *known, *tired_text).out
    assert "A new spring of the documented size gives 1." in " ".join(text.split())


def test_a_measured_size_has_one_interval_in_every_command(tmp_path: Path) -> None:
    measured(tmp_path)
    shown = call(tmp_path, "jobs", "1", "--json").data
    sized = call(tmp_path, "size", "1", "--json").data
    assert shown["interval_method"] == sized["interval_method"]
    assert (shown["coverage"], shown["draws"]) == (sized["coverage"], sized["draws"])
    for end in ("low", "high"):
        assert shown["sizes"]["bore"][end] == sized["inputs"]["bore"][end]


@pytest.mark.parametrize("trouble", ["read-only", "locked", "full"])
@pytest.mark.parametrize("command", ["size", "choose"])
def test_an_answer_that_cannot_be_kept_is_shown_all_the_same(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, command: str, trouble: str
) -> None:
    measured(tmp_path)
    journal = tmp_path / "journal.sqlite"
    stock = tmp_path / "stock.csv"
    stock.write_text("item,height (mm),thickness (mm),length (mm),on hand\nS1,1.2,0.13,360,2\n")
    given = (command, "1", *FAST[:2], *(("--stock", str(stock)) if command == "choose" else ()))
    assert call(tmp_path, *given).code == 0
    kept = len(call(tmp_path, "jobs", "1", "--json").data["facts"])
    with closing(sqlite3.connect(journal, isolation_level=None)) as other:
        if trouble == "locked":
            monkeypatch.setattr(schema.connect, "__defaults__", (0.05,))
            monkeypatch.setattr(Book.__init__, "__kwdefaults__", {**WAIT, "busy_timeout_s": 0.05})
            other.execute("BEGIN IMMEDIATE")
        elif trouble == "read-only":
            may = {"journal.sqlite": False}  # root may write anywhere
            monkeypatch.setattr("os.access", lambda path, _: may.get(Path(path).name, True))
        else:
            (pages,) = other.execute("PRAGMA page_count").fetchone()
            full = (*schema.SETTINGS, f"PRAGMA max_page_count = {pages}")
            monkeypatch.setattr(schema, "SETTINGS", full)
        for seed in map(str, range(2, 200)):  # what was kept before is not kept again
            done = call(tmp_path, *given, "--seed", seed)
            if done.code or trouble != "full":
                break
            kept += 1  # there was room in a page
    monkeypatch.undo()
    assert done.code == 7
    assert is_clear(done.err, "The answer is as above, but it is not in job 1: ")
    assert len(call(tmp_path, "jobs", "1", "--json").data["facts"]) == kept
    assert call(tmp_path, *given, "--seed", seed).out == done.out
