"""Printing a page to a PDF with the browser that is installed; none is brought along."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from pathlib import Path

from gaugelink.cli.own_files import writing
from gaugelink.errors import GaugelinkError

_TIMEOUT_S = 120.0
_NAMES = (
    *("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome"),
    *("msedge", "microsoft-edge", "microsoft-edge-stable", "brave-browser"),
)
_MAC = (
    "Google Chrome.app/Contents/MacOS/Google Chrome",
    "Chromium.app/Contents/MacOS/Chromium",
    "Microsoft Edge.app/Contents/MacOS/Microsoft Edge",
)
_WINDOWS = (
    r"Google\Chrome\Application\chrome.exe",
    r"Chromium\Application\chrome.exe",
    r"Microsoft\Edge\Application\msedge.exe",
)
_WINDOWS_ROOTS = ("PROGRAMFILES", "PROGRAMFILES(X86)", "LOCALAPPDATA")


def print_page(page: str, target: Path, *, fallback: Path) -> None:
    """Print a page to a PDF, which is there whole when this returns.

    Args:
        page: the page.
        target: the PDF.
        fallback: where the page lies, for whoever has to print it himself.

    Raises:
        GaugelinkError: no browser is there, or it did not print.
        FileFormatError: the PDF cannot be written.
    """
    browser = next(_browsers(), None)
    if browser is None:
        raise GaugelinkError(
            "No browser was found that prints to a PDF from here.",
            hint=f"Open {fallback} in any browser and print it to a PDF from there.",
        )
    with tempfile.TemporaryDirectory(prefix="gaugelink-pdf-", ignore_cleanup_errors=True) as name:
        folder = Path(name)
        printed = folder / "page.pdf"
        (folder / "page.html").write_text(page, encoding="utf-8", newline="\n")
        _run(browser, folder, printed, fallback)
        with writing(target, "The PDF", "--pdf") as part:
            shutil.copyfile(printed, part)


def _run(browser: str, folder: Path, printed: Path, fallback: Path) -> None:
    command = [
        browser,
        "--headless",
        "--disable-gpu",
        "--no-first-run",
        f"--user-data-dir={folder / 'profile'}",
        *(["--no-sandbox"] if _is_root() else []),
        "--no-pdf-header-footer",
        f"--print-to-pdf={printed}",
        (folder / "page.html").as_uri(),
    ]
    try:
        subprocess.run(
            command,
            stdin=subprocess.DEVNULL,
            capture_output=True,
            check=False,
            timeout=_TIMEOUT_S,
        )
        done = printed.read_bytes().startswith(b"%PDF-")
    except (OSError, subprocess.TimeoutExpired):
        done = False
    if not done:
        raise GaugelinkError(
            f"The browser {browser} did not print the page.",
            hint=f"Open {fallback} in any browser and print it to a PDF from there.",
        )


def _browsers() -> Iterator[str]:
    """Yield the browsers that print from a command line, those on the path first."""
    yield from filter(None, map(shutil.which, _NAMES))
    yield from (place for place in _usual_places() if os.path.isfile(place))


def _usual_places() -> Iterator[str]:
    """Where an installer puts a browser without telling the path; all systems, one is there."""
    for root in ("/Applications", os.path.expanduser("~/Applications")):
        yield from (os.path.join(root, name) for name in _MAC)
    for root in filter(None, map(os.environ.get, _WINDOWS_ROOTS)):
        yield from (os.path.join(root, name) for name in _WINDOWS)


def _is_root() -> bool:
    """A browser refuses to shut root in; the page is ours and runs nothing."""
    return hasattr(os, "geteuid") and os.geteuid() == 0
