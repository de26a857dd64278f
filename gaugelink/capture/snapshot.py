"""The state of a sitting as plain data, for a display: always whole, never a difference.

Pure: ``Lately`` is given its times, and ``snapshot`` reads the session as it is. It is asked for
in the thread that runs the job. What is told was durable before, as for every watcher.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Sequence
from typing import Any

from gaugelink.capture.acts import Act
from gaugelink.capture.hand import TROUBLES, HandAsk, HandTask, asked, hand_task, held_share
from gaugelink.capture.lane import Lane
from gaugelink.capture.progress import Stage
from gaugelink.capture.session import CaptureSession
from gaugelink.capture.signals import SIGNS, Signalled, told_of, told_of_event
from gaugelink.model import GaugeEvent
from gaugelink.units import spoken

LAST = 8  # signals that a snapshot repeats, for a viewer that missed some


class Lately:
    """The last signals, numbered from 1 in the order they were told."""

    def __init__(self) -> None:
        self.n_told = 0
        self.told: deque[tuple[int, float, Signalled]] = deque(maxlen=LAST)

    def acted(self, acts: Sequence[Act], at_s: float) -> bool:
        """Note what is to be told of acts; tell whether anything is."""
        return self._note(told_of(acts), at_s)

    def heard(self, event: GaugeEvent, at_s: float) -> bool:
        """Note what is to be told of an event; tell whether anything is."""
        told = told_of_event(event)
        return self._note([told] if told else [], at_s)

    def _note(self, told: Iterable[Signalled], at_s: float) -> bool:
        before = self.n_told
        for each in told:
            self.n_told += 1
            self.told.append((self.n_told, at_s, each))
        return self.n_told > before


def snapshot(
    session: CaptureSession,
    lately: Lately,
    *,
    job_id: int,
    title: str,
    is_over: bool = False,
    answer: Any = None,
) -> dict[str, Any]:
    """Return the state of a sitting, for JSON.

    Args:
        session: the job.
        lately: what was told of it; its times become ``at_ms``.
        job_id: the number of the job.
        title: what the person calls it.
        is_over: the sitting has ended.
        answer: what the job came to, once there is an answer.
    """
    lane = session.lanes[session.in_hand]
    ask = asked(session, session.in_hand)
    return {
        "job": {"id": job_id, "title": title},
        "phase": _phase(session, lane, is_over=is_over),
        "ask": _ask_data(ask),
        "place": ask.place,
        "gauge": {**_gauge_data(lane), **_rest_data(lane, ask)},
        "others": [
            _gauge_data(other) | {"line": other_line(asked(session, gauge_id))}
            for gauge_id, other in session.lanes.items()
            if other is not lane
        ],
        "next": ask.next_place,
        "unserved": [spoken(name) for name in session.unserved],
        "acts": [_act_data(*each) for each in lately.told],
        "about": session.about,
        "can": _possible(session, is_over=is_over),
        "answer": answer,
    }


def other_line(ask: HandAsk) -> str:
    """Say in a line what is asked with a gauge that is not in hand: ``lid 1 of 3``."""
    if ask.task in TROUBLES:
        return ask.word.lower()
    if ask.n is None:
        return ask.cue
    return f"{spoken(ask.place)} {ask.n} of {ask.m}"


def _phase(session: CaptureSession, lane: Lane, *, is_over: bool) -> str:
    if is_over:
        return "ended"
    return str(Stage.DONE if session.is_closed else lane.progress.stage)


def _ask_data(ask: HandAsk) -> dict[str, Any]:
    return {
        "id": ask.ask_id,
        "word": ask.word,
        "below": ask.below,
        "n": ask.n,
        "m": ask.m,
        "cue": ask.cue,
        "spoken": ask.spoken,
    }


def _gauge_data(lane: Lane) -> dict[str, Any]:
    shown = None if hand_task(lane) is HandTask.SILENT else lane.shown  # figures long gone
    return {
        "kind": str(lane.info.kind),
        "live": shown.displayed if shown else "",
        "unit": str(shown.unit) if shown else "",
    }


def _rest_data(lane: Lane, ask: HandAsk) -> dict[str, Any]:
    share = held_share(lane)
    full_in_ms = None if share is None else round(1000.0 * lane.full_in_s(lane.seen_s))
    still = None if share is None else round(share, 3)
    return {"do": str(ask.task), "still": still, "full_in_ms": full_in_ms}


def _act_data(number: int, at_s: float, told: Signalled) -> dict[str, Any]:
    return {
        "seq": number,
        "at_ms": round(1000.0 * at_s, 1),
        "kind": str(told.signal),
        "sign": SIGNS[told.signal],
        "text": told.text,
        "said": told.said,
    }


def _possible(session: CaptureSession, *, is_over: bool) -> list[str]:
    """Return which commands do anything now."""
    if is_over or session.is_closed:
        return []
    going = [lane.progress for lane in session.lanes.values() if lane.progress.stage != Stage.DONE]
    undo = ["undo"] if any(progress.last for progress in going) else []
    skip = ["skip"] if any(progress.stage is Stage.MEASURING for progress in going) else []
    return [*undo, *skip, "stop"]
