"""What a spring may be made of, how its outer end is held, and the spreads where nobody knows.

The numbers stand with their sources in TOML beside this file, which is part of the package:
what is read from it is as good as a constant.
"""

from __future__ import annotations

import functools
import math
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pkgutil import get_data
from typing import TYPE_CHECKING, Any, NamedTuple

from gaugelink.errors import InputError
from gaugelink.mechanics.band import Band, SourcedBand, hull
from gaugelink.mechanics.spring import SpringInBarrel

if TYPE_CHECKING:
    from gaugelink.mechanics.band import Number
OPEN = "open"
WHITE = "white"


_LIMIT_95 = 1.96  # of a normal distribution


@dataclass(frozen=True, slots=True, kw_only=True)
class HealthyStress:
    """Nominal stress of healthy springs at full wind: lognormal, in MPa.

    ``spread`` is the standard uncertainty of its logarithm, ``most`` what plastic bending
    allows.
    """

    median: float
    spread: float
    most: float
    source: str

    def at(self, deviate: Number) -> Number:
        """Return the stress so many standard uncertainties above the median, in MPa."""
        import numpy as np

        stress: Number = np.minimum(self.median * np.exp(self.spread * deviate), self.most)
        return stress


@dataclass(frozen=True, slots=True, kw_only=True)
class Material:
    """A spring material; each property is a band with its source.

    ``white`` tells the alloys from blued steel, which the eye can. ``strength_mpa`` is that of
    the strip; ``healthy_mpa`` the nominal stress of a healthy spring at full wind, which
    gives its free shape (see ``strength``).
    """

    name: str
    title: str
    white: bool
    modulus_gpa: SourcedBand
    density_g_cm3: SourcedBand
    strength_mpa: SourcedBand
    yield_mpa: SourcedBand
    healthy_mpa: HealthyStress

    @property
    def is_definite(self) -> bool:
        """Whether it is one material, and not a spread over several."""
        return self.name not in (OPEN, WHITE)

    @property
    def full_wind_stress_mpa(self) -> SourcedBand:
        """Between what limits the stress of 95 of 100 healthy springs lies, in MPa."""
        known = self.healthy_mpa
        low, high = (float(known.at(limit)) for limit in (-_LIMIT_95, _LIMIT_95))
        judged = "judgement" in known.source
        return SourcedBand(
            low=float(round(low)),
            high=float(round(high)),
            source=known.source,
            from_memory=judged,
        )

    @property
    def modulus_mpa(self) -> float:
        """The middle of the modulus, in MPa."""
        return 1000 * self.modulus_gpa.middle


_PROPERTIES = ("modulus_gpa", "density_g_cm3", "strength_mpa", "yield_mpa")


@functools.cache
def shipped_materials() -> tuple[Material, ...]:
    """Return the materials that gaugelink knows."""
    return tuple(Material(**row) for row in shipped_rows("gaugelink.mechanics", "material"))


def material_named(name: str) -> Material:
    """Return a material by name, or a spread: ``white`` for any alloy, ``open`` for any at all.

    Raises:
        InputError: no material has that name.
    """
    known = {material.name: material for material in shipped_materials()}
    if name in (OPEN, WHITE):
        return _spread_over([each for each in known.values() if each.white or name == OPEN], name)
    if name not in known:
        raise InputError(
            f"No spring material is called {name!r}.",
            hint=f"Choose one of: {', '.join((*known, WHITE, OPEN))}.",
        )
    return known[name]


def classes_of(material: Material) -> tuple[Material, ...]:
    """Return the materials that one may be: itself, or those it spans, the weakest first."""
    if material.is_definite:
        return (material,)
    spanned = (each for each in shipped_materials() if each.white or not material.white)
    return tuple(sorted(spanned, key=lambda each: each.healthy_mpa.median))


def _spread_over(materials: Sequence[Material], name: str) -> Material:
    """Return what spans the properties of some materials, with the mixture of their stresses."""
    source = f"spread over {', '.join(material.name for material in materials)}"
    spans: dict[str, Any] = {
        key: hull([getattr(material, key) for material in materials], source) for key in _PROPERTIES
    }
    row = next(row for row in shipped_rows("gaugelink.mechanics", "spread") if row["name"] == name)
    return Material(white=all(material.white for material in materials), **row, **spans)


@dataclass(frozen=True, slots=True, kw_only=True)
class EndType:
    """An outer end.

    ``dead`` is the length of strip that does not act, in turns of the wall where
    ``dead_in_turns`` is set, else in mm. ``room_thicknesses`` is what lies on the wall over
    that length, in thicknesses of the spring. ``slips`` marks the bridle of a self-winding
    watch.
    """

    name: str
    title: str
    slips: bool
    dead: SourcedBand
    dead_in_turns: bool
    room_thicknesses: SourcedBand


