"""The gate before an order: doubts that can cost a tooth, a spring or a finger.

A stop is a doubt that no recommendation is made beside. Each says what is odd and how to settle
it, and is named, so that who settled it otherwise can accept it. Limits are those of
springs and barrels that exist, common practice: barrels of 11 mm carry 0.095 to 0.16 mm,
bore / 116 to bore / 69, at a length of 300 to 400 mm.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from gaugelink.sizing import rules
from gaugelink.sizing.inputs import SizingInputs
from gaugelink.sizing.order import THICKNESS_EXPONENT, room_of

BORE_MM = (3.0, 50.0)
DEPTH_MM = (0.3, 12.0)
DEPTH_PER_BORE = (0.05, 0.40)
ARBOR_PER_BORE = (0.18, 0.55)
BORE_PER_THICKNESS = (68.5, 116.5)
FILL = (0.28, 0.78)
TORQUE_OF_FOUND = (0.6, 1.6)
HEIGHT_PER_ROOM = 0.6


NAMES = (
    *("bore", "depth", "depth-to-bore", "arbor-to-bore"),
    *("document-thickness", "document-fill", "document-height", "document-found"),
    "found-thickness",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """A doubt that stops the recommendation until it is settled, or accepted by its name."""

    name: str
    text: str
    settle: str


def stops(inputs: SizingInputs, known: Mapping[str, float]) -> tuple[Stop, ...]:
    """Return what has to be settled before anything is ordered or taken, accepted or not.

    Args:
        inputs: what is known.
        known: best values of inputs by label, lengths in mm.
    """
    return (*_barrel(known), *_document(inputs, known), *_found(inputs, known))


def _barrel(known: Mapping[str, float]) -> Iterator[Stop]:
    bore, depth, arbor = known["bore"], known.get("depth"), known["arbor"]
    if _outside(bore, BORE_MM):
        yield Stop(
            name="bore",
            text=f"A bore of {bore:g} mm: watch barrels have {BORE_MM[0]:g} to {BORE_MM[1]:g} mm.",
            settle="Check the unit, and whether it is the inside of the barrel.",
        )
    if depth is not None and _outside(depth, DEPTH_MM):
        yield Stop(
            name="depth",
            text=f"A depth of {depth:g} mm: barrels have {DEPTH_MM[0]:g} to {DEPTH_MM[1]:g} mm.",
            settle="Check the unit, and whether the rod reaches the floor.",
        )
    elif depth is not None and _outside(depth / bore, DEPTH_PER_BORE):
        yield Stop(
            name="depth-to-bore",
            text=f"The depth is {depth / bore:.2f} of the bore, where barrels have about a sixth.",
            settle="Check whether bore and depth are swapped, or the arbor was read as the bore.",
        )
    if _outside(arbor / bore, ARBOR_PER_BORE):
        yield Stop(
            name="arbor-to-bore",
            text=f"The arbor is {arbor / bore:.2f} of the bore, where barrels have about a third.",
            settle="Measure the hub, not the pivot, and the bore inside the barrel.",
        )


def _document(inputs: SizingInputs, known: Mapping[str, float]) -> Iterator[Stop]:
    thickness = known.get("documented.thickness")
    if thickness is None:
        return
    bores = known["bore"] / thickness
    if _outside(bores, BORE_PER_THICKNESS):
        ratio = (thickness / rules.thickness_by_ratio(known["bore"])) ** THICKNESS_EXPONENT
        yield Stop(
            name="document-thickness",
            text=f"The documented {thickness:g} mm is bore / {bores:.0f}, about {ratio:.1f} times "
            f"the usual torque: springs have bore / {BORE_PER_THICKNESS[1]:.0f} to "
            f"bore / {BORE_PER_THICKNESS[0]:.0f}.",
            settle="Read the document again, and check that it is for this barrel.",
        )
    length = known.get("documented.length")
    if length is not None:
        fill = rules.fill(known["bore"], known["arbor"], thickness, length)
        if _outside(fill, FILL):
            yield Stop(
                name="document-fill",
                text=f"The documented spring fills {fill:.2f} of the ring, where springs fill "
                "about a half.",
                settle="Read its thickness and length again, and whether they are in mm.",
            )
    yield from _document_height(inputs, known)


def _document_height(inputs: SizingInputs, known: Mapping[str, float]) -> Iterator[Stop]:
    height, room = known.get("documented.height"), room_of(inputs)
    if height is None or room is None:
        return
    if height > room.value_mm - room.u_mm:
        yield Stop(
            name="document-height",
            text=f"The documented spring of {height:g} mm cannot go in: below the lid there are "
            f"{room.value_mm:.2f} mm.",
            settle="Measure depth and lid again, and check that the document is for this barrel.",
        )
    elif height < HEIGHT_PER_ROOM * room.value_mm:
        yield Stop(
            name="document-height",
            text=f"The documented spring of {height:g} mm is far lower than the room of "
            f"{room.value_mm:.2f} mm below the lid.",
            settle="Measure depth and lid again, and check that the document is for this barrel.",
        )


def _found(inputs: SizingInputs, known: Mapping[str, float]) -> Iterator[Stop]:
    """Document against found spring; a found spring that is gone by against the barrel."""
    found = known.get("found.thickness")
    if found is None:
        return
    documented = known.get("documented.thickness")
    if documented is not None:
        ratio = (documented / found) ** THICKNESS_EXPONENT
        if _outside(ratio, TORQUE_OF_FOUND):
            yield Stop(
                name="document-found",
                text=f"The documented spring of {documented:g} mm gives about {ratio:.1f} times "
                f"the torque of the found one of {found:.3f} mm.",
                settle="Measure the found spring again; one of the two does not belong here.",
            )
    elif inputs.found_healthy and _outside(known["bore"] / found, BORE_PER_THICKNESS):
        yield Stop(
            name="found-thickness",
            text=f"The found spring of {found:.3f} mm is bore / {known['bore'] / found:.0f}: "
            "springs have "
            f"bore / {BORE_PER_THICKNESS[1]:.0f} to bore / {BORE_PER_THICKNESS[0]:.0f}.",
            settle="Measure its thickness again: oil and grease read high.",
        )


def _outside(value: float, limits: tuple[float, float]) -> bool:
    return not (math.isfinite(value) and limits[0] <= value <= limits[1])
