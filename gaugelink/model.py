"""The frozen types that cross the seams from the wire to the statistics, and nothing else.

Lengths are floats in millimetres from ``Reading`` on; before that a value is a
``Decimal`` with its unit, so that a display of 0.1000 keeps its resolution.
Types that arise further right live with their stage: ``uncertainty.estimate``,
``sizing.results``.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum
from typing import TypeAlias

from gaugelink.units import LengthUnit

# --- decoder -> gauge -------------------------------------------------------------------------


class Flag(StrEnum):
    """What a frame says about its value besides the number."""

    NEGATIVE_ZERO = "negative zero"
    HELD = "held"
    LOW_BATTERY = "low battery"
    BELOW_TOLERANCE = "below tolerance"
    WITHIN_TOLERANCE = "within tolerance"
    ABOVE_TOLERANCE = "above tolerance"


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """One whole, valid value as the gauge sent it, not yet converted.

    ``unit`` is None when the wire format carries none. ``step`` is the digital
    step in ``unit`` where the format states one; None means one of the last digit.
    """

    value: Decimal
    unit: LengthUnit | None
    raw: bytes
    channel: str = ""
    flags: frozenset[Flag] = frozenset()
    step: Decimal | None = None


class FaultKind(StrEnum):
    """Why bytes are not a reading."""

    UNPARSED = "unparsed"  # a whole line or frame that breaks the format's rules
    INCOMPLETE = "incomplete"  # silence before the end of the line or frame
    OVERLONG = "overlong"  # no end where the format must have one
    PARITY = "parity"
    GAUGE_ERROR = "gauge error"  # the gauge itself reports an error
    NO_UNIT = "no unit"  # neither the frame nor the profile says mm or inch


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """Bytes that are not a reading, kept as they came, with the reason in plain words."""

    kind: FaultKind
    reason: str
    raw: bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class Ident:
    """A line in which the gauge names itself or answers a command; never a reading."""

    text: str
    raw: bytes


WireEvent: TypeAlias = Frame | Fault | Ident

# --- gauge -> capture -------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One indication, converted: ``value_mm`` with the digital step ``resolution_mm``.

    ``displayed`` is the number as the gauge wrote it, in ``unit``.
    """

    value_mm: float
    resolution_mm: float
    displayed: str
    unit: LengthUnit
    raw: bytes
    channel: str = ""
    flags: frozenset[Flag] = frozenset()


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkChange:
    """The gauge was unplugged (``connected`` false) or is back (true)."""

    connected: bool
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitSwitch:
    """The gauge now sends ``now``; the job was begun in ``before``."""

    before: LengthUnit
    now: LengthUnit
    raw: bytes


GaugeEventBody: TypeAlias = Reading | Fault | Ident | LinkChange | UnitSwitch


@dataclass(frozen=True, slots=True, kw_only=True)
class GaugeEvent:
    """Anything that came from one gauge, stamped on arrival.

    ``elapsed_s`` is the gauge's own monotonic clock in seconds; only differences
    on one gauge mean anything.
    """

    gauge_id: str
    elapsed_s: float
    body: GaugeEventBody


class GaugeKind(StrEnum):
    """What sort of hand gauge it is; decides which measurands it serves."""

    CALIPER = "caliper"
    MICROMETER = "micrometer"


class Sends(StrEnum):
    """When a gauge sends: on its data button or a foot pedal, or all the time."""

    BUTTON = "button"
    STREAM = "stream"


@dataclass(frozen=True, slots=True, kw_only=True)
class GaugeInfo:
    """Who a gauge is and what it may be off by.

    ``gauge_id`` is stable over unplugging. ``mpe_mm`` is the maximum permissible
    error of an outside measurement, ``shift_mpe_mm`` what inside jaws and depth
    rod may add (the scale shift error S of ISO 13385-1); both are half-widths in
    mm, and ``mpe_source`` says where they come from.
    """

    gauge_id: str
    kind: GaugeKind
    sends: Sends
    address: str
    format: str
    mpe_mm: float
    shift_mpe_mm: float
    mpe_source: str

    @property
    def is_typed(self) -> bool:
        """Whether a person types its values, perhaps of several gauges and not all decimals."""
        return self.address.partition(":")[0].lower() == "keys"


class Seek(StrEnum):
    """How the readings of a measurand are sought."""

    SETTLED = "settled"  # at rest
    MAXIMUM = "maximum"  # the largest of a rocking sweep: an inside size
    MINIMUM = "minimum"  # the smallest of a sweep: an outside size


class DepthReference(StrEnum):
    """What the depth of the barrel is measured up to, from the floor."""

    RIM = "rim"
    SEAT = "seat"


# --- capture -> statistics --------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Series:
    """The readings of one measurand by one gauge, in the order they were taken."""

    measurand: str
    gauge_id: str
    readings: tuple[Reading, ...]


# --- statistics -> uncertainty ----------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class OutlierMark:
    """A suspicious reading: position in the series, the test that fired, and the outcome.

    ``rejected`` false means marked and kept. ``critical_value`` is the value that
    ``statistic`` exceeded at the two-sided significance level ``alpha``.
    """

    index: int
    value_mm: float
    test: str
    statistic: float
    critical_value: float
    alpha: float
    rejected: bool
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice:
    """Something doubtful, or to be done, with a stable code: it stops nothing."""

    code: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Summary:
    """What a series says about its measurand; all lengths in mm.

    ``mean_mm``, ``std_mm`` (n - 1) and ``spread_mm`` (max - min) are over the
    ``n_used`` readings that were not rejected; ``mean_all_mm`` is over all taken.
    ``u_mean_mm`` is the type A standard uncertainty of the mean with ``dof``
    degrees of freedom (None and 0 when a single reading tells nothing of spread).
    ``resolution_mm`` is the digital step, which the uncertainty stage adds.
    """

    measurand: str
    gauge_id: str
    n_taken: int
    n_used: int
    mean_mm: float
    mean_all_mm: float
    std_mm: float | None
    spread_mm: float
    u_mean_mm: float | None
    dof: int
    resolution_mm: float
    marks: tuple[OutlierMark, ...] = ()
    advice: tuple[Advice, ...] = field(default=())
