"""Typed readings: a pipe, a real terminal in single-key mode, a Windows console played."""

from __future__ import annotations

import ctypes
import os
import signal
import subprocess
import sys
import types
from collections.abc import Iterator
from contextlib import suppress

import pytest

from gaugelink.devices import typed_keys
from gaugelink.devices.gauge import Gauge
from gaugelink.devices.registry import open_gauge
from gaugelink.devices.typed_keys import (
    ConsoleSource,
    KeysTransport,
    PipeSource,
    TerminalSource,
    find_source,
)
from gaugelink.errors import GaugeUnavailable
from gaugelink.model import Fault, GaugeEvent, Reading, Sends

posix_only = pytest.mark.skipif(
    sys.platform == "win32", reason="Windows has no pseudo-terminals to type into."
)


@pytest.fixture
def pipe() -> Iterator[tuple[int, int]]:
    reading, writing = os.pipe()
    yield reading, writing
    os.close(reading)


@pytest.fixture
def terminal() -> Iterator[tuple[int, int]]:
    """A pseudo-terminal: what is written to the first is typed at the second."""
    keyboard, screen = os.openpty()
    yield keyboard, screen
    for fd in (keyboard, screen):
        with suppress(OSError):
            os.close(fd)


def read_all(keys: KeysTransport, wanted: int, reads: int = 100) -> bytes:
    received = b""
    for _ in range(reads):
        received += keys.read(4096, 0.05)
        if len(received) >= wanted or keys.ended:
            break
    return received


def poll_all(gauge: Gauge) -> list[GaugeEvent]:
    events: list[GaugeEvent] = []
    while not gauge.ended:
        events += gauge.poll(0.05)
    return events


def test_piped_lines_come_whole_and_the_end_is_the_end(pipe: tuple[int, int]) -> None:
    keys = KeysTransport(PipeSource(pipe[0]))
    keys.open()
    os.write(pipe[1], b"11.52 mm\n11.")
    assert read_all(keys, 9) == b"11.52 mm\n"
    assert keys.read(64, 0.01) == b""
    assert not keys.ended
    os.write(pipe[1], b"53 mm")
    os.close(pipe[1])
    assert read_all(keys, 9) == b"11.53 mm\n"
    assert keys.ended
    assert keys.read(64, 0.01) == b""
    keys.close()


def test_a_closed_input_is_silent_and_lets_no_loop_race(
    pipe: tuple[int, int], monkeypatch: pytest.MonkeyPatch
) -> None:
    os.close(pipe[1])
    keys = KeysTransport(PipeSource(pipe[0]))
    keys.open()
    read_all(keys, 1)
    slept: list[float] = []
    monkeypatch.setattr("time.sleep", slept.append)
    assert keys.read(64, 0.25) == b""
    assert slept == [0.25]


