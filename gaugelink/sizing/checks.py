"""Refuses what no barrel can have, and warns of what is possible but unlikely.

Each check looks at best values only, before anything is computed, and raises ``SizingError``
with one sentence. ``doubts`` warns of a slip of the unit, a wrong spring, a worn part; its
limits are common practice unless a line says otherwise, wide enough for small ladies'
movements and large pocket watches.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence

from gaugelink.errors import SizingError
from gaugelink.mechanics.signs import FoundSeen
from gaugelink.mechanics.spring import fits as acting_fits
from gaugelink.mechanics.stress import LEAST_ARBOR_PER_THICKNESS
from gaugelink.model import Advice, DepthReference
from gaugelink.sizing import rules
from gaugelink.sizing.covered import refused_rules
from gaugelink.sizing.inputs import ASSUMED_ARBOR_SPREAD, SizingInputs, quantities
from gaugelink.sizing.measurement_model import BarrelSprings, available_height, given_names
from gaugelink.sizing.rules import HALF_AREA, WANTED_TURNS, Rule, rules_for
from gaugelink.units import spoken

_MAY_BE_ZERO = ("recess", "clearance", "coils_off", "fusee_set_up")


def check_inputs(inputs: SizingInputs) -> None:
    """Refuse inputs that contradict one another or themselves.

    Raises:
        SizingError: a size that is not above zero, an arbor as wide as the bore, a lid
            thicker than the barrel is deep, a recess through the lid, no height left
            for a spring, a spring that the barrel cannot hold.
    """
    _check_seen(inputs.seen)
    values = {quantity.label: quantity.value for quantity in quantities(inputs)}
    _check_positive(values)
    _check_wishes(inputs)
    _check_arbor(values)
    _check_lid(values)
    if inputs.fusee is not None:
        _check_fusee(values)
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
    return inner_mm < outer_mm and (rules.fill(outer_mm, inner_mm, thickness_mm, length_mm) < 1)


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


def _check_seen(seen: FoundSeen | None) -> None:
    """Before the strength follows from it, which takes logarithms."""
    names = ("free_diameter", "crown_turns", "hung_mass", "hung_radius")
    for name in names if seen is not None else ():
        quantity = getattr(seen, name)
        if quantity is not None and not (math.isfinite(quantity.value) and quantity.value > 0):
            said = _SEEN.get(name, spoken(f"found.{name}"))
            raise SizingError(
                f"The {said} cannot be {quantity.value:g}.",
                inputs=(f"found.{name}",),
                hint="Give a number above zero, or leave it out.",
            )


_SEEN = {"hung_mass": "weight on the barrel", "hung_radius": "radius of the weight's thread"}


def _check_positive(values: Mapping[str, float]) -> None:
    for label, value in values.items():
        zero_allowed = label in _MAY_BE_ZERO
        if math.isfinite(value) and (value > 0 or (zero_allowed and value == 0)):
            continue
        wanted = "zero or more" if zero_allowed else "above zero"
        raise SizingError(
            f"The {spoken(label)} is {value:g} mm, which cannot be right.",
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


def _check_fusee(values: Mapping[str, float]) -> None:
    small, large = values["fusee_small"], values["fusee_large"]
    outside, bore = values["barrel_outside"], values["bore"]
    if small > large:
        raise SizingError(
            f"The small end of the fusee, {small:g} mm, is wider than the large one, {large:g} mm.",
            inputs=("fusee_small", "fusee_large"),
            hint="Give the small end first, where the chain pulls at full wind.",
        )
    if not small <= values.get("fusee_middle", small) <= large:
        raise SizingError(
            f"Half way along the fusee cannot be {values['fusee_middle']:g} mm wide.",
            inputs=("fusee_middle",),
            hint="Give the diameter where half of the turns lie, between those of the two ends.",
        )
    if outside <= bore:
        raise SizingError(
            f"The barrel of {outside:g} mm outside is not wider than its bore of {bore:g} mm.",
            inputs=("barrel_outside", "bore"),
            hint="Give the diameter over the middle of the chain on the barrel.",
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
        return "Check what was weighed, counted or measured for its length."
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
            hint="Check how its outer end is held, and whether its length counts the end.",
        )


BORE_MM = (3.0, 30.0)
DEPTH_MM = (0.5, 9.0)
ARBOR_PER_BORE = (0.25, 0.40)
BORE_PER_THICKNESS = (80.0, 100.0)
FILL = (0.45, 0.62)
LEAST_FILL_UNBROKEN = 0.30  # judgement: no rule and no tired spring comes near it
MOST_RECESS_PER_LID = 0.5
HOURS_PER_TURN = (4.0, 30.0)  # judgement: one-day watches have 6 to 8, eight-day ones some 24
LEAST_EXCESS_MM = 0.005  # half the last digit that a height is written with


def doubts(
    inputs: SizingInputs, known: Mapping[str, float], left_out: tuple[Rule, ...]
) -> tuple[Advice, ...]:
    """List what is doubtful about the inputs and the springs.

    Args:
        inputs: what is known; the shape of it matters, the values come from ``known``.
        known: best values of inputs and outputs by label, lengths in mm.
        left_out: rules whose spring does not fit the barrel.

    Returns:
        The warnings, the barrel first, then each spring.
    """
    return (
        *_barrel(known),
        *_missing(inputs),
        *unused_signs(inputs),
        *_hours(inputs),
        *_rules(left_out),
        *(w for name in _springs(inputs, known) for w in _spring(name, known)),
    )


def _warning(code: str, text: str) -> Advice:
    return Advice(code=code, text=text)


def _usual(limits: tuple[float, float]) -> str:
    return f"outside the usual {limits[0]:g} to {limits[1]:g}"


def _outside(value: float, limits: tuple[float, float]) -> bool:
    return not limits[0] <= value <= limits[1]


def _barrel(known: Mapping[str, float]) -> Iterator[Advice]:
    bore, depth, arbor = known["bore"], known.get("depth"), known["arbor"]
    lid, recess = known.get("lid"), known.get("recess", 0.0)
    if _outside(bore, BORE_MM):
        yield _warning("bore", f"A bore of {bore:g} mm: is it in the right unit?")
    if depth is not None and _outside(depth, DEPTH_MM):
        yield _warning("depth", f"A depth of {depth:g} mm: is it in the right unit?")
    if _outside(arbor / bore, ARBOR_PER_BORE):
        yield _warning(
            "arbor",
            f"The arbor is {arbor / bore:.2f} of the bore, {_usual(ARBOR_PER_BORE)}.",
        )
    if lid is not None and recess > MOST_RECESS_PER_LID * lid:
        yield _warning(
            "recess", f"The recess of {recess:g} mm is more than half of the lid of {lid:g} mm."
        )


def _missing(inputs: SizingInputs) -> Iterator[Advice]:
    if inputs.arbor is None:
        yield _warning(
            "arbor-assumed",
            "No arbor was given: a third of the bore is assumed, which may be "
            f"{100 * ASSUMED_ARBOR_SPREAD:.0f} % off.",
        )
    rim = inputs.depth_reference == DepthReference.RIM
    if inputs.depth is not None and inputs.lid is None and rim:
        yield _warning(
            "lid-missing",
            "The depth goes to the rim and no lid was given: no height is worked out.",
        )


def unused_signs(inputs: SizingInputs) -> Iterator[Advice]:
    """Say what was seen of the found spring and tells nothing, as something else is not known."""
    seen, found = inputs.seen, inputs.found
    if seen is None:
        return
    if found is None or found.length is None:
        if any(_tells_strength(seen)):
            yield _warning(
                "signs-unused",
                "What you saw of the found spring changes torque and turns only with its "
                "thickness and length: measure them, or weigh it (--found-mass).",
            )
        return
    if seen.crown_turns is not None and inputs.winding_train is None:
        yield _warning(
            "crown-turns-unused",
            "The crown turns of the found spring tell nothing without the winding train: count its "
            "teeth (--winding-train).",
        )
    missing = [
        what
        for what, known in (
            ("the weight (--found-weight)", seen.hung_mass),
            ("the radius of its thread (--found-weight-radius)", seen.hung_radius),
            ("the height of the found spring (--found-height)", found.height),
        )
        if known is None
    ]
    if missing and (seen.hung_mass is not None or seen.hung_radius is not None):
        yield _warning(
            "weight-unused", f"The weight on the barrel tells nothing without {_listed(missing)}."
        )


def _tells_strength(seen: FoundSeen) -> Iterator[bool]:
    signs = (seen.free_coils, seen.free_diameter, seen.loose_coils, seen.crown_turns)
    return (each is not None for each in (*signs, seen.s_shape, seen.hung_mass, seen.hung_radius))


def _listed(parts: Sequence[str]) -> str:
    *first, last = parts
    return f"{', '.join(first)} and {last}" if first else last


def _hours(inputs: SizingInputs) -> Iterator[Advice]:
    hours = inputs.hours_per_turn
    if hours is None or not _outside(hours, HOURS_PER_TURN):
        return
    asked = (
        "is it one turn, and not the whole run?"
        if inputs.train is None
        else "does the last pinion of the train turn once an hour?"
    )
    yield _warning(
        "hours-per-turn",
        f"A turn of the barrel lasts {hours:.3g} h, {_usual(HOURS_PER_TURN)}: {asked}",
    )


def _rules(left_out: tuple[Rule, ...]) -> Iterator[Advice]:
    for rule in left_out:
        yield _warning(
            "rule-left-out",
            f"The rule {rule.name} is left out: its spring would not fit this barrel.",
        )


def _springs(inputs: SizingInputs, known: Mapping[str, float]) -> tuple[str, ...]:
    wanted = (WANTED_TURNS,) if f"{WANTED_TURNS}.thickness" in known else ()
    return (*given_names(inputs), *wanted)


def _spring(name: str, known: Mapping[str, float]) -> Iterator[Advice]:
    yield from _thickness(name, known)
    yield from _length(name, known)
    yield from _height(name, known)


def _thickness(name: str, known: Mapping[str, float]) -> Iterator[Advice]:
    thickness = known[f"{name}.thickness"]
    bores, arbors = known["bore"] / thickness, known["arbor"] / thickness
    if _outside(bores, BORE_PER_THICKNESS):
        yield _warning(
            f"{name}-thickness",
            f"The bore is {bores:.0f} times the thickness of the {name} spring, "
            f"{_usual(BORE_PER_THICKNESS)}.",
        )
    if arbors < LEAST_ARBOR_PER_THICKNESS:
        yield _warning(
            f"{name}-set",
            f"The arbor is only {arbors:.0f} times the thickness of the {name} spring: "
            f"below {LEAST_ARBOR_PER_THICKNESS:g} it sets or breaks.",
        )


def _length(name: str, known: Mapping[str, float]) -> Iterator[Advice]:
    filled = known.get(f"{name}.fill")
    if filled is None:
        return
    if filled < LEAST_FILL_UNBROKEN:
        yield _warning(
            f"{name}-short",
            f"The {name} spring fills only {filled:.2f} of the ring: is a piece of it missing?",
        )
    elif _outside(filled, FILL):
        yield _warning(
            f"{name}-fill",
            f"The {name} spring fills {filled:.2f} of the ring, {_usual(FILL)}.",
        )


def _height(name: str, known: Mapping[str, float]) -> Iterator[Advice]:
    height, available = known.get(f"{name}.height"), known.get("height")
    if height is None or available is None:
        return
    if height - available > LEAST_EXCESS_MM:
        yield _warning(
            f"{name}-height",
            f"The {name} spring of {height:.3f} mm is higher than the available "
            f"{available:.3f} mm: it is too high for its barrel.",
        )
