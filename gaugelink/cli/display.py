"""``--display``: the page of a running job, its address, and how the job ends on it.

Loaded only when a display is asked for. One that cannot be shown is said before anything is
measured; one that fails later costs a sentence (``capture/runner.py``).
"""

from __future__ import annotations

import os
import subprocess
import sys
import threading
import time
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from functools import partial
from html import escape
from importlib.resources import files
from typing import Any, final

from gaugelink.capture.commands import DisplayKeys
from gaugelink.capture.runner import TYPED
from gaugelink.capture.session import CaptureSession
from gaugelink.cli.output import person_reads, person_types, say
from gaugelink.cli.sitting import Attach, Display
from gaugelink.cli.stop_key import StopKey
from gaugelink.display.board import Board, BoardWatcher
from gaugelink.display.server import LOOPBACK, DisplayServer, PageFile, concrete_address
from gaugelink.drawing.measuring_place import draw_measuring_places
from gaugelink.drawing.svg import DRAWING_STYLE
from gaugelink.errors import GaugelinkError
from gaugelink.gauge_record import CheckVerdict, GaugeCheck
from gaugelink.model import DepthReference
from gaugelink.report.table import spring_cautions
from gaugelink.sizing.inputs import SizingInputs
from gaugelink.sizing.results import SizeResult

_LOOK_S = 0.1
_GOODBYE_S = 0.3  # for the last snapshot to reach who is looking
_MEDIA = {
    "display.css": "text/css; charset=utf-8",
    "display.js": "text/javascript; charset=utf-8",
    "display.webmanifest": "application/manifest+json",
}
# Seen from outside, and what a desktop session sets on Linux.
_FAR_END = ("SSH_CONNECTION", "SSH_TTY", "SSH_CLIENT")
_DESKTOP = ("DISPLAY", "WAYLAND_DISPLAY")
_OPEN = "import sys, webbrowser; webbrowser.open(sys.stdin.read())"
_ON_THE_NET = (
    "Whoever is on this net and has the address sees the job and may take back, skip and stop; "
    "the page travels as plain HTTP. This system may ask whether to let it in; where a tablet "
    "gets no answer, look at the firewall here and whether both are on one net."
)


@final
class BenchDisplay:
    """The page of one sitting, from its address to its answer.

    Args:
        address: where it listens.
        opens: a browser is opened on it.
        stays: it is up until Ctrl-C when the job has ended.
        stop: ends the sitting, and the staying.

    Raises:
        InputError: the address is not one of this computer.
    """

    def __init__(self, address: str, *, opens: bool, stays: bool, stop: StopKey) -> None:
        self._board = Board()
        self._keys = DisplayKeys()
        self._on_net = address != LOOPBACK
        self._opens, self._stays, self._stop = opens, stays, stop
        self._watcher: BoardWatcher | None = None
        self._has_ended = False
        if self._on_net:
            say(_ON_THE_NET)
        self._server = DisplayServer(self._board, self._keys, address)

    def attaching(self, job_id: int, title: str, notice: str) -> Attach:
        """Return what joins the page to a session, once there is one.

        Args:
            job_id: the number of the job.
            title: what the person calls it.
            notice: what to know before the first reading, a heading over each part.
        """
        return partial(self._attach, job_id=job_id, title=title, notice=notice)

    def _attach(self, session: CaptureSession, *, job_id: int, title: str, notice: str) -> Display:
        self._watcher = BoardWatcher(self._board, session, job_id=job_id, title=title)
        self._server.serve(page_files(session.plan.depth_reference, notice))
        url = self._server.url
        say(f"Display: {url}")
        if self._opens:
            say(open_browser(url, os.environ, sys.platform))
        if self._on_net:
            typed = any(lane.info.address.startswith(TYPED) for lane in session.lanes.values())
            self._show_code(url, waits=not typed and person_types() and person_reads())
        return Display(watcher=self._watcher, keys=self._keys)

    def _show_code(self, url: str, *, waits: bool) -> None:
        """Show the address as a code to scan, and wait: the screen of the job covers it."""
        say(qr_text(url))
        if waits:
            say("Enter goes on when the tablet shows the page.")
            sys.stdin.readline()

    def end_with(self, inputs: SizingInputs, result: SizeResult) -> None:
        """Show what to order, to draw and to fit; one that cannot be drawn costs a sentence."""
        try:
            answer = job_answer(inputs, result)
        except Exception as exc:  # whatever is wrong with it, the terminal has the answer
            say(f"The display could not show the answer ({type(exc).__name__}: {exc}).")
            answer = note("The answer is on the terminal.")
        self.end(answer)

    def end_without(self, why: str) -> None:
        """Show why there is no answer, and how to go on."""
        self.end(note(why))

    def end_checked(self, check: GaugeCheck) -> None:
        """Show the verdict of a check."""
        self.end(check_answer(check))

    def end(self, answer: Mapping[str, Any]) -> None:
        """Show what it came to; only the first answer counts."""
        if self._watcher is not None and not self._has_ended:
            try:
                self._watcher.end(answer)
            except Exception as exc:  # it may have failed long before: the job is kept all the same
                say(f"The display could not show the end ({type(exc).__name__}: {exc}).")
        self._has_ended = True

    def close(self, *, stays: bool) -> None:
        """Stay as long as was asked for, and end."""
        if stays and self._stays and not self._stop.is_asked():
            say(f"The display stays at {self._server.url} until Ctrl-C.")
            while not self._stop.is_asked():
                time.sleep(_LOOK_S)
        self._server.close(_GOODBYE_S)


