"""Torque against barrel turns since full wind: the curve, its band, and what a day takes of it.

Notes are placed one after the other, each where it covers none of those before it: where a
spring stops, what a day leaves, which curve is which.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator
from dataclasses import dataclass

from gaugelink.drawing import svg
from gaugelink.drawing.dimension import Axis, across, axis_over, upwards
from gaugelink.drawing.lettering import (
    FIGURE_PX,
    LINE,
    NOTE_PX,
    PlacedText,
    Sheet,
    first_free,
    label,
    shortened,
    text_width,
)
from gaugelink.mechanics.stopwork import DAY_H

_LEFT, _RIGHT_MARGIN = 78.0, 28.0
_HEAD_PX = 40.0
_PLOT_PX = 300.0
_MOST_TORQUES = 6
_MOST_TURNS = 9
_MOST_NAME_PX = 330.0
_NAMED_AT = 0.6  # of the turns: there the corner above the curve is free
_ABOVE_PX = (54.0, 84.0, 114.0)  # from the top of the plot
_BELOW_PX = (44.0, 14.0, 74.0, 104.0)  # from its bottom


@dataclass(frozen=True, slots=True, kw_only=True)
class TorqueTrace:
    """A torque curve with its band, point by point; torques in N mm, turns rising from 0.

    The last point is where the spring stops.
    """

    name: str
    turns: tuple[float, ...]
    low_nmm: tuple[float, ...]
    middle_nmm: tuple[float, ...]
    high_nmm: tuple[float, ...]

    def __post_init__(self) -> None:
        """Refuse curves of different lengths, and curves of no length."""
        lengths = {len(self.low_nmm), len(self.middle_nmm), len(self.high_nmm), len(self.turns)}
        if len(lengths) > 1 or lengths == {0}:
            raise ValueError("turns and torques of a curve are equally many, and some")

    def torque_at(self, turns: float) -> float:
        """Return the middle torque in N mm after so many turns; 0 once the spring has stopped."""
        return value_at(turns, self.turns, self.middle_nmm)


@dataclass(frozen=True, slots=True, kw_only=True)
class TorquePlot:
    """One spring, another to compare it with, and the hours of running per barrel turn."""

    spring: TorqueTrace
    compared: TorqueTrace | None = None
    hours_per_turn: float | None = None

    @property
    def day_turns(self) -> float | None:
        """The turns that 24 h take; None where the hours per turn are not known."""
        return DAY_H / self.hours_per_turn if self.hours_per_turn else None

    @property
    def share_after_day(self) -> float | None:
        """The share of the first torque that 24 h leave: 0 where the turns do not last so long.

        None where the hours per turn are not known, or where there is no torque to share.
        """
        whole = self.spring.middle_nmm[0]
        if self.day_turns is None or whole <= 0:
            return None
        return self.spring.torque_at(self.day_turns) / whole


def draw_torque(plot: TorquePlot, *, prefix: str, sheet: Sheet = Sheet.WIDE) -> svg.Svg:
    """Draw torque in N mm against turns from full wind."""
    axes = axes_of(plot, sheet)
    below = axes.bottom + 34 + NOTE_PX * LINE
    turns = "barrel turns from full wind"
    children = (
        *across(axes.turns, axes.bottom, grid_to=axes.top),
        *upwards(axes.torque, axes.left, grid_to=axes.right),
        label("torque in N mm", 12, 26, size_px=FIGURE_PX),
        label(turns, axes.right, below, size_px=FIGURE_PX, anchor="end"),
        _curves(plot, axes),
        *torque_notes(plot, axes),
    )
    caption = svg.Caption(prefix=prefix, title="Torque against turns", desc=_described(plot))
    return svg.drawing(caption, sheet.width, below + 16, children)


def value_at(at: float, places: tuple[float, ...], values: tuple[float, ...]) -> float:
    """Interpolate a curve, straight from point to point; 0 beyond its last point.

    Args:
        at: where; before the first point the first value is returned.
        places: rising, at least one.
        values: as many as there are places.
    """
    if at > places[-1]:
        return 0.0
    i = bisect_left(places, at)
    if i == 0:
        return values[0]
    part = (at - places[i - 1]) / (places[i] - places[i - 1])
    return values[i - 1] * (1 - part) + values[i] * part


@dataclass(frozen=True, slots=True, kw_only=True)
class TorqueAxes:
    """Turns across and torque in N mm upwards; the edges of the plot in px."""

    turns: Axis
    torque: Axis

    @property
    def left(self) -> float:
        """Where no turn has been given."""
        return self.turns.start_px

    @property
    def right(self) -> float:
        """Where the turns end."""
        return self.turns.end_px

    @property
    def top(self) -> float:
        """Where the torque ends."""
        return self.torque.end_px

    @property
    def bottom(self) -> float:
        """Where there is no torque."""
        return self.torque.start_px


def axes_of(plot: TorquePlot, sheet: Sheet) -> TorqueAxes:
    """Return the axes that hold all curves of a plot with their limits."""
    traces = [plot.spring, *([plot.compared] if plot.compared else [])]
    turns = axis_over(
        [0.0, *(trace.turns[-1] for trace in traces)],
        start_px=_LEFT,
        end_px=sheet.width - _RIGHT_MARGIN,
        most_ticks=_MOST_TURNS,
    )
    torque = axis_over(
        [0.0, *(value for trace in traces for value in trace.high_nmm)],
        start_px=_HEAD_PX + _PLOT_PX,
        end_px=_HEAD_PX,
        most_ticks=_MOST_TORQUES,
    )
    return TorqueAxes(turns=turns, torque=torque)


def _curves(plot: TorquePlot, axes: TorqueAxes) -> svg.Element:
    drawn = [_band(plot.spring, axes), *_edges(plot.spring, axes, svg.THIN)]
    if plot.compared:
        drawn += [
            *_edges(plot.compared, axes, svg.COMPARED_LIMIT),
            _middle(plot.compared, axes, svg.COMPARED, "compared"),
        ]
    drawn += [_middle(plot.spring, axes, svg.CURVE, "spring"), _end(plot.spring, axes)]
    if plot.day_turns is not None:
        drawn += _day(plot.day_turns, plot.spring, axes)
    return svg.group(
        *drawn,
        data_px_per_turn=svg.measure(axes.turns.px_per_unit),
        data_px_per_nmm=svg.measure(-axes.torque.px_per_unit),
        data_origin_x=svg.measure(axes.turns.px(0.0)),
        data_origin_y=svg.measure(axes.torque.px(0.0)),
    )


def _points(
    turns: tuple[float, ...], torque: tuple[float, ...], axes: TorqueAxes
) -> tuple[tuple[float, float], ...]:
    pairs = zip(turns, torque, strict=True)
    return tuple((axes.turns.px(t), axes.torque.px(m)) for t, m in pairs)


def _band(trace: TorqueTrace, axes: TorqueAxes) -> svg.Element:
    low = _points(trace.turns, trace.low_nmm, axes)
    high = _points(trace.turns, trace.high_nmm, axes)
    area = svg.polyline((*high, *reversed(low))) + "Z"
    return svg.filled("band", area, fill_opacity=svg.BAND_OPACITY, data_name="band")


def _edges(trace: TorqueTrace, axes: TorqueAxes, pen: svg.Pen) -> Iterator[svg.Element]:
    for torque in (trace.low_nmm, trace.high_nmm):
        yield svg.path(pen, svg.polyline(_points(trace.turns, torque, axes)), data_name="limit")


def _middle(trace: TorqueTrace, axes: TorqueAxes, pen: svg.Pen, name: str) -> svg.Element:
    points = _points(trace.turns, trace.middle_nmm, axes)
    return svg.path(pen, svg.polyline(points), data_name=name)


def _end(trace: TorqueTrace, axes: TorqueAxes) -> svg.Element:
    """A ring on the curve where the torque ends."""
    turns = trace.turns[-1]
    x, y = axes.turns.px(turns), axes.torque.px(trace.middle_nmm[-1])
    return svg.circle(svg.CURVE, x, y, 5.5, data_name="usable end", data_turns=svg.measure(turns))


def _day(turns: float, spring: TorqueTrace, axes: TorqueAxes) -> Iterator[svg.Element]:
    """The turns that 24 h take, where the spring gives them."""
    if turns <= spring.turns[-1]:
        x = axes.turns.px(turns)
        name = {"data_name": "24 h", "data_turns": svg.measure(turns)}
        yield svg.line(svg.CENTRE, x, axes.bottom, x, axes.top, **name)


def torque_notes(plot: TorquePlot, axes: TorqueAxes) -> Iterator[svg.Element]:
    """Yield the notes of a plot, with leaders from the names to their curves."""
    taken = [] if plot.day_turns is None else [_day_note(plot, plot.day_turns, axes)]
    taken.append(first_free(tuple(_end_places(plot.spring, axes)), taken))
    for trace, is_above in _named(plot):
        name = shortened(trace.name, NOTE_PX, _MOST_NAME_PX)
        note = first_free(tuple(_name_places(name, trace, axes, is_above=is_above)), taken)
        yield from _leader(trace, axes, note.x + 10, note.y + (6 if is_above else -NOTE_PX))
        taken.append(note)
    yield from (note.drawn for note in taken)


def _day_note(plot: TorquePlot, turns: float, axes: TorqueAxes) -> PlacedText:
    """The part of the first torque that 24 h leave, or that there are not turns enough."""
    y, share = axes.top + 20, plot.share_after_day
    if turns > plot.spring.turns[-1]:
        return PlacedText(text=f"24 h needs {turns:.1f} turns", x=axes.right, y=y, anchor="end")
    x, text = axes.turns.px(turns), "24 h" if share is None else f"24 h: {100 * share:.0f} % left"
    if x + 8 + text_width(text, NOTE_PX) < axes.right:
        return PlacedText(text=text, x=x + 8, y=y)
    return PlacedText(text=text, x=x - 8, y=y, anchor="end")


def _end_places(trace: TorqueTrace, axes: TorqueAxes) -> Iterator[PlacedText]:
    """Beside the ring at the end of the curve: above its height, else below it."""
    turns = trace.turns[-1]
    text = f"ends at {turns:.1f}"
    x, end = axes.turns.px(turns), axes.torque.px(trace.middle_nmm[-1])
    fits = x - 36 - text_width(text, NOTE_PX) > axes.left
    for y in (end - 10, end + 28, end - 34):
        if fits:
            yield PlacedText(text=text, x=x - 36, y=y, anchor="end")
        else:
            yield PlacedText(text=text, x=x + 12, y=y)


def _named(plot: TorquePlot) -> Iterator[tuple[TorqueTrace, bool]]:
    """The curves, with whether the name is above: the stronger spring's does."""
    if plot.compared is None:
        yield plot.spring, True
        return
    at = 0.5 * min(plot.spring.turns[-1], plot.compared.turns[-1])
    weaker, stronger = sorted((plot.compared, plot.spring), key=lambda t: t.torque_at(at))
    yield weaker, False
    yield stronger, True


