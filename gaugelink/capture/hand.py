"""What the hand has to do now, in a word and in a short cue: the same on every screen.

A word has at most 9 letters and reads at two metres, a cue at most 50 and reads at one; the
whole instruction is the step's own. Times are those of the gauges or are given.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

from gaugelink.capture.acts import ZERO
from gaugelink.capture.jaws import DOUBLE_CLOSE_S, is_opening_zero, shows_closed_jaws
from gaugelink.capture.lane import Lane
from gaugelink.capture.plan import Step
from gaugelink.capture.progress import Stage
from gaugelink.capture.session import CaptureSession
from gaugelink.model import DepthReference, GaugeKind, Seek, Sends
from gaugelink.units import spoken

LETTERS_IN_WORD, LETTERS_IN_CUE = 9, 50
NEAR_MM = 1.0  # jaws so near to zero are about to close, or have just failed to


class HandTask(StrEnum):
    """What the hand has to do with one gauge."""

    CLOSE = "close"  # the jaws, for a zero
    OPEN = "open"  # jaws that are closed, and were read or are not asked for
    LIFT = "lift"  # the gauge has not left the reading that was found
    ROCK = "rock"  # a bore, before the largest can be told
    HOLD = "hold"
    PRESS = "press"  # the data button, or a key
    WAIT = "wait"  # the last zero is seen, and a second closing would undo
    SWITCH = "switch"  # the unit, back
    FROZEN = "frozen"  # the display is on hold
    SILENT = "silent"
    UNPLUGGED = "unplugged"
    DONE = "done"


# Something keeps the gauge from being read at all; said whatever the step is.
TROUBLES = frozenset(
    {HandTask.SWITCH, HandTask.FROZEN, HandTask.SILENT, HandTask.UNPLUGGED},
)


class _Words(NamedTuple):
    word: str
    below: str
    cue: str


_PLACES = {
    "bore": _Words("BORE", "", "inside jaws, above the hook"),
    "depth": _Words("DEPTH", "", "rod on the floor, beam flat on the {reference}"),
    "lid": _Words("LID", "", "lid near its edge, clear of rim and dents"),
    "recess": _Words("RECESS", "", "hollow inside the lid, down to its floor"),
    "arbor": _Words("ARBOR", "", "across the hub, beside the hook"),
    "found_thickness": _Words("THICKNESS", "found spring", "dry, at a fresh place"),
    "found_height": _Words("HEIGHT", "found spring", "on a flat part of a coil"),
}
# What holds a known length in a check, by the first word of its name.
_HELD_BY = {
    "length": _Words("BLOCK", "", "block wiped, between the faces"),
    "ring": _Words("RING", "", "ring wiped, over the inside jaws"),
    "gap": _Words("GAP", "", "inside jaws in the gap"),
    "step": _Words("STEP", "", "rod down the step, beam flat on it"),
}
_REFERENCES = {DepthReference.RIM: "rim", DepthReference.SEAT: "lid seat"}
# What is done between two readings, where lifting alone is not all of it.
_BETWEEN = {
    "bore": "lift off, turn the barrel a little",
    "found_thickness": "lift off, go to a fresh place",
    "arbor": "lift off, turn the arbor a little",
}
_TROUBLE_WORDS = {
    HandTask.FROZEN: _Words("ON HOLD", "", "the display is on hold: press its hold key"),
    HandTask.SILENT: _Words("SILENT", "", "nothing comes: switch it on, look at the cable"),
    HandTask.UNPLUGGED: _Words("UNPLUGGED", "", "plug it in again and it goes on"),
}
_NUMBERS = ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")


@dataclass(frozen=True, slots=True, kw_only=True)
class HandAsk:
    """What is asked of the hand that holds one gauge.

    ``ask_id`` changes when something else is asked, so that it is spoken once. ``n`` of ``m`` is
    the reading that is wanted now; both are None where nothing is counted. ``place`` is what is
    measured, ``next_place`` what comes after it.
    """

    ask_id: str
    task: HandTask
    word: str
    below: str
    cue: str
    spoken: str
    n: int | None
    m: int | None
    place: str
    next_place: str


def hand_task(lane: Lane) -> HandTask:
    """Tell what the hand has to do with a gauge."""
    stage = lane.progress.stage
    if stage is Stage.DONE:
        return HandTask.DONE
    if lane.unplugged:
        return HandTask.UNPLUGGED
    if lane.progress.halted:
        return HandTask.SWITCH
    if lane.is_frozen:
        return HandTask.FROZEN
    if lane.is_silent:
        return HandTask.SILENT
    if lane.is_closing:
        return HandTask.WAIT
    return _at_measuring(lane) if stage is Stage.MEASURING else _at_zero(lane)


def _at_zero(lane: Lane) -> HandTask:
    if lane.info.sends is Sends.BUTTON or lane.shown is None:
        return HandTask.CLOSE
    off_mm = abs(lane.shown.value_mm - lane.progress.zero_mm)
    if lane.must_leave and off_mm <= NEAR_MM:
        return HandTask.OPEN
    return HandTask.HOLD if is_opening_zero(lane.shown) else HandTask.CLOSE


def _at_measuring(lane: Lane) -> HandTask:
    if lane.info.sends is Sends.BUTTON:
        return HandTask.PRESS
    shown, zero_mm = lane.shown, lane.progress.zero_mm
    if shown and shows_closed_jaws(
        shown.value_mm - zero_mm, shown.resolution_mm, lane.progress.current
    ):
        return HandTask.OPEN
    if lane.must_leave:
        return HandTask.LIFT
    return HandTask.ROCK if lane.must_rock else HandTask.HOLD


def held_share(lane: Lane) -> float | None:
    """Tell how much of the next reading is there, 0 to 1; None where no holding is asked for."""
    return lane.share(lane.seen_s) if hand_task(lane) is HandTask.HOLD else None


def tasks_of(lane: Lane) -> tuple[HandTask, ...]:
    """Return all that the hand may have to do before the step changes, with no trouble between."""
    now = hand_task(lane)
    if now in TROUBLES or now in (HandTask.DONE, HandTask.WAIT):
        return (now,)
    if lane.progress.stage is not Stage.MEASURING:
        tasks = (HandTask.CLOSE, HandTask.HOLD, HandTask.OPEN)
        return tasks[:1] if lane.info.sends is Sends.BUTTON else tasks
    if lane.info.sends is Sends.BUTTON:
        return (HandTask.PRESS,)
    step = lane.progress.current
    rock = (HandTask.ROCK,) if step and step.seek is Seek.MAXIMUM else ()
    return (HandTask.OPEN, HandTask.LIFT, HandTask.HOLD, *rock)


def asked(session: CaptureSession, gauge_id: str, task: HandTask | None = None) -> HandAsk:
    """Say what is asked of the hand with this gauge, in the words of every screen.

    Args:
        session: the job.
        gauge_id: of which gauge.
        task: what to do; that of this moment if not given.
    """
    lane = session.lanes[gauge_id]
    task = hand_task(lane) if task is None else task
    step = lane.progress.current if lane.progress.stage is Stage.MEASURING else None
    n, m = _counted(session, lane, step)
    words, said = _words(session, lane, task, step)
    if step is not None and m and task not in TROUBLES:
        said = f"{said}, {_number(n or 0)} of {_number(m)}"
    place = step.measurand if step else ZERO
    return HandAsk(
        ask_id=str(task) if task in TROUBLES else _ask_id(lane, place, n),
        task=task,
        word=words.word,
        below=words.below,
        cue=words.cue,
        spoken=said,
        n=n,
        m=m,
        place="" if task is HandTask.DONE else place,
        next_place=_next_place(lane, step),
    )


def _ask_id(lane: Lane, place: str, n: int | None) -> str:
    if lane.progress.stage is Stage.MEASURING:
        return f"{place}-{n}"
    when = "wait" if lane.is_closing else str(lane.progress.stage)
    return "-".join(filter(None, (place, when, str(n or ""))))


def _counted(
    session: CaptureSession, lane: Lane, step: Step | None
) -> tuple[int | None, int | None]:
    if step is not None:
        wanted = lane.progress.wanted(step.measurand)
        return min(len(lane.progress.standing(step.measurand)) + 1, wanted), wanted
    if session.n_zeros > 1 and lane.progress.stage is Stage.OPENING:
        return min(len(lane.progress.standing(ZERO)) + 1, session.n_zeros), session.n_zeros
    return None, None


def _words(
    session: CaptureSession, lane: Lane, task: HandTask, step: Step | None
) -> tuple[_Words, str]:
    """Return word and cue, and what is spoken of them."""
    if task in _TROUBLE_WORDS:
        words = _TROUBLE_WORDS[task]
        return words, f"{lane.info.kind}: {words.word.lower()}"
    if task is HandTask.SWITCH:
        unit = lane.progress.unit
        cue = f"switch it back to {unit}" if unit else "switch its unit back"
        return _Words("UNIT", "", cue), f"{lane.info.kind}: {cue}"
    if task is HandTask.DONE:
        return _Words("DONE", "", "this gauge is finished"), "finished"
    if step is None:
        return _zero_words(lane, task)
    return _step_words(session, lane, task, step)


def _zero_words(lane: Lane, task: HandTask) -> tuple[_Words, str]:
    faces = faces_of(lane)
    if task is HandTask.WAIT:
        cue = f"last zero seen: leave them closed {DOUBLE_CLOSE_S:g} s"
        return _Words("WAIT", "last zero", cue), "last zero seen, leave it closed"
    last = lane.progress.stage is Stage.CLOSING
    below = "last zero" if last else "zero"
    if task is HandTask.OPEN:
        return _Words(
            "OPEN", below, f"open the {faces}, wipe them, close them"
        ), f"open the {faces}"
    first = "all measured: close" if last else "close"
    cue = f"{first} the {faces}, hold"
    if lane.info.sends is Sends.BUTTON:
        cue = f"{first} the {faces}, press"
    said = f"all measured, close the {faces}" if last else f"close the {faces}"
    return _Words("CLOSE", below, cue), said


def _step_words(
    session: CaptureSession, lane: Lane, task: HandTask, step: Step
) -> tuple[_Words, str]:
    place = place_words(step.measurand)
    said = spoken(step.measurand)
    if task is HandTask.OPEN:
        return _Words("OPEN", said, f"open the {faces_of(lane)}"), said
    if task is HandTask.LIFT:
        begun = lane.progress.standing(step.measurand)
        cue = _BETWEEN.get(step.measurand, "lift off, then the next reading")
        cue = cue if begun else f"lift off; next: {said}"
        return _Words("LIFT", "", cue[:LETTERS_IN_CUE]), said
    cue = place.cue.format(reference=_REFERENCES[session.plan.depth_reference])
    rocked = step.seek is not Seek.SETTLED
    end = {HandTask.PRESS: "press", HandTask.ROCK: "rock, hold"}.get(task, "hold")
    if rocked and end != "rock, hold":
        end = f"rock, {end}"
    return place._replace(cue=f"{cue}, {end}"), said


def place_words(measurand: str) -> _Words:
    """Return the word of a measurand, what is written below it, and where it is measured."""
    held_by, _, size = measurand.partition("_")
    if held_by in _HELD_BY:
        return _HELD_BY[held_by]._replace(below=spoken(size))
    unknown = _Words("MEASURE", spoken(measurand), "as said below")
    return _PLACES.get(measurand, unknown)


def faces_of(lane: Lane) -> str:
    """Return what a gauge closes: jaws or anvils."""
    return "anvils" if lane.info.kind is GaugeKind.MICROMETER else "jaws"


def _next_place(lane: Lane, step: Step | None) -> str:
    progress = lane.progress
    if progress.stage is Stage.OPENING:
        return spoken(progress.current.measurand) if progress.current else ""
    if step is None:
        return ""
    others = (s.measurand for s in progress.steps if s is not step)
    left = next((name for name in others if not progress.is_complete(name)), None)
    return spoken(left) if left else f"close the {faces_of(lane)}"


def _number(n: int) -> str:
    return _NUMBERS[n] if n < len(_NUMBERS) else str(n)
