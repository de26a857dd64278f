"""``gaugelink measure`` on a kernel pseudo-terminal in real time: stopped, killed, unplugged."""

from __future__ import annotations

import signal
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from cli_gauges import GaugeOnPty, gauge_on_pty, without
from cli_runs import Bench, call

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="needs a pseudo-terminal")

PLAN = (*without("bore"), "--depth-from", "rim", "--quiet")


@pytest.fixture(name="gauge")
def gauge_fixture(tmp_path: Path) -> Iterator[GaugeOnPty]:
    with gauge_on_pty(tmp_path) as gauge:
        yield gauge


def bore_of(job: dict[str, Any]) -> list[str]:
    (measurand,) = job["gauges"][0]["measurands"]
    return [reading["displayed"] for reading in measurand["readings"]]


def press(bench: Bench, gauge: GaugeOnPty, *values_mm: float) -> None:
    """Press the data button, each time when the last reading was acknowledged."""
    for value_mm in values_mm:
        gauge.press(value_mm)
        assert f"{value_mm:.2f} mm" in bench.wait_for("taken ")


@pytest.mark.parametrize(
    ("ending", "code"),
    [(signal.SIGINT, 130), (signal.SIGHUP, 130), (signal.SIGKILL, -signal.SIGKILL)],
)
def test_a_job_keeps_what_it_took_when_it_is_stopped_or_killed(
    ending: signal.Signals, code: int, gauge: GaugeOnPty, tmp_path: Path
) -> None:
    with Bench(tmp_path, "measure", gauge.address, *PLAN) as bench:
        bench.wait_for("Close the jaws for the zero reading")
        press(bench, gauge, 0.00, 11.52, 11.53)
        bench.signal(ending)
        ended = bench.finish()
    assert ended.code == code
    assert "Traceback" not in ended.err
    assert bore_of(call(tmp_path, "jobs", "1", "--json").data) == ["11.52", "11.53"]


@pytest.mark.campaign  # waits for a last zero in real time
def test_a_killed_job_goes_on_where_it_was_to_its_end(gauge: GaugeOnPty, tmp_path: Path) -> None:
    with Bench(tmp_path, "measure", gauge.address, *PLAN) as bench:
        bench.wait_for("Close the jaws for the zero reading")
        press(bench, gauge, 0.00, 11.52, 11.53)
        bench.signal(signal.SIGKILL)
        bench.finish()
    with Bench(tmp_path, "measure", gauge.address, "--resume", "0", "--json") as bench:
        bench.wait_for("Close the jaws for the zero reading")
        press(bench, gauge, 0.01, 11.51, 11.52, 11.50)
        gauge.press(0.00)
        bench.wait_for("closed  last zero taken")
        job = bench.finish().data
    assert job["closed"]
    assert bore_of(job) == ["11.52", "11.53", "11.51", "11.52", "11.50"]


def test_a_gauge_that_is_unplugged_is_taken_up_when_it_is_back(
    gauge: GaugeOnPty, tmp_path: Path
) -> None:
    with Bench(tmp_path, "measure", gauge.address, *PLAN, "--json") as bench:
        bench.wait_for("Close the jaws for the zero reading")
        press(bench, gauge, 0.00, 11.52)
        gauge.unplug()
        bench.wait_for("link lost: ")
        with gauge_on_pty(tmp_path) as again:
            bench.wait_for(" is back")
            press(bench, again, 11.53)
            bench.signal(signal.SIGINT)
            job = bench.finish().data
    assert bore_of(job) == ["11.52", "11.53"]


def test_a_bad_line_costs_no_reading(gauge: GaugeOnPty, tmp_path: Path) -> None:
    with Bench(tmp_path, "measure", gauge.address, *PLAN, "--json") as bench:
        bench.wait_for("Close the jaws for the zero reading")
        press(bench, gauge, 0.00)
        gauge.send(b"\xff\x00~\r\n")
        bench.wait_for("not a reading")
        press(bench, gauge, 11.52)
        bench.signal(signal.SIGINT)
        job = bench.finish().data
    assert bore_of(job) == ["11.52"]
    events = call(tmp_path, "jobs", "1", "--events").lines
    assert [e["raw_hex"] for e in events if e["kind"] == "fault"] == [b"\xff\x00~\r".hex()]


def test_a_port_in_use_is_said_to_be(gauge: GaugeOnPty, tmp_path: Path) -> None:
    with Bench(tmp_path, "listen", gauge.address) as bench:
        bench.wait_for("listening to")
        refused = call(tmp_path, "measure", gauge.address, *PLAN)
        bench.signal(signal.SIGINT)
        bench.finish()
    assert refused.code == 3
    assert "is in use by " in refused.err
    assert call(tmp_path, "jobs", "--json").data["jobs"] == []
