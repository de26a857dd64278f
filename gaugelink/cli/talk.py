"""Following a job line by line: for logs, screen readers and terminals without cursor."""

from __future__ import annotations

from collections.abc import Sequence

from gaugelink.capture.acts import (
    Act,
    Completed,
    GaugeDone,
    Halted,
    MoreWanted,
    NotTaken,
    Repeated,
    Resumed,
    Skipped,
    Superseded,
    Taken,
    Undone,
)
from gaugelink.capture.hand import HandTask, asked
from gaugelink.capture.jaws import DOUBLE_CLOSE_S
from gaugelink.capture.progress import Stage
from gaugelink.capture.session import CaptureSession
from gaugelink.cli.bell import Bell
from gaugelink.cli.output import say
from gaugelink.model import Fault, GaugeEvent, GaugeKind, Ident, LinkChange, Reading, UnitSwitch
from gaugelink.report.table import one_line
from gaugelink.units import spoken

# Said once, with the first that is asked of the spring that came out.
_OLD_SPRING = "Its edges cut. Do not pull it straight, or it takes a set: let it lie free."
_ASK_AGAIN = (Taken, Completed, MoreWanted, Skipped, Undone)


class Talk:
    """Says each act, and what to do next, in lines on stderr.

    Args:
        session: the job, for what is wanted next.
        bell: what is heard.
    """

    def __init__(self, session: CaptureSession, bell: Bell) -> None:
        self._session = session
        self._bell = bell
        self._asked: dict[str, str] = {}

    def begin(self) -> None:
        """Say what is wanted first."""
        for gauge_id in self._session.lanes:
            self._ask(gauge_id)

    def heard(self, event: GaugeEvent) -> None:
        """Say what is not a reading."""
        if line := event_line(event):
            say(f"{self._name(event.gauge_id)}: {line}")
        if self._session.lanes[event.gauge_id].is_closing:
            self._ask(event.gauge_id)
        self._bell.heard(event)

    def acted(self, acts: Sequence[Act]) -> None:
        """Say what the job did, and what is wanted next."""
        self._bell.acted(acts)
        for act in acts:
            say(f"{self._name(act.gauge_id)}: {act_line(act)}")
        for gauge_id in {act.gauge_id: None for act in acts if isinstance(act, _ASK_AGAIN)}:
            self._say_to_lift(gauge_id)
            self._ask(gauge_id)

    def idle(self) -> None:
        """Ring what is due."""
        self._bell.strike()

    def note(self, text: str) -> None:
        """Say something that is not about a gauge."""
        say(text)

    def _name(self, gauge_id: str) -> str:
        return str(self._session.lanes[gauge_id].info.kind)

    def _say_to_lift(self, gauge_id: str) -> None:
        """Say that the gauge must leave the reading: held on, it seems that the program hangs."""
        ask = asked(self._session, gauge_id)
        if ask.task in (HandTask.LIFT, HandTask.OPEN):
            say(f"{self._name(gauge_id)}> {ask.cue}")

    def _ask(self, gauge_id: str) -> None:
        """Say the instruction of the current step, once until it changes."""
        text = wanted_text(self._session, gauge_id)
        if text and self._asked.get(gauge_id) != text:
            say(f"{self._name(gauge_id)}> {one_line(text)}")
        self._asked[gauge_id] = text


def wanted_text(session: CaptureSession, gauge_id: str) -> str:
    """Say what a gauge is to do next."""
    lane = session.lanes[gauge_id]
    progress = lane.progress
    if progress.halted and progress.stage is not Stage.DONE:
        return progress.halted
    faces = "anvils" if lane.info.kind is GaugeKind.MICROMETER else "jaws"
    match progress.stage:
        case Stage.OPENING:
            return f"Close the {faces} for the zero reading."
        case Stage.CLOSING if lane.is_closing:
            return (
                f"Last zero seen. Wait {DOUBLE_CLOSE_S:g} s for the bell: closing once more before "
                "takes the last reading back."
            )
        case Stage.CLOSING:
            return f"All measured. Close the {faces} for the last zero reading."
        case Stage.DONE:
            return ""
    step = progress.current
    if step is None:
        return ""
    reference = {"rim": "rim of the barrel", "seat": "lid seat"}[session.plan.depth_reference]
    said = f"{spoken(step.measurand)}: {step.instruction.format(reference=reference)}"
    old = [each for each in session.plan.steps if each.measurand.startswith("found_")]
    return f"{said} {_OLD_SPRING}" if step in old[:1] else said


def act_line(act: Act) -> str:
    """Say what the job did, in one line."""
    return one_line(_act_text(act))


def _act_text(act: Act) -> str:
    match act:
        case Taken():
            note = f"  ({act.note})" if act.note else ""
            reading = act.reading
            return f"taken   {spoken(act.measurand)} {reading.displayed} {reading.unit}{note}"
        case NotTaken():
            return f"refused {act.displayed}: {act.reason}" if act.displayed else act.reason
        case Repeated():
            return f"once    {act.displayed}: duplicate reading ignored"
        case Undone():
            return f"undone  {spoken(act.measurand)} {act.displayed}".rstrip()
        case Skipped():
            return f"skipped {spoken(act.measurand)}"
        case Superseded():
            return f"redone  {spoken(act.measurand)}: earlier readings no longer count"
        case MoreWanted():
            return f"checked {spoken(act.measurand)}: {act.reason}"
        case Completed():
            return f"done    {spoken(act.measurand)}, {act.n_readings} readings"
        case Halted():
            return f"stopped {act.reason}"
        case Resumed():
            return "resumed readings are taken again"
        case GaugeDone():
            return "closed  last zero taken"


def event_line(event: GaugeEvent) -> str:
    """Say what a gauge sent that is not a reading, in one line; empty for a reading."""
    return one_line(_event_text(event))


def _event_text(event: GaugeEvent) -> str:
    match event.body:
        case Reading():
            return ""
        case Fault():
            return f"not a reading: {event.body.reason}"
        case Ident():
            return f"the gauge says: {event.body.text}"
        case LinkChange():
            return event.body.text if event.body.connected else f"link lost: {event.body.text}"
        case UnitSwitch():
            return f"unit changed from {event.body.before} to {event.body.now}"
