"""What a spring may be made of, and the spread to reckon with when nobody knows."""

from __future__ import annotations

import functools
from collections.abc import Sequence
from dataclasses import dataclass

from gaugelink.errors import InputError
from gaugelink.mechanics.band import SourcedBand, hull
from gaugelink.mechanics.tables import Row, rows, shipped_text

OPEN = "open"
WHITE = "white"


@dataclass(frozen=True, slots=True, kw_only=True)
class Material:
    """A spring material; each property is a band with its source.

    ``white`` tells the alloys from blued steel, which the eye can. ``full_wind_stress_mpa``
    is the nominal stress at full wind that stands for the free shape of a healthy spring.
    """

    name: str
    title: str
    white: bool
    modulus_gpa: SourcedBand
    density_g_cm3: SourcedBand
    strength_mpa: SourcedBand
    yield_mpa: SourcedBand
    full_wind_stress_mpa: SourcedBand

    @property
    def modulus_mpa(self) -> float:
        """The middle of the modulus, in MPa."""
        return 1000 * self.modulus_gpa.middle


_PROPERTIES = ("modulus_gpa", "density_g_cm3", "strength_mpa", "yield_mpa", "full_wind_stress_mpa")


def read_materials(text: str, *, path: str) -> tuple[Material, ...]:
    """Read a table of materials.

    Args:
        text: TOML with one ``[[material]]`` for each.
        path: the name of the file, for messages.

    Raises:
        FileFormatError: a key is missing, unknown or of the wrong kind.
    """
    return tuple(_material(row) for row in rows(text, "material", path=path))


@functools.cache
def shipped_materials() -> tuple[Material, ...]:
    """Return the materials that gaugelink knows."""
    return read_materials(shipped_text("materials.toml"), path="materials.toml")


def material_named(name: str) -> Material:
    """Return a material by name, or a spread: ``white`` for any alloy, ``open`` for any at all.

    Raises:
        InputError: no material has that name.
    """
    known = {material.name: material for material in shipped_materials()}
    if name == OPEN:
        return spread_of(shipped_materials(), name=OPEN, title="not identified")
    if name == WHITE:
        alloys = [material for material in shipped_materials() if material.white]
        return spread_of(alloys, name=WHITE, title="white alloy, not identified")
    if name not in known:
        raise InputError(
            f"No spring material is called {name!r}.",
            hint=f"Choose one of: {', '.join((*known, WHITE, OPEN))}.",
        )
    return known[name]


def spread_of(materials: Sequence[Material], *, name: str, title: str) -> Material:
    """Return a material each of whose properties spans those of all the given ones.

    Args:
        materials: at least one.
        name: name of the spread.
        title: what to call it.
    """
    source = f"spread over {', '.join(material.name for material in materials)}"
    spans = {
        key: hull([getattr(material, key) for material in materials], source) for key in _PROPERTIES
    }
    white = all(material.white for material in materials)
    return Material(name=name, title=title, white=white, **spans)


def _material(row: Row) -> Material:
    material = Material(
        name=row.take("name", str),
        title=row.take("title", str),
        white=row.take("white", bool),
        **{key: row.take_band(key) for key in _PROPERTIES},
    )
    row.close()
    return material
