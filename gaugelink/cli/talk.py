"""Following a job line by line: for logs, screen readers and terminals without cursor."""

from __future__ import annotations

from collections.abc import Sequence

from gaugelink.capture.acts import Act, Completed, MoreWanted, Skipped, Taken, Undone
from gaugelink.capture.lane import DOUBLE_CLOSE_S
from gaugelink.capture.progress import Stage
from gaugelink.capture.session import CaptureSession
from gaugelink.cli.bell import Bell, strokes_for
from gaugelink.cli.output import say
from gaugelink.cli.wording import act_line, event_line
from gaugelink.model import GaugeEvent, GaugeKind
from gaugelink.names import spoken

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
        self._bell.strike()

    def acted(self, acts: Sequence[Act]) -> None:
        """Say what the job did, and what is wanted next."""
        self._bell.ring(strokes_for(acts))
        for act in acts:
            say(f"{self._name(act.gauge_id)}: {act_line(act)}")
        for gauge_id in {act.gauge_id: None for act in acts if isinstance(act, _ASK_AGAIN)}:
            self._ask(gauge_id)

    def idle(self) -> None:
        """Ring what is due."""
        self._bell.strike()

    def _name(self, gauge_id: str) -> str:
        return str(self._session.lanes[gauge_id].info.kind)

    def _ask(self, gauge_id: str) -> None:
        """Say the instruction of the current step, once until it changes."""
        text = wanted_text(self._session, gauge_id)
        if text and self._asked.get(gauge_id) != text:
            say(f"{self._name(gauge_id)}> {text}")
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
    return f"{spoken(step.measurand)}: {step.instruction.format(reference=reference)}"