@contextmanager
def displaying(
    address: str | None, stop: StopKey, *, opens: bool, stays: bool
) -> Iterator[BenchDisplay]:
    """Show a page while the block runs, and how it ended.

    Args:
        address: where it listens; loopback when None.
        stop: ends the sitting.
        opens: a browser is opened on it.
        stays: it is up until Ctrl-C when all is done.

    Raises:
        InputError: the address cannot be bound, or is not one.
    """
    concrete = LOOPBACK if address is None else concrete_address(address)
    display = BenchDisplay(concrete, opens=opens, stays=stays, stop=stop)
    has_finished = False
    try:
        yield display
        has_finished = True
    except GaugelinkError as exc:
        display.end(note(f"{exc} {exc.hint}".strip()))
        raise
    finally:
        display.end(note("The sitting has ended."))
        display.close(stays=has_finished)


def open_browser(url: str, environment: Mapping[str, str], platform: str) -> str:
    """Open a browser in a process of its own, where there is a desktop; say what was done.

    It gets no terminal, so that a browser that draws on one cannot take ours, and the address on
    its standard input, not among words that other programs may list.
    """
    if any(environment.get(name) for name in _FAR_END):
        return "No browser is opened at the far end of a line: open the address where you sit."
    if platform.startswith("linux") and not any(environment.get(name) for name in _DESKTOP):
        return "No browser is opened: there is no desktop here. Open the address yourself."
    try:
        process = subprocess.Popen(
            [sys.executable, "-c", _OPEN],
            stdin=subprocess.PIPE,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            start_new_session=True,
            env=dict(environment),
        )
    except OSError as exc:
        return f"No browser could be started ({exc.strerror or exc}). Open the address yourself."
    threading.Thread(target=process.communicate, args=(url.encode(),), daemon=True).start()
    return "A browser is asked to open it."


def qr_text(text: str) -> str:
    """Draw a code to scan, two rows of it in a line of text; a sentence where that cannot be.

    Black on white whatever the colours of the terminal are, with the margin that scanners want.
    """
    try:
        import segno
    except ImportError:
        return "A code to scan takes the extra 'display': pip install 'gaugelink[display]'."
    rows = [[0, *map(int, row), 0] for row in segno.make(text, error="l").matrix]
    blank = [0] * len(rows[0])
    rows = [blank, *rows, blank]
    rows += [blank] * (len(rows) % 2)
    inks = {(0, 0): " ", (1, 0): "\u2580", (0, 1): "\u2584", (1, 1): "\u2588"}
    lines = (
        "".join(inks[bool(high), bool(low)] for high, low in zip(above, below, strict=True))
        for above, below in zip(rows[::2], rows[1::2], strict=True)
    )
    return "\n".join(f"\x1b[30;107m {line} \x1b[0m" for line in lines)


