"""Gauges on the drivers of a stock Linux kernel, and what its disks hold when the power goes.

One boot of a virtual machine, as ``kernel_lab.py`` describes. Where ``GAUGELINK_LAB`` names a
folder the images are built there and the kernel is not fetched again; ``GAUGELINK_LAB_CONTROL``
has a second machine booted, whose journals do not wait for their disks.
"""

from __future__ import annotations

import fcntl
import os
import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest
from cli_runs import call
from kernel_image import build, missing
from kernel_lab import Line, Machine, load
from power_cuts import Cut, check, disk_run, summary, take_out

pytestmark = pytest.mark.campaign

CALIPER, MICROMETER, FTDI = "usb-1d6b:0104-GL0001", "hid-1d6b:0105-GL0002", "usb-0403:6001-GLFT01"
DRAWS = 4  # how often what is torn, and some of the sectors, are drawn at each place


@dataclass(frozen=True, kw_only=True)
class Lab:
    """A run: where its disks are, and what its console said."""

    folder: Path
    lines: list[Line]

    def said(self, tag: str) -> list[str]:
        """Return what one sitting was told, in order."""
        return [line.text for line in self.lines if line.tag == tag]


@pytest.fixture(scope="module")
def ran(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], Lab]:
    """Return how to boot once in a run of the tests, whichever worker asks first."""
    if why := missing():
        pytest.skip(why)
    own = tmp_path_factory.getbasetemp()
    shared = own.parent if "PYTEST_XDIST_WORKER" in os.environ else own
    images = Path(os.environ.get("GAUGELINK_LAB", shared / "kernel-images"))
    images.mkdir(parents=True, exist_ok=True)

    def run(level: str = "") -> Lab:
        folder = shared / f"kernel-run{level}"
        with (images / "lock").open("w", encoding="ascii") as lock:
            fcntl.flock(lock, fcntl.LOCK_EX)
            if not (images / "built").exists() or (images / "built").read_text() != str(shared):
                build(images)
                (images / "built").write_text(str(shared), encoding="utf-8")
            if not (folder / "lines.json").exists():
                Machine(images, folder, level).run()
        lab = Lab(folder=folder, lines=load(folder))
        assert [line.text for line in lab.lines if line.text.startswith("FAILED")] == []
        assert "cut" in lab.said("host"), (folder / "console.log").read_text(encoding="utf-8")
        return lab

    return run


@pytest.fixture(scope="module")
def lab(ran: Callable[[str], Lab]) -> Lab:
    return ran("")


def in_order(said: list[str], *patterns: str) -> None:
    """Assert that lines that fit come one after the other."""
    rest = iter(said)
    for pattern in patterns:
        found = any(re.fullmatch(pattern, line) for line in rest)
        assert found, f"nothing fits {pattern!r} in its place among {said}"


def test_a_caliper_pulled_in_mid_line_is_taken_up_on_another_port(lab: Lab) -> None:
    said = lab.said("ext4")
    in_order(
        said,
        "EVENT swap_in_mid_line",
        r"caliper: not a reading: the line stopped before its end: b'\+   11\.9'",
        "caliper: link lost: serial:/dev/ttyACM0 was unplugged or switched off.",
        f"caliper: {CALIPER} is back.",
        r"caliper: taken +depth .*",
        "caliper: closed  last zero taken",
    )
    assert not any("12.34" in line for line in said)  # what the device sent that took its name


def test_a_micrometer_pulled_in_mid_number_is_taken_up_again(lab: Lab) -> None:
    in_order(
        lab.said("ext4"),
        "EVENT pull_in_mid_number",
        "micrometer: not a reading: the line stopped before its end: b'1'",
        f"micrometer: link lost: {MICROMETER} was unplugged or switched off.",
        f"micrometer: {MICROMETER} is back.",
        r"micrometer: taken .*",
        "micrometer: closed  last zero taken",
    )


