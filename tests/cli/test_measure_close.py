"""``gaugelink measure --close``: a job ended as it is, without a last zero."""

from __future__ import annotations

from pathlib import Path
from statistics import variance
from typing import Any

import pytest
from cli_gauges import presses, without
from cli_runs import call

BORE = (11.52, 11.51, 11.53, 11.52, 11.51)
PLAN = (*without("bore"), "--json")
CLOSE = ("measure", "--resume", "1", "--close")


def left_open(home: Path, *values_mm: float) -> Any:
    return call(home, "measure", presses(home / "gauge.jsonl", *values_mm), *PLAN)


def test_a_job_without_a_last_zero_can_be_closed_and_is_less_certain(tmp_path: Path) -> None:
    complete = tmp_path / "complete"
    complete.mkdir()
    certain = left_open(complete, 0.0, *BORE, 0.0).data
    begun = left_open(tmp_path, 0.0, *BORE)
    assert not begun.data["closed"]
    assert "gaugelink measure --resume 1 --close" in begun.err
    closed = call(tmp_path, *CLOSE, "--json")
    assert closed.code == 0, closed.err
    assert closed.data["closed"]
    for job in (begun.data, closed.data):  # running or closed: nobody saw the zero again
        assert [each["code"] for each in job["warnings"]].count("no-last-zero") == 1
        # GUM 4.3.7: 0.05 mm either way; one closing, by the hand of these readings, not two
        assert job["sizes"]["bore"]["u"] ** 2 == pytest.approx(
            certain["sizes"]["bore"]["u"] ** 2 + 0.05**2 / 3 + variance(BORE) / 2, rel=1e-3
        )
    assert "no-last-zero" not in [each["code"] for each in certain["warnings"]]
    sized = call(tmp_path, "size", "1", "--full")
    assert "bore zero drift, no zero after" in " ".join(sized.out.split())
    again = call(tmp_path, *CLOSE)
    assert again.code != 0
    assert "Job 1 is closed." in again.err


def test_winding_and_end_of_a_sitting_that_stopped_are_kept_for_the_answer(tmp_path: Path) -> None:
    words = ("--winding", "automatic", "--end", "slipping-bridle")
    plan = (*without("bore", "depth", "arbor"), "--depth-from", "rim")
    first = presses(tmp_path / "gauge.jsonl", 0.0, *BORE)
    assert "Job 1 is saved as far as it got." in call(tmp_path, "measure", first, *plan, *words).err
    (tmp_path / "gauge.jsonl").unlink()
    rest = (1.90, 1.91, 1.90, 3.68, 3.69, 3.68)
    second = presses(tmp_path / "gauge.jsonl", 0.0, *rest, 0.0)
    resumed = call(tmp_path, "measure", second, "--resume", "1")
    kept = "As kept with job 1: --winding automatic --end slipping-bridle"
    assert kept in " ".join(resumed.err.split())
    assert kept in " ".join(call(tmp_path, "size", "1").err.split())
    assert "  wound: automatic, slipping-bridle\n" in call(tmp_path, "jobs", "1").out


def test_an_end_that_does_not_exist_is_refused_when_a_job_goes_on(tmp_path: Path) -> None:
    left_open(tmp_path, 0.0, *BORE)
    done = call(tmp_path, *CLOSE, "--end", "knot")
    assert (done.code, "knot" in done.err) == (2, True)


def test_what_is_not_measured_is_said_when_a_job_is_closed(tmp_path: Path) -> None:
    left_open(tmp_path, 0.0, 11.52, 11.51)
    assert "Not finished, and left as it is: bore" in call(tmp_path, *CLOSE).err


def test_a_closed_job_may_be_measured_anew_with_a_last_zero(tmp_path: Path) -> None:
    left_open(tmp_path, 0.0, *BORE)
    assert call(tmp_path, *CLOSE).code == 0
    (tmp_path / "gauge.jsonl").unlink()
    address = presses(tmp_path / "gauge.jsonl", 0.0, *BORE, 0.0)
    again = call(tmp_path, "measure", address, "--resume", "1", "--redo", "bore", "--json")
    assert again.code == 0, again.err
    assert again.data["closed"]
    assert "no-last-zero" not in [each["code"] for each in again.data["warnings"]]


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("--close",), "--close needs the job it is for."),
        (("sim:caliper", "--resume", "1", "--close"), "--close ends a job without a gauge."),
        (("--resume", "1", "--redo", "bore", "--close"), "--close ends a job without a gauge."),
        (("--resume", "1", "--close"), "Job 1 has no readings to close with."),
    ],
)
def test_a_close_that_cannot_be_is_refused(
    tmp_path: Path, words: tuple[str, ...], sentence: str
) -> None:
    left_open(tmp_path, 0.0)
    done = call(tmp_path, "measure", *words)
    assert done.code == 2
    assert sentence in done.err
