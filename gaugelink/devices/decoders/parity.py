"""Parity of seven-bit bytes that were read as eight."""

from __future__ import annotations

from enum import StrEnum

SEVEN_BITS = bytes(byte & 0x7F for byte in range(256))  # a table for bytes.translate


class Parity(StrEnum):
    """What the parity bit makes of the number of ones in a byte, as written in ``7E2``."""

    NONE = "N"
    EVEN = "E"
    ODD = "O"


def first_parity_error(raw: bytes, parity: Parity) -> int | None:
    """Return the position, from 0, of the first byte whose eight bits break the parity.

    Returns:
        None when every byte keeps it, or when there is none to keep.
    """
    if parity is Parity.NONE:
        return None
    ones_are_odd = parity is Parity.ODD
    wrong = (i for i, byte in enumerate(raw) if bool(byte.bit_count() % 2) is not ones_are_odd)
    return next(wrong, None)
