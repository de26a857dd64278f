"""Renders pages to pictures, to look at them: ``python tests/report/look.py FOLDER [CASE ...]``.

Each case of ``page_samples`` is taken in light and in dark, at the width of a desk and of a
telephone, and printed on A4 and Letter. It also asks a browser about a page, for tests. A
browser is needed, and ``pdftoppm`` for the printed sheets.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from devtools import DevTools
from page_samples import CASES

from gaugelink.report.page_html import Paper, page_html

DESK_PX, PHONE_PX = 1280, 360
_NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
# A page that never answers is noticed by the patience of the one who asks.
_ANSWER = """() => new Promise(told => {
    const seen = () => document.body.dataset.result
        ? told(document.body.dataset.result) : setTimeout(seen, 5); seen(); })"""
_FRAME = """<!DOCTYPE html><body style="margin:0"><script>
addEventListener("message", e => document.body.dataset.result = e.data)
</script><iframe src="page.html" width="{width}" height="3000" style="border:0"></iframe>"""
_ASK = """<script>{library}
(async () => parent.postMessage(JSON.stringify(await ({script})()), "*"))()</script>"""
_HEIGHT = "() => Math.ceil(document.body.getBoundingClientRect().height)"


def find_browser() -> str | None:
    return next(filter(None, map(shutil.which, _NAMES)), None)


class Browser:
    """A browser without a window, in a profile of its own, that is started once."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._tools = DevTools(self._command("open"))

    def ask(
        self, page: str, script: str, *, width: int, dark: bool = False, library: str = ""
    ) -> Any:
        """Return what a function says inside the page, shown so many px wide.

        A frame, because no window is as narrow as a telephone.
        """
        asked = _ASK.format(library=library, script=script)
        (self._folder / "page.html").write_text(page.replace("</body>", f"{asked}</body>"), "utf-8")
        frame = self._folder / "frame.html"
        frame.write_text(_FRAME.format(width=width), "utf-8")
        return json.loads(self._tools.shown(frame.as_uri(), dark=dark, script=_ANSWER))

    def picture(self, page: str, target: Path, *, width: int, dark: bool = False) -> None:
        height = self.ask(page, _HEIGHT, width=width, dark=dark)
        shown = self._folder / "shown.html"
        (self._folder / "page.html").write_text(page, "utf-8")
        shown.write_text(_FRAME.format(width=width).replace("3000", str(height)), "utf-8")
        scheme = f"--blink-settings=preferredColorScheme={0 if dark else 1}"
        size = f"--window-size={max(width, 500)},{height}"
        self._run(shown, scheme, size, f"--screenshot={target}")

    def printed(self, page: str, target: Path) -> None:
        """Print as ``printed_by_command`` does, without another start."""
        shown = self._folder / "printed.html"
        shown.write_text(page, "utf-8")
        target.write_bytes(self._tools.printed(shown.as_uri()))

    def printed_by_command(self, page: str, target: Path) -> None:
        shown = self._folder / "printed.html"
        shown.write_text(page, "utf-8")
        self._run(shown, "--no-pdf-header-footer", f"--print-to-pdf={target}")

    def close(self) -> None:
        self._tools.close()

    def _run(self, shown: Path, *options: str) -> None:
        command = [*self._command("started"), *options, shown.as_uri()]
        subprocess.run(command, capture_output=True, check=True, timeout=120)

    def _command(self, profile: str) -> list[str]:
        browser = find_browser()
        assert browser is not None
        return [
            *(browser, "--headless", "--no-sandbox", "--disable-gpu", "--hide-scrollbars"),
            f"--user-data-dir={self._folder / profile}",
        ]


@contextmanager
def browsing() -> Iterator[Browser]:
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as folder:
        opened = Browser(Path(folder))
        try:
            yield opened
        finally:
            opened.close()


def sheets(pdf: Path) -> int:
    """Count the sheets of a printed page."""
    return len(re.findall(rb"/Type\s*/Page\b", pdf.read_bytes()))


def media(pdf: Path) -> set[bytes]:
    """Return the sizes of the sheets of a printed page, as they stand in the file."""
    return set(re.findall(rb"/MediaBox\s*\[[^]]*\]", pdf.read_bytes()))


def _take(case: str, folder: Path, browser: Browser) -> None:
    content = CASES[case]()
    page = page_html(content)
    browser.picture(page, folder / f"{case}-light.png", width=DESK_PX)
    browser.picture(page, folder / f"{case}-dark.png", width=DESK_PX, dark=True)
    browser.picture(page, folder / f"{case}-phone.png", width=PHONE_PX)
    browser.picture(page, folder / f"{case}-phone-dark.png", width=PHONE_PX, dark=True)
    for paper in Paper:
        pdf = folder / f"{case}-{paper}.pdf"
        browser.printed(page_html(content, paper=paper), pdf)
        subprocess.run(["pdftoppm", "-r", "100", "-png", pdf, pdf.with_suffix("")], check=True)
        sys.stdout.write(f"{case} {paper}: {sheets(pdf)} sheets\n")


if __name__ == "__main__":
    where = Path(sys.argv[1])
    os.makedirs(where, exist_ok=True)
    with browsing() as opened:
        for each in sys.argv[2:] or CASES:
            _take(each, where.resolve(), opened)
