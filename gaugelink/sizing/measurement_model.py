"""The one measurement model of the sizing: from the inputs to every output, by label.

``equations`` and ``rules`` give the dimensions and the geometry, ``torque_figures`` what
the torque model says.

Labels are ``bore``, ``height`` and so on for the barrel, and ``<spring>.<figure>`` for
a spring, where the spring is ``found``, ``documented`` or the name of a rule.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from gaugelink.model import DepthReference
from gaugelink.sizing import equations
from gaugelink.sizing.covered import refused_rules
from gaugelink.sizing.inputs import SizingInputs, quantities
from gaugelink.sizing.rules import HALF_AREA, Rule
from gaugelink.sizing.torque_figures import torque_outputs
from gaugelink.uncertainty.estimate import Model

FOUND, DOCUMENTED = "found", "documented"

_UNITS = {
    **dict.fromkeys(("hours", "hours_usable"), "h"),
    **dict.fromkeys(("fill", "turns", "turns_spiral", "coils_down", "coils_wound"), "1"),
    **dict.fromkeys(("turns_usable", "turns_working", "crown_turns", "loose_coils"), "1"),
    **dict.fromkeys(("torque_at_limit", "torque_of_equal_shape", "torque_kept"), "1"),
    **dict.fromkeys(("ratio_low", "ratio_high", "ratio_day_low", "ratio_day_high"), "1"),
    **dict.fromkeys(("to_found_low", "to_found_high"), "1"),
    **dict.fromkeys(("bore_per_thickness", "free_per_bore"), "1"),
    "torque_full": "N mm",
    "energy": "mJ",
    "stress_range": "MPa",
}


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
    geometry = _geometry(inputs, rules)
    best = {quantity.label: quantity.value for quantity in quantities(inputs)}
    names = {**{rule.name: False for rule in rules}, **dict.fromkeys(given_names(inputs), True)}
    torques = torque_outputs(
        inputs, names, _references(inputs), best_values={**best, **geometry(best)}
    )

    def model(values: Mapping[str, Any]) -> dict[str, Any]:
        outputs = geometry(values)
        return {**outputs, **torques({**values, **outputs})}

    return model


def _references(inputs: SizingInputs) -> dict[str, str]:
    named = ((name, reference_of(name, inputs)) for name in given_names(inputs))
    return {name: reference for name, reference in named if reference is not None}


def _geometry(
    inputs: SizingInputs, rules: Sequence[Rule]
) -> Callable[[Mapping[str, Any]], dict[str, Any]]:
    names, references = given_names(inputs), _references(inputs)
    springs = (*(rule.name for rule in rules), *names)

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
    turns = equations.development_turns(bore, arbor, thickness, length)
    figures = {
        f"{name}.fill": equations.fill(bore, arbor, thickness, length),
        f"{name}.turns": turns,
        f"{name}.turns_spiral": equations.spiral_turns(bore, arbor, thickness, length),
        f"{name}.coils_down": equations.coils_run_down(bore, thickness, length),
        f"{name}.coils_wound": equations.coils_wound(arbor, thickness, length),
    }
    if hours_per_turn is not None:
        figures[f"{name}.hours"] = turns * hours_per_turn
    return figures


def _condition(known: Mapping[str, Any]) -> dict[str, Any]:
    """What the found spring is judged by, in bores and thicknesses."""
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
