"""Materials for the sizing tests: one exactly known, one within a band (both invented)."""

from __future__ import annotations

from dataclasses import replace

from gaugelink.mechanics.band import SourcedBand
from gaugelink.mechanics.materials import Material, material_named


def sure(low: float, high: float | None = None) -> SourcedBand:
    return SourcedBand(low=low, high=low if high is None else high, source="invented")


def alloy(stress_mpa: SourcedBand, modulus_gpa: SourcedBand | None = None) -> Material:
    return replace(
        material_named("cobalt-nickel"),
        modulus_gpa=modulus_gpa or sure(215.0),
        full_wind_stress_mpa=stress_mpa,
    )
