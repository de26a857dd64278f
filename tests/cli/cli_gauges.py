"""Gauges for the command line: on a pseudo-terminal, and recorded. All sizes are invented."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from gaugelink.capture.plan import make_plan
from gaugelink.devices.recordings.recording import EntryKind, RecordedEntry, RecordingWriter

FORMAT = "line-9600-8N1-unit"


class GaugeOnPty:
    """A gauge with a data button at the far end of a kernel pseudo-terminal."""

    def __init__(self, link: Path) -> None:
        self.link = link
        self.master, self._slave = os.openpty()
        link.symlink_to(os.ttyname(self._slave))

    @property
    def address(self) -> str:
        return f"serial:{self.link}?format={FORMAT}&kind=caliper&sends=button"

    def press(self, value_mm: float) -> None:
        os.write(self.master, line_of(value_mm))

    def send(self, data: bytes) -> None:
        os.write(self.master, data)

    def unplug(self) -> None:
        self.link.unlink()  # first: the next pseudo-terminal may well get the same number
        os.close(self.master)
        os.close(self._slave)


@contextmanager
def gauge_on_pty(folder: Path) -> Iterator[GaugeOnPty]:
    gauge = GaugeOnPty(folder / "ttyGAUGE")
    yield gauge
    if gauge.link.exists():
        gauge.unplug()


def line_of(value_mm: float, places: int = 2) -> bytes:
    """What a gauge of ``FORMAT`` sends: sign, 8 characters, unit."""
    sign = "-" if value_mm < 0 else "+"
    return f"{sign}{abs(value_mm):>8.{places}f}, MM\r\n".encode()


def presses(path: Path, *values_mm: float, places: int = 2, every_s: float = 1.0) -> str:
    """Write a recording of a data button pressed at each value; return its address.

    A line that is no reading follows after 5 s, so that a closing zero has its time.
    """
    writer = RecordingWriter(path, format=FORMAT, note="invented")
    for number, value_mm in enumerate(values_mm, start=1):
        data = line_of(value_mm, places)
        writer.write(RecordedEntry(t_s=number * every_s, kind=EntryKind.RECEIVED, data=data))
    end_s = len(values_mm) * every_s + 5.0
    writer.write(RecordedEntry(t_s=end_s, kind=EntryKind.RECEIVED, data=b"SUCCESS\r\n"))
    return f"replay:{path}?sends=button"


def without(*kept: str) -> list[str]:
    """Options that leave only ``kept`` in the plan."""
    names = [step.measurand for step in make_plan().steps if step.measurand not in kept]
    return [word for name in names for word in ("--without", name)]


def means(job: dict[str, Any]) -> dict[str, float]:
    """The mean of each measurand of a job in JSON."""
    return {m["measurand"]: m["mean_mm"] for gauge in job["gauges"] for m in gauge["measurands"]}