def _name_places(
    name: str, trace: TorqueTrace, axes: TorqueAxes, *, is_above: bool
) -> Iterator[PlacedText]:
    if is_above:
        x = min(axes.right - text_width(name, NOTE_PX), axes.turns.px(_NAMED_AT * trace.turns[-1]))
        return (PlacedText(text=name, x=x, y=axes.top + down) for down in _ABOVE_PX)
    x = axes.left + 14
    return (PlacedText(text=name, x=x, y=axes.bottom - up) for up in _BELOW_PX)


def _leader(trace: TorqueTrace, axes: TorqueAxes, x: float, y: float) -> Iterator[svg.Element]:
    turns = axes.turns.low + (x - axes.turns.start_px) / axes.turns.px_per_unit
    end = axes.torque.px(trace.torque_at(turns))
    yield svg.line(svg.THIN, x, y, x, end)
    yield svg.filled("ink", svg.disc(x, end, 4))


def _described(plot: TorquePlot) -> str:
    spring = plot.spring
    parts = [
        f"{spring.name}: {spring.low_nmm[0]:.2f} to {spring.high_nmm[0]:.2f} N mm at full wind, "
        f"stops after {spring.turns[-1]:.1f} turns."
    ]
    if plot.day_turns is not None and plot.day_turns <= spring.turns[-1]:
        left = spring.torque_at(plot.day_turns)
        parts.append(f"After 24 h {left:.2f} N mm are left.")
    if plot.compared:
        other = plot.compared
        parts.append(
            f"Dashed for comparison, {other.name}: {other.middle_nmm[0]:.2f} N mm at full "
            f"wind, stops after {other.turns[-1]:.1f} turns."
        )
    return " ".join(parts)
