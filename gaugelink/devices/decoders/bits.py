"""Bit frames: what a bit collector (a bridge, a recording) hands on, before any meaning.

Bits are packed least significant first: the first bit on the wire is bit 0 of byte 0,
and the last byte is filled with zeros. Raw bits travel, so that an old capture can be
decoded again by a better decoder.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Protocol

from gaugelink.model import WireEvent


class BitFlag(StrEnum):
    """What the collector noticed while it counted clock edges."""

    TRUNCATED = "truncated"  # silence before the frame was whole
    EXTRA_EDGES = "extra edges"  # clock edges after the frame was whole
    GLITCHES = "glitches dropped"  # pulses too short to be clock edges
    OVERRUN = "overrun"  # the collector was too slow
    BUTTON = "button"  # sent because the gauge's button was pressed
    REQUESTED = "requested"  # sent because it was asked for


@dataclass(frozen=True, slots=True, kw_only=True)
class BitFrame:
    """One burst of bits; ``packed`` holds ``n_bits`` bits, ``raw`` the bytes it came in."""

    n_bits: int
    packed: bytes
    flags: frozenset[BitFlag] = frozenset()
    raw: bytes = b""

    def bits(self) -> tuple[int, ...]:
        """Return the bits in the order they were on the wire."""
        return tuple(self.packed[i // 8] >> (i % 8) & 1 for i in range(self.n_bits))


class BitDecoder(Protocol):
    """Turns whole bursts into events: pure, one per bit format."""

    def decode(self, frame: BitFrame) -> list[WireEvent]:
        """Return what one burst means: a ``Frame``, a ``Fault``, or nothing yet."""

    def reset(self) -> None:
        """Forget the burst before (after a reconnection)."""


def pack(bits: Sequence[int]) -> bytes:
    """Pack bits least significant first, the last byte filled with zeros."""
    packed = bytearray((len(bits) + 7) // 8)
    for i, bit in enumerate(bits):
        packed[i // 8] |= (bit & 1) << (i % 8)
    return bytes(packed)
