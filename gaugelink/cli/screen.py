"""The bench screen: what each gauge shows, in big figures, and what to do next.

Drawn with rich on stderr. Everything is said in words as well as in colour, so
that it reads without colour.
"""

from __future__ import annotations

import time
from collections.abc import Sequence
from typing import TYPE_CHECKING

from gaugelink.capture.acts import Act, Halted, Refused
from gaugelink.capture.lane import Lane
from gaugelink.capture.progress import Progress, Stage
from gaugelink.capture.session import CaptureSession
from gaugelink.cli.bell import Bell, strokes_for
from gaugelink.cli.big_digits import ROWS, big
from gaugelink.cli.talk import wanted_text
from gaugelink.cli.wording import act_line, event_line, spoken
from gaugelink.model import GaugeEvent, LinkChange, Reading

if TYPE_CHECKING:
    from rich.console import Console, RenderableType
    from rich.live import Live

REFRESH_S = 0.12  # fast enough to follow a hand, slow enough to cost little
_ROOMY_LANE = 13  # rows of a gauge with its instruction in full and air around the figures
_FRAME_COLUMNS = 6  # border and padding of a panel
_KEYS = "u  take back    s  skip    q  stop, continue later    or close the jaws twice: take back"


class Screen:
    """Shows a running job; a context manager that gives the terminal back.

    Args:
        session: the job.
        bell: what is heard.
        title: the title of the job, shown on top.
        console: where to draw; stderr if not given.
    """

    def __init__(
        self, session: CaptureSession, bell: Bell, title: str, console: Console | None = None
    ) -> None:
        from rich.console import Console as RichConsole

        self._session = session
        self._bell = bell
        self._title = title
        self._console = console or RichConsole(stderr=True)
        self._shown: dict[str, Reading] = {}
        self._lines: dict[str, tuple[str, bool]] = {}  # last words of each gauge, and if bad
        self._live: Live | None = None
        self._drawn_s = 0.0

    def __enter__(self) -> Screen:
        from rich.live import Live as RichLive

        self._live = RichLive(console=self._console, auto_refresh=False, screen=True)
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
        self.idle()

    def acted(self, acts: Sequence[Act]) -> None:
        """Show what the job did, at once."""
        self._bell.ring(strokes_for(acts))
        for act in acts:
            self._lines[act.gauge_id] = (act_line(act), isinstance(act, Refused | Halted))
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
        """Return the whole screen as something rich can draw."""
        from rich.console import Group
        from rich.text import Text

        head = Text(self._title, style="bold")
        if self._session.unserved:
            missing = ", ".join(map(spoken, self._session.unserved))
            head.append(f"    no gauge here for: {missing}", style="not bold")
        lanes = [self._lane(lane) for lane in self._session.lanes.values()]
        return Group(head, *lanes, Text(_KEYS, style="dim"))

    def _lane(self, lane: Lane) -> RenderableType:
        from rich.console import Group
        from rich.panel import Panel
        from rich.text import Text

        gauge_id = lane.info.gauge_id
        line, bad = self._lines.get(gauge_id, ("", False))
        done = lane.progress.stage is Stage.DONE
        roomy = self._console.height >= _ROOMY_LANE * len(self._session.lanes) + 2
        wanted = wanted_text(self._session, gauge_id) or "Finished."
        gap = [Text()] if roomy else []
        body = Group(
            Text(wanted, style="bold", no_wrap=not roomy, overflow="ellipsis"),
            *gap,
            *self._figures(gauge_id),
            *gap,
            Text(progress_line(lane.progress), style="dim" if done else ""),
            Text(line, style="bold red" if bad else "green"),
        )
        return Panel(body, title=str(lane.info.kind), title_align="left", padding=(0, 2))

    def _figures(self, gauge_id: str) -> list[RenderableType]:
        from rich.text import Text

        reading = self._shown.get(gauge_id)
        ink = "█" if self._console.encoding.lower().startswith("utf") else "#"
        width = self._console.width - _FRAME_COLUMNS - 4
        rows = (
            big(reading.displayed, width=width, ink=ink) if reading else ["waiting for the gauge"]
        )
        rows += [""] * (ROWS - len(rows))
        unit = f"  {reading.unit}" if reading else ""
        return [Text(row + (unit if i == ROWS - 1 else "")) for i, row in enumerate(rows)]


def progress_line(progress: Progress) -> str:
    """Say how far each measurand is: ``bore 5/5 done   depth 1/3   lid 0/3``."""
    return "   ".join(_progress_word(progress, step.measurand) for step in progress.steps)


def _progress_word(progress: Progress, measurand: str) -> str:
    name = spoken(measurand)
    if progress.is_skipped(measurand):
        return f"{name} skipped"
    n_standing, wanted = len(progress.standing(measurand)), progress.wanted(measurand)
    current = progress.current
    if current is not None and current.measurand == measurand:
        return f"[ {name} {n_standing} of {wanted} ]"
    return f"{name} {n_standing} of {wanted}{' done' if n_standing >= wanted else ''}"
