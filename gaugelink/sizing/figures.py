"""Puts the estimates of one evaluation together, spring by spring."""

from __future__ import annotations

from collections.abc import Mapping

from gaugelink.mechanics.band import Band
from gaugelink.mechanics.stopwork import stopwork_warnings
from gaugelink.mechanics.stress import stress_warnings
from gaugelink.model import Advice
from gaugelink.sizing.compare import band, reference_text
from gaugelink.sizing.inputs import SizingInputs
from gaugelink.sizing.measurement_model import reference_of
from gaugelink.sizing.movement import foreseen
from gaugelink.sizing.results import (
    ComparedSpring,
    RatioInterval,
    RuleDistance,
    SpringFigures,
    TorqueModel,
)
from gaugelink.sizing.torque_figures import BarrelSprings
from gaugelink.uncertainty.estimate import Estimate

Estimates = Mapping[str, Estimate]


class Figures:
    """The figures of the springs of one evaluation.

    Args:
        inputs: what was known and asked.
        estimates: inputs and outputs by label.
        springs: the springs at the best values of all sizes.
    """

    def __init__(self, inputs: SizingInputs, estimates: Estimates, springs: BarrelSprings) -> None:
        self._inputs = inputs
        self._estimates = estimates
        self._springs = springs

    def of_spring(self, name: str) -> SpringFigures:
        """Return the dimensions of a spring and what they give in this barrel."""
        known = self._estimates
        return SpringFigures(
            thickness=known[f"{name}.thickness"],
            length=known.get(f"{name}.length"),
            fill=known.get(f"{name}.fill"),
            turns=known.get(f"{name}.turns"),
            turns_spiral=known.get(f"{name}.turns_spiral"),
            coils_down=known.get(f"{name}.coils_down"),
            coils_wound=known.get(f"{name}.coils_wound"),
            height=known.get(f"{name}.height"),
            hours=known.get(f"{name}.hours"),
            torque_model=self._torque_model(name),
        )

    def compared(self, name: str, away: tuple[RuleDistance, ...]) -> ComparedSpring:
        """Return a given spring with its torque against its reference.

        Args:
            name: "found" or "documented".
            away: its distances from the rules.
        """
        reference = reference_of(name, self._inputs)
        at_limit = self._estimates.get(f"{name}.torque_at_limit")
        equal = self._estimates.get(f"{name}.torque_of_equal_shape")
        return ComparedSpring(
            figures=self.of_spring(name),
            torque_ratio=band(at_limit, equal) if at_limit and equal else None,
            torque_at_limit=at_limit,
            torque_of_equal_shape=equal,
            torque_reference=reference_text(name, reference, self._estimates),
            distances=away,
            ratio_full=self._ratio(f"{name}.ratio"),
            ratio_day=self._ratio(f"{name}.ratio_day"),
        )

    def _torque_model(self, name: str) -> TorqueModel | None:
        known = self._estimates
        if f"{name}.turns_usable" not in known:
            return None
        return TorqueModel(
            turns_usable=known[f"{name}.turns_usable"],
            loose_coils=known[f"{name}.loose_coils"],
            stress_range=known[f"{name}.stress_range"],
            hours_usable=known.get(f"{name}.hours_usable"),
            torque_full=known.get(f"{name}.torque_full"),
            torque_kept=known.get(f"{name}.torque_kept"),
            energy=known.get(f"{name}.energy"),
            turns_working=known.get(f"{name}.turns_working"),
            crown_turns=known.get(f"{name}.crown_turns"),
            foreseen=foreseen(self._inputs, self._ratio(f"{name}.to_found")),
            warnings=self._warnings(name),
        )

    def _warnings(self, name: str) -> tuple[Advice, ...]:
        """A stress range is warned of only where it is beyond the limit in all of its interval."""
        strongest = self._inputs.material.yield_mpa.high
        sure = self._estimates[f"{name}.stress_range"].low > 2 * strongest
        warnings = stress_warnings(self._springs[name], strongest)
        return (
            *(each for each in warnings if sure or each.code != "stress-range"),
            *stopwork_warnings(self._springs[name], self._inputs.arrangement.stopwork),
        )

    def _ratio(self, label: str) -> RatioInterval | None:
        low, high = (self._estimates.get(f"{label}_{end}") for end in ("low", "high"))
        if low is None or high is None:
            return None
        return RatioInterval(
            band=Band(low=low.value, high=high.value), whole=Band(low=low.low, high=high.high)
        )
