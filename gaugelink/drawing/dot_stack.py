"""Dots over an axis that do not hide one another: how large they are, and which lies on which."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from gaugelink.drawing.axis import Axis

_MOST_PX = 190.0
_RADII = (7.0, 6.0, 5.0, 4.0, 3.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Dot:
    """A value in mm, its place across the sheet in px, and its level, 0 on the axis."""

    value_mm: float
    x: float
    level: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Stack:
    """Dots that do not overlap, one level upon another; sizes in px."""

    dots: tuple[Dot, ...]
    radius: float
    pitch: float
    height: float

    @property
    def is_dense(self) -> bool:
        """Whether each dot covers more than a quarter of the height of the one below it."""
        return self.pitch < 1.5 * self.radius


def stacked(values_mm: Sequence[float], axis: Axis) -> Stack:
    """Stack dots as large as the height allows; when the smallest are too many, press them."""
    for radius in _RADII:
        dots = _levels(values_mm, axis, 2 * radius + 1)
        levels = 1 + max((dot.level for dot in dots), default=0)
        pitch = 2 * radius + 1
        if levels * pitch <= _MOST_PX:
            break
    pitch = min(pitch, _MOST_PX / levels)
    return Stack(dots=dots, radius=radius, pitch=pitch, height=levels * pitch)


def _levels(values_mm: Sequence[float], axis: Axis, width: float) -> tuple[Dot, ...]:
    """Put each dot, from left to right, on the lowest level where it has room."""
    ends: list[float] = []
    dots = []
    for value in sorted(values_mm):
        x = axis.px(value)
        level = next((i for i, end in enumerate(ends) if end <= x - width), len(ends))
        if level == len(ends):
            ends.append(x)
        ends[level] = x
        dots.append(Dot(value_mm=value, x=x, level=level))
    return tuple(dots)
