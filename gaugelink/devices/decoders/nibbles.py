"""Bits in groups: the first bit on the wire is the least significant one of its group."""

from __future__ import annotations

from collections.abc import Iterable, Sequence


def number(bits: Sequence[int]) -> int:
    """Return the unsigned number that bits stand for, the least significant first."""
    return sum(bit << place for place, bit in enumerate(bits))


def nibbles(bits: Sequence[int]) -> tuple[int, ...]:
    """Return the groups of four bits, in the order in which they were on the wire.

    Args:
        bits: as many as a multiple of four.
    """
    return tuple(number(bits[start : start + 4]) for start in range(0, len(bits), 4))


def hex_text(digits: Iterable[int]) -> str:
    """Write nibbles as people compare them with a manual: ``FFF7``."""
    return "".join(f"{digit:X}" for digit in digits)
