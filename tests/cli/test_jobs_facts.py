"""``gaugelink jobs JOB --movement ...``: kept, shown, and compared with what was foreseen."""

from __future__ import annotations

from pathlib import Path

import pytest
from cli_gauges import presses, without
from cli_runs import Outcome, call, is_clear

from gaugelink.jobbook.facts import record_choice, record_size

BORE = (0.0, 11.52, 11.51, 11.53, 11.52, 11.51, 0.01)
CHOSEN = "A17 size=1.55x0.13x370 hours=36..42 amplitude=240..275@dial-up,wound"
AFTER = "crown_turns=28 hours=39.5 amplitude=280@dial-up,wound amplitude=240@vertical,24h"


@pytest.fixture(name="home")
def home_with_a_job(tmp_path: Path) -> Path:
    address = presses(tmp_path / "presses.jsonl", *BORE)
    assert call(tmp_path, "measure", address, "--title", "Bag 17", *without("bore")).code == 0
    return tmp_path


def kept(home: Path, *arguments: str) -> Outcome:
    done = call(home, "jobs", "1", *arguments)
    assert (done.code, done.err.splitlines()[-1]) == (0, "Recorded with job 1.")
    return done


def facts(home: Path) -> list[dict[str, object]]:
    found: list[dict[str, object]] = call(home, "jobs", "1", "--json").data["facts"]
    kept_by_measure, *typed = found
    assert kept_by_measure["fact"] == "size"
    return [{k: v for k, v in each.items() if k != "written_utc"} for each in typed]


def test_what_is_written_down_is_shown_with_the_job(home: Path) -> None:
    picture = home / "barrel.jpg"
    picture.touch()
    shown = kept(
        home,
        *("--movement", "invented lever", "--reference", "Mrs Example", "--train", "80/10 75/12"),
        *("--photo", str(picture), "--note", "hook worn", "--note", "lid bent"),
    ).out
    assert shown.startswith("JOB 1  Bag 17\n")
    about = shown[shown.index("ABOUT IT") : shown.index("\n\nRESULTS")].splitlines()
    assert about[1:5] == [
        "  movement: invented lever",
        "  reference: Mrs Example",
        "  train: 80/10 75/12",
        f"  photograph: {picture}",
    ]
    assert [line[-9:] for line in about[5:]] == ["hook worn", " lid bent"]
    assert shown == call(home, "jobs", "1").out


def test_the_facts_as_json_are_numbered_and_named(home: Path) -> None:
    kept(home, "--note", "one", "--movement", "lever")
    kept(home, "--after", "hours=40", "--movement", "cylinder")
    assert facts(home) == [
        {"number": 2, "fact": "movement", "text": "lever"},
        {"number": 3, "fact": "note", "text": "one"},
        {"number": 4, "fact": "movement", "text": "cylinder"},
        {"number": 5, "fact": "after", "hours_run": 40.0, "amplitudes": []},
    ]
    assert "cylinder" in call(home, "jobs", "1").out
    assert "lever" not in call(home, "jobs", "1").out


def test_after_fitting_it_is_compared_with_what_was_foreseen(home: Path) -> None:
    kept(home, "--chosen", CHOSEN)
    shown = kept(home, "--after", AFTER).out
    fitted = shown[shown.index("FITTED") :]
    assert "A17, 1.55 x 0.13 x 370 mm" in fitted
    rows = [line.split() for line in fitted.splitlines()[-2:]]
    assert rows == [
        ["hours", "36", "to", "42", "h", "39.5", "h", "1.01", "as", "expected"],
        ["amplitude", "240", "to", "275°", "280°", "1.09", "outside"],
    ]
    compared = call(home, "jobs", "1", "--json").data["compared"]
    assert [(each["figure"], each["inside"]) for each in compared] == [
        ("hours", True),
        ("amplitude", False),
    ]


def test_a_chosen_spring_takes_what_the_ranking_foresaw_and_what_is_typed_wins(home: Path) -> None:
    pick = {"item": "A17", "height": 1.5, "hours": {"value": 40.0, "low": 38.0, "high": 42.0}}
    record_choice(home / "journal.sqlite", 1, {"picks": [pick]}, "0.1")
    assert kept(home, "--chosen", "A17 torque_ratio=1").err == "Recorded with job 1.\n"
    kept(home, "--chosen", "A17 hours=30")
    unknown = kept(home, "--chosen", "B2").err
    assert unknown.startswith(
        "B2 is not in a ranking of job 1: nothing is recorded of what to expect of it.\n"
    )
    first, second, third = facts(home)[1:]
    assert (first["height_mm"], first["hours"]) == (1.5, {"low": 38.0, "high": 42.0})
    assert first["torque_ratio"] == {"low": 1.0, "high": 1.0}
    assert (second["height_mm"], second["hours"]) == (1.5, {"low": 30.0, "high": 30.0})
    assert third == {"number": 5, "fact": "chosen", "item": "B2"}


def test_every_version_of_a_result_is_listed(home: Path) -> None:
    for height in (1.21, 1.24):
        record_size(home / "journal.sqlite", 1, {"height": {"value": height}, "rules": []}, "0.1")
    record_choice(home / "journal.sqlite", 1, {"picks": []}, "0.1")
    lines = call(home, "jobs", "1").out.splitlines()
    assert [line.split(":")[1].strip() for line in lines if "gaugelink 0.1:" in line] == [
        "height 1.21 mm",
        "height 1.24 mm",
        "nothing fits",
    ]


