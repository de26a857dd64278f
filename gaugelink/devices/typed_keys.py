"""Readings that are typed into the terminal, by a keyboard-type gauge or a person.

Keyboard-type gauges cannot be opened as devices on every system, but wherever they
are plugged in they type. A number collects until Enter or Tab, because such a gauge types
as a person does. A letter of ``COMMANDS`` on an empty line is handed on at once, so that a
person with full hands need press one key only. Any other letter begins a line, so that what
some gauges type before a number spoils it and asks for nothing.

Standard input may also be a pipe; then lines count as they come, and its end is the end of
the gauge.
"""

from __future__ import annotations

import atexit
import os
import queue
import signal
import sys
import threading
import time
from collections.abc import Callable, Mapping
from contextlib import suppress
from typing import TYPE_CHECKING, Any, Protocol, final

from gaugelink.devices.contract import Port, SystemClock
from gaugelink.errors import GaugeDisconnected, GaugeUnavailable, Unavailable

if TYPE_CHECKING:
    from gaugelink.devices.address import Address
    from gaugelink.devices.profiles.profile import Profile

STDIN_FD = 0
CHUNK_BYTES = 4096
CONSOLE_LOOK_S = 0.01  # a Windows console cannot be waited for, only looked at
BACKSPACE = b"\x08\x7f"
END_OF_LINE = b"\r\n\t"
COMMANDS = b"usq"  # take back, skip, stop
END_OF_INPUT = 0x04  # Ctrl-D
KILL_LINE = 0x15  # Ctrl-U
ESCAPE = 0x1B
RUB_OUT = b"\x08 \x08"
MAX_LINE_BYTES = 200  # no number is longer; a key held down must not fill the memory


def build_port(address: Address, profile: Profile) -> Port:
    """Join a transport over standard input with the machine's clock."""
    transport = KeysTransport(find_source(STDIN_FD), address=address.text)
    return Port(transport=transport, clock=SystemClock())


def echo_to_stderr(data: bytes) -> None:
    """Show typed keys; standard output stays free for data."""
    sys.stderr.write(data.decode("utf-8", "replace"))
    sys.stderr.flush()


@final
class KeysTransport:
    """Whole lines from standard input, each ending in a line feed.

    Args:
        source: the terminal, console or pipe.
        address: the address as the user typed it.
        echo: shows what a terminal in single-key mode does not show by itself.
    """

    def __init__(
        self,
        source: KeySource,
        *,
        address: str = "keys:",
        echo: Callable[[bytes], None] = echo_to_stderr,
    ) -> None:
        self._source = source
        self.address = address
        self.identity = "keys:"  # there is one standard input
        self._echo = echo
        self._editor = KeyEditor() if source.single_keys else PipedLines()
        self._lines = b""
        self._open = False

    @property
    def ended(self) -> bool:
        """True when the input is closed and every line was read."""
        return (self._source.ended or self._editor.ended) and not self._lines

    def open(self) -> None:
        """Begin to read.

        Raises:
            GaugeUnavailable: the terminal cannot be switched to single keys.
        """
        try:
            self._source.open()
        except OSError as exc:
            raise GaugeUnavailable(
                f"The terminal cannot pass on single keys: {exc}.",
                reason=Unavailable.PLATFORM,
                address=self.address,
                hint="Pipe the readings in, one a line.",
            ) from exc
        self._open = True

    def read(self, max_bytes: int, timeout_s: float) -> bytes:
        """Return the lines that were completed within ``timeout_s``."""
        if not self._open:
            raise GaugeDisconnected("keys: is not open.", address=self.address)
        if self.ended:
            time.sleep(timeout_s)  # a closed input is silent; the caller's loop must not race
        elif not self._lines:
            self._lines = self._take(timeout_s)
        data, self._lines = self._lines[:max_bytes], self._lines[max_bytes:]
        return data

    def write(self, data: bytes) -> None:
        """Accept ``data`` and do nothing: a keyboard cannot be asked."""
        if not self._open:
            raise GaugeDisconnected("keys: is not open.", address=self.address)

    def close(self) -> None:
        """Put the terminal back as it was; safe to call twice."""
        self._open = False
        self._source.close()

    def _take(self, timeout_s: float) -> bytes:
        lines = self._editor.feed(self._source.read(timeout_s))
        if self._editor.echo:
            self._echo(self._editor.echo)
        return lines + self._editor.finish() if self._source.ended else lines


