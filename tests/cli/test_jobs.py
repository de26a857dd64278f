"""``gaugelink jobs``: the list, a search, one job, and every event of one."""

from __future__ import annotations

from pathlib import Path

import pytest
from cli_gauges import line_of, presses, without
from cli_runs import call

PRESSED = (0.0, 11.52, 11.51, 11.53, 11.52, 11.51, 0.01)


@pytest.fixture(name="home")
def home_with_two_jobs(tmp_path: Path) -> Path:
    """Keep a complete job of a bore, and an open one that was left after two readings."""
    for number, (title, values) in enumerate([("Bag 17", PRESSED), ("Würfel 3", PRESSED[:3])]):
        address = presses(tmp_path / f"{number}.jsonl", *values)
        assert call(tmp_path, "measure", address, "--title", title, *without("bore")).code == 0
    return tmp_path


def test_without_jobs_it_says_how_to_begin_one(tmp_path: Path) -> None:
    done = call(tmp_path, "jobs")
    assert done.code == 0
    assert done.out == "No jobs yet. Begin one with: gaugelink measure ADDRESS\n"
    assert call(tmp_path, "jobs", "--json").data == {"schema": 1, "jobs": []}


@pytest.mark.parametrize(
    "looking",
    [("jobs", "1"), ("size", "1"), ("choose", "1"), ("report", "1"), ("jobs", "--predictions")],
    ids=" ".join,
)
def test_who_only_looks_leaves_no_journal_behind(tmp_path: Path, looking: tuple[str, ...]) -> None:
    nowhere = tmp_path / "no" / "journal.sqlite"
    done = call(tmp_path, *looking, "--journal", str(nowhere))
    if "1" in looking:
        assert done.code == 7
        assert done.err.startswith(f"gaugelink: No job 1 in {nowhere}.")
    assert call(tmp_path, "jobs", "--journal", str(nowhere)).code == 0
    assert not nowhere.parent.exists()


def test_what_is_read_only_can_be_listed_and_shown(
    home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    listed, shown = call(home, "jobs").out, call(home, "jobs", "1").out
    monkeypatch.setattr("os.access", lambda path, mode: False)  # root may write anywhere
    assert call(home, "jobs").out == listed
    assert call(home, "jobs", "1").out == shown


def test_jobs_are_listed_newest_first(home: Path) -> None:
    header, second, first = call(home, "jobs").out.splitlines()
    assert header.split() == ["title", "job", "begun", "(UTC)", "readings", "state"]
    assert (first.split()[:3], first.split()[-1]) == (["Bag", "17", "1"], "complete")
    assert (second.split()[:3], second.split()[-2:]) == (["Würfel", "3", "2"], ["3", "open"])


def test_the_list_as_json_has_its_keys(home: Path) -> None:
    listed = call(home, "jobs", "--json").data
    newest, oldest = listed["jobs"]
    assert listed["schema"] == 1
    assert newest.keys() == {"job", "title", "created_utc", "closed", "n_standing", "n_taken"}
    assert (newest["job"], newest["closed"], newest["n_taken"]) == (2, False, 3)
    assert (oldest["title"], oldest["closed"], oldest["n_standing"]) == ("Bag 17", True, 7)


@pytest.mark.parametrize(
    ("text", "found"), [("bag", [1]), ("WÜRFEL", [2]), ("", [2, 1]), ("20", [2, 1]), ("none", [])]
)
def test_a_search_looks_at_title_and_date(text: str, found: list[int], home: Path) -> None:
    listed = call(home, "jobs", "--search", text, "--json").data["jobs"]
    assert [line["job"] for line in listed] == found


def test_a_job_is_shown_with_its_readings(home: Path) -> None:
    shown = call(home, "jobs", "1")
    assert (shown.code, shown.err) == (0, "")
    assert shown.out.startswith("JOB 1  Bag 17\n")
    assert "complete" in shown.out.splitlines()[1]
    data = call(home, "jobs", "1", "--json").data
    (measurand,) = data["gauges"][0]["measurands"]
    assert [r["displayed"] for r in measurand["readings"]] == [f"{mm:.2f}" for mm in PRESSED[1:-1]]


def test_every_event_is_shown_byte_for_byte(home: Path) -> None:
    events = call(home, "jobs", "1", "--events").lines
    assert [event["number"] for event in events] == list(range(1, len(events) + 1))
    raw = [bytes.fromhex(e["raw_hex"]) for e in events if e["kind"] == "reading"]
    assert [line.strip() for line in raw] == [line_of(value_mm).strip() for value_mm in PRESSED]
    assert events[0].keys() == {"number", "written_utc", "kind", "gauge", "raw_hex", "detail"}
    assert {event["kind"] for event in events} == {
        *("reading", "taken", "completed", "more wanted", "gauge done")
    }


def test_bytes_that_are_no_reading_are_kept_too(tmp_path: Path) -> None:
    recording = tmp_path / "noise.jsonl"
    address = presses(recording, 0.0)
    noise = b"\xff\x00 garbage\r\n"
    with recording.open("a", encoding="utf-8") as file:
        file.write(f'{{"t_s": 9.0, "received_hex": "{noise.hex()}"}}\n')
    call(tmp_path, "measure", address)
    events = call(tmp_path, "jobs", "1", "--events").lines
    faults = [bytes.fromhex(event["raw_hex"]) for event in events if event["kind"] == "fault"]
    assert [fault.strip() for fault in faults] == [noise.strip()]
