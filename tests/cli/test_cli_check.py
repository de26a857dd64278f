"""``gaugelink check``: known lengths read hands-free, the record, and its warnings in results."""

from __future__ import annotations

import json
import sqlite3
import sys
from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from cli_gauges import FORMAT, GaugeOnPty, gauge_on_pty, presses, without
from cli_runs import Bench, call, is_clear

from gaugelink.devices.recordings.recorder import RecordingWriter
from gaugelink.devices.simulation.bench_scenario import Gesture, Move, walk
from gaugelink.devices.simulation.simulated import ENCODERS, Behaviour, simulate

SIM = "sim:caliper?pace=0"  # its depth of 1.92 mm serves as the block
SIM_CHECK = ("--length", "1.92 +- 0.0005", "--readings", "3", "--zeros", "1")
ZEROS, BLOCK = (0.00, 0.00, 0.01), (5.01, 5.00, 5.01, 5.00)
CHECK = ("--length", "5.000 +- 0.0002 mm", "--readings", "4", "--zeros", "3")


def checked(home: Path, *arguments: str, code: int = 0) -> Any:
    done = call(home, "check", *arguments, "--json")
    assert done.code == code, done.err
    return done.data


def pressed(home: Path, *block: float, name: str = "gauge") -> str:
    """A gauge with a button that reads ``block`` between its zeros; a new recording each time."""
    path = home / f"{name}.jsonl"
    path.unlink(missing_ok=True)
    return presses(path, *ZEROS, *block, 0.0)


def streamed(home: Path, known_mm: float, off_mm: float, times: int) -> str:
    """Record a streaming gauge in the hands of the simulated repairer."""
    moves = (
        Move(measurand="zero", gesture=Gesture.CLOSED, size_mm=0.0, times=5),
        Move(measurand="block", gesture=Gesture.SETTLED, size_mm=known_mm + off_mm, times=times),
        Move(measurand="zero", gesture=Gesture.CLOSED, size_mm=0.0, hold_s=5.0),
    )
    behaviour = Behaviour(step=Decimal("0.01"), encode=ENCODERS[FORMAT], noise_mm=0.003)
    path = home / "stream.jsonl"
    writer = RecordingWriter(path, format=FORMAT, note="invented")
    for entry in simulate(walk(moves), behaviour):
        writer.write(entry)
    return f"replay:{path}?sends=stream"


def test_a_simulated_caliper_passes_and_is_kept(tmp_path: Path) -> None:
    data = checked(tmp_path, SIM, *SIM_CHECK)
    (length,) = data["check"]["lengths"]
    assert (length["known_mm"], length["u_known_mm"], length["n"]) == (1.92, 0.0005, 3)
    assert (data["check"]["verdict"], length["verdict"]) == ("pass", "pass")
    assert abs(length["bias_mm"]) <= length["mpe_mm"] - length["guard_mm"]
    (gauge,) = data["gauges"]
    assert (gauge["gauge"], gauge["kind"]) == ("sim:caliper", "caliper")
    assert gauge["checks"] == [data["check"]]
    assert gauge["warnings"] == []
    assert checked(tmp_path, "--show") == {**data, "check": None}


def test_a_stream_is_read_ten_times_hands_free(tmp_path: Path) -> None:
    address = streamed(tmp_path, 5.0, 0.004, times=10)
    data = checked(tmp_path, address, "--length", "5 +- 0.0002")
    (length,) = data["check"]["lengths"]
    assert (length["n"], data["check"]["zero"]["n"]) == (10, 6)
    assert length["bias_mm"] == pytest.approx(0.004, abs=3 * length["u_bias_mm"])
    assert 0.001 < length["std_mm"] < 0.010
    assert length["cg"] == pytest.approx(0.2 * 0.1 / (6 * length["std_mm"]))


def test_every_reading_of_a_check_is_in_the_journal(tmp_path: Path) -> None:
    data = checked(tmp_path, pressed(tmp_path, *BLOCK), *CHECK)
    job = call(tmp_path, "jobs", str(data["check"]["job"]), "--json").data
    ((measurand,),) = (part["measurands"] for part in job["gauges"])
    assert [r["displayed"] for r in measurand["readings"]] == [f"{mm:.2f}" for mm in BLOCK]
    assert job["closed"]  # measure --resume 0 must not go on with it


def test_several_lengths_are_decided_one_by_one(tmp_path: Path) -> None:
    address = pressed(tmp_path, *BLOCK, *(mm + 5.0 for mm in BLOCK))
    data = checked(tmp_path, address, *CHECK, "--length", "10 +- 0.0005")
    assert [each["known_mm"] for each in data["check"]["lengths"]] == [5.0, 10.0]
    assert data["check"]["lengths"][1]["mean_mm"] == pytest.approx(10.005)


