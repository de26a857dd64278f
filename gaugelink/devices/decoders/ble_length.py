"""The two lengths that Bluetooth defines as values of a characteristic.

Length (0x2C0A) is an unsigned, Linear Position (0x2C08) a signed number of four bytes,
least significant first, in steps of 10^-7 m. The largest number of each means that the
gauge does not know. Source: Bluetooth SIG, GATT Specification Supplement, read in copies
at docs.embassy.dev (trouble-host, constants LENGTH and LINEAR_POSITION).

No hand gauge that has them was found, so there is no transport for them yet.
"""

from __future__ import annotations

from decimal import Decimal

from gaugelink.model import Fault, FaultKind, Frame
from gaugelink.units import LengthUnit

STEP_MM = Decimal("0.0001")
_N_BYTES = 4
_UNKNOWN_LENGTH = 0xFFFFFFFF
_UNKNOWN_POSITION = 0x7FFFFFFF


def length_event(data: bytes) -> Frame | Fault:
    """Return the length in mm that a value of Length (0x2C0A) holds, or why it has none.

    Args:
        data: one whole value as it was notified or read.
    """
    return _event(data, signed=False, unknown=_UNKNOWN_LENGTH)


def linear_position_event(data: bytes) -> Frame | Fault:
    """Return the position in mm that a value of Linear Position (0x2C08) holds.

    It counts from a zero of the device's own.

    Args:
        data: one whole value as it was notified or read.
    """
    return _event(data, signed=True, unknown=_UNKNOWN_POSITION)


def _event(data: bytes, *, signed: bool, unknown: int) -> Frame | Fault:
    if len(data) != _N_BYTES:
        kind = FaultKind.INCOMPLETE if len(data) < _N_BYTES else FaultKind.OVERLONG
        reason = f"the value has {len(data)} bytes instead of {_N_BYTES}"
        return Fault(kind=kind, reason=reason, raw=data)
    steps = int.from_bytes(data, "little", signed=signed)
    if steps == unknown:
        reason = "the gauge reports that it does not know the length"
        return Fault(kind=FaultKind.GAUGE_ERROR, reason=reason, raw=data)
    return Frame(value=steps * STEP_MM, unit=LengthUnit.MM, raw=data, step=STEP_MM)
