"""One thing wrong with each command: one sentence, one hint, the documented exit code."""

from __future__ import annotations

import os
import subprocess
from pathlib import Path

import pytest
from cli_gauges import presses
from cli_runs import call, command, environment, is_clear

UNREAL = "{home}/empty/sub/j.sqlite"  # "empty" is a file, so nothing can be made in it

# What is typed (with {home} for the user folder), the exit code, and a part of the sentence.
TYPED: list[tuple[list[str], int, str]] = [
    (["gauges", "--formats", "{home}/bad"], 4, "mine.toml: x: unknown key"),
    (["gauges", "--formats", "{home}/none"], 2, "No folder {home}/none"),
    (["gauges", "--formats", "{home}/empty"], 2, "{home}/empty is a file"),
    (["listen", "sim:still?pace=0", "--formats", "{home}/none"], 2, "No folder"),
    (["listen", "serial:{home}/ttyX", "--formats", "{home}/none"], 2, "No folder"),
    (["measure", "sim:still", "--formats", "{home}/none"], 2, "No folder"),
    (["check", "sim:still", "--show", "--formats", "{home}/none"], 2, "No folder"),
    (["listen", "nowhere"], 2, "'nowhere' is not a gauge address"),
    (["listen", "sim:nobody"], 2, "Unknown simulated gauge 'nobody'"),
    (["listen", "sim:still?colour=red"], 2, "'colour' is not an option of a sim: address"),
    (["listen", "sim:still?format=nope"], 2, "Unknown format 'nope'"),
    (["listen", "sim:still?noise_mm=much"], 2, "noise_mm=much"),
    (["listen", "sim:still?pace=1e300"], 2, "pace=1e300"),
    (["listen", "serial:{home}/ttyX"], 3, "Nothing is connected at serial:"),
    (["listen", "bridge:{home}/ttyX"], 3, "Nothing is connected at bridge:"),
    (["listen", "serial:{home}/ttyX", "--shows", "big"], 2, "'big' is not a display reading"),
    (["listen", "serial:{home}/ttyX", "--record", "x"], 2, "--record needs the format"),
    (["listen", "sim:still", "--shows", "1 mm"], 2, "has a fixed format: nothing to identify"),
    (["listen", "serial:{home}/ttyX?format=text-input&baud=1"], 2, "baud: 1 is not from 50 to"),
    (["listen", "serial:{home}/ttyX?format=text-input&invert=true"], 2, "has no 'invert'"),
    (["listen", "serial:{home}/ttyX?format=text-input"], 3, "Nothing is connected at serial:"),
    (["listen", "serial:{home}/empty?format=text-input"], 3, "is not a serial port"),
    (["listen", "replay:{home}/missing.jsonl"], 4, "missing.jsonl: the recording cannot be read"),
    (["listen", "replay:{home}/empty"], 4, "the file is empty"),
    (["listen", "sim:still?format=mine", "--formats", "{home}/bad"], 4, "unknown key"),
    (["listen", "sim:still", "--seconds", "-1"], 2, "--seconds must be above zero"),
    (["listen", "sim:still?pace=0", "--record", "{home}/empty"], 2, "Cannot record to"),
    (["gauges", "--forget", "usb-1"], 2, "No gauge 'usb-1' is remembered"),
    (["measure"], 3, "No gauge named, and no remembered gauge is plugged in"),
    (["measure", "serial:{home}/ttyX"], 2, "does not say which format"),
    (["measure", "serial:{home}/ttyX?format=text-input"], 3, "Nothing is connected at serial:"),
    (["measure", "sim:caliper", "sim:still"], 2, "A job takes one caliper, one micrometer"),
    (["measure", "sim:caliper", "--with", "weight"], 2, "'weight' is not a size the plan"),
    (["measure", "sim:caliper", "--without", "weight"], 2, "'weight' is not a size the plan"),
    (["measure", "sim:caliper", "--resume", "0"], 2, "No open job to continue"),
    (["measure", "sim:caliper", "--resume", "9"], 7, "No job 9"),
    (["measure", "sim:caliper", "--resume", "0", "--title", "x"], 2, "keeps its title and plan"),
    (["measure", "sim:caliper", "--resume", "0", "--without", "lid"], 2, "keeps its title and"),
    (["measure", "sim:caliper", "--journal", UNREAL], 7, "cannot be written to"),
    (["size"], 2, "The bore is missing"),
    (["size", "--bore", "eleven"], 2, "bore: 'eleven' is not a length"),
    (["size", "--bore", "11 kg"], 2, "'kg' in '11 kg' is not a unit of length"),
    (["size", "--bore", "11 +- -1"], 2, "bore: '11 +- -1' is not a length"),
    (["size", "--bore", "-11"], 6, "The bore is -11 mm"),
    (["size", "--bore", "11", "--arbor", "12"], 6, "The arbor of 12 mm is not narrower"),
    (["size", "--bore", "11", "--depth", "1", "--lid", "2"], 6, "does not go into a depth"),
    (["size", "--bore", "11", "--found-height", "1"], 6, "The found spring has no thickness"),
    (["size", "--bore", "11", "--documented", "1.5 x 0.12"], 2, "is not height x thickness x"),
    (["size", "--bore", "11", "--hours-per-turn", "7 h"], 2, "hours per turn: '7 h' is not a num"),
    (["size", "--bore", "11", "--wanted-turns", "0"], 2, "wanted turns: '0' is not a number"),
    (
        ["size", "--bore", "11", "--coverage", "1.5"],
        2,
        "The coverage must be between 0 and 1, not 1.5",
    ),
    (["size", "--bore", "11", "--draws", "10"], 2, "10 draws are too few"),
    (["size", "--bore", "11", "--seed", "-1"], 2, "A seed of -1"),
    (["size", "9"], 7, "No job 9"),
    (["jobs", "9"], 7, "No job 9"),
    (["jobs", "9", "--events"], 7, "No job 9"),
    (["jobs", "--events"], 2, "--events needs a job"),
    (["jobs", "--journal", "{home}/damaged.sqlite"], 7, "is damaged or not a gaugelink journal"),
    (["jobs", "--journal", UNREAL], 7, "cannot be written to"),
    (["jobs", "--journal", "{home}/bad"], 7, "{home}/bad is a folder, not a file"),
    (["check", "--show", "--journal", "{home}/bad"], 7, "{home}/bad is a folder, not a file"),
    (["demo", "--journal", UNREAL], 7, "cannot be written to"),
    (["demo", "--pace", "0"], 2, "--pace 0 is too slow"),
    (["demo", "--pace", "1e-300"], 2, "--pace 1e-300 is too slow"),
    (["demo", "--pace", "nan"], 2, "--pace nan is too slow"),
]


