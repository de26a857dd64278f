"""The one measurement model of the sizing: from the inputs to every output, by label.

Labels are ``bore``, ``height`` and so on for the barrel, and ``<spring>.<figure>`` for
a spring, where the spring is ``found``, ``documented`` or the name of a rule.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from gaugelink.model import DepthReference
from gaugelink.sizing import equations
from gaugelink.sizing.inputs import SizingInputs
from gaugelink.sizing.rules import HALF_AREA, Rule
from gaugelink.uncertainty.estimate import Model

FOUND, DOCUMENTED = "found", "documented"

_UNITS = {
    "hours": "h",
    **dict.fromkeys(("fill", "turns", "turns_spiral", "coils_down", "coils_wound"), "1"),
    **dict.fromkeys(("torque_at_limit", "torque_of_equal_shape"), "1"),
}


def unit_of(label: str) -> str:
    """Return the unit of an output: "mm", "h", or "1" for a number."""
    return _UNITS.get(label.rpartition(".")[2], "mm")


def given_names(inputs: SizingInputs) -> tuple[str, ...]:
    """Return which of the two given springs there are."""
    springs = {FOUND: inputs.found, DOCUMENTED: inputs.documented}
    return tuple(name for name, spring in springs.items() if spring is not None)


def reference_of(name: str, inputs: SizingInputs) -> str:
    """Return the spring that the torque of the given spring ``name`` is compared with."""
    return DOCUMENTED if name == FOUND and inputs.documented is not None else HALF_AREA


def measurement_model(inputs: SizingInputs, rules: Sequence[Rule]) -> Model:
    """Build the model: input values by label in, output values by label out.

    The shape of the inputs (what is known) decides which outputs there are; their
    values do not. ``rules`` must hold the half-area rule, the fallback reference.
    """
    names = given_names(inputs)
    springs = (*(rule.name for rule in rules), *names)

    def model(values: Mapping[str, Any]) -> dict[str, Any]:
        known = dict(values)
        if inputs.has_height:
            known["height"] = available_height(inputs.depth_reference, values)
        for rule in rules:
            known |= _sized(rule, values["bore"], values["arbor"])
        for name in springs:
            known |= _consequences(name, known, inputs.hours_per_turn)
        for name in names:
            known |= _torques(name, reference_of(name, inputs), known)
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
