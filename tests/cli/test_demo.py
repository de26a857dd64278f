"""``gaugelink demo``: the recorded bench is measured to its end, by the rules of the day."""

from __future__ import annotations

import signal
import sys
from pathlib import Path

import pytest
from cli_gauges import means
from cli_runs import Bench, call, is_clear

from gaugelink.capture.plan import make_plan

PLANNED = {step.measurand: step.n_wanted for step in make_plan().steps}


def test_the_recorded_job_is_complete_with_what_was_planned(tmp_path: Path) -> None:
    done = call(tmp_path, "demo", "--pace", "2000", "--json")
    assert done.code == 0, done.err
    job = done.data["job"]
    measured = [m for gauge in job["gauges"] for m in gauge["measurands"]]
    assert job["closed"]
    assert {m["measurand"]: m["n_taken"] for m in measured} == PLANNED
    assert means(job)["bore"] == pytest.approx(11.515, abs=0.01)  # fixtures/make_demo.py
    assert "refused" not in done.err


def test_the_clumsy_placing_is_left_out_and_the_slip_taken_back(tmp_path: Path) -> None:
    done = call(tmp_path, "demo", "--pace", "2000")
    assert "reading 3 rejected: Reading 3 (11.33 mm)" in done.out
    assert "undone  depth 2.31" in done.err
    assert "\nOrder 1.45 x 0.13 x 370 mm\n" in done.out


@pytest.mark.skipif(sys.platform == "win32", reason="needs SIGINT")
def test_a_demo_that_is_stopped_says_so_and_sizes_nothing(tmp_path: Path) -> None:
    with Bench(tmp_path, "demo", "--pace", "20", "--json") as bench:
        bench.wait_for("taken   bore")
        bench.signal(signal.SIGINT)
        done = bench.finish()
    assert (done.code, done.out) == (1, "")
    assert is_clear(done.err, "The demo was stopped before it was finished.")
