"""``gaugelink check``: known lengths read hands-free, and what comes of it."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path

import pytest
from cli_checks import BLOCK, CHECK, SIM, ZEROS, checked, pressed
from cli_gauges import FORMAT, GaugeOnPty, gauge_on_pty, presses
from cli_runs import Bench, call, is_clear

from gaugelink.devices.recordings.recording import RecordingWriter
from gaugelink.devices.simulated import (
    ENCODERS,
    Behaviour,
    Gesture,
    Move,
    simulate,
    walk,
)

SIM_CHECK = ("--length", "1.92 +- 0.0005", "--readings", "3", "--zeros", "1")


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


@pytest.mark.parametrize("options", ["", "&kind=micrometer", "&sends=button", "&seed=4"])
def test_a_simulated_block_is_checked_as_it_stands(options: str, tmp_path: Path) -> None:
    address = f"sim:block?size_mm=5&pace=0{options}"
    data = checked(tmp_path, address, "--length", "5.000 +- 0.0002 mm")
    (length,) = data["check"]["lengths"]
    assert (length["n"], data["check"]["zero"]["n"], length["verdict"]) == (10, 6, "pass")


def test_a_block_that_reads_long_fails(tmp_path: Path) -> None:
    done = call(tmp_path, "check", "sim:block?size_mm=5.05&pace=0", "--length", "5")
    assert done.code == 3
    assert is_clear(done.err, "failed its check")


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


@pytest.mark.parametrize(
    ("arguments", "sentence", "code"),
    [
        ((), "No gauge is named", 2),
        ((SIM,), "Nothing to check", 2),
        (("--length", "5"), "No gauge is named", 2),
        (("nowhere", *CHECK), "is not a gauge address", 2),
        ((SIM, "--length", "five"), "'five' is not a length", 2),
        ((SIM, "--length", "-5"), "is not possible", 2),
        ((SIM, "--length", "5", "--length", "5.0"), "each once", 2),
        ((SIM, "--length", "5", "--readings", "1"), "1 readings are not possible", 2),
        ((SIM, "--length", "5", "--zeros", "0"), "0 zeros are not possible", 2),
        ((SIM, "--length", "5", "--tolerance", "0"), "not a number above zero", 2),
        ((SIM, "--set", "mpe_mm"), "mpe_mm has no value", 2),
        ((SIM, "--set", "colour=red"), "not a field of a gauge's record", 2),
        ((SIM, "--set", "mpe_mm=-0.01"), "gaugelink: mpe_mm cannot be -0.01.", 2),
        ((SIM, "--set", "mpe_mm=0.02 +- 0.01"), "must not have an uncertainty", 2),
        ((SIM, "--set", "anvils=square"), "not a shape of anvils", 2),
        ((SIM, "--set", "interval_days=soon"), "not a number of days", 2),
        ((SIM, "--set", "interval_days=0"), "not a number of days", 2),
        ((SIM, "--set", "interval_days=" + "9" * 5000), "not a number of days", 2),
        ((SIM, "--set", "jaw_flats_mm=-0.3"), "The width of jaw flats cannot be -0.3.", 2),
        ((SIM, "--set", "certificate=yes"), "cannot be set like this", 2),
        ((SIM, "--point", "5 0.001"), "not a point of a certificate", 2),
        ((SIM, "--point", "5 0 0.01", "--point", "5 0 0.02"), "not in order of size", 2),
        ((SIM, "--point", "5 0 0.01 0"), "k cannot be 0", 2),
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


@pytest.fixture(name="gauge")
def gauge_fixture(tmp_path: Path) -> Iterator[GaugeOnPty]:
    with gauge_on_pty(tmp_path) as gauge:
        yield gauge


@pytest.mark.campaign  # waits for a last zero in real time
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