def test_a_gauge_that_comes_back_as_two_is_not_taken_up_and_that_is_said(lab: Lab) -> None:
    said = lab.said("ext4")
    two = f"caliper: link lost: 2 ports answer to {CALIPER}. Leave only the gauge plugged in"
    in_order(
        said,
        "EVENT come_back_as_two",
        "caliper: link lost: serial:/dev/ttyACM2 was unplugged or switched off.",
        f"{re.escape(two)}.*",
        f"caliper: {CALIPER} is back.",
        r"caliper: taken +arbor .*",
    )
    assert sum(line.startswith(two) for line in said) == 1


def test_an_adapter_pulled_and_put_back_is_taken_up(lab: Lab) -> None:
    in_order(
        lab.said("vfat"),
        "EVENT pull_ftdi",
        "caliper: link lost: serial:/dev/ttyUSB0 was unplugged or switched off.",
        f"caliper: {FTDI} is back.",
        r"caliper: taken .*",
        "caliper: closed  last zero taken",
    )


def test_every_run_ends_as_it_should(lab: Lab) -> None:
    for tag, code in (("ext4", 0), ("vfat", 0), ("pulled", 7)):
        in_order(lab.said(tag), rf"EXIT {code} after \d+ taken")
    assert sum(": taken " in line for line in lab.said("ext4")) >= 20
    assert sum(": taken " in line for line in lab.said("vfat")) >= 10


def test_a_disk_that_is_pulled_out_is_said_to_be(lab: Lab) -> None:
    in_order(
        lab.said("pulled"),
        "EVENT pull_disk",
        r"gaugelink: /mnt/pulled/j cannot be written to \(disk I/O error\); everything .*",
        r" *Look whether its disk is still plugged in and sound.*",
    )


def test_the_journal_holds_the_bytes_of_both_gauges_and_none_of_the_foreign_one(
    lab: Lab, tmp_path: Path
) -> None:
    disk = disk_run(lab.folder, "ext4")
    image, files = tmp_path / "image", tmp_path / "files"
    files.mkdir()
    disk.make_image(image, Cut(position=len(disk.log), left="all"))
    take_out(image, files, "ext4", repairs=False)
    events = call(tmp_path, "jobs", "1", "--events", "--journal", str(files / "j")).lines
    readings = [event for event in events if event["kind"] == "reading"]
    assert {event["gauge"] for event in readings} == {CALIPER, MICROMETER}
    assert len(readings) >= len(disk.told)
    assert "12.34" not in str(events)


@pytest.mark.parametrize("name", ["ext4", "vfat", "vfat+fsck"])
def test_no_power_cut_loses_what_was_told(
    name: str, lab: Lab, record_property: Callable[[str, object], None]
) -> None:
    disk = disk_run(lab.folder, name)
    verdicts = check(disk, draws=DRAWS)
    record_property("table", summary(name, disk, verdicts))
    assert len(verdicts) > len(disk.told) > 0
    assert [verdict for verdict in verdicts if verdict.fault] == []


@pytest.mark.parametrize("name", ["ext4", "vfat"])
def test_a_drive_that_takes_no_notice_of_a_flush_is_found_out(name: str, lab: Lab) -> None:
    disk = disk_run(lab.folder, name, obeys=False)
    assert any("lost" in verdict.fault for verdict in check(disk, step=10))


@pytest.mark.skipif(
    "GAUGELINK_LAB_CONTROL" not in os.environ, reason="Boots once more; now and then."
)
@pytest.mark.parametrize("name", ["ext4", "vfat"])
def test_a_journal_that_does_not_wait_for_its_disk_is_found_out(
    name: str, ran: Callable[[str], Lab], record_property: Callable[[str, object], None]
) -> None:
    disk = disk_run(ran("OFF").folder, name)
    verdicts = check(disk)
    record_property("table", summary(f"{name}, synchronous OFF", disk, verdicts))
    assert any("lost" in verdict.fault for verdict in verdicts)
