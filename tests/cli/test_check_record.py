"""The record of a gauge: what ``check --set`` puts in, and what it does to every result."""

from __future__ import annotations

import csv
import math
import re
import sqlite3
import statistics
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from cli_checks import BLOCK, CHECK, INSIDE, RING, SIM, checked, pressed
from cli_gauges import presses, without
from cli_runs import call

SETTINGS = ("mpe_mm=0.01", "shift_mpe_mm=0.015", "mpe_source=leaflet, invented", "anvils=ball")


def test_what_is_set_is_shown_and_stays(tmp_path: Path) -> None:
    more = ("serial=C-1234", "resolution_mm=0.02", "jaw_flats_mm=0.35 +- 0.05", "interval_days=90")
    options = [word for each in (*SETTINGS, *more) for word in ("--set", each)]
    points = ("--point", "25 -0.004 0.012 2.2", "--point", "0 0 0.008")
    data = checked(tmp_path, SIM, *options, *points)
    (gauge,) = data["gauges"]
    expected = {
        "serial": "C-1234",
        "mpe_mm": 0.01,
        "shift_mpe_mm": 0.015,
        "mpe_source": "leaflet, invented",
        "anvils": "ball",
        "resolution_mm": 0.02,
        "jaw_flats": {"width_mm": 0.35, "u_mm": 0.05},
        "interval_days": 90,
        "certificate": [
            {"size_mm": 0.0, "correction_mm": 0.0, "expanded_u_mm": 0.008, "k": 2.0},
            {"size_mm": 25.0, "correction_mm": -0.004, "expanded_u_mm": 0.012, "k": 2.2},
        ],
    }
    assert {key: gauge[key] for key in expected} == expected
    assert checked(tmp_path, "--show") == data
    text = call(tmp_path, "check", SIM, "--show").out
    for words in (
        "C-1234",
        "±0.01 mm",
        "leaflet, invented",
        "0.350 mm, u 0.050 mm",
        "U 0.012 mm, k = 2.2",
    ):
        assert words in text


def test_an_empty_value_takes_a_setting_back(tmp_path: Path) -> None:
    checked(tmp_path, SIM, *(w for each in SETTINGS for w in ("--set", each)), "--point", "5 0 .01")
    names = ("mpe_mm", "shift_mpe_mm", "mpe_source", "anvils", "certificate")
    back = checked(tmp_path, SIM, *(w for name in names for w in ("--set", f"{name}=")))
    (gauge,) = back["gauges"]
    assert (gauge["mpe_mm"], gauge["anvils"], gauge["certificate"]) == (0.02, None, [])
    assert "DIN 862" in gauge["mpe_source"]


def test_jaw_flats_without_uncertainty_get_that_of_a_loupe(tmp_path: Path) -> None:
    data = checked(tmp_path, SIM, "--set", "jaw_flats_mm=0.3")
    assert data["gauges"][0]["jaw_flats"] == {"width_mm": 0.3, "u_mm": 0.02}


def test_there_may_be_no_record_yet(tmp_path: Path) -> None:
    assert checked(tmp_path, "--show") == {"schema": 1, "check": None, "gauges": []}
    assert "No gauge has a record" in call(tmp_path, "check", "--show").out


