"""Processes of ``gaugelink`` that start at once: forks of one that has loaded everything.

A new interpreter needs a second of a core before it does anything, hundreds of times in a run
of the tests. A fork is a process as real to signals, terminals, pipes and the disk; it differs
in what it has loaded, so that tests of loading, and of what an interpreter takes from its
surroundings, start a new one. Run as a script, this is the process that is forked.
"""

from __future__ import annotations

import array
import atexit
import functools
import gc
import importlib
import io
import json
import os
import pkgutil
import select
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

_CAN_FORK = sys.platform == "linux"  # elsewhere libraries that were loaded do not outlive a fork
_LOADED = (
    *("numpy", "pint", "rich.console", "rich.live", "rich.panel", "rich.text", "openpyxl"),
    *("jinja2", "platformdirs", "typer.rich_utils", "serial", "serial.tools.list_ports", "sqlite3"),
)
_LONGEST = 1 << 20

Streams = tuple[int, int, int]


def start(
    arguments: Sequence[str],
    streams: Streams,
    environment: Mapping[str, str],
    cwd: Path | None = None,
    *,
    at_terminal: bool = False,
) -> Forked | subprocess.Popen[bytes]:
    """Start ``gaugelink``.

    Args:
        arguments: its command line.
        streams: its standard input, output and errors, as descriptors that it gets copies of.
        environment: all of it.
        cwd: where it runs.
        at_terminal: make its standard input the terminal whose Ctrl-C reaches it.
    """
    if _CAN_FORK:
        request = {
            "argv": ["gaugelink", *arguments],
            "environ": dict(environment),
            "cwd": str(cwd or Path.cwd()),
            "at_terminal": at_terminal,
        }
        return Forked(request, streams)
    return subprocess.Popen(
        [sys.executable, "-m", "gaugelink", *arguments],
        **dict(zip(("stdin", "stdout", "stderr"), streams, strict=True)),
        env=environment,
        cwd=cwd,
        start_new_session=at_terminal,
        preexec_fn=_own_terminal if at_terminal else None,
    )


def _own_terminal() -> None:
    """Make standard input the terminal whose Ctrl-C reaches this process."""
    import fcntl
    import termios

    fcntl.ioctl(0, termios.TIOCSCTTY, 0)


class Forked:
    """A running ``gaugelink``, used like ``subprocess.Popen``."""

    def __init__(self, request: Mapping[str, Any], streams: Streams) -> None:
        self._told, telling = os.pipe()
        _send(_loaded_process(), request, (*streams, telling))
        os.close(telling)
        self.returncode: int | None = None
        self.pid = self._number(60.0)

    def poll(self) -> int | None:
        if self.returncode is None and select.select([self._told], [], [], 0.0)[0]:
            self._end(self._number(60.0))
        return self.returncode

    def wait(self, timeout_s: float) -> int:
        if self.returncode is None:
            self._end(self._number(timeout_s))
        assert self.returncode is not None
        return self.returncode

    def send_signal(self, number: int) -> None:
        if self.poll() is None:
            os.kill(self.pid, number)

    def kill(self) -> None:
        self.send_signal(signal.SIGKILL)

    def _end(self, code: int) -> None:
        self.returncode = code
        os.close(self._told)

    def _number(self, timeout_s: float) -> int:
        """Read one number that is told: first its process, then its exit code."""
        line, until_s = b"", time.monotonic() + timeout_s
        while not line.endswith(b"\n"):
            left_s = max(0.0, until_s - time.monotonic())
            if not select.select([self._told], [], [], left_s)[0]:
                raise subprocess.TimeoutExpired("gaugelink", timeout_s)
            byte = os.read(self._told, 1)
            assert byte, "the process that is forked has ended"
            line += byte
        return int(line)