def test_a_pipe_is_a_gauge(pipe: tuple[int, int], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(typed_keys, "STDIN_FD", pipe[0])
    os.write(pipe[1], b"11.52 mm\nu\n0,4535\n")
    os.close(pipe[1])
    with open_gauge("keys:?unit=mm") as gauge:
        bodies = [event.body for event in poll_all(gauge)]
    assert [type(body) for body in bodies] == [Reading, Fault, Reading]
    assert [body.value_mm for body in bodies if isinstance(body, Reading)] == [11.52, 0.4535]
    assert isinstance(bodies[1], Fault)
    assert bodies[1].raw == b"u\n"
    assert (gauge.gauge_id, gauge.info.format) == ("keys:", "text-input")
    assert gauge.info.sends is Sends.BUTTON


def test_standard_input_of_a_program_is_read_to_its_end_and_the_program_ends() -> None:
    code = (
        "from gaugelink.devices.registry import open_gauge\n"
        "with open_gauge('keys:?unit=mm') as gauge:\n"
        "    while not gauge.ended:\n"
        "        for event in gauge.poll(0.05): print(event.body.value_mm)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], input=b"1.5\n2.5", capture_output=True, timeout=60, check=True
    )
    assert done.stdout.split() == [b"1.5", b"2.5"]
    assert done.stderr == b""


def test_a_program_may_end_while_its_input_is_still_open() -> None:
    code = (
        "from gaugelink.devices.registry import open_gauge\n"
        "with open_gauge('keys:') as gauge: gauge.poll(0.01)\n"
    )
    reading, writing = os.pipe()
    done = subprocess.run(
        [sys.executable, "-c", code], stdin=reading, capture_output=True, timeout=60, check=True
    )
    os.close(reading)
    os.close(writing)
    assert done.stderr == b""


@posix_only
def test_keys_in_a_terminal_come_singly_and_are_echoed(terminal: tuple[int, int]) -> None:
    keyboard, screen = terminal
    echoed: list[bytes] = []
    keys = KeysTransport(find_source(screen), echo=echoed.append)
    keys.open()
    os.write(keyboard, b"u")
    assert read_all(keys, 2) == b"u\n"
    os.write(keyboard, b"11.53\x7f2\r")
    assert read_all(keys, 6) == b"11.52\n"
    assert b"".join(echoed) == b"11.53\x08 \x082\r\n"
    keys.close()


@posix_only
def test_the_terminal_is_put_back_as_it_was(terminal: tuple[int, int]) -> None:
    import termios

    before = termios.tcgetattr(terminal[1])
    keys = KeysTransport(find_source(terminal[1]))
    keys.open()
    keys.open()
    during = termios.tcgetattr(terminal[1])
    keys.close()
    keys.close()
    assert during[3] & (termios.ICANON | termios.ECHO) == 0
    assert during[3] & termios.ISIG
    assert termios.tcgetattr(terminal[1]) == before


@posix_only
@pytest.mark.parametrize("ending", ["pass", "raise SystemExit(0)", "1/0"])
def test_the_terminal_is_put_back_however_the_program_ends(
    terminal: tuple[int, int], ending: str
) -> None:
    import termios

    before = termios.tcgetattr(terminal[1])
    code = (
        "import sys, termios\n"
        "from gaugelink.devices.registry import open_gauge\n"
        "open_gauge('keys:').open()\n"
        "sys.stdout.write('cbreak' if not termios.tcgetattr(0)[3] & termios.ICANON else 'lines')\n"
        f"{ending}\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        stdin=terminal[1],
        capture_output=True,
        timeout=60,
        check=False,
    )
    assert done.stdout == b"cbreak"
    assert termios.tcgetattr(terminal[1]) == before


@posix_only
def test_closing_the_terminal_window_is_the_end(terminal: tuple[int, int]) -> None:
    keys = KeysTransport(find_source(terminal[1]), echo=lambda _: None)
    keys.open()
    os.write(terminal[0], b"11.5")
    assert keys.read(64, 0.05) == b""
    os.close(terminal[0])
    assert read_all(keys, 1) == b""
    assert keys.ended
    keys.close()


@posix_only
def test_a_terminal_that_cannot_be_switched_is_unavailable(pipe: tuple[int, int]) -> None:
    keys = KeysTransport(TerminalSource(pipe[0]))
    with pytest.raises(GaugeUnavailable, match="single keys") as caught:
        keys.open()
    assert caught.value.hint
    os.close(pipe[1])


@posix_only
def test_the_end_of_input_key_ends_the_gauge(terminal: tuple[int, int]) -> None:
    keys = KeysTransport(find_source(terminal[1]), echo=lambda _: None)
    keys.open()
    os.write(terminal[0], b"1\x04")
    assert read_all(keys, 2) == b"1\n"
    assert keys.ended
    keys.close()


def play_console(monkeypatch: pytest.MonkeyPatch, keys: str) -> list[str]:
    """Stand in for the Windows module that reads single keys."""
    waiting = list(keys)
    module = types.ModuleType("msvcrt")
    module.kbhit = lambda: bool(waiting)  # type: ignore[attr-defined]
    module.getwch = lambda: waiting.pop(0)  # type: ignore[attr-defined]
    monkeypatch.setitem(sys.modules, "msvcrt", module)
    return waiting


def test_keys_on_a_windows_console(monkeypatch: pytest.MonkeyPatch) -> None:
    waiting = play_console(monkeypatch, "u11.52\r")
    keys = KeysTransport(ConsoleSource(), echo=lambda _: None)
    keys.open()
    assert keys.read(64, 0.01) == b"u\n11.52\n"
    assert waiting == []
    assert keys.read(64, 0.01) == b""
    keys.close()


def test_function_keys_of_a_windows_console_are_left_out(monkeypatch: pytest.MonkeyPatch) -> None:
    play_console(monkeypatch, "1\xe0H\x00;5\r")
    keys = KeysTransport(ConsoleSource(), echo=lambda _: None)
    keys.open()
    assert keys.read(64, 0.01) == b"15\n"


def test_interrupting_on_a_windows_console_interrupts(monkeypatch: pytest.MonkeyPatch) -> None:
    play_console(monkeypatch, "1\x03")
    keys = KeysTransport(ConsoleSource(), echo=lambda _: None)
    keys.open()
    with pytest.raises(KeyboardInterrupt):
        keys.read(64, 0.01)


def test_keys_before_an_interrupt_on_a_windows_console_count_where_it_is_only_noted(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    play_console(monkeypatch, "11.52\r\x03")
    keys = KeysTransport(ConsoleSource(), echo=lambda _: None)
    keys.open()
    noted: list[int] = []
    before = signal.signal(signal.SIGINT, lambda number, frame: noted.append(number))
    try:
        assert keys.read(64, 0.01) == b"11.52\n"
    finally:
        signal.signal(signal.SIGINT, before)
    assert noted == [signal.SIGINT]


@pytest.mark.parametrize(("has_a_mode", "wanted"), [(1, True), (0, False)])
def test_nul_of_windows_calls_itself_a_terminal_and_is_none(
    has_a_mode: int, wanted: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    kernel = types.SimpleNamespace(GetConsoleMode=lambda handle, mode: has_a_mode)
    monkeypatch.setattr(os, "isatty", lambda fd: True)
    monkeypatch.setattr(ctypes, "windll", types.SimpleNamespace(kernel32=kernel), raising=False)
    monkeypatch.setitem(sys.modules, "msvcrt", types.SimpleNamespace(get_osfhandle=lambda fd: 7))
    monkeypatch.setattr(sys, "platform", "win32")
    assert typed_keys.is_terminal(0) is wanted


def test_a_shell_that_hands_keys_on_as_a_pipe_is_known() -> None:
    assert typed_keys.is_pipe_shell("win32", {"MSYSTEM": "MINGW64"})
    assert not typed_keys.is_pipe_shell("win32", {})
    assert not typed_keys.is_pipe_shell("linux", {"MSYSTEM": "MINGW64"})
