"""Tooth counts: how long a barrel turn lasts, how often the crown is turned to wind it."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from gaugelink.errors import InputError

if TYPE_CHECKING:
    from gaugelink.mechanics.band import Number

_SEPARATORS = re.compile(r"\s*[,;x×*·]\s*|\s+")
_MESH = re.compile(r"(\d+)\s*/\s*(\d+)")
_MOST_TEETH = 1000  # a slip of the keyboard, not a wheel


class Mesh(NamedTuple):
    """A wheel and the pinion it drives, in teeth."""

    wheel: int
    pinion: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Train:
    """Meshes in the order in which the motion passes through them; none is a direct drive."""

    meshes: tuple[Mesh, ...]

    @property
    def ratio(self) -> float:
        """Turns of the last pinion for one turn of the first wheel.

        The product of wheel over pinion. W. L. Goodrich, The Modern Clock, 1905, ch. XV.
        """
        return math.prod(mesh.wheel / mesh.pinion for mesh in self.meshes)

    @property
    def text(self) -> str:
        """The meshes as ``train_from_text`` reads them."""
        return " ".join(f"{mesh.wheel}/{mesh.pinion}" for mesh in self.meshes)


def train_from_text(text: str) -> Train:
    """Read a train of any length: ``80/10`` or ``80/10 75/10``, wheel before pinion.

    The meshes may be parted by spaces, commas or a multiplication sign.

    Raises:
        InputError: the text is something else, or a count is not possible.
    """
    text = re.sub(r"\s*/\s*", "/", text.strip())
    return Train(meshes=tuple(_mesh(part, text) for part in _SEPARATORS.split(text)))


def hours_per_turn(train: Train, *, last_turn_h: float = 1.0) -> float:
    """Compute the hours that one turn of the barrel lasts.

    The ratio of the train from the barrel to an arbor that turns in a known time: with
    barrel and centre pinion that is an hour. A train without a centre wheel ends at
    another arbor, whose time per turn has to be stated.

    Args:
        train: from the barrel, or from the wheel on the arbor of a motor barrel.
        last_turn_h: hours in which the last pinion turns once, above 0.

    Raises:
        InputError: ``last_turn_h`` is not above zero.
    """
    if not (math.isfinite(last_turn_h) and last_turn_h > 0):
        raise InputError(
            f"A wheel cannot take {last_turn_h:g} h for a turn.",
            hint="Give the hours in which the last pinion turns once: 1 for the centre pinion.",
        )
    return train.ratio * last_turn_h


def crown_turns(ratchet_turns: Number, winding: Train) -> Number:
    """Compute the crown turns that wind the barrel arbor by so many turns.

    Args:
        ratchet_turns: turns of the ratchet wheel, 0 or more.
        winding: from the ratchet wheel back to the winding pinion, driven before driving:
            ratchet / crown wheel, crown wheel / winding pinion.
    """
    return ratchet_turns * winding.ratio


def _mesh(part: str, text: str) -> Mesh:
    match = _MESH.fullmatch(part)
    if match is None:
        raise InputError(
            f"{text!r} is not a train of wheels and pinions.",
            hint="Write wheel/pinion for each mesh from the barrel on: 90/12, or 60/24 48/16.",
        )
    wheel, pinion = int(match[1]), int(match[2])
    if not (0 < wheel <= _MOST_TEETH and 0 < pinion <= _MOST_TEETH):
        raise InputError(
            f"A mesh of {wheel} and {pinion} teeth is not possible.",
            hint="Count the teeth again.",
        )
    return Mesh(wheel=wheel, pinion=pinion)
