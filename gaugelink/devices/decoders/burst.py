"""What every bit format asks of a burst: all of its bits, and not one more.

None of these formats has a checksum. A bit that is lost or read twice shifts all that
follow, often to another legal number, so a burst counts only when the number of clock
edges is exact and the collector saw nothing before or after them. Pulses that the
collector dropped as too short (``BitFlag.GLITCHES``) were no clock edges and do no harm.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from decimal import Decimal

from gaugelink.devices.decoders.bits import BitFlag, BitFrame
from gaugelink.model import Fault, FaultKind, Flag, Frame
from gaugelink.units import LengthUnit


class RefusedError(Exception):
    """A burst breaks a rule of its format; the text is the reason of the fault to be."""

    def __init__(self, reason: str, kind: FaultKind = FaultKind.UNPARSED) -> None:
        super().__init__(reason)
        self.kind = kind


def event_of(frame: BitFrame, read: Callable[[BitFrame], Frame]) -> Frame | Fault:
    """Return what ``read`` makes of a burst, or the fault when it refuses it."""
    try:
        return read(frame)
    except RefusedError as refused:
        return Fault(kind=refused.kind, reason=str(refused), raw=frame.raw)


def whole_bits(frame: BitFrame, n_bits: int, *, invert: bool = False) -> tuple[int, ...]:
    """Return the bits of a burst that has exactly ``n_bits``.

    Args:
        frame: as collected.
        n_bits: what the format has.
        invert: the collector saw a 0 for each 1, as behind one transistor a line.

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