@pytest.fixture(name="home")
def home_with_bad_files(tmp_path: Path) -> Path:
    (tmp_path / "bad").mkdir()
    (tmp_path / "bad" / "mine.toml").write_text("x = 1\n", encoding="utf-8")
    (tmp_path / "empty").touch()
    (tmp_path / "damaged.sqlite").write_bytes(b"This is no database, whatever its name. " * 40)
    return tmp_path


@pytest.mark.parametrize(
    ("typed", "code", "sentence"), TYPED, ids=[" ".join(row[0])[:60] for row in TYPED]
)
def test_what_is_wrong_is_said_in_a_sentence(
    typed: list[str], code: int, sentence: str, home: Path
) -> None:
    done = call(home, *(word.format(home=home) for word in typed))
    assert done.code == code
    assert is_clear(done.err, sentence.format(home=home)), done.err
    assert done.out == ""


@pytest.mark.skipif(
    not hasattr(os, "geteuid") or os.geteuid() == 0, reason="The superuser may write anywhere."
)
@pytest.mark.parametrize("typed", [["jobs"], ["measure", "sim:still"]], ids=lambda typed: typed[0])
def test_a_journal_in_a_read_only_folder_is_refused(typed: list[str], home: Path) -> None:
    (home / "bad").chmod(0o500)
    done = call(home, *typed, "--journal", str(home / "bad" / "j.sqlite"))
    (home / "bad").chmod(0o700)
    assert done.code == 7
    assert is_clear(done.err, "cannot be written to")


@pytest.mark.parametrize(
    "typed",
    [
        ["unknown"],
        ["gauges", "extra"],
        ["listen"],
        ["listen", "sim:still", "--seconds", "soon"],
        ["measure", "sim:still", "--depth-from", "lid"],
        ["size", "one"],
        ["size", "--bore"],
        ["size", "--bore", "11", "--draws", "many"],
        ["jobs", "--colour"],
        ["demo", "--pace", "fast"],
    ],
    ids=" ".join,
)
def test_a_command_line_that_cannot_be_read_is_an_error(typed: list[str], tmp_path: Path) -> None:
    done = call(tmp_path, *typed)
    assert done.code == 2
    assert done.err.splitlines()[-1].startswith("Error: ")
    assert "Traceback" not in done.err
    assert done.out == ""


def test_a_job_that_is_complete_is_not_continued(tmp_path: Path) -> None:
    address = presses(tmp_path / "all.jsonl", 0.0, 11.52, 11.51, 11.53, 11.52, 11.51, 0.0)
    leave_out = [w for n in ("depth", "lid", "arbor") for w in ("--without", n)]
    leave_out += [w for n in ("found_thickness", "found_height") for w in ("--without", n)]
    assert call(tmp_path, "measure", address, *leave_out).code == 0
    done = call(tmp_path, "measure", address, "--resume", "1")
    assert done.code == 2
    assert is_clear(done.err, "Job 1 is closed")


def test_an_error_leaves_a_process_as_cleanly(home: Path) -> None:
    """The same by the operating system's account: nothing is caught or set up by a test."""
    done = subprocess.run(
        command("jobs", "--journal", str(home / "damaged.sqlite")),
        stdin=subprocess.DEVNULL,
        capture_output=True,
        check=False,
        timeout=120,
        env=environment(home),
    )
    assert done.returncode == 7
    assert is_clear(done.stderr.decode(), "is damaged or not a gaugelink journal")
    assert done.stdout == b""


def test_ctrl_c_while_modules_load_ends_quietly(tmp_path: Path) -> None:
    press = "import signal, time\nsignal.raise_signal(signal.SIGINT)\ntime.sleep(60)\n"
    (tmp_path / "typer.py").write_text(press, encoding="utf-8")
    search = os.pathsep.join([str(tmp_path), os.environ.get("PYTHONPATH", "")])
    done = subprocess.run(
        command("--help"),
        capture_output=True,
        check=False,
        timeout=60,
        env=environment(tmp_path, PYTHONPATH=search),
    )
    assert (done.returncode, done.stdout, done.stderr) == (130, b"", b"")


def test_the_users_own_folder_of_formats_need_not_exist(tmp_path: Path) -> None:
    assert not (tmp_path / "formats").exists()
    assert call(tmp_path, "listen", "sim:still?pace=0&duration_s=1").code == 0
