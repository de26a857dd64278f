"""What is written into a torque plot: where a spring stops, what a day leaves, which is which.

The notes are placed one after the other, each where it covers none of those before it.
"""

from __future__ import annotations

from collections.abc import Iterator

from gaugelink.drawing.lettering import NOTE_PX, shortened, text_width
from gaugelink.drawing.pens import THIN, disc, filled, line
from gaugelink.drawing.placing import Note, first_free
from gaugelink.drawing.svg import Element
from gaugelink.drawing.torque_axes import TorqueAxes
from gaugelink.drawing.torque_trace import DAY_HOURS, TorquePlot, TorqueTrace

_MOST_NAME_PX = 330.0
_NAMED_AT = 0.6  # of the turns: there the corner above the curve is free
_ABOVE_PX = (54.0, 84.0, 114.0)  # from the top of the plot
_BELOW_PX = (44.0, 14.0, 74.0, 104.0)  # from its bottom


def torque_notes(plot: TorquePlot, axes: TorqueAxes) -> Iterator[Element]:
    """Yield the notes of a plot, with leaders from the names to their curves."""
    taken = [_day_note(plot.spring, plot.hours_per_turn, axes)] if plot.hours_per_turn else []
    taken.append(first_free(tuple(_end_places(plot.spring, axes)), taken))
    for trace, is_above in _named(plot):
        name = shortened(trace.name, NOTE_PX, _MOST_NAME_PX)
        places = _above(name, trace, axes) if is_above else _below(name, axes)
        note = first_free(tuple(places), taken)
        yield from _leader(trace, axes, note.x + 10, note.y + (6 if is_above else -NOTE_PX))
        taken.append(note)
    yield from (note.drawn for note in taken)


def _day_note(spring: TorqueTrace, hours_per_turn: float, axes: TorqueAxes) -> Note:
    """The part of the first torque that 24 h leave, or that there are not turns enough."""
    turns, y = DAY_HOURS / hours_per_turn, axes.top + 20
    if turns > spring.turns[-1]:
        return Note(text=f"24 h needs {turns:.1f} turns", x=axes.right, y=y, anchor="end")
    x, whole = axes.turns.px(turns), spring.middle_nmm[0]
    text = f"24 h: {100 * spring.torque_at(turns) / whole:.0f} % left" if whole > 0 else "24 h"
    if x + 8 + text_width(text, NOTE_PX) < axes.right:
        return Note(text=text, x=x + 8, y=y)
    return Note(text=text, x=x - 8, y=y, anchor="end")


def _end_places(trace: TorqueTrace, axes: TorqueAxes) -> Iterator[Note]:
    """Beside the ring at the end of the curve: above its height, else below it."""
    turns = trace.turns[-1]
    text = f"stops at {turns:.1f}"
    x, end = axes.turns.px(turns), axes.torque.px(trace.middle_nmm[-1])
    fits = x - 36 - text_width(text, NOTE_PX) > axes.left
    for y in (end - 10, end + 28, end - 34):
        if fits:
            yield Note(text=text, x=x - 36, y=y, anchor="end")
        else:
            yield Note(text=text, x=x + 12, y=y)


def _named(plot: TorquePlot) -> Iterator[tuple[TorqueTrace, bool]]:
    """The curves, with whether the name stands above: the stronger spring's does."""
    if plot.compared is None:
        yield plot.spring, True
        return
    at = 0.5 * min(plot.spring.turns[-1], plot.compared.turns[-1])
    weaker, stronger = sorted((plot.compared, plot.spring), key=lambda t: t.torque_at(at))
    yield weaker, False
    yield stronger, True


def _above(name: str, trace: TorqueTrace, axes: TorqueAxes) -> Iterator[Note]:
    widest = text_width(name, NOTE_PX)
    x = min(axes.right - widest, axes.turns.px(_NAMED_AT * trace.turns[-1]))
    return (Note(text=name, x=x, y=axes.top + down) for down in _ABOVE_PX)


def _below(name: str, axes: TorqueAxes) -> Iterator[Note]:
    return (Note(text=name, x=axes.left + 14, y=axes.bottom - up) for up in _BELOW_PX)


def _leader(trace: TorqueTrace, axes: TorqueAxes, x: float, y: float) -> Iterator[Element]:
    turns = axes.turns.low + (x - axes.turns.start_px) / axes.turns.px_per_unit
    end = axes.torque.px(trace.torque_at(turns))
    yield line(THIN, x, y, x, end)
    yield filled("ink", disc(x, end, 4))
