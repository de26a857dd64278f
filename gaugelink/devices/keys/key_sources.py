"""Where typed bytes come from: a terminal, a Windows console, or a pipe.

Each source has ``open``, ``read``, ``close`` and ``ended``; only the first two kinds
give single keys and need an editor.
"""

from __future__ import annotations

import atexit
import os
import queue
import signal
import sys
import threading
import time
from typing import Any, Protocol, final

CHUNK_BYTES = 4096
CONSOLE_LOOK_S = 0.01  # a Windows console cannot be waited for, only looked at


class KeySource(Protocol):
    """Gives the bytes that are typed or piped in."""

    single_keys: bool
    ended: bool

    def open(self) -> None:
        """Begin; a terminal now hands on every key at once."""

    def read(self, timeout_s: float) -> bytes:
        """Return what came within ``timeout_s``; ``b""`` when nothing did."""

    def close(self) -> None:
        """Put the terminal back as it was; safe to call twice."""


def find_source(fd: int) -> KeySource:
    """Return the source that fits the input ``fd`` on this system."""
    if not os.isatty(fd):
        return PipeSource(fd)
    return ConsoleSource() if sys.platform == "win32" else TerminalSource(fd)


@final
class TerminalSource:
    """A POSIX terminal in cbreak mode: keys come singly, Ctrl-C still interrupts."""

    single_keys = True

    def __init__(self, fd: int) -> None:
        self.ended = False
        self._fd = fd
        self._saved: list[Any] | None = None

    def open(self) -> None:
        """Switch to cbreak mode, to be undone by ``close`` or when the program ends.

        Raises:
            OSError: the terminal refuses.
        """
        if sys.platform != "win32" and self._saved is None:
            import termios
            import tty

            try:
                self._saved = termios.tcgetattr(self._fd)
                atexit.register(self.close)
                tty.setcbreak(self._fd, termios.TCSANOW)
            except termios.error as exc:  # not an OSError, though it has its arguments
                raise OSError(*exc.args) from exc

    def read(self, timeout_s: float) -> bytes:
        """Return the keys pressed within ``timeout_s``."""
        import select

        if self.ended or not select.select([self._fd], [], [], timeout_s)[0]:
            return b""
        try:
            keys = os.read(self._fd, CHUNK_BYTES)
        except OSError:  # the terminal window was closed
            keys = b""
        self.ended = not keys
        return keys

    def close(self) -> None:
        """Restore the mode the terminal had."""
        if sys.platform != "win32" and self._saved is not None:
            import termios

            saved, self._saved = self._saved, None
            atexit.unregister(self.close)
            if not self.ended:
                termios.tcsetattr(self._fd, termios.TCSADRAIN, saved)


@final
class ConsoleSource:
    """A Windows console: keys are looked for, since it cannot be waited on."""

    single_keys = True

    def __init__(self) -> None:
        self.ended = False

    def open(self) -> None:
        """Nothing to switch: the console functions read single keys anyway."""

    def read(self, timeout_s: float) -> bytes:
        """Return the keys pressed within ``timeout_s``."""
        until_s = time.monotonic() + timeout_s
        while not (keys := _console_keys()) and time.monotonic() < until_s:
            time.sleep(CONSOLE_LOOK_S)
        return keys

    def close(self) -> None:
        """Nothing to put back."""


def _console_keys() -> bytes:
    """Return the keys that wait in the Windows console, function keys left out."""
    import msvcrt

    keys = ""
    while msvcrt.kbhit():  # type: ignore[attr-defined,unused-ignore]
        key = msvcrt.getwch()  # type: ignore[attr-defined,unused-ignore]
        if key in ("\x00", "\xe0"):
            msvcrt.getwch()  # type: ignore[attr-defined,unused-ignore]
        elif key == "\x03":
            signal.raise_signal(signal.SIGINT)  # it may only be noted: the keys before it count
        else:
            keys += key
    return keys.encode()


@final
class PipeSource:
    """A pipe or file, read by a thread of its own, since Windows cannot wait on a pipe.

    The thread reads the descriptor and not ``sys.stdin``: a thread that is killed at
    exit while it holds the lock of ``sys.stdin`` would stop the interpreter.
    """

    single_keys = False

    def __init__(self, fd: int) -> None:
        self.ended = False
        self._fd = fd
        self._chunks: queue.SimpleQueue[bytes] = queue.SimpleQueue()
        self._thread: threading.Thread | None = None

    def open(self) -> None:
        """Start reading."""
        if self._thread is None:
            self._thread = threading.Thread(target=self._pump, name="stdin", daemon=True)
            self._thread.start()

    def read(self, timeout_s: float) -> bytes:
        """Return what was piped in within ``timeout_s``."""
        if self.ended:
            return b""
        try:
            chunk = self._chunks.get(timeout=timeout_s)
        except queue.Empty:
            return b""
        self.ended = not chunk
        return chunk

    def close(self) -> None:
        """Nothing to put back; the thread ends with its input."""

    def _pump(self) -> None:
        chunk = b"more"
        while chunk:
            try:
                chunk = os.read(self._fd, CHUNK_BYTES)
            except OSError:
                chunk = b""
            self._chunks.put(chunk)
