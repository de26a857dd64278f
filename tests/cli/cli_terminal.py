"""A terminal for the command line: a pseudo-terminal of 80 x 24 that it owns as its own."""

from __future__ import annotations

import fcntl
import os
import signal
import struct
import termios
import threading
import time
from pathlib import Path

from cli_runs import PATIENCE_S, environment
from started import start

SHOW_CURSOR, HIDE_CURSOR = b"\x1b[?25h", b"\x1b[?25l"
OTHER_SCREEN, FIRST_SCREEN = b"\x1b[?1049h", b"\x1b[?1049l"


class Terminal:
    """``gaugelink`` at a terminal; a context manager that ends it."""

    def __init__(self, home: Path, *arguments: str, term: str = "xterm-256color") -> None:
        self._master, self._slave = os.openpty()
        fcntl.ioctl(self._slave, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
        self.attributes_before = termios.tcgetattr(self._slave)
        self._shown = b""
        streams = (self._slave, self._slave, self._slave)
        where = environment(home, TERM=term)
        self._process = start(arguments, streams, where, at_terminal=True)
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()

    def __enter__(self) -> Terminal:
        return self

    def __exit__(self, *exc: object) -> None:
        if self._process.poll() is None:
            self._process.kill()
            self._process.wait(PATIENCE_S)
        os.close(self._slave)
        self._reader.join(PATIENCE_S)
        os.close(self._master)

    @property
    def shown(self) -> bytes:
        """Everything that was ever written to the terminal."""
        return self._shown

    @property
    def attributes(self) -> list[object]:
        """How the terminal is set now."""
        return list(termios.tcgetattr(self._slave))

    def wait_for(self, text: bytes) -> None:
        until_s = time.monotonic() + PATIENCE_S
        while text not in self._shown:
            assert time.monotonic() < until_s, f"no {text!r} in {self._shown[-2000:]!r}"
            time.sleep(0.02)

    def type(self, keys: bytes) -> None:
        os.write(self._master, keys)

    def signal(self, number: signal.Signals) -> None:
        self._process.send_signal(number)

    def finish(self) -> int:
        """Wait for its end and return the exit code."""
        code = self._process.wait(PATIENCE_S)
        time.sleep(0.05)  # the last of what it wrote is still on its way through the kernel
        return code

    def _read(self) -> None:
        while True:
            try:
                data = os.read(self._master, 65536)
            except OSError:
                return
            if not data:
                return
            self._shown += data
