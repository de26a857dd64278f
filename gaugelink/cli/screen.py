"""The bench screen: what the hand has to do, how far that is, and what each gauge shows.

Drawn with rich on stderr. Everything is said in words and signs as well as in colour, so that it
reads without colour. The gauge in hand has the room, the others a line or a frame. The instruction
and the last words are never cut: from roomy to tight, the first layout that fits is drawn.
"""

from __future__ import annotations

import re
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from enum import Enum
from functools import partial
from typing import TYPE_CHECKING, NamedTuple

from gaugelink.capture.acts import Act, Completed, MoreWanted
from gaugelink.capture.hand import TROUBLES, HandAsk, HandTask, asked, held_share, tasks_of
from gaugelink.capture.lane import Lane
from gaugelink.capture.progress import Progress, Stage
from gaugelink.capture.session import CaptureSession
from gaugelink.capture.signals import Signal, told_of, told_of_event
from gaugelink.cli.bell import Bell
from gaugelink.cli.big_letters import Pen, big, half_big, wrapped_big
from gaugelink.cli.talk import act_line, event_line, wanted_text
from gaugelink.model import GaugeEvent, Ident, LinkChange, Sends
from gaugelink.units import spoken

if TYPE_CHECKING:
    from rich.console import Console, RenderableType
    from rich.live import Live
    from rich.text import Text
REFRESH_S = 0.12  # fast enough to follow a hand, slow enough to cost little
_FRAME_COLUMNS = 4  # border and padding of a panel
_UNIT_COLUMNS = 4
_LEAST_ROWS = 8  # title, frame, head, instruction and keys: with less a drawing is not tried
_FIGURE = "00.00"  # at least so much room, so that 9.99 and 10.00 are drawn alike
_KEYS = "u take back, or close the jaws twice   s skip   q stop, continue later"


class _Mark(NamedTuple):
    """How a line is told apart: sign, sign where the terminal has ASCII only, style."""

    sign: str
    plain: str
    style: str


# What is to be looked at has a ground of its own: it reads on dark and on light terminals.
_MARKS = {
    Signal.TAKEN: _Mark("✓", "ok", "green"),
    Signal.DONE: _Mark("✓✓", "ok ok", "bold green"),
    Signal.DOUBTFUL: _Mark("?", "?", "black on yellow"),
    Signal.MORE: _Mark("+", "+", "black on cyan"),
    Signal.UNDONE: _Mark("←", "<-", "bold magenta"),
    Signal.SKIPPED: _Mark("»", ">>", "bold magenta"),
    Signal.REFUSED: _Mark("✗", "x", "bold white on red"),
    Signal.UNPLUGGED: _Mark("!", "!", "bold white on red"),
}
_NEUTRAL = _Mark("·", "-", "")
_TASK_STYLES = {
    HandTask.LIFT: "bold cyan",
    HandTask.OPEN: "bold cyan",
    HandTask.WAIT: "bold magenta",
    HandTask.DONE: "bold green",
    **dict.fromkeys(TROUBLES, "bold bright_red"),
}


class _Size(Enum):
    """How large something is drawn."""

    TALL = "five rows"
    HALF = "three rows"
    PLAIN = "a line"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Layout:
    """What a drawing has room for."""

    apart: bool = False  # the figure below the word, not beside it
    head: _Size = _Size.PLAIN
    cue: _Size = _Size.PLAIN
    whole: bool = True  # the instruction, and the progress of all
    progress: bool = True
    frames: bool = False  # for the gauges that are not in hand too
    notice: str = ""


