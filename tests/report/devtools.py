"""A browser that stays open and is asked over two pipes: one start for all pages.

It speaks the DevTools protocol of Chromium: messages in JSON, each ended by a zero byte.
"""

from __future__ import annotations

import base64
import fcntl
import json
import os
import select
import subprocess
import time
from collections.abc import Sequence
from functools import partial
from typing import Any

PATIENCE_S = 120.0
_FREE = 64  # a descriptor that is surely neither of those that the browser reads and writes
_READS, _WRITES = 3, 4


class DevTools:
    """One browser, and one page in it after the other.

    Args:
        command: the browser and its options, without a page.
    """

    def __init__(self, command: Sequence[str]) -> None:
        theirs_in, self._out = _pipe()
        self._in, theirs_out = _pipe()

        def hand_over() -> None:
            os.dup2(theirs_in, _READS)
            os.dup2(theirs_out, _WRITES)

        self._process = subprocess.Popen(
            [*command, "--remote-debugging-pipe", "about:blank"],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            pass_fds=(_READS, _WRITES),
            preexec_fn=hand_over,
        )
        os.close(theirs_in)
        os.close(theirs_out)
        self._number = 0
        self._held = b""
        self._said: list[dict[str, Any]] = []

    def shown(self, address: str, *, dark: bool, script: str) -> Any:
        """Open an address in a page of its own and return what a function in it says, in JSON."""
        with _Page(self) as page:
            scheme = {"name": "prefers-color-scheme", "value": "dark" if dark else "light"}
            page.call("Emulation.setEmulatedMedia", features=[scheme])
            page.open(address)
            asked = {"expression": f"({script})()", "awaitPromise": True, "returnByValue": True}
            return page.call("Runtime.evaluate", **asked)["result"].get("value")

    def printed(self, address: str) -> bytes:
        """Print an address as the command line of the browser does."""
        with _Page(self) as page:
            page.open(address)
            how = {"printBackground": True, "preferCSSPageSize": True}
            return base64.b64decode(page.call("Page.printToPDF", **how)["data"])

    def call(self, method: str, session: str = "", **params: Any) -> dict[str, Any]:
        """Send one message and return its answer; what the browser says meanwhile is kept."""
        self._number += 1
        message: dict[str, Any] = {"id": self._number, "method": method, "params": params}
        if session:
            message["sessionId"] = session
        os.write(self._out, json.dumps(message).encode() + b"\0")
        while (answer := self._heard()).get("id") != self._number:
            self._said.append(answer)
        assert "error" not in answer, answer
        result: dict[str, Any] = answer["result"]
        return result

    def wait_for_load(self, loader: str) -> None:
        """Wait until the document that this loader loads has all its parts."""
        while not any(map(partial(_is_loaded, loader), self._said)):
            self._said.append(self._heard())
        self._said.clear()

    def heard_of(self, session: str) -> list[dict[str, Any]]:
        """Return what the browser said of one page besides its answers, since it last loaded."""
        return [said for said in self._said if said.get("sessionId") == session]

    def close(self) -> None:
        self._process.kill()
        self._process.wait(PATIENCE_S)
        os.close(self._in)
        os.close(self._out)

    def _heard(self) -> dict[str, Any]:
        until_s = time.monotonic() + PATIENCE_S
        while b"\0" not in self._held:
            left_s = max(0.0, until_s - time.monotonic())
            assert select.select([self._in], [], [], left_s)[0], "the browser does not answer"
            data = os.read(self._in, 1 << 20)
            assert data, "the browser has ended"
            self._held += data
        message, _, self._held = self._held.partition(b"\0")
        heard: dict[str, Any] = json.loads(message)
        return heard


class _Page:
    def __init__(self, browser: DevTools) -> None:
        self._browser = browser

    def __enter__(self) -> _Page:
        call = self._browser.call
        self._target = call("Target.createTarget", url="about:blank")["targetId"]
        attached = call("Target.attachToTarget", targetId=self._target, flatten=True)
        self._session = attached["sessionId"]
        self.call("Page.enable")
        self.call("Page.setLifecycleEventsEnabled", enabled=True)
        return self

    def __exit__(self, *exc: object) -> None:
        self._browser.call("Target.closeTarget", targetId=self._target)

    def call(self, method: str, **params: Any) -> dict[str, Any]:
        return self._browser.call(method, self._session, **params)

    def open(self, address: str) -> None:
        self._browser.wait_for_load(self.call("Page.navigate", url=address)["loaderId"])


def _is_loaded(loader: str, said: dict[str, Any]) -> bool:
    params = said.get("params", {})
    return said.get("method") == "Page.lifecycleEvent" and (
        (params["name"], params["loaderId"]) == ("load", loader)
    )


def _pipe() -> tuple[int, int]:
    """Return the reading and the writing end, both out of the way of low descriptors."""
    low = os.pipe()
    high = [fcntl.fcntl(end, fcntl.F_DUPFD_CLOEXEC, _FREE) for end in low]
    for end in low:
        os.close(end)
    return high[0], high[1]
