"""``gaugelink measure --redo``: one size of a job measured anew, the others as they were."""

from __future__ import annotations

import csv
import signal
import sys
from pathlib import Path
from typing import Any

import pytest
from book_samples import old_journal
from cli_gauges import gauge_on_pty, presses, without
from cli_runs import Bench, call, is_clear

from gaugelink.jobbook.journal import Journal

BORE = (11.52, 11.51, 11.53, 11.52, 11.51)
ARBOR, DEPTH = (3.68, 3.69, 3.68), (1.90, 1.91, 1.90)
PLAN = (*without("bore", "depth", "arbor"), "--depth-from", "rim")


def path_of(folder: Path) -> Path:
    """The file of every gauge here: the path is the identity of a recorded gauge."""
    path = folder / "gauge.jsonl"
    path.unlink(missing_ok=True)
    return path


def measured(home: Path) -> None:
    address = presses(path_of(home), 0.0, *BORE, *DEPTH, *ARBOR, 0.0)
    assert call(home, "measure", address, *PLAN).code == 0


def redone(home: Path, *values_mm: float, names: tuple[str, ...] = ("arbor",)) -> Any:
    address = presses(path_of(home), *values_mm)
    words = [word for name in names for word in ("--redo", name)]
    return call(home, "measure", address, "--resume", "1", *words, "--json")


def readings(job: dict[str, Any], kind: str, measurand: str) -> list[str]:
    return [
        reading["displayed"]
        for gauge in job["gauges"]
        for each in gauge[kind]
        if each["measurand"] == measurand
        for reading in each["readings"]
    ]


def test_a_closed_job_is_opened_for_one_size_and_closes_again(tmp_path: Path) -> None:
    measured(tmp_path)
    before = call(tmp_path, "jobs", "1", "--json").data
    done = redone(tmp_path, 0.0, 3.80, 3.81, 3.80, 0.0)
    assert done.code == 0, done.err
    assert "redone  arbor: earlier readings no longer count" in done.err
    assert done.data["closed"]
    assert readings(done.data, "measurands", "arbor") == ["3.80", "3.81", "3.80"]
    assert readings(done.data, "superseded", "arbor") == ["3.68", "3.69", "3.68"]
    for name in ("bore", "depth"):
        assert readings(done.data, "measurands", name) == readings(before, "measurands", name)
    assert done.data["sizes"]["arbor"]["value"] > before["sizes"]["arbor"]["value"] + 0.1
    text = " ".join(call(tmp_path, "jobs", "1").out.split())
    assert "arbor: superseded, measured again, not counted: 3.68 mm, 3.69 mm, 3.68 mm" in text
    call(tmp_path, "jobs", "--export", str(tmp_path / "jobs.csv"))
    rows = list(csv.DictReader((tmp_path / "jobs.csv").read_text("utf-8-sig").splitlines()))
    (row,) = (each for each in rows if each["measurand"] == "arbor")
    assert (row["readings"], row["superseded"]) == ("3.80 3.81 3.80", "3.68 3.69 3.68")
    listed = call(tmp_path, "jobs", "--json").data["jobs"][0]
    assert (listed["n_taken"], listed["n_standing"]) == (18, 15)


def test_a_gauge_that_was_set_anew_moves_only_what_is_redone(tmp_path: Path) -> None:
    measured(tmp_path)
    before = call(tmp_path, "jobs", "1", "--json").data["sizes"]
    again = redone(tmp_path, 0.03, *(mm + 0.03 for mm in ARBOR), 0.03).data
    after = again["sizes"]
    for name in ("bore", "depth"):  # the ends are drawn anew: influences are named after zeros
        for end in ("low", "high"):
            assert after[name][end] == pytest.approx(before[name][end], abs=5e-4)
        assert (after[name]["value"], after[name]["u"]) == (
            before[name]["value"],
            before[name]["u"],
        )
    assert after["arbor"]["value"] == pytest.approx(before["arbor"]["value"], abs=1e-9)
    assert after["arbor"]["u"] == pytest.approx(before["arbor"]["u"], rel=0.01)
    assert again["gauges"][0]["zero"]["after_mm"] == 0.03


def test_several_sizes_may_be_redone_at_once(tmp_path: Path) -> None:
    measured(tmp_path)
    done = redone(tmp_path, 0.0, *[1.95] * 3, *[3.80] * 3, 0.0, names=("arbor", "depth"))
    assert readings(done.data, "measurands", "depth") == ["1.95"] * 3
    assert readings(done.data, "measurands", "arbor") == ["3.80"] * 3


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("--resume", "1", "--redo", "arbour"), "'arbour' is not in the plan of job 1"),
        (("--resume", "1", "--redo", "lid"), "'lid' is not in the plan of job 1"),
        (("--redo", "arbor"), "--redo needs the job it is for."),
        (("--resume", "7", "--redo", "arbor"), "No job 7"),
        (("--resume", "1"), "Job 1 is closed."),
    ],
)
def test_what_cannot_be_redone_is_said_and_changes_nothing(
    words: tuple[str, ...], sentence: str, tmp_path: Path
) -> None:
    measured(tmp_path)
    before = call(tmp_path, "jobs", "1", "--json").data
    refused = call(tmp_path, "measure", presses(path_of(tmp_path), 0.0), *words)
    assert refused.code != 0
    assert is_clear(refused.err, sentence)
    assert call(tmp_path, "jobs", "1", "--json").data == before


