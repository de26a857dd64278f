"""What was typed of the found spring beside its sizes: clues to its length, its condition."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from gaugelink.quantities import parse_count, parse_length, parse_mass
from gaugelink.sizing.found_clues import typed_clue, with_found_length
from gaugelink.sizing.inputs import FoundSeen, SizingInputs
from gaugelink.uncertainty.estimate import Quantity

LENGTH_CLUES = ("mass", "coils", "band_inside", "core", "wound_outside", "core_coils")
CONDITION = ("free_diameter", "loose_coils", "thickness_spread")
_COUNTS = ("coils", "core_coils")


def with_clues(
    inputs: SizingInputs, typed: Mapping[str, str | None], measured_spread_mm: float | None = None
) -> SizingInputs:
    """Return the inputs with the length and the condition that were typed.

    Args:
        inputs: what else is known.
        typed: what was typed by name, one of ``LENGTH_CLUES`` and ``CONDITION``.
        measured_spread_mm: spread of the thickness readings of the job, if it has some.

    Raises:
        InputError: something typed cannot be used.
        SizingError: the clues suffice for no length, or are not possible.
    """
    given = {name: text for name, text in typed.items() if text is not None}
    clues = {name: _clue(name, given[name]) for name in LENGTH_CLUES if name in given}
    inputs = replace(inputs, seen=_seen(given, measured_spread_mm))
    return with_found_length(inputs, clues)


def _clue(name: str, text: str) -> Quantity:
    spoken = f"found {name.replace('_', ' ')}"
    if name == "mass":
        mass = parse_mass(text, spoken)
        return typed_clue(name, mass.value, mass.u)
    if name in _COUNTS:
        count = parse_count(text, spoken)
        return typed_clue(name, count.value, count.u)
    length = parse_length(text, spoken)
    return typed_clue(name, length.value_mm, length.u_mm)


def _seen(given: Mapping[str, str], measured_spread_mm: float | None) -> FoundSeen | None:
    free, loose, spread = (given.get(name) for name in CONDITION)
    spread_mm = parse_length(spread, "found thickness spread").value_mm if spread else None
    seen = FoundSeen(
        free_diameter=_clue("free_diameter", free) if free else None,
        loose_coils=parse_count(loose, "found loose coils").value if loose else None,
        thickness_spread_mm=measured_spread_mm if spread_mm is None else spread_mm,
    )
    return None if seen == FoundSeen() else seen
