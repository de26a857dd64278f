"""Which other programs have a port open, and which daemons take serial adapters for their own.

Two readers of one port share its bytes out between them, so that neither has a whole line. On
Linux ``/proc`` tells who they are, as far as the person may look: the programs of other users
stay hidden. Elsewhere nobody is found.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass

PROC = "/proc"
_PTY_MASTER = "/dev/ptmx"
_PTYS = "/dev/pts/"
# What talks to every new adapter unasked, by the start of its process name: what it is, and what
# it does. From memory.
DAEMONS = {
    "ModemManager": "the modem daemon, which tries commands on every new adapter",
    "brltty": "the braille daemon, which takes some adapters away altogether",
}
KEEP_OFF = "'gaugelink gauges --udev' prints the line that keeps it off."


@dataclass(frozen=True, slots=True, kw_only=True)
class Holder:
    """A process that has a port open."""

    pid: int
    name: str

    def __str__(self) -> str:
        known = next((what for name, what in DAEMONS.items() if self.name.startswith(name)), "")
        return f"{self.name} (process {self.pid}{f'; {known}' if known else ''})"

    @property
    def is_daemon(self) -> bool:
        """True for a daemon that a udev rule keeps off."""
        return self.name.startswith(tuple(DAEMONS))


def holders(device: str, *, proc: str = PROC) -> tuple[Holder, ...]:
    """Return the other processes that have ``device`` open; of a pseudo-terminal not its maker."""
    node = os.path.realpath(device) if sys.platform.startswith("linux") else ""
    if not node:
        return ()
    found = []
    for entry in os.listdir(proc) if os.path.isdir(proc) else ():
        if not entry.isdigit() or int(entry) == os.getpid():
            continue
        open_files = _open_files(f"{proc}/{entry}/fd")
        is_maker = node.startswith(_PTYS) and _PTY_MASTER in open_files
        if node in open_files and not is_maker:
            found.append(Holder(pid=int(entry), name=_name(f"{proc}/{entry}/comm")))
    return tuple(found)


def running_daemons(*, proc: str = PROC) -> tuple[Holder, ...]:
    """Return the daemons of ``DAEMONS`` that run now."""
    if not sys.platform.startswith("linux") or not os.path.isdir(proc):
        return ()
    pids = [entry for entry in os.listdir(proc) if entry.isdigit()]
    every = (Holder(pid=int(pid), name=_name(f"{proc}/{pid}/comm")) for pid in pids)
    return tuple(holder for holder in every if holder.is_daemon)


def named(found: Sequence[Holder]) -> str:
    """Name some processes in a sentence."""
    return " and ".join(map(str, found)) or "another program"


def _open_files(folder: str) -> set[str]:
    files: set[str] = set()
    with suppress(OSError):  # of another user, or gone meanwhile
        for descriptor in os.listdir(folder):
            with suppress(OSError):
                files.add(os.readlink(f"{folder}/{descriptor}"))
    return files


def _name(file: str) -> str:
    with suppress(OSError), open(file, encoding="utf-8", errors="replace") as comm:
        return comm.read().strip()
    return "a program"