def test_a_gauge_that_cannot_measure_it_supersedes_nothing(tmp_path: Path) -> None:
    measured(tmp_path)
    before = call(tmp_path, "jobs", "1", "--json").data
    words = ("--resume", "1", "--redo", "bore")
    refused = call(tmp_path, "measure", "sim:micrometer?pace=0", *words)
    assert refused.code == 2
    assert is_clear(refused.err, "No gauge here can measure the bore again.")
    assert call(tmp_path, "jobs", "1", "--json").data == before


def test_a_redone_job_goes_out_and_comes_in_whole(tmp_path: Path) -> None:
    measured(tmp_path)
    job = redone(tmp_path, 0.0, 3.80, 3.81).data  # left while one reading is still wanted
    assert not job["closed"]
    other = tmp_path / "other"
    call(tmp_path, "jobs", "1", "--export", str(tmp_path / "jobs.json"))
    call(other, "jobs", "--import", str(tmp_path / "jobs.json"))
    assert call(other, "jobs", "1", "--json").data == call(tmp_path, "jobs", "1", "--json").data
    address = presses(path_of(tmp_path), 0.0, 3.80, 0.0)
    done = call(other, "measure", address, "--resume", "1", "--json").data
    assert done["closed"]
    assert readings(done, "measurands", "arbor") == ["3.80", "3.81", "3.80"]
    assert readings(done, "superseded", "arbor") == ["3.68", "3.69", "3.68"]


@pytest.mark.parametrize("schema", [1, 2])
def test_a_job_of_an_old_journal_is_redone(schema: int, tmp_path: Path) -> None:
    path = old_journal(tmp_path / "old.sqlite", schema)
    book = ("--journal", str(path))
    before = call(tmp_path, "jobs", "1", "--json", *book).data
    assert before["closed"]
    assert [gauge["superseded"] for gauge in before["gauges"]] == [[], []]
    stood = readings(before, "measurands", "arbor")
    address = presses(path_of(tmp_path), 0.0, 3.80, 3.81, 3.80, 0.0)
    done = call(tmp_path, "measure", address, "--resume", "1", "--redo", "arbor", "--json", *book)
    assert done.code == 0, done.err
    assert done.data["closed"]
    assert readings(done.data, "measurands", "arbor") == ["3.80", "3.81", "3.80"]
    assert readings(done.data, "superseded", "arbor") == stood
    with Journal.open(path) as journal:
        assert [e.kind for e in journal.events(1)].count("superseded") == 1


@pytest.mark.skipif(sys.platform == "win32", reason="needs a pseudo-terminal")
def test_killed_while_it_is_redone_the_job_is_open_and_goes_on(tmp_path: Path) -> None:
    with gauge_on_pty(tmp_path) as gauge:
        with Bench(tmp_path, "measure", gauge.address, *without("arbor"), "--quiet") as bench:
            bench.wait_for("Close the jaws for the zero reading")
            for value_mm in (0.00, *ARBOR):
                gauge.press(value_mm)
                bench.wait_for("taken ")
            bench.signal(signal.SIGINT)
            bench.finish()
        words = ("--resume", "1", "--quiet")
        with Bench(tmp_path, "measure", gauge.address, *words, "--redo", "arbor") as bench:
            bench.wait_for("redone  arbor")  # said once it is on the disk
            bench.signal(signal.SIGKILL)
            bench.finish()
        job = call(tmp_path, "jobs", "1", "--json").data
        assert readings(job, "superseded", "arbor") == ["3.68", "3.69", "3.68"]
        call(tmp_path, "jobs", "--export", str(tmp_path / "jobs.csv"))
        (row,) = csv.DictReader((tmp_path / "jobs.csv").read_text("utf-8-sig").splitlines())
        assert (row["n_used"], row["readings"]) == ("0", "")
        assert row["superseded"] == "3.68 3.69 3.68"
        assert readings(job, "measurands", "arbor") == []
        with Bench(tmp_path, "measure", gauge.address, *words, "--json") as bench:
            bench.wait_for("Close the jaws for the zero reading")
            for value_mm in (0.00, 3.80):
                gauge.press(value_mm)
                bench.wait_for("taken ")
            bench.signal(signal.SIGINT)
            assert readings(bench.finish().data, "measurands", "arbor") == ["3.80"]
