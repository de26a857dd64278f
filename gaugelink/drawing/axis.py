"""An axis: where values lie on the sheet, and ticks at round numbers."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from gaugelink.drawing.lettering import NOTE_PX, label, text_width
from gaugelink.drawing.pens import GRID, THIN, line
from gaugelink.drawing.svg import Element

_ROUND = (1.0, 2.0, 2.5, 5.0, 10.0)
_TICK_PX = 7.0
_APART_PX = 4.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Axis:
    """A straight map from values to px; both ends are ticks, ``step`` apart or more."""

    low: float
    high: float
    step: float
    start_px: float
    end_px: float

    @property
    def px_per_unit(self) -> float:
        """Sheet px for one unit of the value; negative where values grow upwards."""
        return (self.end_px - self.start_px) / (self.high - self.low)

    def px(self, value: float) -> float:
        """Return where a value lies, in px."""
        return self.start_px + (value - self.low) * self.px_per_unit

    @property
    def ticks(self) -> tuple[float, ...]:
        """The multiples of the step on the axis, ends included."""
        first, last = round(self.low / self.step), round(self.high / self.step)
        return tuple(i * self.step for i in range(first, last + 1))

    def text(self, value: float) -> str:
        """Write a tick with the decimals of the step."""
        places = max(0, -math.floor(math.log10(self.step) + 1e-9))
        exact = round(self.step, places) == round(self.step, 12)
        written = f"{value:.{places if exact else places + 1}f}"
        return written.removeprefix("-") if float(written) == 0 else written


def round_step(span: float, most_ticks: int) -> float:
    """Return the smallest round step (1, 2, 2.5, 5) that divides a span into so many parts."""
    rough = span / most_ticks
    decade = 10.0 ** math.floor(math.log10(rough))
    return next(step * decade for step in _ROUND if step * decade >= rough * (1 - 1e-9))


def axis_over(values: Sequence[float], *, start_px: float, end_px: float, most_ticks: int) -> Axis:
    """Make an axis whose ends are ticks and that holds all values.

    Args:
        values: finite values, at least one.
        start_px: where the low end lies.
        end_px: where the high end lies.
        most_ticks: parts between ticks, 1 or more.
    """
    low, high = min(values), max(values)
    if high - low <= 1e-9 * max(abs(low), abs(high), 1e-3):
        margin = max(abs(low) * 0.01, 1e-3)
        low, high = low - margin, high + margin
    step = round_step(high - low, most_ticks)
    low, high = math.floor(low / step + 1e-9) * step, math.ceil(high / step - 1e-9) * step
    return Axis(low=low, high=high, step=step, start_px=start_px, end_px=end_px)


def across(axis: Axis, y: float, *, grid_to: float | None = None) -> Iterator[Element]:
    """Draw an axis from left to right at y, its ticks below, its grid up to ``grid_to``.

    Where the figures of all ticks have no room side by side, every second or third has one.
    """
    every = _written_every(axis)
    for i, tick in enumerate(axis.ticks):
        x = axis.px(tick)
        if grid_to is not None:
            yield line(GRID, x, y, x, grid_to)
        yield line(THIN, x, y, x, y + _TICK_PX)
        if i % every == 0:
            yield label(axis.text(tick), x, y + _TICK_PX + NOTE_PX, anchor="middle", data_tick="x")
    yield line(THIN, axis.start_px, y, axis.end_px, y)


def upwards(axis: Axis, x: float, *, grid_to: float) -> Iterator[Element]:
    """Draw an axis from bottom to top at x, its ticks on the left, its grid to ``grid_to``."""
    for tick in axis.ticks:
        y = axis.px(tick)
        yield line(GRID, x, y, grid_to, y)
        yield line(THIN, x - _TICK_PX, y, x, y)
        text = axis.text(tick)
        yield label(text, x - _TICK_PX - 4, y + NOTE_PX / 3, anchor="end", data_tick="y")
    yield line(THIN, x, axis.start_px, x, axis.end_px)


def _written_every(axis: Axis) -> int:
    widest = max(text_width(axis.text(tick), NOTE_PX) for tick in axis.ticks)
    return math.ceil((widest + _APART_PX) / (axis.step * abs(axis.px_per_unit)))