@functools.cache
def _loaded_process() -> socket.socket:
    """Start the process that is forked, once; it ends with the tests."""
    ours, theirs = socket.socketpair()
    process = subprocess.Popen(
        [sys.executable, __file__, str(theirs.fileno())],
        stdin=subprocess.DEVNULL,
        pass_fds=(theirs.fileno(),),
        start_new_session=True,
        env={**os.environ, "PYTHONUTF8": "1", "OPENBLAS_NUM_THREADS": "1"},
    )
    theirs.close()

    def end() -> None:
        ours.close()
        process.wait(60)

    atexit.register(end)
    return ours


def _send(to: socket.socket, request: Mapping[str, Any], descriptors: Sequence[int]) -> None:
    data = json.dumps(request).encode() + b"\n"
    assert len(data) <= _LONGEST
    passed = [(socket.SOL_SOCKET, socket.SCM_RIGHTS, array.array("i", descriptors))]
    sent = to.sendmsg([data], passed)
    to.sendall(data[sent:])


def _received(at: socket.socket) -> tuple[dict[str, Any], list[int]] | None:
    """Return a request and the descriptors that came with it; None when nobody asks any more."""
    data, descriptors, _, _ = socket.recv_fds(at, _LONGEST, 4)
    while data and not data.endswith(b"\n"):
        data += at.recv(_LONGEST)
    return (json.loads(data), list(descriptors)) if data else None


def _load() -> None:
    import gaugelink

    for module in pkgutil.walk_packages(gaugelink.__path__, "gaugelink."):
        if not module.name.endswith("__main__"):
            importlib.import_module(module.name)
    for name in _LOADED:
        importlib.import_module(name)
    gc.collect()
    gc.freeze()  # so that a fork need not copy what it only looks at


def _serve(at: socket.socket) -> None:
    """Fork for each request, and return in the process that is to run it."""
    while (received := _received(at)) is not None:
        request, descriptors = received
        if os.fork() == 0:
            at.close()
            _watch_over(request, descriptors)
            return
        for each in descriptors:
            os.close(each)
    sys.exit()


def _watch_over(request: Mapping[str, Any], descriptors: Sequence[int]) -> None:
    """Fork once more, tell how that ends, and return in the fork."""
    signal.signal(signal.SIGCHLD, signal.SIG_DFL)
    telling = descriptors[3]
    pid = os.fork()
    if pid == 0:
        os.close(telling)
        _become(request, descriptors[:3])
        return
    for each in (0, 1, 2, *descriptors[:3]):
        os.close(each)  # whoever reads its output sees the end of it
    os.write(telling, b"%d\n" % pid)
    _, status = os.waitpid(pid, 0)
    try:
        os.write(telling, b"%d\n" % os.waitstatus_to_exitcode(status))
    except BrokenPipeError:  # nobody waits for it
        pass
    finally:
        os._exit(0)


def _become(request: Mapping[str, Any], streams: Sequence[int]) -> None:
    """Take on the streams, the terminal, the environment and the arguments of a request."""
    signal.signal(signal.SIGINT, signal.default_int_handler)
    for number, each in enumerate(streams):
        os.dup2(each, number)
        os.close(each)
    os.setsid()
    if request["at_terminal"]:
        _own_terminal()
    os.chdir(request["cwd"])
    os.environ.clear()
    os.environ.update(request["environ"])
    sys.argv = request["argv"]
    sys.stdin = _text(0, "r", "surrogateescape")
    sys.stdout = _text(1, "w", "surrogateescape", by_line=os.isatty(1))
    sys.stderr = _text(2, "w", "backslashreplace", by_line=True)


def _text(descriptor: int, mode: str, errors: str, *, by_line: bool = False) -> io.TextIOWrapper:
    """Open a standard stream as an interpreter in UTF-8 mode does."""
    raw = open(descriptor, f"{mode}b", closefd=False)  # noqa: SIM115
    return io.TextIOWrapper(raw, encoding="utf-8", errors=errors, line_buffering=by_line)


if __name__ == "__main__":
    _load()
    signal.signal(signal.SIGCHLD, signal.SIG_IGN)
    _serve(socket.socket(fileno=int(sys.argv[1])))
    from gaugelink.__main__ import run

    run()