class KeyEditor:
    """Collects keys into lines; pure, so that every terminal can share it.

    After each ``feed``, ``echo`` holds what the terminal should show for it.
    ``ended`` is true once Ctrl-D was pressed.
    """

    def __init__(self) -> None:
        self.echo = b""
        self.ended = False
        self._line = bytearray()
        self._escaped = b""

    def feed(self, keys: bytes) -> bytes:
        """Take keys; return the lines they complete, each ending in a line feed."""
        self.echo = b""
        return b"".join(self._key(key) for key in keys)

    def finish(self) -> bytes:
        """The terminal was closed: a number that is half typed is not a reading."""
        return b""

    def _key(self, key: int) -> bytes:
        if key == ESCAPE:
            self._escaped = b"\x1b"
        elif self._escaped and self._in_sequence(key):
            pass
        elif key in END_OF_LINE:
            return self._finish()
        elif key in BACKSPACE:
            self._rub_out(1)
        elif key == KILL_LINE:
            self._rub_out(len(self._line))
        elif key == END_OF_INPUT:
            self.ended = True
            return self._finish()
        elif key >= 0x20 and len(self._line) < MAX_LINE_BYTES:
            return self._collect(key)
        return b""

    def _collect(self, key: int) -> bytes:
        if not self._line and key in COMMANDS:
            return bytes([key, 0x0A])
        self._line.append(key)
        self.echo += bytes([key])
        return b""

    def _finish(self) -> bytes:
        line = bytes(self._line)
        self._line.clear()
        if not line:
            return b""
        self.echo += b"\r\n"
        return line + b"\n"

    def _rub_out(self, count: int) -> None:
        count = min(count, len(self._line))
        del self._line[len(self._line) - count :]
        self.echo += RUB_OUT * count

    def _in_sequence(self, key: int) -> bool:
        """Tell whether ``key`` belongs to what an arrow or function key sends.

        Its last letter is not a command. After Escape alone the next key counts: a digit
        must never be lost.
        """
        if self._escaped == b"\x1b" and key not in b"[O":
            self._escaped = b""
            return False
        ends = len(self._escaped) > 1 and 0x40 <= key <= 0x7E
        self._escaped = b"" if ends else self._escaped + bytes([key])
        return True


class PipedLines:
    """Holds piped bytes back until their line is whole, however long that takes.

    A pause in the middle of a line is not an end: after it, the tail of ``11.52`` would
    pass for a number of its own.
    """

    echo = b""
    ended = False

    def __init__(self) -> None:
        self._partial = b""

    def feed(self, data: bytes) -> bytes:
        """Take bytes; return the lines they complete."""
        self._partial += data
        end = max(self._partial.rfind(b"\n"), self._partial.rfind(b"\r")) + 1
        if not end and len(self._partial) > MAX_LINE_BYTES:
            end = len(self._partial)  # no number: the decoder says so
        lines, self._partial = self._partial[:end], self._partial[end:]
        return lines

    def finish(self) -> bytes:
        """The input is closed: that ends the last line too."""
        lines, self._partial = self._partial, b""
        return lines + b"\n" if lines else b""


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


def is_terminal(fd: int) -> bool:
    """Tell whether a person is at ``fd``.

    Windows calls every character device a terminal, NUL too; only a console has a mode
    (GetConsoleMode, consoleapi.h).
    """
    if not os.isatty(fd):
        return False
    if sys.platform == "win32":
        import ctypes
        import msvcrt
        from ctypes import wintypes

        handle = wintypes.HANDLE(msvcrt.get_osfhandle(fd))
        mode = wintypes.DWORD()
        return bool(ctypes.windll.kernel32.GetConsoleMode(handle, ctypes.byref(mode)))
    return True


def is_pipe_shell(platform: str, environ: Mapping[str, str]) -> bool:
    """Tell whether the keyboard may come as a pipe: shells of MSYS on Windows do that."""
    return platform == "win32" and "MSYSTEM" in environ


def find_source(fd: int) -> KeySource:
    """Return the source that fits the input ``fd`` on this system."""
    if not is_terminal(fd):
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
                with suppress(termios.error):  # a terminal that has gone needs nothing back
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