def test_a_block_without_uncertainty_gets_that_of_a_bench_set(tmp_path: Path) -> None:
    data = checked(tmp_path, pressed(tmp_path, *BLOCK), "--length", "5", *CHECK[2:])
    assert data["check"]["lengths"][0]["u_known_mm"] == 0.001


def test_the_text_says_what_the_json_says(tmp_path: Path) -> None:
    done = call(tmp_path, "check", pressed(tmp_path, *BLOCK), *CHECK, "--tolerance", "0.2")
    assert done.code == 0, done.err
    (length,) = checked(tmp_path, "--show")["gauges"][0]["checks"][0]["lengths"]
    for words in (
        f"{length['bias_mm']:+.4f}",
        f"{length['u_bias_mm']:.4f}",
        f"Cg {length['cg']:.2f}, Cgk {length['cgk']:.2f}",
        "for a tolerance of 0.2 mm",
        "ISO 14253-1",
        "PASS",
        "0 to 0.3 mm assumed",
        "a check is due every",
    ):
        assert words in done.out, words
    assert "Zero: close the faces, 3 in all" in done.err


def test_a_gauge_that_fails_is_an_error_after_all_is_kept(tmp_path: Path) -> None:
    address = pressed(tmp_path, *(mm + 0.06 for mm in BLOCK))
    done = call(tmp_path, "check", address, *CHECK, "--json")
    assert done.code == 3
    assert is_clear(done.err, "failed its check")
    assert json.loads(done.out)["check"]["verdict"] == "fail"
    (gauge,) = checked(tmp_path, "--show")["gauges"]
    assert [warning["code"] for warning in gauge["warnings"]] == ["gauge-check-failed"]


def test_a_limit_that_the_check_cannot_resolve_is_undecided(tmp_path: Path) -> None:
    data = checked(tmp_path, pressed(tmp_path, *BLOCK), *CHECK, "--set", "mpe_mm=0.004")
    assert data["check"]["verdict"] == "undecided"
    assert data["check"]["lengths"][0]["mpe_mm"] == 0.004


def test_a_check_broken_off_leaves_the_record_as_it_was(tmp_path: Path) -> None:
    done = call(tmp_path, "check", presses(tmp_path / "short.jsonl", *ZEROS, 5.00), *CHECK)
    assert done.code == 5
    assert is_clear(done.err, "The check was not finished")
    assert checked(tmp_path, "--show")["gauges"] == []
    assert len(call(tmp_path, "jobs", "--json").data["jobs"]) == 1  # the readings are kept


SETTINGS = ("mpe_mm=0.01", "shift_mpe_mm=0.015", "mpe_source=leaflet, invented", "anvils=ball")


