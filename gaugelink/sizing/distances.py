"""How far a given spring lies from what each rule asks for, and what its torque compares with."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

from gaugelink.mechanics.band import Band
from gaugelink.sizing.measurement_model import dimension
from gaugelink.sizing.results import RuleDistance
from gaugelink.uncertainty.estimate import Estimate, Model, Quantity
from gaugelink.uncertainty.first_order import propagate

# What both a rule and a spring have; fill and turns follow from the dimensions, but
# a spring may miss a rule's dimensions and still do what the rule is after.
_COMPARED = ("thickness", "length", "fill", "turns")
HEIGHT = "height"
_ROUNDING = 1e-9  # 1.64 - 0.31 - 0.10 is not quite 1.23 in binary


class _Pair(NamedTuple):
    """A figure of the given spring and what a rule says it should be, by label."""

    rule: str
    output: str
    given: str
    wanted: str

    @property
    def label(self) -> str:
        return f"{self.given} - {self.wanted}"


def distances(
    name: str, rules: Sequence[str], model: Model, inputs: Sequence[Quantity]
) -> tuple[RuleDistance, ...]:
    """Compute how far a given spring lies from every rule, in the unit of each output.

    The differences are propagated to first order as outputs of their own, so that a
    bore which moves both the rule and the spring's fill is counted once.

    Args:
        name: "found" or "documented".
        rules: the names of the rules.
        model: the measurement model that has both as outputs.
        inputs: the input quantities of the model.
    """

    def differences(values: Mapping[str, Any]) -> dict[str, Any]:
        known = {**values, **model(values)}
        return {
            pair.label: known[pair.given] - known[pair.wanted]
            for pair in pairs
            if pair.given in known and pair.wanted in known
        }

    pairs = _pairs(name, rules)
    lines = {line.label: line for line in propagate(differences, inputs, takes_arrays=True)}
    return tuple(
        _distance(pair, lines[pair.label].value, lines[pair.label].u)
        for pair in pairs
        if pair.label in lines
    )


def band(first: Estimate, second: Estimate) -> Band:
    """Return the band between two values, whichever is the larger."""
    low, high = sorted((first.value, second.value))
    return Band(low=low, high=high)


def reference_text(name: str, reference: str | None, known: Mapping[str, Any]) -> str:
    """Say in one sentence what the torque is compared with and what had to be assumed."""
    if reference is None:
        return "Against nothing: no rule covers this barrel, and no document names a size."
    missing = [
        which
        for which in ("height", "length")
        if dimension(known, name, which) is None or dimension(known, reference, which) is None
    ]
    spring = f"the {reference} spring" if reference == "documented" else "the half-area rule"
    assumed = " and ".join(f"{which}s" for which in missing)
    return f"Against {spring}{f', {assumed} taken as equal' if assumed else ''}."


def _pairs(name: str, rules: Sequence[str]) -> tuple[_Pair, ...]:
    height = _Pair(rule=HEIGHT, output=HEIGHT, given=f"{name}.height", wanted=HEIGHT)
    others = (
        _Pair(rule=rule, output=which, given=f"{name}.{which}", wanted=f"{rule}.{which}")
        for rule in rules
        for which in _COMPARED
    )
    return (height, *others)


def _distance(pair: _Pair, difference: float, u: float) -> RuleDistance:
    return RuleDistance(
        rule=pair.rule,
        output=pair.output,
        difference=difference,
        u=u,
        in_u=difference / u if u > 0 else _without_u(difference),
    )


def _without_u(difference: float) -> float:
    return 0.0 if abs(difference) < _ROUNDING else math.copysign(math.inf, difference)
