"""The heights of a barrel in section, in mm above its floor, and whether the spring is too high."""

from __future__ import annotations

import math
from dataclasses import dataclass

from gaugelink.drawing.dimension import Dimension
from gaugelink.drawing.spiral import run_down_spiral, strip_fits
from gaugelink.model import DepthReference
from gaugelink.sizing.rules import half_area_length

_LID_SHARE = 0.2  # of the depth: how thick a lid is drawn that was not measured
_SAME_MM = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionSpring:
    """The spring in section; a length in mm that is not known is drawn as half the ring."""

    name: str
    height: Dimension
    thickness_mm: float
    length_mm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BarrelSection:
    """A barrel cut along its axis.

    Args:
        bore: inside diameter.
        arbor: diameter of the hub.
        depth: floor to ``depth_reference``.
        depth_reference: rim of the barrel, or seat of the lid.
        lid: thickness at the edge; None when not measured, which only a seat allows.
        recess: hollow on the inside of the lid; None for a flat lid.
        available: height left for the spring after the clearance.
        clearance: play above the spring.
        spring: None draws the barrel alone.
    """

    bore: Dimension
    arbor: Dimension
    depth: Dimension
    depth_reference: DepthReference
    lid: Dimension | None
    recess: Dimension | None
    available: Dimension
    clearance: Dimension
    spring: SectionSpring | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Levels:
    """Heights above the floor in mm: where the lid rests, its hollow, its top, the spring's top."""

    seat_mm: float
    underside_mm: float
    lid_top_mm: float
    spring_mm: float

    @property
    def overlap_mm(self) -> float:
        """By how much the spring is drawn into the lid; 0 when it is not."""
        return max(0.0, self.spring_mm - self.underside_mm)

    @property
    def top_mm(self) -> float:
        """The highest of all."""
        return max(self.lid_top_mm, self.spring_mm)


@dataclass(frozen=True, slots=True, kw_only=True)
class Height:
    """A height to dimension: from where to where above the floor, and its figure."""

    name: str
    from_mm: float
    to_mm: float
    figure: str


def levels_of(section: BarrelSection) -> Levels:
    """Return the heights of a section, in mm."""
    depth = section.depth.value_mm
    lid = section.lid.value_mm if section.lid else _LID_SHARE * depth
    seat = depth - lid if section.depth_reference is DepthReference.RIM else depth
    hollow = section.recess.value_mm if section.recess else 0.0
    return Levels(
        seat_mm=seat,
        underside_mm=seat + hollow,
        lid_top_mm=seat + lid,
        spring_mm=section.spring.height.value_mm if section.spring else 0.0,
    )


def heights_of(section: BarrelSection, levels: Levels) -> tuple[Height, ...]:
    """Return the heights to dimension, from the one nearest to the wall outwards."""
    available = section.available
    depth = f"depth to {section.depth_reference.value}"
    heights = [
        _height("available height", 0.0, available),
        Height(
            name="clearance",
            from_mm=levels.underside_mm - section.clearance.value_mm,
            to_mm=levels.underside_mm,
            figure=section.clearance.text,
        ),
    ]
    if section.spring:
        heights.insert(0, _height(section.spring.name, 0.0, section.spring.height))
    if section.recess:
        heights.append(_height("recess", levels.seat_mm, section.recess))
    if section.lid:
        heights.append(_height("lid", levels.seat_mm, section.lid))
    heights.append(_height(depth, 0.0, section.depth))
    return tuple(h for h in heights if h.to_mm > h.from_mm)


def too_high(section: BarrelSection) -> str:
    """Say that the spring touches the lid or takes its clearance; empty when it does neither."""
    if section.spring is None:
        return ""
    height, levels = section.spring.height.value_mm, levels_of(section)
    over = height - section.available.value_mm
    if levels.overlap_mm > _SAME_MM:
        return (
            f"The {section.spring.name} is {levels.overlap_mm:.2f} mm too high: it meets the lid."
        )
    if over > _SAME_MM:
        return f"The {section.spring.name} takes {over:.2f} mm of the clearance."
    return ""


def coil_radii_mm(section: BarrelSection) -> tuple[float, ...]:
    """Return the radii at which the run-down coils are cut, in mm, outermost first."""
    if section.spring is None:
        return ()
    bore, arbor, e = section.bore.value_mm, section.arbor.value_mm, section.spring.thickness_mm
    length = section.spring.length_mm
    if length is None or not strip_fits(bore, arbor, e, length):
        length = half_area_length(bore, arbor, e)
    spiral = run_down_spiral(bore, e, length)
    return tuple(spiral.outer_mm - k * e for k in range(math.floor(spiral.turns) + 1))


def described(section: BarrelSection, heights: tuple[Height, ...]) -> str:
    """Tell a section in words: its heights, what was not measured, whether it is too high."""
    sizes = ", ".join(f"{height.name} {height.figure} mm" for height in heights)
    told = [f"From the floor upwards: {sizes}."]
    if section.lid is None:
        told.append("The lid was not measured and is drawn dashed.")
    if section.spring and section.spring.length_mm is None:
        told.append("The length is not known: the coils are drawn for half the ring.")
    return " ".join(filter(None, (*told, too_high(section))))


def _height(name: str, from_mm: float, size: Dimension) -> Height:
    to_mm = from_mm + size.value_mm
    return Height(name=name, from_mm=from_mm, to_mm=to_mm, figure=size.text)