def page_files(reference: DepthReference, notice: str) -> dict[str, PageFile]:
    """Return the files of the page by their path: nothing is read from disk on request.

    Args:
        reference: what the depth is measured up to, for the drawing.
        notice: what to know before the first reading.
    """
    folder = files("gaugelink.display") / "page"
    found = {
        f"/{name}": PageFile(media_type=media, data=(folder / name).read_bytes())
        for name, media in _MEDIA.items()
    }
    style = found["/display.css"]
    styled = style.data + DRAWING_STYLE.encode()
    page = (folder / "index.html").read_text(encoding="utf-8")
    page = page.replace("@PLACES@", draw_measuring_places(reference).markup)
    page = page.replace("@NOTICE@", _notice_html(notice))
    return {
        **found,
        "/display.css": PageFile(media_type=style.media_type, data=styled),
        "/": PageFile(media_type="text/html; charset=utf-8", data=page.encode()),
    }


def _notice_html(notice: str) -> str:
    parts = ""
    for block in filter(None, map(str.strip, notice.split("\n\n"))):
        head, _, rest = block.partition("\n")
        if not rest:
            head, rest = "WHAT TO DO", block
        words = " ".join(rest.split())
        parts += f"<section><h2>{escape(head)}</h2><p>{escape(words)}</p></section>"
    return parts


def note(text: str, head: str = "No answer yet") -> dict[str, Any]:
    """Return what is shown at the end where there is nothing to order."""
    return {"head": head, "order": "", "note": text, "parts": []}


def job_answer(inputs: SizingInputs, result: SizeResult) -> dict[str, Any]:
    """Return the answer of a sizing for the page: the same as on every screen."""
    from gaugelink.recommending.recommend import doubts_of, recommend
    from gaugelink.report.text_order import does, end_and_material, will_do

    answer = recommend(result)
    parts = []
    if answer.left:
        lines = [f"{stop.text} {stop.settle}" for stop in answer.left[1:]]
        names = " ".join(f"--accept {stop.name}" for stop in answer.left)
        parts.append(_part("Settle this first", [*lines, f"If it is right all the same: {names}."]))
    elif answer.order is not None:
        what = [f"{will_do(answer.order)}.", end_and_material(answer.order)]
        parts.append(_part("What will do", what))
        why = [f"It rests on {answer.rests_on}", *does(answer)]
        parts.append(_part("Why", list(filter(None, why))))
    parts.append(_part("Check first", list(doubts_of(answer, result.warnings))))
    parts.append(_part("What would tell more", [f"{n.input}: {n.why}" for n in answer.next]))
    parts += _drawn(inputs, result)
    head, _, rest = spring_cautions(result.watch.arrangement).partition("\n")
    parts.append(_part(head.capitalize(), _sentences(rest)))
    told = [part for part in parts if part["lines"] or "drawing" in part]
    return {"head": "The answer", "order": answer.text, "note": "", "parts": told}


def check_answer(check: GaugeCheck) -> dict[str, Any]:
    """Return what a check came to for the page: the verdict, and each length."""
    from gaugelink.report.text_check import check_text

    said = {CheckVerdict.PASS: "PASS", CheckVerdict.FAIL: "FAIL"}.get(check.verdict, "UNDECIDED")
    lines = [
        f"{each.known_mm:.7g} mm: bias {each.bias_mm:+.4f} mm, limit {each.mpe_mm:g} mm, "
        f"{each.n} readings"
        for each in check.lengths
    ]
    last = " ".join(check_text(check).rsplit("\n", 1)[-1].split())
    return {"head": "The check", "order": said, "note": last, "parts": [_part("Found", lines)]}


def _part(head: str, lines: Sequence[str]) -> dict[str, Any]:
    return {"head": head, "lines": [*lines]}


def _sentences(text: str) -> list[str]:
    return [f"{each.strip().rstrip('.')}." for each in " ".join(text.split()).split(". ")]


def _drawn(inputs: SizingInputs, result: SizeResult) -> Iterator[dict[str, Any]]:
    """The barrel with its spring, in section where heights are known, else in plan."""
    from gaugelink.drawing.barrel_plan import draw_barrel_plan
    from gaugelink.drawing.barrel_section import draw_barrel_section
    from gaugelink.report.page_content import Sizing, sized_spring
    from gaugelink.report.plots import barrel_plan, barrel_section

    sizing, spring = Sizing(inputs=inputs, result=result), sized_spring(result)
    section = barrel_section(sizing, spring)
    drawn = (
        draw_barrel_plan(barrel_plan(sizing, spring), prefix="answer")
        if section is None
        else draw_barrel_section(section, prefix="answer")
    )
    yield _part("Barrel and spring, to scale", []) | {"drawing": drawn.markup}
