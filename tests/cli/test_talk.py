"""Following a job in lines: each act once, each instruction once until it changes."""

from __future__ import annotations

from dataclasses import replace

import pytest
from cli_bench import CALIPER, MICROMETER, Job

from gaugelink.cli.bell import Bell
from gaugelink.cli.talk import Talk
from gaugelink.model import DepthReference, Fault, FaultKind, GaugeEvent, Sends


def talking(job: Job) -> Talk:
    talk = Talk(job.session, Bell(enabled=False))
    job.watcher = talk
    talk.begin()
    return talk


def test_a_job_is_followed_line_by_line(capsys: pytest.CaptureFixture[str]) -> None:
    job = Job(CALIPER, without=("lid", "arbor", "found_thickness", "found_height"))
    talking(job)
    for shown in ("0.00", "11.52", "254.00", "11.51", "11.53", "11.52", "11.51"):
        job.press(shown)
    out, err = capsys.readouterr()
    lines = [line.split(": ")[0] if "> " in line else line for line in err.splitlines()]
    assert lines == [
        "caliper> Close the jaws for the zero reading.",
        "caliper: taken   zero 0.00 mm",
        "caliper> bore",
        "caliper: taken   bore 11.52 mm",
        "caliper: refused 254.00: 254.00 mm is not a likely bore (3 to 30 mm). "
        "Check the unit and the jaws.",
        "caliper: taken   bore 11.51 mm",
        "caliper: taken   bore 11.53 mm",
        "caliper: taken   bore 11.52 mm",
        "caliper: taken   bore 11.51 mm",
        "caliper: done    bore, 5 readings",
        "caliper> depth",
    ]
    assert out == ""


def test_each_gauge_speaks_under_its_name(capsys: pytest.CaptureFixture[str]) -> None:
    job = Job(CALIPER, MICROMETER)
    talking(job)
    job.press("0.001", MICROMETER)
    said = capsys.readouterr().err.splitlines()
    assert said[:3] == [
        "caliper> Close the jaws for the zero reading.",
        "micrometer> Close the anvils for the zero reading.",
        "micrometer: taken   zero 0.001 mm",
    ]


def test_after_an_undo_the_measurand_is_asked_for_again(
    capsys: pytest.CaptureFixture[str],
) -> None:
    job = Job(CALIPER, without=("bore", "arbor", "found_thickness", "found_height"))
    talking(job)
    for shown in ("0.00", "1.92", "1.93", "1.92"):
        job.press(shown)
    assert "caliper> lid: " in capsys.readouterr().err
    job.act(job.session.undo())
    assert [line.split(": ")[0] for line in capsys.readouterr().err.splitlines()] == [
        "caliper",
        "caliper> depth",
    ]


def test_a_last_zero_that_was_seen_is_said_while_a_second_one_would_undo(
    capsys: pytest.CaptureFixture[str],
) -> None:
    job = Job(CALIPER, without=("bore", "lid", "arbor", "found_thickness", "found_height"))
    talking(job)
    for shown in ("0.00", "1.92", "1.93", "1.92"):
        job.press(shown)
    capsys.readouterr()
    job.press("0.01")
    assert capsys.readouterr().err.splitlines() == [
        "caliper> Last zero seen. Wait 3 s for the bell: closing once more before takes the "
        "last reading back."
    ]
    job.act(job.session.tick(CALIPER.gauge_id, 1e9))
    assert [line.split()[1] for line in capsys.readouterr().err.splitlines()] == ["taken", "closed"]


@pytest.mark.parametrize(
    ("reference", "said"), [("rim", "rim of the barrel"), ("seat", "lid seat")]
)
def test_the_depth_is_asked_to_its_reference(
    reference: str, said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    job = Job(CALIPER, without=("bore",), depth_reference=DepthReference(reference))
    talking(job)
    job.press("0.00")
    assert f"beam flat across the {said}." in capsys.readouterr().err


def test_with_the_first_size_of_the_old_spring_its_dangers_are_said(
    capsys: pytest.CaptureFixture[str],
) -> None:
    job = Job(CALIPER, without=("bore", "depth", "lid", "arbor"))
    talking(job)
    for shown in ("0.00", *["0.13"] * 5, *["1.45"] * 3):
        job.press(shown)
    said = capsys.readouterr().err
    asked = [line for line in said.splitlines() if line.startswith("caliper> found")]
    assert [line.endswith("let it lie free.") for line in asked] == [True, False]


def test_what_is_no_reading_is_said(capsys: pytest.CaptureFixture[str]) -> None:
    job = Job(CALIPER)
    talking(job)
    fault = Fault(kind=FaultKind.UNPARSED, reason="no number in it", raw=b"x")
    job.hear(GaugeEvent(gauge_id=CALIPER.gauge_id, elapsed_s=1.0, body=fault))
    assert capsys.readouterr().err.splitlines()[-1] == "caliper: not a reading: no number in it"


def test_a_stream_is_told_to_leave_each_reading(capsys: pytest.CaptureFixture[str]) -> None:
    gauge = replace(CALIPER, sends=Sends.STREAM)
    job = Job(gauge, without=("bore",))
    talking(job)
    for shown in ("0.00", "2.31", "2.60"):
        for _ in range(20 if shown != "2.60" else 4):
            job.press(shown, gauge, after_s=0.05)
    lines = capsys.readouterr().err.splitlines()
    assert [line.split(": ")[0] if "Depth rod" in line else line for line in lines] == [
        "caliper> Close the jaws for the zero reading.",
        "caliper: taken   zero 0.00 mm",
        "caliper> open the jaws",
        "caliper> depth",
        "caliper: taken   depth 2.31 mm",
        "caliper> lift off, then the next reading",
    ]
