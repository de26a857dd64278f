"""The size to order: height, thickness and length in the steps of the trade, and what will do.

Each figure has one rationale. Thickness is that of the document, or of the found spring where it
is healthy, else bore / 87. Length is the one with which the watch runs longest at that
thickness: the turns until its torque no longer drives the train, by the torque model with
a healthy spring of its material. A spring of finite strength has that optimum above half of
the ring, and the weaker its material the higher. Height is what goes in for certain and leaves
the usual play.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING, Any, NamedTuple

from gaugelink.mechanics.materials import OPEN, with_end
from gaugelink.mechanics.spring import SpringInBarrel, as_spiral
from gaugelink.mechanics.torque import torque_after, turns_until
from gaugelink.model import DepthReference
from gaugelink.sizing import rules
from gaugelink.sizing.inputs import (
    STOPS_AT,
    GivenSpring,
    SizingInputs,
    assumed_arbor,
)
from gaugelink.statistics.student import t_cdf
from gaugelink.uncertainty.conformity import guard_band
from gaugelink.uncertainty.first_order import propagate

if TYPE_CHECKING:
    from gaugelink.uncertainty.estimate import Array

# The steps in which springs are sold: common practice. Thickness goes in hundredths, and in
# halves of that in small sizes.
HEIGHT_STEP_MM = 0.05
LENGTH_STEP_MM = 10.0
THICKNESS_STEPS_MM = ((0.15, 0.005), (math.inf, 0.01))
# What else will do. Thickness: bore / 100 to bore / 80 (common practice), and not more than this
# off in torque (judgement). Length: this much fewer turns than the most. Height: so much lower.
BORE_PER_THICKNESS = (80.0, 100.0)
TORQUE_WILL_DO = (0.85, 1.20)
TURNS_WILL_DO = 0.985
HEIGHT_WILL_DO_MM = 0.10  # common practice
THICKNESS_EXPONENT = 2.5  # of the torque, between that of own and of equal shape
RESERVE_H = 36.0  # 24 h and half a day over; one-day watches run 36 to 40 h
_FILLS = (0.30, 0.80)
_STEPS = 251
_ROUNDING = 1e-6


class Basis(StrEnum):
    """What thickness and length rest on."""

    DOCUMENTED = "documented"
    FOUND = "found"
    RULE = "rule"


class HeightFrom(StrEnum):
    """What limits the height."""

    ROOM = "depth and lid"
    DEPTH = "depth alone"
    FOUND = "height of the found spring"
    DOCUMENTED = "documented height"
    NOTHING = "nothing"


@dataclass(frozen=True, slots=True, kw_only=True)
class Range:
    """A size to order in mm, and between which sizes others will do."""

    target: float
    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """What to order.

    Args:
        basis: what thickness and length rest on.
        height: None where nothing is known that limits it.
        height_from: what limits it; only ``ROOM`` says that a spring fits.
        thickness: in mm.
        length: in mm.
        end: outer end by name; None where nobody said.
        material: by name; None where nobody said.
        play_mm: that the height leaves below the lid, at best values; None without a lid.
    """

    basis: Basis
    height: Range | None
    height_from: HeightFrom
    thickness: Range
    length: Range
    end: str | None
    material: str | None
    play_mm: float | None

    @property
    def height_is_cap(self) -> bool:
        """Whether the height is only what the depth leaves, of which the lid takes some more."""
        return self.height_from is HeightFrom.DEPTH


class Room(NamedTuple):
    """Height in mm below the lid, without any play, and how uncertain that is."""

    value_mm: float
    u_mm: float
    dof: float

    @property
    def certain_mm(self) -> float:
        """What goes in for certain: less the guard band of ISO 14253-1."""
        return self.value_mm - guard_band(self.u_mm, dof=self.dof)

    def goes_in(self, height_mm: float) -> float:
        """Return the probability that a spring so high goes in: JCGM 106, clause 7."""
        off = self.value_mm - height_mm
        if self.u_mm == 0:
            return float(off >= -_ROUNDING)
        return float(t_cdf(off / self.u_mm, self.dof))


def order_for(inputs: SizingInputs) -> Order | None:
    """Return the size to order for a barrel; None where no rule, document or spring tells it.

    Args:
        inputs: sound, see ``checks.check_inputs``; wishes that a rule covers.
    """
    from gaugelink.sizing.covered import refused_rules

    given, basis = _basis(inputs)
    if given is None and refused_rules(inputs):
        return None
    bore = inputs.bore.value
    wanted_mm = rules.thickness_by_ratio(bore) if given is None else given.thickness.value
    thickness = _thickness(wanted_mm, bore, basis)
    own_length = given.length.value if given is not None and given.length is not None else None
    room = room_of(inputs)
    height, height_from = _height(inputs, room)
    end, material = inputs.arrangement.end, inputs.material
    return Order(
        basis=basis,
        height=height,
        height_from=height_from,
        thickness=thickness,
        length=_length(inputs, thickness.target, own_length if basis is Basis.DOCUMENTED else None),
        end=None if end is None else end.name,
        material=None if material.name == OPEN else material.name,
        play_mm=None if room is None or height is None else room.value_mm - height.target,
    )


def room_of(inputs: SizingInputs) -> Room | None:
    """Return the height below the lid without play; None where depth or lid was not measured."""
    if not inputs.has_height:
        return None
    known = {"depth": inputs.depth, "lid": inputs.lid, "recess": inputs.recess}
    below_rim = inputs.depth_reference is DepthReference.RIM

    def room(values: Mapping[str, Any]) -> dict[str, Any]:
        lid = values.get("lid", 0.0) if below_rim else 0.0
        return {"room": values["depth"] - lid + values.get("recess", 0.0)}

    (line,) = propagate(room, [quantity for quantity in known.values() if quantity is not None])
    return Room(line.value, line.u, line.dof)


def _basis(inputs: SizingInputs) -> tuple[GivenSpring | None, Basis]:
    if inputs.documented is not None:
        return inputs.documented, Basis.DOCUMENTED
    if inputs.found is not None and inputs.found_healthy:
        return inputs.found, Basis.FOUND
    return None, Basis.RULE


def _thickness(wanted_mm: float, bore_mm: float, basis: Basis) -> Range:
    """Nearest step, the thinner of two alike; a documented thickness as it is."""
    step = thickness_step_mm(wanted_mm)
    nearest = step * max(1, math.ceil(wanted_mm / step - 0.5 - _ROUNDING))
    target = wanted_mm if basis is Basis.DOCUMENTED else round(nearest, 4)
    weaker, stronger = (wanted_mm * part ** (1 / THICKNESS_EXPONENT) for part in TORQUE_WILL_DO)
    if basis is Basis.RULE:
        thick, thin = (bore_mm / bores for bores in BORE_PER_THICKNESS)
        weaker, stronger = max(weaker, thin), min(stronger, thick)
    return Range(
        target=target,
        low=min(target, round_up(weaker, step)),
        high=max(target, round_down(stronger, step)),
    )


def _height(inputs: SizingInputs, room: Room | None) -> tuple[Range | None, HeightFrom]:
    """Highest step that goes in for certain and leaves the usual play; a document as it is."""
    documented = inputs.documented.height if inputs.documented else None
    found = inputs.found.height if inputs.found else None
    if room is not None:
        most = min(room.certain_mm, room.value_mm - inputs.clearance.value)
        if documented is not None and documented.value <= room.certain_mm:
            return _height_range(documented.value, exact=True), HeightFrom.DOCUMENTED
        return _height_range(most, exact=False), HeightFrom.ROOM
    for spring, source in ((documented, HeightFrom.DOCUMENTED), (found, HeightFrom.FOUND)):
        if spring is not None:
            return _height_range(spring.value, exact=source is HeightFrom.DOCUMENTED), source
    if inputs.depth is not None:
        most = inputs.depth.value - inputs.clearance.value
        return _height_range(most, exact=False), HeightFrom.DEPTH
    return None, HeightFrom.NOTHING


def _height_range(most_mm: float, *, exact: bool) -> Range:
    target = most_mm if exact else round_down(most_mm, HEIGHT_STEP_MM)
    low = round_up(target - HEIGHT_WILL_DO_MM, HEIGHT_STEP_MM)
    return Range(target=target, low=min(low, target), high=target)


def _length(inputs: SizingInputs, thickness_mm: float, documented_mm: float | None) -> Range:
    """The length with which the watch runs longest, and those with nearly as many turns."""
    import numpy as np

    length = _lengths(inputs, thickness_mm)
    turns = turns_until_it_stops(inputs, thickness_mm, length)
    best = int(np.argmax(turns))
    needed = TURNS_WILL_DO * turns[best]
    if inputs.hours_per_turn is not None:
        needed = max(needed, min(RESERVE_H / inputs.hours_per_turn, float(turns[best])))
    enough = length[turns >= needed - _ROUNDING]
    low, high = (float(each) for each in (enough[0], enough[-1]))
    nearest = LENGTH_STEP_MM * max(1, round(float(length[best]) / LENGTH_STEP_MM))
    target = nearest if documented_mm is None else documented_mm
    return Range(
        target=target,
        low=min(target, round_up(low, LENGTH_STEP_MM)),
        high=max(target, round_down(high, LENGTH_STEP_MM)),
    )


def _lengths(inputs: SizingInputs, thickness_mm: float) -> Array:
    import numpy as np

    arbor = (inputs.arbor or assumed_arbor(inputs.bore)).value
    ring_mm2 = math.pi * (inputs.bore.value**2 - arbor**2) / 4
    return np.linspace(*_FILLS, _STEPS) * ring_mm2 / thickness_mm


def turns_until_it_stops(inputs: SizingInputs, thickness_mm: float, length_mm: Array) -> Array:
    """Compute the turns until the watch stops with new springs of these lengths, at best values.

    The torque that the train needs is a part of that of the half-area spring, half a turn on.
    """
    import numpy as np

    arbor = (inputs.arbor or assumed_arbor(inputs.bore)).value
    half_area = rules.half_area_length(inputs.bore.value, arbor, thickness_mm)
    stock = SpringInBarrel(
        bore_mm=inputs.bore.value,
        arbor_mm=arbor,
        thickness_mm=thickness_mm,
        length_mm=np.append(length_mm, half_area),
        height_mm=1.0,
        modulus_mpa=inputs.material.modulus_mpa,
        full_wind_stress_mpa=inputs.material.healthy_mpa.median,
    )
    if (end := inputs.arrangement.end) is not None:
        stock = with_end(stock, end, length_includes_end=inputs.length_includes_end)
    spiral = as_spiral(stock)
    needs = STOPS_AT.middle * np.asarray(torque_after(spiral, 0.5))[-1]
    turns: Array = np.nan_to_num(turns_until(spiral, needs))[:-1]
    return turns


def thickness_step_mm(thickness_mm: float) -> float:
    """Return the step in which springs so thick are sold."""
    return next(step for below, step in THICKNESS_STEPS_MM if thickness_mm < below)


def round_down(size_mm: float, step_mm: float) -> float:
    """Return the highest step that is no more than a size."""
    return round(step_mm * math.floor(size_mm / step_mm + _ROUNDING), 4)


def round_up(size_mm: float, step_mm: float) -> float:
    """Return the lowest step that is no less than a size."""
    return round(step_mm * math.ceil(size_mm / step_mm - _ROUNDING), 4)
