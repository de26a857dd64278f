"""Data on stdout, talk on stderr, and what happens when nobody can read either."""

from __future__ import annotations

import io
import json
import os
import subprocess
import sys
from pathlib import Path
from tempfile import TemporaryFile

import pytest
from cli_gauges import presses, without
from cli_runs import PATIENCE_S, call, command, environment, is_clear
from started import start

from gaugelink.cli import output

SIZE = ("size", "--bore", "11", "--draws", "1000")
posix = pytest.mark.skipif(
    not Path("/dev/full").exists(), reason="needs a POSIX shell and /dev/full"
)


def shell(home: Path, line: str, *arguments: str, **more: str) -> subprocess.CompletedProcess[str]:
    """Run a shell line in which ``"$@"`` is the command line of gaugelink."""
    return subprocess.run(
        ["bash", "-o", "pipefail", "-c", line, "bash", *command(*arguments)],
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
        timeout=60,
        env=environment(home, **more),
    )


@pytest.mark.parametrize(
    "arguments",
    [
        ["gauges"],
        ["listen", "sim:still?pace=0&duration_s=1"],
        ["measure", "sim:caliper?pace=0", "--depth-from", "rim"],
        [*SIZE],
        ["jobs"],
    ],
    ids=lambda arguments: arguments[0],
)
def test_json_is_all_that_goes_to_stdout(arguments: list[str], tmp_path: Path) -> None:
    done = call(tmp_path, *arguments, "--json")
    assert done.code == 0
    documents = done.out.splitlines() if arguments[0] == "listen" else [done.out]
    assert all(isinstance(json.loads(document), dict) for document in documents)
    assert documents
    assert "{" not in done.err


def test_talk_goes_to_stderr(tmp_path: Path) -> None:
    """The text of a job is talk: it was asked for with --json if it is wanted as data."""
    address = presses(tmp_path / "bore.jsonl", 0.0, 11.52, 11.51)
    done = call(tmp_path, "measure", address, *without("bore"))
    assert done.out == ""
    assert "taken   bore 11.52 mm" in done.err
    assert "JOB 1" in done.err


@posix
@pytest.mark.parametrize(
    "arguments",
    [SIZE, (*SIZE, "--json"), ("gauges",), ("listen", "sim:caliper?pace=0"), ("--help",)],
    ids=lambda arguments: " ".join(arguments)[:20],
)
def test_a_reader_that_has_had_enough_is_no_error(
    arguments: tuple[str, ...], tmp_path: Path
) -> None:
    reads, writes = os.pipe()
    with TemporaryFile("w+") as err, open(os.devnull) as nothing:
        streams = (nothing.fileno(), writes, err.fileno())
        process = start(arguments, streams, environment(tmp_path))
        os.close(writes)
        with os.fdopen(reads) as out:
            assert out.readline()
        process.wait(PATIENCE_S)
        err.seek(0)
        assert [line for line in err if "listening to" not in line] == []


@posix
def test_talk_that_nobody_reads_any_more_ends_no_job(tmp_path: Path) -> None:
    address = presses(tmp_path / "bore.jsonl", 0.0, *[11.52] * 5, 0.0)
    reads, writes = os.pipe()
    with open(os.devnull) as nothing:
        streams = (nothing.fileno(), writes, writes)  # as in 2>&1 | head
        words = ("measure", f"{address}&pace=0.02", *without("bore"))
        process = start(words, streams, environment(tmp_path))
        os.close(writes)
        with os.fdopen(reads) as said:
            assert any("taken" in line for line in said)  # and then it is closed
        assert process.wait(PATIENCE_S) == 0
    (job,) = call(tmp_path, "jobs", "--json").data["jobs"]
    assert (job["closed"], job["n_taken"]) == (True, 7)


@posix
def test_a_full_disk_is_said_in_a_sentence(tmp_path: Path) -> None:
    with open("/dev/full", "w") as full, TemporaryFile("w+") as err:
        streams = (full.fileno(), full.fileno(), err.fileno())
        assert start(SIZE, streams, environment(tmp_path)).wait(PATIENCE_S) == 1
        err.seek(0)
        assert is_clear(err.read(), "The output cannot be written")


@posix
@pytest.mark.parametrize("line", ['"$@" 2>/dev/full', '"$@" 2>&-'])
def test_talk_that_cannot_be_written_stops_nothing(line: str, tmp_path: Path) -> None:
    done = shell(tmp_path, line, "listen", "sim:still?pace=0&duration_s=1", "--json")
    assert done.returncode == 0
    assert len(done.stdout.splitlines()) == 10


@posix
def test_data_that_nobody_wants_is_no_error(tmp_path: Path) -> None:
    done = shell(tmp_path, '"$@" >&-', *SIZE)
    assert (done.returncode, done.stderr) == (0, "")


@posix
@pytest.mark.parametrize(("encoding", "written"), [("ascii", "+-"), ("utf-8", "±")])
def test_a_terminal_without_the_signs_gets_them_spelt_out(
    encoding: str, written: str, tmp_path: Path
) -> None:
    done = shell(tmp_path, '"$@"', *SIZE, "--full", PYTHONUTF8="0", PYTHONIOENCODING=encoding)
    assert (done.returncode, done.stderr) == (0, "")
    assert f"11.000 {written} 0.0" in done.stdout
    assert "?" not in done.stdout


def test_only_what_the_encoding_lacks_is_spelt_out(monkeypatch: pytest.MonkeyPatch) -> None:
    stream = io.TextIOWrapper(io.BytesIO(), encoding="latin-1")
    monkeypatch.setattr(sys, "stdout", stream)
    output.emit("265° ± 5°, 1…2, \N{GREEK CAPITAL LETTER OMEGA}")
    assert stream.buffer.getvalue().decode("latin-1") == "265° ± 5°, 1...2, ?\n"


@pytest.mark.parametrize("encoding", ["ascii", "cp1252", "utf-8"])
def test_json_loses_nothing_in_any_encoding(encoding: str, monkeypatch: pytest.MonkeyPatch) -> None:
    stream = io.TextIOWrapper(io.BytesIO(), encoding=encoding)
    monkeypatch.setattr(sys, "stdout", stream)
    output.emit_json({"title": "Würfel ± 猫"})
    assert json.loads(stream.buffer.getvalue().decode("utf-8")) == {"title": "Würfel ± 猫"}


@pytest.mark.parametrize("number", [float("nan"), float("inf")])
def test_what_is_not_json_is_not_written(number: float, monkeypatch: pytest.MonkeyPatch) -> None:
    stream = io.StringIO()
    monkeypatch.setattr(sys, "stdout", stream)
    with pytest.raises(ValueError, match="JSON"):
        output.emit_json({"value": number})
    assert stream.getvalue() == ""


def test_text_ends_in_one_line_feed(capsys: pytest.CaptureFixture[str]) -> None:
    output.emit("a")
    output.emit("b\n")
    output.say("c")
    assert capsys.readouterr() == ("a\nb\n", "c\n")
