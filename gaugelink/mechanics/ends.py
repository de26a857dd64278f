"""How the outer end of a spring is held, what it takes of the room and of the length."""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from gaugelink.errors import InputError
from gaugelink.mechanics.band import Band, SourcedBand
from gaugelink.mechanics.spring import SpringInBarrel
from gaugelink.mechanics.tables import Row, rows, shipped_text

if TYPE_CHECKING:
    from gaugelink.mechanics.band import Number


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


def _end(row: Row) -> EndType:
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
