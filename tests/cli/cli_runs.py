"""Running the command line: in this process, as a process of its own, and step by step."""

from __future__ import annotations

import io
import json
import os
import signal
import sys
import threading
import time
from collections.abc import Callable, Mapping
from contextlib import AbstractContextManager, redirect_stderr, redirect_stdout
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryFile
from typing import Any, BinaryIO
from unittest import mock

from started import start

from gaugelink.__main__ import run as run_gaugelink
from gaugelink.cli.app import Menu

PATIENCE_S = 60.0  # how long a process may take to say what a test waits for
_BUILD = Menu.get_command
_BUILT: dict[str, Any] = {}


def built_once(menu: Menu, context: Any, name: str) -> Any:
    """Give a command as it was built at first: a user's process builds one, ours would hundreds."""
    if name not in _BUILT:
        _BUILT[name] = _BUILD(menu, context, name)
    return _BUILT[name]


def commands_built_once() -> AbstractContextManager[object]:
    return mock.patch.object(Menu, "get_command", built_once)


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What a run of the command line left behind."""

    code: int
    out: str
    err: str

    @property
    def data(self) -> Any:
        return json.loads(self.out)

    @property
    def lines(self) -> list[Any]:
        return [json.loads(line) for line in self.out.splitlines()]


def call(home: Path, *arguments: str) -> Outcome:
    """Run in this process; standard input is no terminal."""
    out, err = io.StringIO(), io.StringIO()
    environment = {"GAUGELINK_HOME": str(home), "COLUMNS": "100"}
    with (
        mock.patch.dict(os.environ, environment),
        mock.patch.object(sys, "argv", ["gaugelink", *arguments]),
        commands_built_once(),
        redirect_stdout(out),
        redirect_stderr(err),
    ):
        try:
            run_gaugelink()
            code = 0
        except SystemExit as exc:
            code = exc.code if isinstance(exc.code, int) else int(exc.code is not None)
    return Outcome(code=code, out=out.getvalue(), err=err.getvalue())


def command(*arguments: str) -> list[str]:
    return [sys.executable, "-m", "gaugelink", *arguments]


def environment(home: Path, **more: str) -> dict[str, str]:
    return {**os.environ, "GAUGELINK_HOME": str(home), "PYTHONUTF8": "1", **more}


def spawn(
    home: Path,
    *arguments: str,
    stdin: bytes = b"",
    cwd: Path | None = None,
    more: Mapping[str, str] | None = None,
) -> Outcome:
    """Run as a process of its own with ``stdin`` piped in, and ``more`` in its environment."""
    reading, writing = os.pipe()
    with TemporaryFile() as out, TemporaryFile() as err:
        streams = (reading, out.fileno(), err.fileno())
        process = start(arguments, streams, environment(home, **(more or {})), cwd)
        os.close(reading)
        with open(writing, "wb") as file:
            file.write(stdin)
        code = process.wait(PATIENCE_S)
        for file in (out, err):
            file.seek(0)
        return Outcome(code=code, out=out.read().decode(), err=err.read().decode())


class Bench:
    """A running ``gaugelink``, whose talk can be waited for; a context manager.

    Its standard input is ``/dev/null``, or with ``keyboard`` a pipe that ``type`` fills.
    """

    def __init__(self, home: Path, *arguments: str, keyboard: bool = False) -> None:
        (reads, typing), (out, writes), (err, says) = os.pipe(), os.pipe(), os.pipe()
        stdin = reads if keyboard else os.open(os.devnull, os.O_RDONLY)
        self._process = start(arguments, (stdin, writes, says), environment(home))
        for each in {stdin, reads, writes, says}:
            os.close(each)
        self._keys = os.fdopen(typing, "wb")
        self._out, self._err = os.fdopen(out, "rb"), os.fdopen(err, "rb")
        self._said: list[str] = []
        self._data: list[str] = []
        self._heard = 0  # lines that were waited for already
        self._changed = threading.Condition()
        self._readers = [
            threading.Thread(target=self._read, args=each, daemon=True)
            for each in ((self._err, self._said), (self._out, self._data))
        ]
        for reader in self._readers:
            reader.start()

    def __enter__(self) -> Bench:
        return self

    def __exit__(self, *exc: object) -> None:
        if self._process.poll() is None:
            self._process.kill()
        self.finish()

    def wait_for(self, text: str) -> str:
        """Return the next line that holds ``text``, after the last one that was waited for."""
        at = self._wait_in(self._said, text, self._heard)
        self._heard = at + 1
        return self._said[at]

    def wait_for_data(self, text: str) -> None:
        """Wait until its standard output holds ``text``."""
        self._wait_in(self._data, text, 0)

    def _wait_in(self, lines: list[str], text: str, first: int) -> int:
        until_s = time.monotonic() + PATIENCE_S
        with self._changed:
            while True:
                for at in range(first, len(lines)):
                    if text in lines[at]:
                        return at
                left_s = until_s - time.monotonic()
                goes_on = left_s > 0 and any(reader.is_alive() for reader in self._readers)
                assert goes_on, f"no {text!r} in {lines}"
                self._changed.wait(min(left_s, 0.2))

    def wait_until(self, is_so: Callable[[], bool]) -> None:
        """Wait for something that it does and does not talk about."""
        until_s = time.monotonic() + PATIENCE_S
        while not is_so():
            assert time.monotonic() < until_s, f"nothing happened; it said {self._said}"
            time.sleep(0.02)

    def type(self, line: str) -> None:
        self._keys.write(line.encode() + b"\n")
        self._keys.flush()

    def signal(self, number: signal.Signals) -> None:
        self._process.send_signal(number)

    def finish(self) -> Outcome:
        """Wait for its end, or that of its input."""
        self._keys.close()
        code = self._process.wait(PATIENCE_S)
        for reader in self._readers:
            reader.join(PATIENCE_S)
        self._out.close()
        self._err.close()
        return Outcome(code=code, out="".join(self._data), err="".join(self._said))

    def _read(self, stream: BinaryIO, lines: list[str]) -> None:
        for line in stream:
            with self._changed:
                lines.append(line.decode())
                self._changed.notify_all()


def is_clear(error: str, sentence: str) -> bool:
    """Whether talk ends in one sentence of ours and one hint, and holds no traceback."""
    lines = error.rstrip("\n").splitlines()
    told = [number for number, line in enumerate(lines) if line.startswith("gaugelink: ")]
    return (
        "Traceback" not in error
        and len(told) == 1
        and sentence in lines[told[0]]
        and lines[told[0]].endswith(".")
        and len(lines) == told[0] + 2
        and lines[-1].startswith("  ")
    )
