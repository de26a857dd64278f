"""The few keys of a running job."""

from __future__ import annotations

from enum import StrEnum


class Command(StrEnum):
    """What a key asks for."""

    UNDO = "undo"
    SKIP = "skip"
    STOP = "stop"


KEYS = {"u": Command.UNDO, "s": Command.SKIP, "q": Command.STOP}


def command_of(raw: bytes) -> Command | None:
    """Return the command that a typed line stands for, or None when it is something else."""
    return KEYS.get(raw.decode("ascii", "replace").strip().lower())
