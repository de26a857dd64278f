"""What a spring may be made of, and the spread to reckon with when nobody knows.

How the outer end of a spring is held, what it takes of the room and of the length.

Reads the tables of numbers with their sources that are shipped as TOML beside this file.

The text is part of the package and does not change while it runs, so that what is read
from it is as good as a constant. The same readers serve a table of the user's own.
"""

from __future__ import annotations

import functools
import math
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from gaugelink.errors import FileFormatError, InputError
from gaugelink.mechanics.band import Band, SourcedBand, hull
from gaugelink.mechanics.spring import SpringInBarrel

if TYPE_CHECKING:
    from gaugelink.mechanics.band import Number
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


def _material(row: TableRow) -> Material:
    material = Material(
        name=row.take("name", str),
        title=row.take("title", str),
        white=row.take("white", bool),
        **{key: row.take_band(key) for key in _PROPERTIES},
    )
    row.close()
    return material


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


@dataclass(frozen=True, slots=True, kw_only=True)
class EndRoom:
    """What an outer end takes in one barrel, in mm.

    ``clear_bore_mm`` is the bore of the empty barrel with the same area as the one that
    the end leaves; its low value belongs to the end that takes most.
    """

    dead_mm: Band
    clear_bore_mm: Band


@functools.cache
def shipped_ends() -> tuple[EndType, ...]:
    """Return the outer ends that gaugelink knows."""
    return read_ends(shipped_text("ends.toml"), path="ends.toml")


def read_ends(text: str, *, path: str) -> tuple[EndType, ...]:
    """Read a table of outer ends.

    Args:
        text: TOML with one ``[[end]]`` for each.
        path: the name of the file, for messages.

    Raises:
        FileFormatError: a key is missing, unknown or of the wrong kind.
    """
    return tuple(_end(row) for row in rows(text, "end", path=path))


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


def _end(row: TableRow) -> EndType:
    in_turns = "dead_turns" in row
    end = EndType(
        name=row.take("name", str),
        title=row.take("title", str),
        slips=row.take("slips", bool),
        dead=row.take_band("dead_turns" if in_turns else "dead_mm"),
        dead_in_turns=in_turns,
        room_thicknesses=row.take_band("room_thicknesses"),
    )
    row.close()
    return end


def shipped_text(name: str) -> str:
    """Return the text of a shipped table, such as ``materials.toml``."""
    return files("gaugelink.mechanics").joinpath(name).read_text(encoding="utf-8")


class TableRow:
    """One table of an array of tables, with the place to blame when a value is wrong.

    Args:
        values: the keys and values of the table.
        path: the file it stands in.
        where: its place in the file, such as ``material 2``.
    """

    def __init__(self, values: Mapping[str, Any], *, path: str, where: str) -> None:
        self._values = dict(values)
        self._path = path
        self._where = where

    def take(self, key: str, kind: type) -> Any:
        """Take out a value that must be there and be of a kind, str or bool.

        Raises:
            FileFormatError: it is missing or of another kind.
        """
        if key not in self._values:
            raise self._fault(key, "this key is missing")
        value = self._values.pop(key)
        if type(value) is not kind:
            raise self._fault(key, f"{value!r} is not a {kind.__name__}")
        return value

    def take_band(self, key: str) -> SourcedBand:
        """Take out a band with its source.

        Raises:
            FileFormatError: it is missing, or not two numbers in order, 0 or more, with a source.
        """
        band = TableRow(self.take(key, dict), path=self._path, where=f"{self._where}.{key}")
        low, high = band._number("low"), band._number("high")
        if not 0 <= low <= high:
            raise self._fault(key, f"{low:g} to {high:g} is not a band")
        source = band.take("source", str)
        from_memory = band.take("from_memory", bool) if "from_memory" in band else False
        band.close()
        return SourcedBand(low=low, high=high, source=source, from_memory=from_memory)

    def close(self) -> None:
        """Refuse what nobody took out.

        Raises:
            FileFormatError: a key is left.
        """
        for key in self._values:
            raise self._fault(key, "unknown key")

    def __contains__(self, key: str) -> bool:
        return key in self._values

    def _number(self, key: str) -> float:
        value = self._values.get(key)
        if type(value) is int:
            self._values[key] = float(value)
        return float(self.take(key, float))

    def _fault(self, key: str, message: str) -> FileFormatError:
        return FileFormatError(
            f"{message}.",
            path=self._path,
            where=f"{self._where}.{key}",
            hint="Compare with the table that gaugelink brings along.",
        )


def rows(text: str, kind: str, *, path: str) -> tuple[TableRow, ...]:
    """Split a table file into its rows.

    Args:
        text: the file.
        kind: name of the array of tables, ``material`` or ``end``.
        path: the name of the file, for messages.

    Raises:
        FileFormatError: the text is not TOML, or holds something else than rows of this kind.
    """
    try:
        parsed = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise FileFormatError(f"not TOML: {error}.", path=path) from error
    listed = parsed.pop(kind, None)
    if parsed or not isinstance(listed, list) or not all(isinstance(row, dict) for row in listed):
        raise FileFormatError(
            f"this is not a list of [[{kind}]] tables and nothing else.",
            path=path,
            hint="Compare with the table that gaugelink brings along.",
        )
    return tuple(
        TableRow(row, path=path, where=f"{kind} {number}")
        for number, row in enumerate(listed, start=1)
    )
