"""Bursts of bits: what a bit collector (a bridge, a recording) hands on, and what it means.

Bits are packed least significant first: the first bit on the wire is bit 0 of byte 0,
and the last byte is filled with zeros. Raw bits travel, so that an old capture can be
decoded again by a better decoder.

None of these formats has a checksum. A bit that is lost or read twice shifts all that
follow, often to another legal number, so a burst counts only when the number of clock
edges is exact and the collector saw nothing before or after them. Pulses that the
collector dropped as too short (``BitFlag.GLITCHES``) were no clock edges and do no harm.

A format is a ``BitFormat`` and a function that reads one burst: it returns a ``Frame``, or
raises ``RefusedError`` with the reason. The functions here are what such readers share.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from enum import StrEnum
from typing import TypeAlias

from gaugelink.model import Fault, FaultKind, Flag, Frame, WireEvent
from gaugelink.units import MM_PER_INCH, LengthUnit

MAX_WAITING = 32  # 4 to 8 s of a free-running gauge: longer than a hand moves the jaws


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


@dataclass(frozen=True, slots=True, kw_only=True)
class BitFormat:
    """What the bursts of one make look like; every field of a format has a default.

    The fields are the keys of a profile's ``[bits]`` table. A whole number says its range
    as ``field(metadata={"low": ..., "high": ...})``.
    """

    def contradiction(self) -> tuple[str, str] | None:
        """Return a key that another one rules out, and why; None when they agree."""
        return None


class RefusedError(Exception):
    """A burst breaks a rule of its format; the text is the reason of the fault to be."""

    def __init__(self, reason: str, kind: FaultKind = FaultKind.UNPARSED) -> None:
        super().__init__(reason)
        self.kind = kind


Read: TypeAlias = Callable[[BitFrame], Frame]


class BitDecoder:
    """Turns whole bursts of one gauge into events: pure.

    Args:
        read: what one burst means, taken alone.
        in_pairs: a burst counts only when the one before had the same bits.
    """

    def __init__(self, read: Read, *, in_pairs: bool = False) -> None:
        self._read = read
        self._pair = EqualPair() if in_pairs else None

    def decode(self, frame: BitFrame) -> list[WireEvent]:
        """Return what one burst means: a ``Frame``, a ``Fault``, or nothing yet."""
        event: Frame | Fault
        try:
            event = self._read(frame)
        except RefusedError as refused:
            event = Fault(kind=refused.kind, reason=str(refused), raw=frame.raw)
        return self._pair.judge(frame, event) if self._pair else [event]

    def reset(self) -> None:
        """Forget the burst before (after a reconnection)."""
        if self._pair:
            self._pair.reset()


class EqualPair:
    """Lets a value pass when the burst before had the same bits, and again each time after.

    That is the only proof there is in a format without any check. A single burst may have
    lost its first bit and read half the value, without a trace. The same damage twice in a
    row is unlikely, and a gauge at rest repeats itself anyway. A gauge that moves gives
    nothing until it rests, and no fault for each burst either.

    No bytes get lost: an event's ``raw`` holds those of all bursts since the event before,
    the last of them its own. When the display never rests (a flickering digit, a bad
    line), every ``MAX_WAITING`` bursts end in one fault, which also bounds the memory.
    """

    def __init__(self) -> None:
        self._before: tuple[int, ...] | None = None
        self._waiting: list[bytes] = []

    def judge(self, frame: BitFrame, event: Frame | Fault) -> list[WireEvent]:
        """Return the event of a burst, or nothing while it has no equal.

        A fault passes at once and starts over.
        """
        self._waiting.append(frame.raw)
        bits = frame.bits()
        before, self._before = self._before, None if isinstance(event, Fault) else bits
        if isinstance(event, Fault) or bits == before:
            return [self._release(event)]
        if len(self._waiting) < MAX_WAITING:
            return []
        reason = f"{MAX_WAITING} frames without two equal ones in a row: does the gauge rest?"
        return [self._release(Fault(kind=FaultKind.UNPARSED, reason=reason, raw=b""))]

    def reset(self) -> None:
        """Forget the bursts before (after a reconnection)."""
        self._before = None
        self._waiting.clear()

    def _release(self, event: Frame | Fault) -> Frame | Fault:
        raw = b"".join(self._waiting)
        self._waiting.clear()
        return replace(event, raw=raw)


def pack(bits: Sequence[int]) -> bytes:
    """Pack bits least significant first, the last byte filled with zeros."""
    packed = bytearray((len(bits) + 7) // 8)
    for i, bit in enumerate(bits):
        packed[i // 8] |= (bit & 1) << (i % 8)
    return bytes(packed)


def whole_bits(frame: BitFrame, n_bits: int, *, invert: bool = False) -> tuple[int, ...]:
    """Return the bits of a burst that has exactly ``n_bits``.

    With ``invert`` the collector saw a 0 for each 1, as behind one transistor a line.

    Raises:
        RefusedError: bits are missing, too many or in doubt.
    """
    if doubt := _doubt(frame, n_bits):
        raise doubt
    return tuple(bit ^ invert for bit in frame.bits())


def _doubt(frame: BitFrame, n_bits: int) -> RefusedError | None:
    """Look for a reason not to trust the bits of a burst, whatever they are."""
    count = f"{frame.n_bits} bits instead of {n_bits}"
    if frame.n_bits < n_bits:
        reason, kind = f"{count}: it was cut short or a bit was lost", FaultKind.INCOMPLETE
    elif frame.n_bits > n_bits:
        reason, kind = f"{count}: a bit was read twice or added", FaultKind.OVERLONG
    elif BitFlag.TRUNCATED in frame.flags:
        reason, kind = "the clock stopped before the frame was whole", FaultKind.INCOMPLETE
    elif BitFlag.EXTRA_EDGES in frame.flags:
        reason = f"the clock went on after {n_bits} bits: one of them was read twice or added"
        kind = FaultKind.OVERLONG
    elif BitFlag.OVERRUN in frame.flags:
        reason, kind = "the clock was too fast for the collector", FaultKind.INCOMPLETE
    else:
        return None
    return RefusedError(reason, kind)


def refuse_all_ones(bits: Sequence[int]) -> None:
    """Refuse what a line gives that nobody drives.

    All zeros may be the same fault at the other level, but are a legal 0.00 as well.

    Raises:
        RefusedError: every bit is 1.
    """
    if all(bits):
        raise RefusedError("all bits are 1: the gauge is off or unplugged, or its line is stuck")


def signed_frame(
    magnitude: Decimal,
    *,
    negative: bool,
    unit: LengthUnit,
    raw: bytes,
    step: Decimal | None = None,
    flags: frozenset[Flag] = frozenset(),
) -> Frame:
    """Return the frame of a sign and a magnitude; a minus before zero becomes a flag."""
    if negative and magnitude.is_zero():
        negative, flags = False, flags | {Flag.NEGATIVE_ZERO}
    value = magnitude.copy_negate() if negative else magnitude
    return Frame(value=value, unit=unit, raw=raw, flags=flags, step=step)


class Complement(StrEnum):
    """How a negative number is written; with one's complement there is a minus zero."""

    TWO = "two"
    ONE = "one"


def counts_frame(
    word: Sequence[int],
    *,
    complement: Complement,
    per_inch: int,
    unit: LengthUnit,
    raw: bytes,
) -> Frame:
    """Return the length of a word of counts, exactly, with one count as its step.

    In ``word`` the least significant bit comes first, and the last one is 1 when negative.
    ``unit`` is what the length is given in; the counts do not depend on it.
    """
    negative = bool(word[-1])
    magnitude = number([bit ^ negative for bit in word])
    if negative and complement is Complement.TWO:
        magnitude += 1
    step = (MM_PER_INCH if unit is LengthUnit.MM else Decimal(1)) / per_inch
    return signed_frame(magnitude * step, negative=negative, unit=unit, raw=raw, step=step)


def number(bits: Sequence[int]) -> int:
    """Return the unsigned number that bits stand for, the first one the least significant."""
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
