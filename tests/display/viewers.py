"""A browser with several displays in it, each a window of its own with a profile of its own.

Pictures and answers come over the DevTools protocol (``tests/report/devtools.py``). What is asked
of a page never counts as a tap of a person: ``tap`` sends a real one.
"""

from __future__ import annotations

import base64
import json
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from devtools import DevTools
from look import find_browser

TABLET, UPRIGHT, DESK = (1280, 800), (800, 1280), (1920, 1080)
PHONE, PHONE_ACROSS = (390, 844), (844, 390)
SCREENS = {
    "tablet": TABLET,
    "upright": UPRIGHT,
    "desk": DESK,
    "phone": PHONE,
    "phone_across": PHONE_ACROSS,
}
PATIENCE_S = 30.0


class Viewers:
    """One browser; ``windows`` are the displays that are open in it."""

    def __init__(self, folder: Path) -> None:
        browser = find_browser()
        assert browser is not None
        self.tools = DevTools(
            [
                *(browser, "--headless=new", "--no-sandbox", "--disable-gpu", "--hide-scrollbars"),
                *("--autoplay-policy=user-gesture-required", "--mute-audio"),
                f"--user-data-dir={folder}",
            ]
        )
        self.windows: list[Window] = []

    def open(
        self,
        url: str,
        size: tuple[int, int] = TABLET,
        *,
        before: str = "",
        beside: Window | None = None,
    ) -> Window:
        """Open an address in a window with a profile of its own, or in a tab beside another."""
        window = Window(self.tools, url, size, before=before, beside=beside)
        self.windows.append(window)
        return window

    def close(self) -> None:
        self.tools.close()


class Window:
    """One display.

    Args:
        before: a script that is run before those of the page.
        beside: the window whose profile it shares, as a tab.
    """

    def __init__(
        self,
        tools: DevTools,
        url: str,
        size: tuple[int, int],
        *,
        before: str,
        beside: Window | None,
    ) -> None:
        self._tools = tools
        self.context = (
            tools.call("Target.createBrowserContext")["browserContextId"]
            if beside is None
            else beside.context
        )
        self.target = tools.call(
            "Target.createTarget",
            url="about:blank",
            browserContextId=self.context,
            newWindow=beside is None,
        )["targetId"]
        attached = tools.call("Target.attachToTarget", targetId=self.target, flatten=True)
        self.session = attached["sessionId"]
        for domain in ("Page", "Runtime", "Network", "Log"):
            self.call(f"{domain}.enable")
        self.size(size)
        if before:
            self.call("Page.addScriptToEvaluateOnNewDocument", source=before)
        self.call("Page.navigate", url=url)

    def call(self, method: str, **params: Any) -> dict[str, Any]:
        return self._tools.call(method, self.session, **params)

    def size(self, size: tuple[int, int]) -> None:
        self.call(
            "Emulation.setDeviceMetricsOverride",
            width=size[0],
            height=size[1],
            deviceScaleFactor=1,
            mobile=False,
        )

    def like(self, *, dark: bool = False, calm: bool = False) -> None:
        """Emulate what the person has chosen on the device."""
        self.call(
            "Emulation.setEmulatedMedia",
            features=[
                {"name": "prefers-color-scheme", "value": "dark" if dark else "light"},
                {"name": "prefers-reduced-motion", "value": "reduce" if calm else "no-preference"},
            ],
        )

    def ask(self, expression: str) -> Any:
        """Return what an expression is on the page; no tap of a person."""
        answer = self.call(
            "Runtime.evaluate",
            expression=expression,
            awaitPromise=True,
            returnByValue=True,
            userGesture=False,
        )
        assert "exceptionDetails" not in answer, answer["exceptionDetails"]
        return answer["result"].get("value")

    def text(self, name: str) -> str:
        """Return the words of an element that is shown, "" where it is not."""
        said: str = self.ask(
            f"(e => e.offsetParent || e.getClientRects().length ? e.innerText.trim() : '')"
            f"(document.getElementById({name!r}))"
        )
        return said

    def wait_for(self, expression: str, *, patience_s: float = PATIENCE_S) -> Any:
        """Return what an expression is, once it is true."""
        until_s = time.monotonic() + patience_s
        asked = (
            f"(() => {{ try {{ const r = {expression}; return r instanceof Node ? true : r }}"
            " catch { return null } })()"
        )
        while not (said := self.ask(asked)):
            assert time.monotonic() < until_s, f"never: {expression}\n{self.state()}"
            time.sleep(0.03)
        return said

    def state(self) -> Any:
        return self.ask("[{...document.body.dataset}, document.body.innerText]")

    def tap(self, name: str) -> None:
        """Tap the middle of an element as a finger does."""
        x, y = self.ask(
            f"(r => [r.x + r.width / 2, r.y + r.height / 2])"
            f"(document.getElementById({name!r}).getBoundingClientRect())"
        )
        for kind in ("mousePressed", "mouseReleased"):
            self.call("Input.dispatchMouseEvent", type=kind, x=x, y=y, button="left", clickCount=1)

    def show(self) -> None:
        """Bring a tab to the front of its window."""
        self._tools.call("Target.activateTarget", targetId=self.target)

    def close(self) -> None:
        self._tools.call("Target.closeTarget", targetId=self.target)

    def drawing_processes(self) -> list[int]:
        """Return the processes of this browser that draw pages, this one among them."""
        told = self._tools.call("SystemInfo.getProcessInfo")["processInfo"]
        return [each["id"] for each in told if each["type"] == "renderer"]

    def picture(self, path: Path) -> None:
        path.write_bytes(base64.b64decode(self.call("Page.captureScreenshot")["data"]))

    def requests(self) -> list[str]:
        """Return the addresses that this window asked for so far."""
        return [
            said["params"]["request"]["url"]
            for said in self._tools.heard_of(self.session)
            if said["method"] == "Network.requestWillBeSent"
        ]

    def complaints(self) -> list[str]:
        """Return what the page or the browser complained about so far."""
        return [
            json.dumps(said["params"])
            for said in self._tools.heard_of(self.session)
            if said["method"] in ("Runtime.exceptionThrown", "Log.entryAdded")
        ]


@contextmanager
def viewing() -> Iterator[Viewers]:
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as folder:
        viewers = Viewers(Path(folder))
        try:
            yield viewers
        finally:
            viewers.close()


def eventually(holds: Callable[[], object], patience_s: float = PATIENCE_S) -> Any:
    """Return what a function says, once that is true."""
    until_s = time.monotonic() + patience_s
    while not (said := holds()):
        assert time.monotonic() < until_s, "never"
        time.sleep(0.03)
    return said