def test_records_are_shown_from_a_journal_that_is_read_only(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    data = checked(tmp_path, SIM, "--set", "mpe_mm=0.01")
    monkeypatch.setattr("os.access", lambda path, mode: False)  # root may write anywhere
    assert checked(tmp_path, "--show") == data
    assert checked(tmp_path, SIM, "--show") == data
    refused = call(tmp_path, "check", SIM, "--set", "mpe_mm=0.02")
    assert refused.code == 7
    assert "the file is read-only" in refused.err


@pytest.fixture(name="job")
def job_fixture(tmp_path: Path) -> int:
    """A job of an invented bore, measured with the gauge that ``pressed`` checks."""
    path = tmp_path / "gauge.jsonl"
    address = presses(path, 0.0, 11.52, 11.51, 11.53, 11.52, 11.51, 0.0)
    job: int = call(tmp_path, "measure", address, "--json", *without("bore")).data["job"]
    return job


def sized(home: Path, job: int, *more: str) -> Any:
    return call(home, "size", str(job), "--draws", "2000", "--json", *more).data


def codes(data: Any) -> list[str]:
    return [w["code"] for w in data["warnings"] if w["code"].startswith("gauge-check")]


def test_a_failed_check_warns_in_every_result_until_it_is_passed(tmp_path: Path, job: int) -> None:
    assert codes(sized(tmp_path, job)) == []
    checked(tmp_path, pressed(tmp_path, *(mm + 0.06 for mm in BLOCK)), *CHECK, code=3)
    assert codes(sized(tmp_path, job)) == ["gauge-check-failed"]
    assert "failed its check at 5 mm" in call(tmp_path, "size", str(job), "--draws", "2000").out
    assert codes(sized(tmp_path, job, "--bore", "11.52")) == []  # the gauge was not used
    checked(tmp_path, pressed(tmp_path, *BLOCK), *CHECK)
    assert codes(sized(tmp_path, job)) == []


def test_a_gauge_that_nobody_checked_says_so_on_screen_and_page(tmp_path: Path, job: int) -> None:
    said = re.compile(
        r"Never\s+checked:\s+caliper\s+\S+,\s+taken\s+to\s+keep\s+DIN\s+862,\s+±0.02\s+mm\."
        r"\s+The\s+95\s+%\s+is\s+over\s+gauges"
    )
    assert said.search(call(tmp_path, "size", str(job), "--draws", "2000").out)
    assert said.search(call(tmp_path, "jobs", str(job)).out)
    assert said.search(call(tmp_path, "report", str(job), "--text", "--draws", "2000").out)
    told = call(tmp_path, "jobs", str(job), "--json").data["warnings"]
    assert [each["code"] for each in told] == ["gauge-never-checked"]
    checked(tmp_path, pressed(tmp_path, *BLOCK), *CHECK)
    of_faces = call(tmp_path, "jobs", str(job), "--json").data["warnings"][0]["text"]
    assert "caliper replay:gauge inside, taken to keep DIN 862, ±0.04 mm" in of_faces
    checked(tmp_path, pressed(tmp_path, *RING), *INSIDE)
    for command in ("size", "jobs", "report"):
        text = ("--text",) if command == "report" else ()
        assert "ever checked" not in call(tmp_path, command, str(job), *text).out


def test_the_limit_of_the_address_is_the_one_checked_against_and_printed(tmp_path: Path) -> None:
    address = pressed(tmp_path, *BLOCK)
    narrow = f"{address}{'&' if '?' in address else '?'}mpe_mm=0.005"
    done = call(tmp_path, "check", narrow, *CHECK)
    assert "limit outside             ±0.005 mm" in done.out
    assert "these limits              stated in the address" in done.out
    (gauge,) = call(tmp_path, "check", narrow, "--show", "--json").data["gauges"]
    assert (gauge["mpe_mm"], gauge["checks"][0]["lengths"][0]["mpe_mm"]) == (0.005, 0.005)
    assert "at 5 mm, limit ±0.005 mm" in call(tmp_path, "check", "--show").out


def test_the_page_prints_the_limit_that_the_record_states(tmp_path: Path, job: int) -> None:
    checked(tmp_path, pressed(tmp_path), "--set", "mpe_mm=0.03", "--set", "mpe_source=leaflet")
    page = call(tmp_path, "report", str(job), "--text", "--draws", "2000").out
    assert "limit of error ±0.03 mm" in page
    assert "(leaflet)" in page
    assert call(tmp_path, "jobs", str(job), "--json").data["gauges"][0]["mpe_mm"] == 0.03


def test_an_overdue_check_warns(tmp_path: Path, job: int) -> None:
    checked(tmp_path, pressed(tmp_path, *BLOCK), *CHECK)
    old = (datetime.now(UTC) - timedelta(days=400)).isoformat(timespec="milliseconds")
    with closing(sqlite3.connect(tmp_path / "journal.sqlite")) as journal, journal:
        journal.execute(
            "UPDATE gauge_check SET detail = json_set(detail, '$.checked_utc', ?)", [old]
        )
    assert codes(sized(tmp_path, job)) == ["gauge-check-overdue"]
    assert "400 days ago" in call(tmp_path, "size", str(job), "--draws", "2000").out
    checked(tmp_path, pressed(tmp_path), "--set", "interval_days=500")
    assert codes(sized(tmp_path, job)) == []


def test_a_result_uses_the_record_of_its_gauge(tmp_path: Path, job: int) -> None:
    plain = sized(tmp_path, job)
    checked(
        tmp_path, pressed(tmp_path), "--set", "jaw_flats_mm=0.7 +- 0.02", "--set", "mpe_mm=0.01"
    )
    known = sized(tmp_path, job)
    # Half of what sweeps may miss, sqrt(5) / 2 of what they scatter beyond the gauge's half step.
    missed = (
        math.sqrt(5)
        / 4
        * math.sqrt(statistics.variance((11.52, 11.51, 11.53, 11.52, 11.51)) - 0.005**2)
    )
    chord = math.hypot(11.518 + missed, 0.7)
    assert known["inputs"]["bore"]["value"] == pytest.approx(chord, abs=1e-4)
    assert known["inputs"]["bore"]["u"] < plain["inputs"]["bore"]["u"]
    inputs = {row["input"] for row in known["budget"]}
    assert any(name.endswith("inside jaw flats") for name in inputs)
    assert not any("assumed)" in name and "flats" in name for name in inputs)


def test_an_oval_bore_is_said_in_the_result(tmp_path: Path) -> None:
    address = presses(tmp_path / "oval.jsonl", 0.0, 11.52, 11.47, 11.56, 11.53, 11.44, 0.0)
    job = call(tmp_path, "measure", address, "--json", *without("bore")).data["job"]
    data = sized(tmp_path, job)
    (text,) = (w["text"] for w in data["warnings"] if w["code"] == "bore-out-of-round")
    assert "may be out of round, by about 0.13 mm" in text


def test_a_table_of_jobs_judges_readings_by_the_record_as_the_job_itself_does(
    tmp_path: Path,
) -> None:
    bores, depths = (11.52, 11.51, 11.52, 11.40, 11.41), (2.00, 2.01, 2.00)  # the hand is steady
    address = presses(tmp_path / "gauge.jsonl", 0.0, *bores, *depths, 0.0)
    assert call(tmp_path, "measure", address, *without("bore", "depth")).code == 0
    unchecked = table_row(tmp_path)
    checked(tmp_path, pressed(tmp_path, 5.05, 4.97, 5.04, 4.96), *CHECK)
    row = table_row(tmp_path)
    assert (unchecked["n_used"], row["n_used"]) == ("3", "5")  # it scatters so much itself
    (gauge,) = call(tmp_path, "jobs", "1", "--json").data["gauges"]
    bore, _ = gauge["measurands"]
    assert float(row["mean_mm"]) == pytest.approx(bore["mean_mm"], abs=1e-6)


def table_row(home: Path) -> dict[str, str]:
    """The row of the bore in the table of the first job."""
    target = home / "jobs.csv"
    assert call(home, "jobs", "1", "--export", str(target)).code == 0
    with target.open(encoding="utf-8-sig", newline="") as file:
        (row,) = (each for each in csv.DictReader(file) if each["measurand"] == "bore")
    return row
