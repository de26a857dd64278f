"""Materials for the sizing tests: one exactly known, one within a spread (both invented)."""

from __future__ import annotations

from dataclasses import replace

from gaugelink.mechanics.band import SourcedBand
from gaugelink.mechanics.materials import HealthyStress, Material, material_named


def sure(low: float, high: float | None = None) -> SourcedBand:
    return SourcedBand(low=low, high=low if high is None else high, source="invented")


def alloy(
    stress_mpa: float, spread: float = 0.0, modulus_gpa: SourcedBand | None = None
) -> Material:
    """A definite material whose healthy springs have this median stress at full wind."""
    return replace(
        material_named("cobalt-nickel"),
        modulus_gpa=modulus_gpa or sure(215.0),
        healthy_mpa=HealthyStress(median=stress_mpa, spread=spread, most=1e4, source="invented"),
    )
