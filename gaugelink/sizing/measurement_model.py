"""The one measurement model of the sizing: from the inputs to every output, by label.

Labels are ``bore``, ``height`` and so on for the barrel, and ``<spring>.<figure>`` for
a spring, where the spring is ``found``, ``documented`` or the name of a rule. ``rules`` gives
dimensions and geometry, ``mechanics`` what each spring gives off in the barrel.

Young's modulus and the stress at full wind, which gives the free shape, are inputs (see
``mechanics.strength``). A document and the rules share those of new springs, which nearly drop
out where they are compared; the found spring has its own. Turns are those of true spirals,
and what hub and hook make of them is an input as well.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any, NamedTuple

from gaugelink.mechanics.arrangement import Stopwork
from gaugelink.mechanics.materials import with_end
from gaugelink.mechanics.motion import Wind
from gaugelink.mechanics.spring import SpringInBarrel, as_spiral
from gaugelink.mechanics.stopwork import (
    DAY_H,
    HALF_TURN,
    driving_torque,
    torque_ratio,
    torque_ratio_at,
)
from gaugelink.mechanics.strength import LEAST_KEPT
from gaugelink.mechanics.torque import (
    bend_after,
    run_down,
    torque_at_bend,
)
from gaugelink.model import DepthReference
from gaugelink.sizing import rules as equations
from gaugelink.sizing.covered import refused_rules
from gaugelink.sizing.inputs import ORDER, SizingInputs, quantities, strength_quantities
from gaugelink.sizing.rules import HALF_AREA, Rule, half_area_length
from gaugelink.sizing.torque_figures import CoilsOff, fusee_figures, fusee_of, torque_figures
from gaugelink.uncertainty.estimate import Model

FOUND, DOCUMENTED = "found", "documented"
_UNITS = {
    **dict.fromkeys(("hours", "hours_usable", "hours_to_stop"), "h"),
    **dict.fromkeys(("chain_turns", "fusee_evenness", "fusee_best_evenness"), "1"),
    **dict.fromkeys(("fusee_spare_turns", "fusee_best_set_up"), "1"),
    **dict.fromkeys(("fusee_top", "fusee_bottom"), "N mm"),
    **dict.fromkeys(("fill", "turns", "turns_spiral", "coils_down", "coils_wound"), "1"),
    **dict.fromkeys(("turns_usable", "turns_working", "crown_turns", "loose_coils"), "1"),
    **dict.fromkeys(("torque_at_limit", "torque_of_equal_shape", "torque_kept"), "1"),
    **dict.fromkeys(("ratio_low", "ratio_high", "ratio_day_low", "ratio_day_high"), "1"),
    **dict.fromkeys(("to_found_low", "to_found_high"), "1"),
    **dict.fromkeys(("over_found_low", "over_found_high"), "1"),
    **dict.fromkeys(("bore_per_thickness", "free_per_bore"), "1"),
    **dict.fromkeys(("torque_full", "torque_half_turn"), "N mm"),
    "energy": "mJ",
    **dict.fromkeys(("stress_range", "stress_full"), "MPa"),
}


# What the torque model says bends with the strength, and its uncertainty is that of the draws.
OF_THE_TORQUE = (
    *("stress_full", "turns_usable", "turns_working", "loose_coils", "stress_range", "energy"),
    *("torque_full", "torque_half_turn", "torque_kept", "crown_turns", "hours_usable"),
    *("hours_to_stop", "ratio_low", "ratio_high", "ratio_day_low", "ratio_day_high"),
    *("to_found_low", "to_found_high", "over_found_low", "over_found_high"),
    *("fusee_top", "fusee_bottom", "fusee_evenness"),
    *("fusee_spare_turns", "fusee_best_set_up", "fusee_best_evenness"),
)


def unit_of(label: str) -> str:
    """Return the unit of an output: "mm", "h", "N mm", "mJ", "MPa", or "1" for a number."""
    return _UNITS.get(label.rpartition(".")[2], "mm")


def given_names(inputs: SizingInputs) -> tuple[str, ...]:
    """Return which of the two given springs there are."""
    springs = {FOUND: inputs.found, DOCUMENTED: inputs.documented}
    return tuple(name for name, spring in springs.items() if spring is not None)


def reference_of(name: str, inputs: SizingInputs) -> str | None:
    """Return the spring that the torque of the given spring ``name`` is compared with.

    None where no rule covers the barrel and no document names a size.
    """
    if name == FOUND and inputs.documented is not None:
        return DOCUMENTED
    return None if refused_rules(inputs) else HALF_AREA


def measurement_model(inputs: SizingInputs, rules: Sequence[Rule]) -> Model:
    """Build the model: input values by label in, output values by label out.

    The shape of the inputs (what is known) decides which outputs there are; so do their
    best values, but only where one spring is compared with another a day after winding.

    Args:
        inputs: what is known; wishes that a rule covers, see ``covered``.
        rules: the rules to apply, the half-area rule among them where it is a reference.
    """
    geometry, order = _geometry(inputs, rules), order_sizes(inputs)
    best = {**{quantity.label: quantity.value for quantity in quantities(inputs)}, **order}
    names = springs_in(inputs, rules)
    torques = torque_outputs(
        inputs, names, _references(inputs), best_values={**best, **geometry(best)}
    )

    def model(values: Mapping[str, Any]) -> dict[str, Any]:
        outputs = geometry(values)
        return {**outputs, **torques({**values, **order, **outputs})}

    return model


def order_sizes(inputs: SizingInputs) -> dict[str, float]:
    """Return the sizes to order in mm by label: they are as written, and no inputs."""
    order = inputs.order
    if order is None:
        return {}
    sizes = {"thickness": order.thickness, "length": order.length, "height": order.height}
    return {f"{ORDER}.{which}": size.value for which, size in sizes.items() if size is not None}


def springs_in(inputs: SizingInputs, rules: Sequence[Rule]) -> dict[str, bool]:
    """Return the springs of the model by name, and whether each is given and not by rule."""
    given = (*given_names(inputs), *((ORDER,) if inputs.order is not None else ()))
    return {**{rule.name: False for rule in rules}, **dict.fromkeys(given, True)}


def _references(inputs: SizingInputs) -> dict[str, str]:
    named = ((name, reference_of(name, inputs)) for name in given_names(inputs))
    return {name: reference for name, reference in named if reference is not None}


def _geometry(
    inputs: SizingInputs, rules: Sequence[Rule]
) -> Callable[[Mapping[str, Any]], dict[str, Any]]:
    references = _references(inputs)
    springs = (*(rule.name for rule in rules), *given_names(inputs))

    def model(values: Mapping[str, Any]) -> dict[str, Any]:
        known = dict(values)
        if inputs.has_height:
            known["height"] = available_height(inputs.depth_reference, values)
        for rule in rules:
            known |= _sized(rule, values["bore"], values["arbor"])
        for name in springs:
            known |= _consequences(name, known, inputs.hours_per_turn)
        for name, reference in references.items():
            known |= _torques(name, reference, known)
        if inputs.found is not None:
            known |= _condition(known)
        return {label: value for label, value in known.items() if label not in values}

    return model


def available_height(reference: DepthReference, values: Mapping[str, Any]) -> Any:
    """Compute the available height in mm from the barrel's values by label.

    A lid without a recess is flat.
    """
    recess = values.get("recess", 0.0)
    if reference == DepthReference.SEAT:
        return equations.available_height_from_seat(values["depth"], recess, values["clearance"])
    return equations.available_height_from_rim(
        values["depth"], values["lid"], recess, values["clearance"]
    )


def dimension(known: Mapping[str, Any], spring: str, which: str) -> Any | None:
    """Return the thickness, length or height of a spring, None where it is not known.

    The half-area rule gives no height of its own: it is made as high as the barrel allows.
    """
    if spring == HALF_AREA and which == "height":
        return known.get("height")
    return known.get(f"{spring}.{which}")


def _sized(rule: Rule, bore: Any, arbor: Any) -> dict[str, Any]:
    thickness = rule.thickness(bore, arbor)
    return {
        f"{rule.name}.thickness": thickness,
        f"{rule.name}.length": rule.length(bore, arbor, thickness),
    }


def _consequences(
    name: str, known: Mapping[str, Any], hours_per_turn: float | None
) -> dict[str, Any]:
    thickness, length = known[f"{name}.thickness"], known.get(f"{name}.length")
    if length is None:
        return {}
    bore, arbor = known["bore"], known["arbor"]
    down = equations.coils_run_down(bore, thickness, length)
    wound = equations.coils_wound(arbor, thickness, length)
    turns = wound - down
    figures = {
        f"{name}.fill": equations.fill(bore, arbor, thickness, length),
        f"{name}.turns": turns,
        f"{name}.turns_spiral": equations.spiral_turns(bore, arbor, thickness, length),
        f"{name}.coils_down": down,
        f"{name}.coils_wound": wound,
    }
    if hours_per_turn is not None:
        figures[f"{name}.hours"] = turns * hours_per_turn
    return figures


def _condition(known: Mapping[str, Any]) -> dict[str, Any]:
    """What the found spring is assessed by, in bores and thicknesses."""
    figures = {"found.bore_per_thickness": known["bore"] / known["found.thickness"]}
    if "found.free_diameter" in known:
        figures["found.free_per_bore"] = known["found.free_diameter"] / known["bore"]
    return figures


def _torques(name: str, reference: str, known: Mapping[str, Any]) -> dict[str, Any]:
    e, e_ref = known[f"{name}.thickness"], known[f"{reference}.thickness"]
    h, h_ref = _pair(known, name, reference, "height")
    length, length_ref = _pair(known, name, reference, "length")
    at_limit = equations.torque_at_limit(h, e) / equations.torque_at_limit(h_ref, e_ref)
    of_equal_shape = equations.torque_of_equal_shape(
        h, e, length
    ) / equations.torque_of_equal_shape(h_ref, e_ref, length_ref)
    return {
        f"{name}.torque_at_limit": at_limit,
        f"{name}.torque_of_equal_shape": of_equal_shape,
    }


def _pair(known: Mapping[str, Any], name: str, reference: str, which: str) -> tuple[Any, Any]:
    """Return both sizes, or two equal ones where either is not known."""
    size, size_ref = dimension(known, name, which), dimension(known, reference, which)
    return (1.0, 1.0) if size is None or size_ref is None else (size, size_ref)


MPA_PER_GPA = 1000.0
Known = Mapping[str, Any]


class _Pair(NamedTuple):
    """Two springs to compare, so many turns after winding, and what to call the outcome."""

    label: str
    spring: str
    reference: str
    turns: float = 0.0


def torque_outputs(
    inputs: SizingInputs,
    given: Mapping[str, bool],
    references: Mapping[str, str],
    best_values: Mapping[str, Any],
) -> Callable[[Known], dict[str, Any]]:
    """Build the torque model's part: dimensions and inputs by label in, figures by label out.

    Args:
        inputs: their shape says which figures there are.
        given: whether each spring is a given one, and not one by rule.
        references: what the torque of each given spring is compared with.
        best_values: best values of inputs and dimensions by label.
    """
    at_best = BarrelSprings(best_values, inputs, given)
    pairs = tuple(_pairs(inputs, references, at_best))
    rings = {name: _rings_more(at_best, name) for name in given if at_best.has(name, "length")}

    def figures(known: Known) -> dict[str, Any]:
        springs = BarrelSprings(known, inputs, given)
        fusee = fusee_of(known) if inputs.fusee is not None else None
        found: dict[str, Any] = {}
        if fusee is not None:
            found = {"chain_length": fusee.chain_mm, "chain_turns": fusee.chain_turns}
        for name, more in rings.items():
            off = CoilsOff(*(each * known["coils_off"] for each in more))
            found |= torque_figures(name, springs, inputs, off)
            if fusee is not None:
                found |= fusee_figures(name, springs, inputs, fusee, off.turns)
        for pair in pairs:
            found |= _ratio(pair, springs, inputs.arrangement.stopwork)
        return found

    return figures


def _rings_more(springs: BarrelSprings, name: str) -> CoilsOff:
    """By how much rings count more than a true spiral."""
    rings, spiral = run_down(springs.in_rings(name)), run_down(springs[name])
    return CoilsOff(
        turns=float(rings.turns_usable - spiral.turns_usable),
        loose=float(rings.loose_coils - spiral.loose_coils),
    )


class BarrelSprings:
    """The springs of one evaluation as they act in the barrel, coiled as spirals, built once each.

    The end takes its room from every spring, and its length from the given ones, whose
    length may count it; a rule gives the acting length. A size that is not known is 1 mm
    high or as long as half of the ring asks for: what comes of it must not be shown.
    """

    def __init__(self, known: Known, inputs: SizingInputs, given: Mapping[str, bool]) -> None:
        self._known, self._inputs, self._given = known, inputs, given
        self._built: dict[str, SpringInBarrel] = {}
        self._bends: dict[tuple[str, float], Any] = {}

    @property
    def names(self) -> tuple[str, ...]:
        """The springs there are."""
        return tuple(self._given)

    def torque_to_run(self, name: str) -> Any:
        """Return the torque in N mm below which the watch stops, by that of a healthy reference.

        That is the document, else the half-area rule, else the spring itself; as high as the
        spring where either height is not known.
        """
        known = (each for each in (DOCUMENTED, HALF_AREA) if each in self._given)
        reference = next((each for each in known if self.has(each, "length")), name)
        healthy = self[reference]
        if not all(self.has(each, "height") for each in (name, reference)):
            healthy = replace(healthy, height_mm=self[name].height_mm)
        return self._known["stops_at"] * torque_at_bend(healthy, self.bend(reference, HALF_TURN))

    def has(self, name: str, which: str) -> bool:
        """Whether the "length" or "height" of a spring is known."""
        return self._label(name, which) in self._known

    @property
    def slip_loss(self) -> Any | None:
        """Part of the torque at full wind that is lost where a bridle slips; None without one."""
        return self._known.get("slip_loss")

    @property
    def set_up(self) -> Any:
        """Turns of the barrel that are left when the chain is off the fusee."""
        return self._known["fusee_set_up"]

    def __getitem__(self, name: str) -> SpringInBarrel:
        if name not in self._built:
            self._built[name] = as_spiral(self.in_rings(name))
        return self._built[name]

    def bend(self, name: str, turns: float) -> Any:
        """Return what the free part has straightened by, in 1/mm, so many turns from full wind."""
        if (name, turns) not in self._bends:
            self._bends[name, turns] = bend_after(self[name], turns) if turns else 0.0
        return self._bends[name, turns]

    def _label(self, name: str, which: str) -> str:
        barrels = which == "height" and not self._given[name]
        return "height" if barrels else f"{name}.{which}"

    def in_rings(self, name: str) -> SpringInBarrel:
        """Return a spring with its coils as closed rings, which count some turns more."""
        known, thickness = self._known, self._known[f"{name}.thickness"]
        modulus, stress = _strength(name, known)
        spring = SpringInBarrel(
            bore_mm=known["bore"],
            arbor_mm=known["arbor"],
            thickness_mm=thickness,
            length_mm=known[f"{name}.length"]
            if self.has(name, "length")
            else half_area_length(known["bore"], known["arbor"], thickness),
            height_mm=known.get(self._label(name, "height"), 1.0),
            modulus_mpa=modulus,
            full_wind_stress_mpa=stress,
        )
        end = self._inputs.arrangement.end
        if end is None:
            return spring
        counted = (
            self._given[name] and self._inputs.length_includes_end and self.has(name, "length")
        )
        return with_end(spring, end, length_includes_end=counted, part=known["end_room"])


def _strength(name: str, known: Known) -> tuple[Any, Any]:
    """Return modulus and full-wind stress of a spring in MPa."""
    if name != FOUND:
        return MPA_PER_GPA * known["modulus"], known["full_wind_stress"]
    modulus = MPA_PER_GPA * known["found.modulus"]
    if "found.strain" in known:
        return modulus, modulus * known["found.strain"]
    return modulus, known["found.healthy_stress"] * known["found.strength_kept"]


def _pairs(
    inputs: SizingInputs, references: Mapping[str, str], at_best: BarrelSprings
) -> Iterator[_Pair]:
    """A comparison a day later asks that both springs surely run as long."""
    day = DAY_H / inputs.hours_per_turn if inputs.hours_per_turn else None
    for name, reference in references.items():
        yield _Pair(label=f"{name}.ratio", spring=name, reference=reference)
        if day is not None and _both_run(at_best, (name, reference), inputs, day):
            yield _Pair(label=f"{name}.ratio_day", spring=name, reference=reference, turns=day)
    if inputs.found is not None and ORDER in at_best.names:
        yield _Pair(label=f"{ORDER}.over_found", spring=ORDER, reference=FOUND)
    if inputs.amplitude is None or inputs.found is None:
        return
    turns = turns_when_measured(inputs)
    for name in at_best.names:
        if name != "found" and (turns == 0.0 or _both_run(at_best, (name, "found"), inputs, turns)):
            yield _Pair(label=f"{name}.to_found", spring=name, reference="found", turns=turns)


def _both_run(
    at_best: BarrelSprings, names: Sequence[str], inputs: SizingInputs, turns: float
) -> bool:
    return all(
        at_best.has(name, "length")
        and runs_longer(at_best[name], inputs, turns, weakest=_weakest(name, inputs))
        for name in names
    )


def _ratio(pair: _Pair, springs: BarrelSprings, stopwork: Stopwork | None) -> dict[str, Any]:
    """Both limits of the torque of one spring over that of another.

    Where a stopwork begins depends on the length: if one is not known full wind is used for it.
    """
    names = (pair.spring, pair.reference)
    healthy = FOUND not in names
    spring, reference = (springs[name] for name in names)
    if not all(springs.has(name, "height") for name in names):
        spring, reference = replace(spring, height_mm=1.0), replace(reference, height_mm=1.0)
    if stopwork is not None and all(springs.has(name, "length") for name in names):
        band = torque_ratio(
            spring, reference, turns=pair.turns, stopwork=stopwork, may_share_shape=healthy
        )
    else:
        bend, reference_bend = (springs.bend(name, pair.turns) for name in names)
        known = torque_at_bend(reference, reference_bend)
        band = torque_ratio_at(spring, reference, bend, known, may_share_shape=healthy)
    return {f"{pair.label}_low": band.low, f"{pair.label}_high": band.high}


def runs_longer(
    spring: SpringInBarrel, inputs: SizingInputs, turns: float, *, weakest: float
) -> bool:
    """Whether a spring still drives after so many turns, at the weakest that it may be.

    Args:
        spring: one spring, at best values.
        inputs: for a stopwork.
        turns: turns since the watch was wound.
        weakest: part of its full-wind stress that it surely has.
    """
    weak = replace(spring, full_wind_stress_mpa=weakest * spring.full_wind_stress_mpa)
    return bool(driving_torque(weak, inputs.arrangement.stopwork, turns) > 0)


def _weakest(name: str, inputs: SizingInputs) -> float:
    """What part of its best stress a spring surely has: the low end of 95 %."""
    known = strength_quantities(inputs)
    strain = known.get("found.strain")
    if name == FOUND and strain is not None:
        u = math.hypot(*(term.factor * term.influence.u for term in strain.terms))
        return max(1 - 2 * u / strain.value, 0.0)
    material = inputs.material_of_found if name == FOUND else inputs.material
    healthy = material.full_wind_stress_mpa.low / material.healthy_mpa.median
    return healthy * LEAST_KEPT if name == FOUND else healthy


def turns_when_measured(inputs: SizingInputs) -> float:
    """Return the barrel turns since winding at which the amplitude was measured.

    A day later needs the hours per turn; without them, and without an amplitude, 0.
    """
    measured, hours = inputs.amplitude, inputs.hours_per_turn
    if measured is None or measured.wind is not Wind.DAY_LATER or hours is None:
        return 0.0
    return DAY_H / hours
