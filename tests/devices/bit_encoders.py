"""What gauges put on the wire, written from the published layouts and without our decoders."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from gaugelink.devices.decoders.bits import BitFlag, BitFrame, pack

Bits = tuple[int, ...]


def word(number: int, n_bits: int) -> Bits:
    """Write a number, or the two's complement of a negative one, least significant bit first."""
    text = f"{number % 2**n_bits:0{n_bits}b}"
    return tuple(int(bit) for bit in reversed(text))


def nibble_bits(digits: str) -> Bits:
    """Write the digits of a manual, such as FFFF021076540."""
    return tuple(bit for digit in digits for bit in word(int(digit, 16), 4))


def nibble_text(bits: Sequence[int]) -> str:
    """Read bits in fours, as a manual prints them; what is left over is left out."""
    fours = ["".join(map(str, bits[i : i + 4])) for i in range(0, len(bits) - 3, 4)]
    return "".join(f"{int(four[::-1], 2):X}" for four in fours)


def burst(bits: Sequence[int], *flags: BitFlag, raw: bytes = b"") -> BitFrame:
    return BitFrame(n_bits=len(bits), packed=pack(bits), flags=frozenset(flags), raw=raw)


def inverted(bits: Sequence[int]) -> Bits:
    return tuple(1 - bit for bit in bits)


def bcd52(value: Decimal, unit: int, *, digits: int = 6) -> Bits:
    """Write a value whose digits fit; ``unit`` is the last digit of the frame."""
    places = -int(value.as_tuple().exponent)
    shown = f"{abs(int(value.scaleb(places))):0{digits}d}"
    header = {6: "FFFF", 7: f"FFF{shown[0]}", 8: f"8F{shown[:2]}"}[digits]
    sign = "8" if value.is_signed() else "0"
    return nibble_bits(f"{header}{sign}{shown[-6:]}{places:X}{unit:X}")


def signmag24(steps: int, *, negative: bool = False, inch: bool = False) -> Bits:
    return (*word(steps, 20), int(negative), 0, 0, int(inch))


def ones_complement(counts: int, n_bits: int) -> Bits:
    """Write counts so that a negative number is its magnitude with all bits inverted."""
    return inverted(word(-counts, n_bits)) if counts < 0 else word(counts, n_bits)


def bcd7(shown: int, flags: str) -> Bits:
    """Write six digits, the last one first, and the flags N, H and M that are set."""
    nibble = sum(1 << "NHM".index(flag) for flag in flags)
    return nibble_bits(f"{shown:06d}"[::-1] + str(nibble))
