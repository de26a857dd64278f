"""A kernel pseudo-terminal that plays the gauge's end of a serial cable."""

from __future__ import annotations

import os
from pathlib import Path


class PtyPort:
    """The gauge writes to ``master``; ``link`` is the port's name, as udev would give it."""

    def __init__(self, link: Path) -> None:
        self.link = link
        self.master, slave = os.openpty()
        self.link.symlink_to(os.ttyname(slave))
        self._slave: int | None = slave

    def send(self, data: bytes) -> None:
        os.write(self.master, data)

    def take(self) -> bytes:
        """Return what the computer sent to the gauge."""
        return os.read(self.master, 4096)

    def release(self) -> None:
        """Give up our own hold on the port's end, so that a hang-up can be seen."""
        if self._slave is not None:
            os.close(self._slave)
            self._slave = None

    def unplug(self) -> None:
        self.link.unlink()  # first: the next pseudo-terminal may well get the same number
        self.release()
        os.close(self.master)
