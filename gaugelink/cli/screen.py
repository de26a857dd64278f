"""The bench screen: what each gauge shows, in big figures, and what to do next.

Drawn with rich on stderr. Everything is said in words as well as in colour, so that it reads
without colour. On a small terminal the last words are never cut. Digits that can be read
from a metre away are drawn in a 5 x 5 grid.
"""

from __future__ import annotations

import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from gaugelink.capture.acts import Act, Halted, NotTaken
from gaugelink.capture.lane import Lane
from gaugelink.capture.progress import Progress, Stage
from gaugelink.capture.session import CaptureSession
from gaugelink.cli.bell import Bell
from gaugelink.cli.talk import act_line, event_line, wanted_text
from gaugelink.model import GaugeEvent, LinkChange, Reading
from gaugelink.units import spoken

if TYPE_CHECKING:
    from rich.console import Console, RenderableType
    from rich.live import Live
REFRESH_S = 0.12  # fast enough to follow a hand, slow enough to cost little
_FRAME_COLUMNS = 6  # border and padding of a panel
_KEYS = "u take back, or close the jaws twice   s skip   q stop, continue later"
ROWS = 5
# One string a row, "#" is ink. Drawn for this project: any two digits differ in four pixels
# or more, so that 6, 8 and 9 stay apart through a loupe.
_GLYPHS = {
    "0": (".###.", "#...#", "#...#", "#...#", ".###."),
    "1": ("..#..", ".##..", "..#..", "..#..", ".###."),
    "2": ("####.", "....#", ".###.", "#....", "#####"),
    "3": ("####.", "....#", "..##.", "....#", "####."),
    "4": ("#...#", "#...#", "#####", "....#", "....#"),
    "5": ("#####", "#....", "####.", "....#", "####."),
    "6": ("..##.", ".#...", "####.", "#...#", ".###."),
    "7": ("#####", "....#", "...#.", "..#..", "..#.."),
    "8": (".###.", "#...#", ".###.", "#...#", ".###."),
    "9": (".###.", "#...#", ".####", "...#.", ".##.."),
    "-": (".....", ".....", "#####", ".....", "....."),
    "+": (".....", "..#..", "#####", "..#..", "....."),
    ".": (".", ".", ".", ".", "#"),
    ",": (".", ".", ".", "#", "#"),
    " ": ("..", "..", "..", "..", ".."),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class _Layout:
    """What a drawing has room for."""

    air: bool = False  # around the figures
    whole: bool = False  # instruction and progress, in full
    large: bool = False  # figures
    notice: str = ""


# From roomy to tight: the first that fits the terminal is drawn.
_LAYOUTS = (
    _Layout(air=True, whole=True, large=True),
    _Layout(whole=True, large=True),
    _Layout(large=True),
    _Layout(),
)


class Screen:
    """Shows a running job; a context manager that gives the terminal back.

    Args:
        session: the job.
        bell: what is heard.
        title: the title of the job, shown on top.
        notice: what to know before the first reading, shown until then as far as there is room:
            all of it, or its first paragraph.
        console: where to draw; stderr if not given.
    """

    def __init__(
        self,
        session: CaptureSession,
        bell: Bell,
        title: str,
        *,
        notice: str = "",
        console: Console | None = None,
    ) -> None:
        from rich.console import Console as RichConsole

        self._session = session
        self._bell = bell
        self._title = title
        self._notice = notice.strip()
        self._noted = ""
        self._console = console or RichConsole(stderr=True)
        self._shown: dict[str, Reading] = {}
        self._lines: dict[str, tuple[str, bool]] = {}  # last words of each gauge, and if bad
        self._layout = _LAYOUTS[0]
        self._fitted_to: list[object] = []
        self._live: Live | None = None
        self._drawn_s = 0.0

    def __enter__(self) -> Screen:
        from rich.live import Live as RichLive

        # rich would take stderr as well, and strips the bell from what goes there.
        self._live = RichLive(
            console=self._console,
            auto_refresh=False,
            screen=True,
            redirect_stdout=False,
            redirect_stderr=False,
        )
        self._live.__enter__()
        self._draw()
        return self

    def __exit__(self, *exc: object) -> None:
        if self._live is not None:
            self._live.stop()
            self._live = None

    def heard(self, event: GaugeEvent) -> None:
        """Show a new indication or say what else came."""
        if isinstance(event.body, Reading):
            self._shown[event.gauge_id] = event.body
        elif line := event_line(event):
            back = isinstance(event.body, LinkChange) and event.body.connected
            self._lines[event.gauge_id] = (line, not back)
            if isinstance(event.body, LinkChange):
                self._shown.pop(event.gauge_id, None)
        self._bell.heard(event)
        self.idle()

    def acted(self, acts: Sequence[Act]) -> None:
        """Show what the job did, at once."""
        self._bell.acted(acts)
        for act in acts:
            self._lines[act.gauge_id] = (act_line(act), isinstance(act, NotTaken | Halted))
        self._draw()

    def note(self, text: str) -> None:
        """Show something that is not about a gauge, from now on."""
        self._noted = text
        self._draw()

    def idle(self) -> None:
        """Redraw when it is due, and ring."""
        self._bell.strike()
        if time.monotonic() - self._drawn_s >= REFRESH_S:
            self._draw()

    def _draw(self) -> None:
        self._drawn_s = time.monotonic()
        if self._live is not None:
            self._live.update(self.render(), refresh=True)

    def render(self) -> RenderableType:
        """Return the whole screen, as roomy as the terminal allows, for rich to draw."""
        words = self._words()
        if words != self._fitted_to:  # figures that change keep their rows
            self._layout, self._fitted_to = self._fitting(), words
        return self._drawn(self._layout)

    def _words(self) -> list[object]:
        """Return all that decides how many rows are wanted and how many there are."""
        words: list[object] = [self._console.size, self._noted]
        for gauge_id, lane in self._session.lanes.items():
            words += [wanted_text(self._session, gauge_id), progress_line(lane.progress)]
            words.append(self._lines.get(gauge_id))
        return words

    def _fitting(self) -> _Layout:
        for layout in self._layouts():
            lines = self._console.render_lines(self._drawn(layout), pad=False)
            if len(lines) <= self._console.height:
                break
        return layout

    def _layouts(self) -> Iterator[_Layout]:
        lanes = self._session.lanes.values()
        if self._notice and all(lane.progress.stage is Stage.OPENING for lane in lanes):
            first, _, _ = self._notice.partition("\n\n")
            for notice in dict.fromkeys((self._notice, first)):
                yield from (replace(layout, notice=notice) for layout in _LAYOUTS)
        yield from _LAYOUTS

    def _drawn(self, layout: _Layout) -> RenderableType:
        from rich.console import Group
        from rich.text import Text

        head = Text(self._title, style="bold")
        if self._session.unserved:
            missing = ", ".join(map(spoken, self._session.unserved))
            head.append(f"    no gauge here for: {missing}", style="not bold")
        notice = [Text(each) for each in (self._noted, layout.notice) if each]
        lanes = [self._lane(lane, layout) for lane in self._session.lanes.values()]
        return Group(head, *notice, *lanes, Text(_KEYS, style="dim"))

    def _lane(self, lane: Lane, layout: _Layout) -> RenderableType:
        from rich.console import Group
        from rich.panel import Panel
        from rich.text import Text

        gauge_id = lane.info.gauge_id
        line, bad = self._lines.get(gauge_id, ("", False))
        done = lane.progress.stage is Stage.DONE
        wanted = wanted_text(self._session, gauge_id) or "Finished."
        progress = progress_line(lane.progress, whole=layout.whole)
        gap = [Text()] if layout.air else []
        body = Group(
            Text(wanted, style="bold", no_wrap=not layout.whole, overflow="ellipsis"),
            *gap,
            *self._figures(gauge_id, large=layout.large),
            *gap,
            Text(progress, style="dim" if done else ""),
            Text(line, style="bold red" if bad else "green"),
        )
        return Panel(body, title=str(lane.info.kind), title_align="left", padding=(0, 2))

    def _figures(self, gauge_id: str, *, large: bool) -> list[RenderableType]:
        from rich.text import Text

        reading = self._shown.get(gauge_id)
        if reading is None:
            rows = ["waiting for the gauge"]
        elif large:
            ink = "█" if self._console.encoding.lower().startswith("utf") else "#"
            rows = big(reading.displayed, width=self._console.width - _FRAME_COLUMNS - 4, ink=ink)
        else:
            rows = [reading.displayed]
        if large:
            rows += [""] * (ROWS - len(rows))
        unit = f"  {reading.unit}" if reading else ""
        return [Text(row + (unit if i == len(rows) - 1 else "")) for i, row in enumerate(rows)]


def progress_line(progress: Progress, *, whole: bool = True) -> str:
    """Say how far each measurand is: ``bore 5 of 5 done   [ depth 1 of 3 ]   lid 0 of 3``.

    Args:
        progress: of one gauge.
        whole: False says it of the current measurand only.
    """
    steps = progress.steps if whole else [s for s in (progress.current,) if s]
    return "   ".join(_progress_word(progress, step.measurand) for step in steps)


def _progress_word(progress: Progress, measurand: str) -> str:
    name = spoken(measurand)
    if progress.is_skipped(measurand):
        return f"{name} skipped"
    n_standing, wanted = len(progress.standing(measurand)), progress.wanted(measurand)
    current = progress.current
    if current is not None and current.measurand == measurand:
        return f"[ {name} {n_standing} of {wanted} ]"
    return f"{name} {n_standing} of {wanted}{' done' if n_standing >= wanted else ''}"


def big(text: str, *, width: int, ink: str = "█") -> list[str]:
    """Draw a number in five rows.

    Args:
        text: digits, sign, point; other characters are left out.
        width: columns there are; wide pixels are used where they fit.
        ink: the character of a filled pixel, "#" where the terminal has no blocks.

    Returns:
        Five lines, or the text itself in one line when even narrow digits do not fit.
    """
    glyphs = [_GLYPHS[c] for c in text if c in _GLYPHS]
    for pixel in (2, 1):
        lines = [_row(glyphs, row, pixel, ink) for row in range(ROWS)]
        if max(map(len, lines), default=0) <= width:
            return lines
    return [text]


def _row(glyphs: Sequence[tuple[str, ...]], row: int, pixel: int, ink: str) -> str:
    cells = (glyph[row].replace("#", ink * pixel).replace(".", " " * pixel) for glyph in glyphs)
    return (" " * pixel).join(cells)