def test_a_photograph_is_kept_by_its_full_path_and_missed_when_it_goes(
    home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(home)
    done = kept(home, "--photo", "later.jpg")
    assert "No file at" in done.err
    assert f"photograph: {home / 'later.jpg'}  (not there now)" in done.out
    (home / "later.jpg").touch()
    assert "not there now" not in call(home, "jobs", "1").out


def test_nothing_is_kept_when_one_thing_is_wrong(home: Path) -> None:
    done = call(home, "jobs", "1", "--note", "kept?", "--after", "hours=-1")
    assert (done.code, is_clear(done.err, "hours: '-1'")) == (2, True)
    assert facts(home) == []


@pytest.mark.parametrize(
    ("arguments", "code", "sentence"),
    [
        (["--note", "whose?"], 2, "Something to record with a job needs a job."),
        (["--events"], 2, "--events needs a job."),
        (["9", "--note", "x"], 7, "No job 9"),
        (["1", "--note", " "], 2, "--note is empty."),
        (["1", "--train", "80/10 75/12 hours_per_turn=7.5"], 6, "gives 50 h for a turn"),
        (["1", "--note", "x", "--events"], 2, "do not go together."),
        (["1", "--search", "x"], 2, "A search looks at all jobs, not at job 1."),
        (["1", "--predictions"], 2, "--predictions looks at all jobs"),
        (["1", "2"], 2, "One job is shown at a time."),
    ],
)
def test_what_does_not_go_is_said_in_one_sentence(
    home: Path, arguments: list[str], code: int, sentence: str
) -> None:
    done = call(home, "jobs", *arguments)
    assert (done.code, done.out) == (code, "")
    assert is_clear(done.err, sentence)


def predicted(home: Path, *hours: float) -> None:
    for number, seen in enumerate(hours):
        address = presses(home / f"{number}.jsonl", *BORE)
        assert call(home, "measure", address, *without("bore")).code == 0
        after = f"hours={seen}"
        assert call(home, "jobs", str(number + 2), "--chosen", CHOSEN, "--after", after).code == 0


def test_predictions_say_what_the_bench_makes_of_them(home: Path) -> None:
    assert "No job has both" in call(home, "jobs", "--predictions").out
    predicted(home, 35.1, 36.27, 36.27, 39)
    few = " ".join(call(home, "jobs", "--predictions").out.split())
    assert "Hours: 4 jobs so far, too few for a factor; 5 are needed." in few
    kept(home, "--chosen", CHOSEN, "--after", "hours=36.27")
    enough = " ".join(call(home, "jobs", "--predictions").out.split())
    assert "Your bench runs 0.93 of the computed hours, the median of 5 jobs" in enough
    assert "0.90 to 1.00 holds the true median with 94 % confidence" in enough
    assert "4 of 5 were within what was expected." in enough
    assert "no computation uses them" in enough
    data = call(home, "jobs", "--predictions", "--json").data
    (only,) = data["predictions"]
    assert (only["figure"], only["n"], only["n_inside"]) == ("hours", 5, 4)
    assert only["median_ratio"] == pytest.approx(0.93)
    assert len(data["compared"]) == 5


def test_workshop_customer_who_measured_and_temperature_head_the_record(home: Path) -> None:
    shown = kept(
        home,
        *("--workshop", "Bench One", "--customer", "Mrs Example", "--by", "A. Hand"),
        *("--temperature", "20,5 °C"),
    ).out
    for line in (
        "  workshop: Bench One",
        "  customer: Mrs Example",
        "  measured by: A. Hand",
        "  temperature: 20.5 °C",
    ):
        assert line in shown.splitlines()
    assert "B. Hand" in kept(home, "--by", "B. Hand").out
    page = call(home, "report", "1", "--text", "--draws", "2000").out
    assert all(text in page for text in ("Bench One", "Mrs Example", "B. Hand", "20.5 °C"))
    assert "A. Hand" not in page


def test_they_are_found_by_a_search_and_carried_by_a_file(home: Path, tmp_path: Path) -> None:
    kept(home, "--customer", "Mrs Example", "--temperature", "21")
    assert "Bag 17" in call(home, "jobs", "--search", "mrs example").out
    carried = str(tmp_path / "carried.json")
    assert call(home, "jobs", "--export", carried).code == 0
    other = tmp_path / "other"
    other.mkdir()
    assert call(other, "jobs", "--import", carried).code == 0
    assert facts(other) == facts(home)


@pytest.mark.parametrize("typed", ["warm", "-3", "68"])
def test_a_temperature_that_no_bench_has_is_refused(home: Path, typed: str) -> None:
    refused = call(home, "jobs", "1", "--temperature", typed)
    assert refused.code != 0
    assert "0 to 50 °C" in refused.err
    assert facts(home) == []


def test_a_spring_taken_may_say_what_it_was_cut_from_and_its_end(home: Path) -> None:
    shown = kept(home, "--chosen", "A17 size=1.20x0.125x345 cut_from=400 end=hole").out
    assert "A17, 1.2 x 0.125 x 345 mm, cut from 400 mm, hole end" in " ".join(shown.split())
    assert "No outer end" in call(home, "jobs", "1", "--chosen", "A17 end=glue").err
