"""From the counts of a HID field to a length (HID 1.11, 6.2.2.7).

::

    step  = (physical max - physical min) * 10^exponent / (logical max - logical min)
    value = (count - logical min) * step + physical min * 10^exponent

in the field's unit, the formula from memory of that clause. Where no physical limits
are given they are the logical ones.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from gaugelink.devices.decoders.hid_report import Limits
from gaugelink.errors import DeviceError
from gaugelink.units import LengthUnit

# Nibble 0 is the system (1 SI linear, 3 English linear), nibble 1 the power of length.
CENTIMETRE = 0x11
INCH = 0x13
_MM_PER_CENTIMETRE = 10

_LEAST_EXPONENT, _GREATEST_EXPONENT = -8, 7  # what the nibble of 6.2.2.7 can say
_EXTRA_PLACES = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """A straight line: the length of count 0 and of one count, in ``unit``, exactly."""

    zero: Fraction
    step: Fraction
    unit: LengthUnit | None

    def value(self, count: int) -> Decimal:
        """Return the length of ``count``: exact where that is a finite decimal fraction.

        Else it is rounded to a thousandth of a count or finer.
        """
        return _decimal(self.zero + count * self.step, self._places())

    def digital_step(self) -> Decimal:
        """Return the length of one count, rounded in the same way."""
        return _decimal(abs(self.step), self._places())

    def _places(self) -> int:
        exact = (_finite_places(self.zero), _finite_places(self.step))
        if None not in exact:
            return max(places for places in exact if places is not None)
        places = 0
        while abs(self.step) * 10**places < 1:
            places += 1
        return places + _EXTRA_PLACES


def scale_of(limits: Limits, unit_default: LengthUnit | None) -> Scale:
    """Return what one count and count 0 of a field stand for.

    Args:
        limits: what the descriptor says of the field.
        unit_default: the unit where the descriptor states none.

    Raises:
        DeviceError: the limits define no length.
    """
    physical_min, physical_max = limits.physical_min, limits.physical_max
    if physical_min == physical_max == 0:
        physical_min, physical_max = limits.logical_min, limits.logical_max
    counts = limits.logical_max - limits.logical_min
    if counts <= 0 or physical_min == physical_max:
        raise _no_length(
            f"its limits leave no range, logical {limits.logical_min} to {limits.logical_max}, "
            f"physical {physical_min} to {physical_max}"
        )
    if not _LEAST_EXPONENT <= limits.unit_exponent <= _GREATEST_EXPONENT:
        raise _no_length(f"its unit exponent is {limits.unit_exponent}")
    factor, unit = _unit(limits.unit, unit_default)
    power = Fraction(10) ** limits.unit_exponent * factor
    step = (physical_max - physical_min) * power / counts
    return Scale(zero=physical_min * power - limits.logical_min * step, step=step, unit=unit)


def is_length(limits: Limits) -> bool:
    """Tell whether the descriptor states a unit of length."""
    return limits.unit in (CENTIMETRE, INCH)


def _unit(code: int, default: LengthUnit | None) -> tuple[int, LengthUnit | None]:
    """Return the unit that values are given in, and its number in the descriptor's unit."""
    if code == CENTIMETRE:
        return _MM_PER_CENTIMETRE, LengthUnit.MM
    if code == INCH:
        return 1, LengthUnit.INCH
    if code == 0:
        return 1, default
    raise _no_length(f"its unit code is {code:#x}")


def _no_length(why: str) -> DeviceError:
    return DeviceError(
        f"The field is no length: {why}.", hint="State step and unit_default in the format."
    )


def _finite_places(value: Fraction) -> int | None:
    """Return how many decimal places ``value`` has; None when they never end."""
    rest, powers = value.denominator, []
    for prime in (2, 5):
        powers.append(0)
        while rest % prime == 0:
            rest //= prime
            powers[-1] += 1
    return max(powers) if rest == 1 else None


def _decimal(value: Fraction, places: int) -> Decimal:
    # Written out, because arithmetic with Decimal rounds to the precision of its context.
    return Decimal(f"{round(value * 10**places)}E-{places}")
