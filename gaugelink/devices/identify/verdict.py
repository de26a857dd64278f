"""What came of an attempt to identify a gauge: a verdict, its reasons, and a question.

And what the person has said of it: the unit, the port of a bridge, what the display shows.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum

from gaugelink.errors import InputError
from gaugelink.model import Frame
from gaugelink.units import MM_PER_INCH, LengthUnit

_SHOWN = re.compile(
    r"\s*(?P<sign>[-+]?)\s*(?P<digits>\d+(?:[.,]\d+)?|[.,]\d+)\s*(?P<unit>mm|in|inch|\")\s*",
    re.ASCII | re.IGNORECASE,
)


class FormatVerdict(StrEnum):
    """How an identification ended."""

    CLEAR = "clear"  # one format explains the bytes, and nothing is left to ask
    AMBIGUOUS = "ambiguous"  # a fact is missing, which ``question`` asks for
    NOTHING_HEARD = "nothing heard"
    UNKNOWN = "unknown"  # bytes came, and no format explains them


class Ask(StrEnum):
    """What a question is about; stable, for other programs."""

    UNIT = "unit"  # what the display shows, for want of a unit
    VALUE = "value"  # what the display shows, because formats read different numbers
    UNIT_KEY = "unit key"  # what the display shows after the unit key
    MORE = "more"  # another reading
    SHOWN = "shown"  # what the display shows, once more: nothing agrees with it
    FORMAT = "format"  # which of formats that read alike
    PORT = "port"  # which port of a bridge
    GAUGE = "gauge"  # whether gauge, cable and port are in order


@dataclass(frozen=True, slots=True, kw_only=True)
class FormatQuestion:
    """The one fact that decides, asked for in plain words."""

    ask: Ask
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FormatFinding:
    """One format, and how well it explains what was heard.

    Args:
        format: name of the profile.
        title: what the profile says of itself, in a line.
        scheme: ``bridge`` where a bridge was heard; empty for the scheme as typed.
        options: what the address needs besides the format, such as ``unit``.
        n_readings: whole readings that it found.
        share: share of the bytes that it explains, 0 to 1.
        examples: some readings, as the display would show them.
        evidence: for and against it, a sentence each.
    """

    format: str
    title: str
    scheme: str = ""
    options: Mapping[str, str] = field(default_factory=dict)
    n_readings: int = 0
    share: float = 0.0
    examples: tuple[str, ...] = ()
    evidence: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Identification:
    """The outcome: ``best`` is certain only when ``verdict`` is CLEAR.

    Args:
        verdict: how it ended.
        n_bytes: how much was heard.
        sample: the beginning of what was heard last.
        best: the format that explains most; None when none explains anything.
        alike: other formats that read everything that was heard as ``best`` does.
        runners_up: the other findings, the best first.
        question: what to do or answer next; None when the verdict is CLEAR.
    """

    verdict: FormatVerdict
    n_bytes: int
    sample: bytes = b""
    best: FormatFinding | None = None
    alike: tuple[str, ...] = ()
    runners_up: tuple[FormatFinding, ...] = ()
    question: FormatQuestion | None = None


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
            f"{text!r} is not a display reading.",
            hint='Type number and unit as the display shows them: "12.34 mm" or "0.4860 in".',
        )
    digits = (found["sign"] + found["digits"]).replace(",", ".")
    unit = LengthUnit.MM if found["unit"].lower() == "mm" else LengthUnit.INCH
    return Shown(value=Decimal(digits), unit=unit)


def _in_mm(value: Decimal, unit: LengthUnit) -> Decimal:
    return value * MM_PER_INCH if unit is LengthUnit.INCH else value


def _last_digit(value: Decimal) -> Decimal:
    exponent = value.as_tuple().exponent
    return Decimal(1).scaleb(exponent if isinstance(exponent, int) else 0)
