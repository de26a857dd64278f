"""The axes of a torque plot: turns across, torque upwards, both from 0."""

from __future__ import annotations

from dataclasses import dataclass

from gaugelink.drawing.axis import Axis, axis_over
from gaugelink.drawing.sheet import Sheet
from gaugelink.drawing.torque_trace import TorquePlot

_LEFT, _RIGHT_MARGIN = 78.0, 28.0
_HEAD_PX = 40.0
_PLOT_PX = 300.0
_MOST_TORQUES = 6
_MOST_TURNS = 9


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
