"""Who else has a port open, told from what ``/proc`` shows."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from gaugelink.devices.ports.holders import Holder, holders, named, running_daemons

pytestmark = pytest.mark.skipif(
    not sys.platform.startswith("linux"), reason="Only Linux has /proc to look at."
)


@pytest.fixture
def reader() -> Iterator[Callable[[str], subprocess.Popen[bytes]]]:
    """Start another program that has a file open, and end it after the test."""
    started: list[subprocess.Popen[bytes]] = []

    def start(name: str) -> subprocess.Popen[bytes]:
        code = "import os, sys; os.open(sys.argv[1], os.O_RDWR); print(flush=True); input()"
        process = subprocess.Popen(
            [sys.executable, "-c", code, name], stdin=subprocess.PIPE, stdout=subprocess.PIPE
        )
        started.append(process)
        assert process.stdout is not None
        process.stdout.readline()
        return process

    yield start
    for process in started:
        process.communicate(b"\n")


def test_another_program_with_the_port_open_is_named(
    tmp_path: Path, reader: Callable[[str], subprocess.Popen[bytes]]
) -> None:
    port = tmp_path / "ttyUSB0"
    port.touch()
    link = tmp_path / "by-id"
    link.symlink_to(port)
    with port.open("rb"):
        assert holders(str(port)) == ()  # we ourselves do not count
    other = reader(str(port))
    (found,) = holders(str(link))
    assert found.pid == other.pid
    assert named([found]).startswith("python")


def process(proc: Path, pid: int, name: str, *files: str) -> None:
    (proc / str(pid) / "fd").mkdir(parents=True)
    (proc / str(pid) / "comm").write_text(f"{name}\n", encoding="utf-8")
    for number, file in enumerate(files):
        (proc / str(pid) / "fd" / str(number)).symlink_to(file)


def test_whoever_made_a_pseudo_terminal_is_no_second_reader(tmp_path: Path) -> None:
    process(tmp_path, 999_001, "player", "/dev/ptmx", "/dev/pts/9999")
    process(tmp_path, 999_002, "minicom", "/dev/pts/9999")
    assert [each.name for each in holders("/dev/pts/9999", proc=str(tmp_path))] == ["minicom"]


def test_daemons_that_take_adapters_are_known_by_their_names(tmp_path: Path) -> None:
    process(tmp_path, 999_001, "ModemManager")
    process(tmp_path, 999_002, "bash")
    (daemon,) = running_daemons(proc=str(tmp_path))
    assert daemon == Holder(pid=999_001, name="ModemManager")
    assert str(daemon).startswith("ModemManager (process 999001; the modem daemon")


def test_nobody_to_be_seen_is_another_program() -> None:
    assert named(holders(os.devnull + "-none")) == "another program"
