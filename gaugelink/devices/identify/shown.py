"""What the display of the gauge shows, as typed by the person who looks at it."""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal

from gaugelink.errors import InputError
from gaugelink.model import Frame
from gaugelink.units import MM_PER_INCH, LengthUnit

_SHOWN = re.compile(
    r"\s*(?P<sign>[-+]?)\s*(?P<digits>\d+(?:[.,]\d+)?|[.,]\d+)\s*(?P<unit>mm|in|inch|\")\s*",
    re.ASCII | re.IGNORECASE,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """A number on a display, with the unit that the display shows beside it."""

    value: Decimal
    unit: LengthUnit

    def __str__(self) -> str:
        return f"{self.value:f} {self.unit}"

    def agrees_with(self, frame: Frame) -> bool:
        """Tell whether a frame is this number, within one digital step of the coarser one.

        A display may round or cut what is sent, and the last digit may flicker.
        """
        if frame.unit is None:
            return False
        off = abs(_in_mm(self.value, self.unit) - _in_mm(frame.value, frame.unit))
        step = _last_digit(frame.value) if frame.step is None else frame.step
        shown_step = _in_mm(_last_digit(self.value), self.unit)
        return off <= max(shown_step, _in_mm(step, frame.unit))


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """What the person has said of the gauge already.

    Args:
        shown: what the display shows for the latest reading.
        unit: the unit that the gauge is set to.
        bridge_port: the port of the bridge that the gauge is on, 0 to 9.
    """

    shown: Shown | None = None
    unit: LengthUnit | None = None
    bridge_port: int | None = None

    def admits(self, supposed: LengthUnit | None) -> bool:
        """Tell whether a unit may be supposed where the bytes carry none."""
        units = {self.unit, self.shown.unit if self.shown else None} - {None}
        return supposed is None or not units or units == {supposed}


NOTHING = Said()


def parse_shown(text: str) -> Shown:
    """Read a display such as ``12.34 mm`` or ``-0.4860 in``; a decimal comma will do.

    Raises:
        InputError: not one number with its unit.
    """
    found = _SHOWN.fullmatch(text)
    if found is None:
        raise InputError(
            f"{text!r} is not what a display shows.",
            hint='Type the number and the unit that the display shows: "12.34 mm" or "0.4860 in".',
        )
    digits = (found["sign"] + found["digits"]).replace(",", ".")
    unit = LengthUnit.MM if found["unit"].lower() == "mm" else LengthUnit.INCH
    return Shown(value=Decimal(digits), unit=unit)


def _in_mm(value: Decimal, unit: LengthUnit) -> Decimal:
    return value * MM_PER_INCH if unit is LengthUnit.INCH else value


def _last_digit(value: Decimal) -> Decimal:
    exponent = value.as_tuple().exponent
    return Decimal(1).scaleb(exponent if isinstance(exponent, int) else 0)
