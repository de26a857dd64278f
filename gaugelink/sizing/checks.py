"""Refuses what no barrel can have, before anything is computed.

Each check looks at best values only and raises ``SizingError`` with one sentence.
What is merely doubtful is warned of in ``doubts``.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from gaugelink.errors import SizingError
from gaugelink.mechanics.spring import fits as acting_fits
from gaugelink.model import DepthReference
from gaugelink.names import spoken
from gaugelink.sizing import equations
from gaugelink.sizing.covered import refused_rules
from gaugelink.sizing.inputs import SizingInputs, quantities
from gaugelink.sizing.measurement_model import available_height, given_names
from gaugelink.sizing.rules import HALF_AREA, Rule, rules_for
from gaugelink.sizing.torque_figures import BarrelSprings

_MAY_BE_ZERO = ("recess", "clearance")


def check_inputs(inputs: SizingInputs) -> None:
    """Refuse inputs that contradict one another or themselves.

    Raises:
        SizingError: a size that is not above zero, an arbor as wide as the bore, a lid
            thicker than the barrel is deep, a recess through the lid, no height left
            for a spring, a spring that the barrel cannot hold.
    """
    values = {quantity.label: quantity.value for quantity in quantities(inputs)}
    _check_positive(values)
    _check_wishes(inputs)
    _check_arbor(values)
    _check_lid(values)
    if inputs.has_height:
        _check_height(inputs, values)
    for name in given_names(inputs):
        _check_spring(name, inputs, values)
        _check_end(name, inputs, values)


def fits(bore_mm: float, arbor_mm: float, thickness_mm: float, length_mm: float) -> bool:
    """Whether a spring, coiled as a true spiral, leaves some of the ring free.

    The spiral's ring is narrower than the barrel's by one thickness (see
    ``equations.spiral_turns``), so this is a little stricter than fill < 1.
    """
    inner_mm, outer_mm = arbor_mm + thickness_mm, bore_mm - thickness_mm
    return inner_mm < outer_mm and (equations.fill(outer_mm, inner_mm, thickness_mm, length_mm) < 1)


def rules_that_fit(inputs: SizingInputs) -> tuple[tuple[Rule, ...], tuple[Rule, ...]]:
    """Split the rules into those whose spring fits the barrel and those left out.

    Where no rule covers the barrel there are neither.
    """
    if refused_rules(inputs):
        return (), ()
    values = {quantity.label: quantity.value for quantity in quantities(inputs)}
    every = rules_for(inputs.wanted_turns)
    kept = tuple(rule for rule in every if _rule_fits(rule, values["bore"], values["arbor"]))
    return kept, tuple(rule for rule in every if rule not in kept)


def _rule_fits(rule: Rule, bore: float, arbor: float) -> bool:
    thickness = rule.thickness(bore, arbor)
    return fits(bore, arbor, thickness, rule.length(bore, arbor, thickness))


def _check_positive(values: Mapping[str, float]) -> None:
    for label, value in values.items():
        zero_allowed = label in _MAY_BE_ZERO
        if math.isfinite(value) and (value > 0 or (zero_allowed and value == 0)):
            continue
        wanted = "zero or more" if zero_allowed else "above zero"
        raise SizingError(
            f"The {spoken(label)} is {value:g} mm, which is not a size.",
            inputs=(label,),
            hint=f"Give the {spoken(label)} in mm, {wanted}.",
        )


def _check_wishes(inputs: SizingInputs) -> None:
    wishes = {"hours_per_turn": inputs.hours_per_turn, "wanted_turns": inputs.wanted_turns}
    for label, value in wishes.items():
        if value is not None and not (math.isfinite(value) and value > 0):
            raise SizingError(
                f"The {spoken(label)} cannot be {value:g}.",
                inputs=(label,),
                hint="Give a number above zero or leave it out.",
            )


def _check_arbor(values: Mapping[str, float]) -> None:
    bore, arbor = values["bore"], values["arbor"]
    if arbor >= bore:
        raise SizingError(
            f"The arbor of {arbor:g} mm is not narrower than the bore of {bore:g} mm.",
            inputs=("arbor", "bore"),
            hint="Measure the arbor across the hub and the bore inside the barrel.",
        )
    half_area = next(rule for rule in rules_for(None) if rule.name == HALF_AREA)
    if not _rule_fits(half_area, bore, arbor):
        raise SizingError(
            f"An arbor of {arbor:g} mm in a bore of {bore:g} mm leaves no room for a spring.",
            inputs=("arbor", "bore"),
            hint="Measure the arbor across the hub and the bore inside the barrel.",
        )


def _check_lid(values: Mapping[str, float]) -> None:
    lid, recess = values.get("lid"), values.get("recess")
    if lid is not None and recess is not None and recess >= lid:
        raise SizingError(
            f"The recess of {recess:g} mm is as deep as the lid of {lid:g} mm is thick.",
            inputs=("recess", "lid"),
            hint="Measure the lid at its edge and the recess from its inner face.",
        )


def _check_height(inputs: SizingInputs, values: Mapping[str, float]) -> None:
    depth, clearance = values["depth"], values["clearance"]
    below_rim = values.get("lid", 0.0) - values.get("recess", 0.0)
    if inputs.depth_reference == DepthReference.RIM and below_rim >= depth:
        raise SizingError(
            f"A lid that takes {below_rim:g} mm does not go into a depth of {depth:g} mm.",
            inputs=("lid", "depth"),
            hint="Say whether the depth was taken to the rim or to the seat of the lid.",
        )
    if available_height(inputs.depth_reference, values) <= 0:
        raise SizingError(
            f"A clearance of {clearance:g} mm leaves no height for a spring.",
            inputs=("clearance", "depth"),
            hint="Give a smaller clearance, or measure the depth again.",
        )


def _check_spring(name: str, inputs: SizingInputs, values: Mapping[str, float]) -> None:
    bore, arbor = values["bore"], values["arbor"]
    thickness, length = values.get(f"{name}.thickness"), values.get(f"{name}.length")
    if thickness is None:
        return
    if length is None and 2 * thickness >= bore - arbor:
        raise SizingError(
            f"The {name} spring of {thickness:g} mm is thicker than the ring is wide.",
            inputs=(f"{name}.thickness",),
            hint="Check that the thickness is in mm, not in hundredths.",
        )
    if length is not None and not fits(bore, arbor, thickness, length):
        raise SizingError(
            f"The {name} spring of {thickness:g} mm x {length:g} mm does not fit between "
            f"an arbor of {arbor:.3g} mm and a bore of {bore:g} mm.",
            inputs=(f"{name}.thickness", f"{name}.length"),
            hint=_length_hint(name, inputs),
        )


def _length_hint(name: str, inputs: SizingInputs) -> str:
    worked_out = inputs.found_length.length if inputs.found_length else None
    if name == "found" and inputs.found and worked_out and inputs.found.length is worked_out:
        return "Look again at what was weighed, counted or measured for its length."
    return "Check that thickness and length are in mm."


def _check_end(name: str, inputs: SizingInputs, values: Mapping[str, float]) -> None:
    """Refuse a spring that fits the bare barrel, but not with what its outer end takes."""
    springs = BarrelSprings(values, inputs, {name: True})
    end = inputs.arrangement.end
    if end is None or not springs.has(name, "length"):
        return
    acting = springs[name]
    if not acting_fits(acting):
        raise SizingError(
            f"The {name} spring does not fit its barrel with {end.title}: "
            f"{acting.length_mm:.0f} mm of it would act in a bore of {acting.bore_mm:.3g} mm.",
            inputs=(f"{name}.length", "end"),
            hint="Look again how its outer end is held, and whether its length counts the end.",
        )
