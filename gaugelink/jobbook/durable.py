"""Files that are either there whole, or not there: written beside their place, then moved in."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path


@contextmanager
def replacing(target: Path) -> Iterator[Path]:
    """Give a new path beside ``target``; what lies there at the end of the block takes its place.

    When this returns, the file is on the disk under its name. When the block raises,
    whatever stood at ``target`` is left as it was.
    """
    part = target.with_name(f"{target.name}.{os.getpid()}.part")
    part.unlink(missing_ok=True)
    try:
        yield part
        to_disk(part)
        os.replace(part, target)
    except BaseException:
        for left in (part, *target.parent.glob(f"{part.name}-*")):  # SQLite's own, beside it
            with suppress(OSError):
                left.unlink()
        raise
    folder_to_disk(target.parent)


def to_disk(path: Path) -> None:
    """Wait until a file's content is on the disk."""
    # Opened for writing, because Windows flushes nothing else.
    with open(path, "r+b") as file:
        os.fsync(file.fileno())


def folder_to_disk(folder: Path) -> None:
    """Wait until the names in a folder are on the disk, where the system can."""
    if os.name != "posix":
        return
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
