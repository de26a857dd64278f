"""What is flashed, sounded and spoken when the job changes: one list for every screen.

A signal has a sign and a rhythm of its own, so that each is told apart by eye or by ear alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from gaugelink.capture.acts import (
    Act,
    Completed,
    GaugeDone,
    Halted,
    MoreWanted,
    NotTaken,
    Skipped,
    Taken,
    Undone,
)
from gaugelink.model import GaugeEvent, LinkChange
from gaugelink.units import spoken


class Signal(StrEnum):
    """What has just happened, as far as it is shown or heard by itself."""

    TAKEN = "taken"
    DOUBTFUL = "doubtful"  # taken, and something is odd about it
    DONE = "done"  # a measurand has all its readings, or a gauge its last zero
    MORE = "more"  # a series is complete and wants more readings
    UNDONE = "undone"
    SKIPPED = "skipped"
    REFUSED = "refused"
    UNPLUGGED = "unplugged"


SIGNS = {
    Signal.TAKEN: "check",
    Signal.DOUBTFUL: "question",
    Signal.DONE: "double-check",
    Signal.MORE: "plus",
    Signal.UNDONE: "back",
    Signal.SKIPPED: "skip",
    Signal.REFUSED: "cross",
    Signal.UNPLUGGED: "plug",
}
# Each says what was taken too, so that it takes the place of the reading before it.
_STRONGER = (Signal.DONE, Signal.MORE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Signalled:
    """One signal: of which gauge, the figure or word to show, and the words to speak."""

    signal: Signal
    gauge_id: str
    text: str
    said: str


def told_of(acts: Sequence[Act]) -> list[Signalled]:
    """Return what is to be told of the acts of one step, in order; perhaps nothing."""
    figure = next((act.reading.displayed for act in acts if isinstance(act, Taken)), "")
    is_complete = any(isinstance(act, Completed) for act in acts)
    told = [each for act in acts if (each := _told(act, figure, is_complete=is_complete))]
    if any(each.signal in _STRONGER for each in told):
        return [each for each in told if each.signal is not Signal.TAKEN]
    return told


def told_of_event(event: GaugeEvent) -> Signalled | None:
    """Return what is to be told of an event that changes nothing: a gauge that is gone."""
    if not isinstance(event.body, LinkChange) or event.body.connected:
        return None
    return Signalled(
        signal=Signal.UNPLUGGED, gauge_id=event.gauge_id, text="unplugged", said="gauge unplugged"
    )


def _told(act: Act, figure: str, *, is_complete: bool) -> Signalled | None:
    match act:
        case Taken():
            name = spoken(act.measurand)
            signal = Signal.DOUBTFUL if act.note else Signal.TAKEN
            word = "doubtful" if act.note else "taken"
            return _of(act, signal, figure, f"{word}, {name} {figure}")
        case Completed():
            return _of(act, Signal.DONE, figure, f"{spoken(act.measurand)} done")
        case GaugeDone():
            return _of(act, Signal.DONE, "done", "last zero taken, this gauge is finished")
        case MoreWanted() if is_complete:  # it says why more would not help
            said = f"{spoken(act.measurand)} doubtful, {_first(act.reason)}"
            return _of(act, Signal.DOUBTFUL, figure, said)
        case MoreWanted():
            return _of(act, Signal.MORE, figure, f"{spoken(act.measurand)}, more readings wanted")
        case Undone():
            name = spoken(act.measurand)
            return _of(act, Signal.UNDONE, act.displayed, f"taken back, {name} {act.displayed}")
        case Skipped():
            return _of(act, Signal.SKIPPED, "", f"{spoken(act.measurand)} skipped")
        case NotTaken():
            return _of(act, Signal.REFUSED, act.displayed, f"refused, {_first(act.reason)}")
        case Halted():
            return _of(act, Signal.REFUSED, "", f"stopped, {_first(act.reason)}")
    return None


def _first(reason: str) -> str:
    """Return the first sentence, which is short enough to be spoken."""
    return reason.partition(". ")[0].rstrip(".")


def _of(act: Act, signal: Signal, text: str, said: str) -> Signalled:
    return Signalled(signal=signal, gauge_id=act.gauge_id, text=text, said=said.strip())