# From roomy to tight. The cue counts for more than the height of the figures.
_LAYOUTS = (
    _Layout(apart=True, head=_Size.TALL, cue=_Size.TALL, frames=True),
    _Layout(apart=True, head=_Size.TALL, cue=_Size.TALL),
    _Layout(head=_Size.TALL, cue=_Size.TALL),
    _Layout(apart=True, head=_Size.TALL, cue=_Size.HALF, frames=True),
    _Layout(head=_Size.TALL, cue=_Size.HALF, frames=True),
    _Layout(head=_Size.TALL, cue=_Size.HALF),
    _Layout(apart=True, head=_Size.HALF, cue=_Size.HALF),
    _Layout(head=_Size.HALF, cue=_Size.HALF),
    _Layout(apart=True, head=_Size.HALF, cue=_Size.HALF, progress=False),
    _Layout(head=_Size.HALF, cue=_Size.HALF, progress=False),
    _Layout(head=_Size.TALL),
    _Layout(apart=True, head=_Size.HALF),
    _Layout(head=_Size.HALF),
    _Layout(apart=True, head=_Size.HALF, progress=False),
    _Layout(head=_Size.HALF, progress=False),
    _Layout(progress=False),
    _Layout(head=_Size.HALF, whole=False),
    _Layout(whole=False),
    _Layout(whole=False, progress=False),
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
        self._has_blocks = self._console.encoding.lower().startswith("utf")
        self._lines: dict[str, list[tuple[_Mark, str]]] = {}  # last words of each gauge
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
        if line := event_line(event):
            self._lines[event.gauge_id] = [(_event_mark(event), line)]
        self._bell.heard(event)
        self.idle()

    def acted(self, acts: Sequence[Act]) -> None:
        """Show what the job did, at once."""
        self._bell.acted(acts)
        is_complete = any(isinstance(act, Completed) for act in acts)
        marked = [(_act_mark(act, is_complete=is_complete), act_line(act)) for act in acts]
        for act in acts:
            # What is doubtful is not hidden by what followed it at once.
            self._lines[act.gauge_id] = [
                each for each in marked[:-1] if each[0] is _MARKS[Signal.DOUBTFUL]
            ] + marked[-1:]
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
        words: list[object] = [self._console.size, self._noted, self._session.in_hand]
        for gauge_id, lane in self._session.lanes.items():
            words += [wanted_text(self._session, gauge_id), progress_line(lane.progress)]
            words += [self._lines.get(gauge_id), tasks_of(lane), lane.shown is None]
        return words

    def _fitting(self) -> _Layout:
        for layout in filter(self._has_room, self._layouts()):
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
        from rich.box import HEAVY, ROUNDED
        from rich.console import Group
        from rich.panel import Panel
        from rich.text import Text

        gauge_id, kind = lane.info.gauge_id, str(lane.info.kind)
        ask = asked(self._session, gauge_id)
        last = self._last_words(gauge_id)
        if lane.progress.stage is Stage.DONE:
            done = f"{self._sign(_MARKS[Signal.DONE])} {kind}: Finished.   "
            return Group(Text(done + progress_line(lane.progress), style="green"), *last)
        in_hand = gauge_id == self._session.in_hand
        if not (in_hand or layout.frames):
            return Group(Text(_in_a_line(lane, ask)), *last)
        rows = [*self._head(lane, ask, layout), *self._bar(lane), *self._cue(lane, ask, layout)]
        if layout.whole:
            rows.append(Text(wanted_text(self._session, gauge_id), style="bold"))
        if layout.progress:
            rows.append(Text(progress_line(lane.progress, whole=layout.whole)))
        is_marked = in_hand and len(self._session.lanes) > 1
        arrow = "▶" if self._has_blocks else ">"
        return Panel(
            Group(*rows, *last),
            title=f"{arrow} {kind}, in hand" if is_marked else kind,
            title_align="left",
            padding=(0, 1),
            box=HEAVY if is_marked else ROUNDED,
        )

    def _head(self, lane: Lane, ask: HandAsk, layout: _Layout) -> list[Text]:
        """Draw word, count and figure, at one size for all that may be asked at this step."""
        from rich.text import Text

        is_dead = lane.shown is None or ask.task is HandTask.SILENT
        figure = "" if lane.shown is None or is_dead else lane.shown.displayed
        unit = f"  {lane.shown.unit}" if lane.shown else ""
        style = _TASK_STYLES.get(ask.task, "bold")
        counts, rooms = self._at_most(lane, layout)
        if is_dead:
            word = self._sized(counts, _word_and_count(ask), layout, style)
            return [*word, Text("waiting for the gauge")]
        if not layout.apart:
            said = _word_and_count(ask)
            return self._sized(counts, f"{said} ", layout, style, unit, figure)
        air = [Text()] if layout.head is _Size.TALL else []
        faint = "dim" if ask.task in TROUBLES else ""
        return [
            *self._sized(counts, _word_and_count(ask), layout, style),
            *air,
            *self._sized(rooms, figure, layout, faint, unit),
        ]

    def _at_most(self, lane: Lane, layout: _Layout) -> tuple[list[str], list[str]]:
        """Return the longest word and count, and figure, that this step may bring."""
        shown = lane.shown.displayed if lane.shown else ""
        room = max(_FIGURE, re.sub(r"\d", "0", shown), key=len)
        counts = [_word_and_count(each) for each in self._all_asks(lane)]
        return (counts if layout.apart else [f"{each} {room}" for each in counts]), [room]

    def _has_room(self, layout: _Layout) -> bool:
        """Tell whether head and cue of the gauge in hand can be drawn in the size of the layout."""
        lane = self._session.lanes[self._session.in_hand]
        if layout.cue is not _Size.PLAIN:
            pens = self._pens(layout.cue)[:1]
            cues = [each.cue for each in self._all_asks(lane)]
            rows = [len(wrapped_big(cue, pen)) for cue in cues for pen in pens]
            if min(rows, default=1) == 1 or max(rows) + _LEAST_ROWS > self._console.height:
                return False
        if layout.head is _Size.PLAIN:
            return True
        counts, rooms = self._at_most(lane, layout)
        pens = self._pens(layout.head)
        return any(all(len(pen(each)) > 1 for each in (*counts, *rooms)) for pen in pens)

    def _sized(
        self,
        at_most: Sequence[str],
        text: str,
        layout: _Layout,
        style: str,
        after: str = "",
        figure: str = "",
    ) -> list[Text]:
        """Draw text, and a figure beside it, as large as the layout says and ``at_most`` fits."""
        from rich.text import Text

        rows, start = [text + figure], len(text)
        smaller = self._pens(_Size.HALF) if layout.head is _Size.TALL else []
        for pen in [*self._pens(layout.head), *smaller]:
            if all(len(pen(each)) > 1 for each in (*at_most, text + figure) if each):
                rows, start = pen(text + figure), len(pen(text)[0])
                break
        drawn = [Text(row, no_wrap=len(rows) > 1) for row in rows]
        for row in drawn:
            row.stylize(style, 0, start)
        drawn[-1].append(after, style="not bold")
        return drawn

    def _pens(self, size: _Size) -> Sequence[Pen]:
        """Return what can draw in this size, the largest first."""
        width = self._console.width - _FRAME_COLUMNS - _UNIT_COLUMNS
        ink = "█" if self._has_blocks else "#"
        tall = [partial(big, width=width, ink=ink, pixels=(n,)) for n in (2, 1)]
        half = [partial(half_big, width=width)] if self._has_blocks else []
        return {_Size.TALL: tall, _Size.HALF: half, _Size.PLAIN: []}[size]

    def _all_asks(self, lane: Lane) -> list[HandAsk]:
        """Return all that may be asked before the step changes: the rows they take are kept."""
        return [asked(self._session, lane.info.gauge_id, task) for task in tasks_of(lane)]

    def _cue(self, lane: Lane, ask: HandAsk, layout: _Layout) -> list[Text]:
        from rich.text import Text

        style = _TASK_STYLES.get(ask.task, "bold")
        if layout.cue is _Size.PLAIN:
            return [Text(ask.cue, style=style)]
        pen = self._pens(layout.cue)[0]
        rows = wrapped_big(ask.cue, pen)
        most = max(len(wrapped_big(each.cue, pen)) for each in self._all_asks(lane))
        return [Text(row, style=style) for row in rows + [""] * (most - len(rows))]

    def _bar(self, lane: Lane) -> list[Text]:
        """Draw how still the gauge is held; empty while something else is to be done."""
        from rich.text import Text

        if lane.info.sends is Sends.BUTTON:
            return []
        share = held_share(lane)
        if share is None:
            return [Text()]
        width = self._console.width - _FRAME_COLUMNS
        full = int(share * width)
        ink, rest = ("■", "·") if self._has_blocks else ("#", "-")
        return [Text(ink * full, style="cyan").append(rest * (width - full), style="dim")]

    def _last_words(self, gauge_id: str) -> list[Text]:
        from rich.text import Text

        lines = self._lines.get(gauge_id, [])
        return [Text(f"{self._sign(mark)} {line}", style=mark.style) for mark, line in lines]

    def _sign(self, mark: _Mark) -> str:
        return mark.sign if self._has_blocks else mark.plain


def _word_and_count(ask: HandAsk) -> str:
    return f"{ask.word} {ask.n}/{ask.m}" if ask.m else ask.word


def _in_a_line(lane: Lane, ask: HandAsk) -> str:
    shown = "waiting for the gauge"
    if lane.shown and ask.task is not HandTask.SILENT:
        shown = f"{lane.shown.displayed} {lane.shown.unit}"
    return f"  {lane.info.kind}  {shown}   {_word_and_count(ask)}   {ask.cue}"


def _act_mark(act: Act, *, is_complete: bool) -> _Mark:
    if is_complete and isinstance(act, MoreWanted):  # it says why more would not help
        return _MARKS[Signal.DOUBTFUL]
    told = told_of([act])
    return _MARKS[told[0].signal] if told else _NEUTRAL


def _event_mark(event: GaugeEvent) -> _Mark:
    if told_of_event(event):
        return _MARKS[Signal.UNPLUGGED]
    if isinstance(event.body, LinkChange):
        return _MARKS[Signal.TAKEN]
    return _NEUTRAL if isinstance(event.body, Ident) else _MARKS[Signal.REFUSED]


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