def test_what_is_set_is_shown_and_stays(tmp_path: Path) -> None:
    more = ("resolution_mm=0.02", "jaw_flats_mm=0.35 +- 0.05", "interval_days=90")
    options = [word for each in (*SETTINGS, *more) for word in ("--set", each)]
    points = ("--point", "25 -0.004 0.012 2.2", "--point", "0 0 0.008")
    data = checked(tmp_path, SIM, *options, *points)
    (gauge,) = data["gauges"]
    expected = {
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
    for words in ("±0.01 mm", "leaflet, invented", "0.350 mm, u 0.050 mm", "U 0.012 mm, k = 2.2"):
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


@pytest.mark.parametrize(
    ("arguments", "sentence", "code"),
    [
        ((), "No gauge is named", 2),
        ((SIM,), "There is nothing to check", 2),
        (("--length", "5"), "No gauge is named", 2),
        (("nowhere", *CHECK), "is not a gauge address", 2),
        ((SIM, "--length", "five"), "'five' is not a length", 2),
        ((SIM, "--length", "-5"), "is not possible", 2),
        ((SIM, "--length", "5", "--length", "5.0"), "each once", 2),
        ((SIM, "--length", "5", "--readings", "1"), "1 readings are not possible", 2),
        ((SIM, "--length", "5", "--zeros", "0"), "0 zeros are not possible", 2),
        ((SIM, "--length", "5", "--tolerance", "0"), "not a number above zero", 2),
        ((SIM, "--set", "mpe_mm"), "nothing that a gauge's record holds", 2),
        ((SIM, "--set", "colour=red"), "nothing that a gauge's record holds", 2),
        ((SIM, "--set", "mpe_mm=-0.01"), "cannot be -0.01", 2),
        ((SIM, "--set", "mpe_mm=0.02 +- 0.01"), "needs none", 2),
        ((SIM, "--set", "anvils=square"), "no shape of anvils", 2),
        ((SIM, "--set", "interval_days=soon"), "not a number of days", 2),
        ((SIM, "--set", "interval_days=0"), "cannot be 0", 2),
        ((SIM, "--set", "jaw_flats_mm=-0.3"), "cannot be -0.3", 2),
        ((SIM, "--set", "certificate=yes"), "cannot be set like this", 2),
        ((SIM, "--point", "5 0.001"), "no point of a certificate", 2),
        ((SIM, "--point", "5 0 0.01", "--point", "5 0 0.02"), "not in order of size", 2),
        ((SIM, "--point", "5 0 0.01 0"), "cannot be 0", 2),
        (("serial:/dev/ttyNONE?format=line-9600-8N1-unit", *CHECK), "/dev/ttyNONE", 3),
    ],
)
def test_one_bad_input_each(
    arguments: tuple[str, ...], sentence: str, code: int, tmp_path: Path
) -> None:
    done = call(tmp_path, "check", *arguments)
    assert done.code == code
    assert is_clear(done.err, sentence), done.err
    assert done.out == ""
    assert checked(tmp_path, "--show")["gauges"] == []


def test_a_broken_journal_is_said(tmp_path: Path) -> None:
    (tmp_path / "journal.sqlite").write_bytes(b"This is no database, whatever its name. " * 40)
    done = call(tmp_path, "check", "--show")
    assert done.code == 7
    assert is_clear(done.err, "damaged or not a gaugelink journal")


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
    return [w["code"] for w in data["warnings"] if w["code"].startswith("gauge-")]


def test_a_failed_check_warns_in_every_result_until_it_is_passed(tmp_path: Path, job: int) -> None:
    assert codes(sized(tmp_path, job)) == []
    checked(tmp_path, pressed(tmp_path, *(mm + 0.06 for mm in BLOCK)), *CHECK, code=3)
    assert codes(sized(tmp_path, job)) == ["gauge-check-failed"]
    assert "failed its check at 5 mm" in call(tmp_path, "size", str(job), "--draws", "2000").out
    assert codes(sized(tmp_path, job, "--bore", "11.52")) == []  # the gauge was not used
    checked(tmp_path, pressed(tmp_path, *BLOCK), *CHECK)
    assert codes(sized(tmp_path, job)) == []


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
    assert known["inputs"]["bore"]["value"] == pytest.approx((11.518**2 + 0.7**2) ** 0.5)
    assert known["inputs"]["bore"]["u"] < plain["inputs"]["bore"]["u"]
    inputs = {row["input"] for row in known["budget"]}
    assert any(name.endswith("inside jaw flats") for name in inputs)
    assert not any("assumed)" in name and "flats" in name for name in inputs)


def test_an_oval_bore_is_said_in_the_result(tmp_path: Path) -> None:
    address = presses(tmp_path / "oval.jsonl", 0.0, 11.52, 11.47, 11.56, 11.53, 11.44, 0.0)
    job = call(tmp_path, "measure", address, "--json", *without("bore")).data["job"]
    data = sized(tmp_path, job)
    (text,) = (w["text"] for w in data["warnings"] if w["code"] == "bore-out-of-round")
    assert "out of round by about 0.14 mm" in text
    assert any(row["input"] == "bore out of round, and repeatability" for row in data["budget"])


@pytest.fixture(name="gauge")
def gauge_fixture(tmp_path: Path) -> Iterator[GaugeOnPty]:
    with gauge_on_pty(tmp_path) as gauge:
        yield gauge


@pytest.mark.skipif(sys.platform == "win32", reason="needs a pseudo-terminal")
def test_a_gauge_on_a_port_is_checked_in_real_time(gauge: GaugeOnPty, tmp_path: Path) -> None:
    with Bench(tmp_path, "check", gauge.address, *CHECK, "--quiet", "--json") as bench:
        bench.wait_for("Close the jaws for the zero reading")
        for value_mm in (0.00, 0.01, 0.00, *BLOCK):
            gauge.press(value_mm)
            assert f"{value_mm:.2f} mm" in bench.wait_for("taken ")
        gauge.press(0.00)
        bench.wait_for("closed  last zero taken")
        done = bench.finish()
    assert done.code == 0, done.err
    assert done.data["check"]["verdict"] == "pass"
    assert done.data["check"]["zero"]["n"] == 4