class EndRoom(NamedTuple):
    """What an outer end takes in one barrel, in mm.

    ``clear_bore_mm`` is the bore of the empty barrel with the same area as the one that
    the end leaves; its low value belongs to the end that takes most.
    """

    dead_mm: Band
    clear_bore_mm: Band


@functools.cache
def shipped_ends() -> tuple[EndType, ...]:
    """Return the outer ends that gaugelink knows."""
    return tuple(_end(row) for row in shipped_rows("gaugelink.mechanics", "end"))


def end_named(name: str) -> EndType:
    """Return an outer end by name.

    Raises:
        InputError: none has that name.
    """
    known = {end.name: end for end in shipped_ends()}
    if name not in known:
        raise InputError(
            f"No outer end is called {name!r}.", hint=f"Choose one of: {', '.join(known)}."
        )
    return known[name]


def room_of_end(end: EndType, bore_mm: Number, thickness_mm: Number) -> EndRoom:
    """Compute what an outer end takes of length and bore, in mm.

    A layer of thickness t over a whole turn takes the radius from R to R - t; over a
    part w of the turn it takes that part of the layer's area, R'^2 = R^2 - w (R^2 - (R - t)^2).
    That the part may be spread over the whole wall is judgement, in keeping with the
    picture of areas that gives the turns.

    Args:
        end: the outer end.
        bore_mm: inside diameter of the barrel.
        thickness_mm: thickness of the spring.
    """
    dead = _dead(end, bore_mm)
    least = _clear_bore(bore_mm, dead.low, end.room_thicknesses.low * thickness_mm)
    most = _clear_bore(bore_mm, dead.high, end.room_thicknesses.high * thickness_mm)
    return EndRoom(dead_mm=dead, clear_bore_mm=Band(low=most, high=least))


def with_end(
    spring: SpringInBarrel, end: EndType, *, length_includes_end: bool, part: Number = 0.5
) -> SpringInBarrel:
    """Return the spring as it acts with its outer end: narrower bore, shorter strip.

    Args:
        spring: one spring or many, in the bare barrel.
        end: the outer end.
        length_includes_end: whether ``length_mm`` counts the strip that does not act;
            suppliers differ.
        part: 0 for an end that takes little, 1 for one that takes much.
    """
    room = room_of_end(end, spring.bore_mm, spring.thickness_mm)
    dead = room.dead_mm.at(part) if length_includes_end else 0.0
    return replace(
        spring,
        bore_mm=room.clear_bore_mm.at(1 - part),
        length_mm=spring.length_mm - dead,
    )


def _dead(end: EndType, bore_mm: Number) -> Band:
    unit_mm = math.pi * bore_mm if end.dead_in_turns else 1.0
    return Band(low=end.dead.low * unit_mm, high=end.dead.high * unit_mm)


def _clear_bore(bore_mm: Number, covered_mm: Number, layer_mm: Number) -> Number:
    import numpy as np

    part = np.minimum(covered_mm / (math.pi * bore_mm), 1.0)
    inside = bore_mm - 2 * layer_mm
    clear: Number = np.sqrt(bore_mm**2 - part * (bore_mm**2 - inside**2))
    return clear


def _end(row: dict[str, Any]) -> EndType:
    """Take the length that does not act in turns of the wall, or in mm."""
    in_turns = "dead_turns" in row
    dead = row.pop("dead_turns" if in_turns else "dead_mm")
    return EndType(**row, dead=dead, dead_in_turns=in_turns)


def shipped_rows(package: str, kind: str) -> list[dict[str, Any]]:
    """Return the rows of a shipped table, its bands as such.

    Args:
        package: where it lies.
        kind: of its rows, ``material``, ``spread``, ``end`` or ``strip``; the file is called
            after it, and the spreads are among the materials.
    """
    name = {"strip": "strip", "spread": "materials"}.get(kind, f"{kind}s")
    table = get_data(package, f"{name}.toml") or b""
    listed = tomllib.loads(table.decode())[kind]
    return [
        {key: _band(value) if isinstance(value, dict) else value for key, value in row.items()}
        for row in listed
    ]


def _band(table: dict[str, Any]) -> SourcedBand | HealthyStress:
    if "median" in table:
        return HealthyStress(**table)
    low, high = float(table.pop("low")), float(table.pop("high"))
    return SourcedBand(low=low, high=high, **table)
