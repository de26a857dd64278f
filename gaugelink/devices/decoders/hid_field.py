"""A length in a field of HID reports: framed reports in, events out.

Nothing is taken that the descriptor does not vouch for: a report that is too short, a
count outside the logical limits and the null state are faults. From counts to a length
(HID 1.11, 6.2.2.7; the formula from memory of that clause)::

    step  = (physical max - physical min) * 10^exponent / (logical max - logical min)
    value = (count - logical min) * step + physical min * 10^exponent

in the field's unit. Where no physical limits are given they are the logical ones.

A profile with ``decoder = "hid-field"`` may have ``[hid_field]``; with none of it the only
length that the gauge's descriptor declares is read::

    report_id = 1
    usage = 0xFF000010                      # usage page in the high 16 bits; or
    bit_offset = 8                          # counted after the report ID byte, with
    bit_size = 24
    signed = true                           # only counts where step is given
    step = 0.01                             # length of one count; sets the descriptor's aside
    unit_default = "mm"                     # where the descriptor states no length unit
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from itertools import islice

from gaugelink.devices.decoders import hid_descriptor
from gaugelink.errors import DeviceError
from gaugelink.model import Fault, FaultKind, Frame, WireEvent
from gaugelink.units import LengthUnit

_LISTED = 8  # a descriptor may declare hundreds of values; a person reads a few
# Nibble 0 is the system (1 SI linear, 3 English linear), nibble 1 the power of length.
CENTIMETRE = 0x11
INCH = 0x13
_MM_PER_CENTIMETRE = 10
_LEAST_EXPONENT, _GREATEST_EXPONENT = -8, 7  # what the nibble of 6.2.2.7 can say
_EXTRA_PLACES = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class HidFieldFormat:
    """Which bits of a gauge's reports are its length, and what they mean.

    With neither ``usage`` nor ``bit_offset`` it is the only field that the descriptor
    gives a unit of length.

    Args:
        report_id: only reports with this ID; None takes any. 0 where there are no IDs.
        usage: usage page times 65536 plus usage of the field.
        bit_offset: its first bit, counted from 0 after the report ID byte.
        bit_size: how many bits it has, 1 to 32; goes with ``bit_offset``.
        signed: the bits are a two's complement number; only where ``step`` is given.
        step: length of one count in ``unit_default``. It sets aside what the descriptor
            says of limits and units, for gauges that send plain bytes or declare nonsense.
        unit_default: the unit where the descriptor states none, or with ``step``.
    """

    report_id: int | None = None
    usage: int | None = None
    bit_offset: int | None = None
    bit_size: int | None = None
    signed: bool = True
    step: Decimal | None = None
    unit_default: LengthUnit | None = None


class HidFieldDecoder:
    """Decodes one gauge's reports; see ``devices.contract.Decoder``.

    Reports with another ID than that of the field are not events: a gauge may send its
    battery or its buttons in them.
    """

    def __init__(self, fmt: HidFieldFormat) -> None:
        self._format = fmt
        self._stream = hid_descriptor.ReportStream()
        self._forget_descriptor()

    def feed(self, data: bytes) -> list[WireEvent]:
        """Take bytes; return the events they complete, in order."""
        events: list[WireEvent] = []
        for record in self._stream.feed(data):
            if isinstance(record, hid_descriptor.Descriptor):
                self._learn(record)
            else:
                events += self._report(record)
        return events

    def flush(self) -> list[WireEvent]:
        """Report what silence has cut off."""
        return list(self._stream.flush())

    def reset(self) -> None:
        """Forget a report in progress and the descriptor; after a reopening both come anew."""
        self._stream.reset()
        self._forget_descriptor()

    def _forget_descriptor(self) -> None:
        """Do without one where the format says all; whether there are IDs it says too."""
        self._descriptor = hid_descriptor.ReportDescriptor(
            fields=(), has_report_ids=bool(self._format.report_id)
        )
        self._choice = self._choose()

    def _learn(self, record: hid_descriptor.Descriptor) -> None:
        try:
            self._descriptor = hid_descriptor.parse_descriptor(record.data)
        except DeviceError as error:
            self._choice = str(error)
        else:
            self._choice = self._choose()

    def _choose(self) -> PickedField | str:
        """Return the bits to read, or why there are none."""
        try:
            return pick(self._descriptor, self._format)
        except DeviceError as error:
            return str(error)

    def _report(self, report: hid_descriptor.Report) -> list[WireEvent]:
        field = self._choice
        if isinstance(field, str):
            return [_fault(report, field)]
        body = self._descriptor.body(report.data)
        if field.report_id not in (None, body.report_id):
            return []
        return [_length(report, body, field)]


def _length(
    report: hid_descriptor.Report, body: hid_descriptor.ReportBody, field: PickedField
) -> Frame | Fault:
    end_bit = field.bit_offset + field.bit_size
    if body.n_bits < end_bit:
        return _fault(report, f"the report ends at bit {body.n_bits}, the field at {end_bit}")
    count = body.value(field.bit_offset, field.bit_size, signed=field.signed)
    if not field.lowest <= count <= field.highest:
        if field.has_null_state:
            return _fault(report, "the gauge has no value (null state)", FaultKind.GAUGE_ERROR)
        return _fault(report, f"{count} is not from {field.lowest} to {field.highest}")
    return Frame(
        value=field.scale.value(count),
        unit=field.scale.unit,
        step=field.scale.digital_step(),
        raw=report.raw,
    )


def _fault(
    report: hid_descriptor.Report, reason: str, kind: FaultKind = FaultKind.UNPARSED
) -> Fault:
    return Fault(kind=kind, reason=reason, raw=report.raw)


@dataclass(frozen=True, slots=True, kw_only=True)
class Slot:
    """One value in a report: element number ``index`` of a field, with its usage."""

    field: hid_descriptor.HidField
    index: int
    usage: int

    @property
    def bit_offset(self) -> int:
        """Its first bit after the report ID byte."""
        return self.field.bit_offset + self.index * self.field.bit_size

    def __str__(self) -> str:
        return (
            f"report_id {self.field.report_id} usage {self.usage:#010x} "
            f"bit_offset {self.bit_offset} bit_size {self.field.bit_size}"
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class PickedField:
    """The bits that are the length, the counts that are legal in them, and their scale.

    ``report_id`` None means any report.
    """

    report_id: int | None
    bit_offset: int
    bit_size: int
    signed: bool
    lowest: int
    highest: int
    has_null_state: bool
    scale: FieldScale


def pick(descriptor: hid_descriptor.ReportDescriptor, fmt: HidFieldFormat) -> PickedField:
    """Find the bits that ``fmt`` asks for.

    Raises:
        DeviceError: no field fits, or several do, or the one that does is not a length.
    """
    if fmt.step is not None and fmt.bit_offset is not None and fmt.bit_size is not None:
        return _plain(fmt, fmt.step, fmt.report_id, fmt.bit_offset, fmt.bit_size)
    found = list(islice((slot for slot in _slots(descriptor) if _fits(slot, fmt)), _LISTED))
    if not found:
        raise _choose("No field", list(islice(_slots(descriptor), _LISTED)))
    if len(found) > 1:
        raise _choose("More than one field", found)
    slot = found[0]
    field = slot.field
    if fmt.step is not None:
        return _plain(fmt, fmt.step, field.report_id, slot.bit_offset, field.bit_size)
    return PickedField(
        report_id=field.report_id,
        bit_offset=slot.bit_offset,
        bit_size=field.bit_size,
        signed=field.limits.logical_min < 0,
        lowest=field.limits.logical_min,
        highest=field.limits.logical_max,
        has_null_state=field.has_null_state,
        scale=scale_of(field.limits, fmt.unit_default),
    )


def _slots(descriptor: hid_descriptor.ReportDescriptor) -> Iterator[Slot]:
    """Yield what could be a length: an array says which keys are down, a relative field moves."""
    for field in descriptor.inputs():
        if field.is_variable and not field.is_relative:
            for index, usage in enumerate(field.element_usages()):
                slot = Slot(field=field, index=index, usage=usage)
                if slot.bit_offset + field.bit_size > 8 * hid_descriptor.MAX_REPORT_BYTES:
                    break
                yield slot


def _fits(slot: Slot, fmt: HidFieldFormat) -> bool:
    if fmt.usage is None and fmt.bit_offset is None and not is_length(slot.field.limits):
        return False
    asked = (fmt.report_id, fmt.usage, fmt.bit_offset, fmt.bit_size)
    given = (slot.field.report_id, slot.usage, slot.bit_offset, slot.field.bit_size)
    return all(want in (None, have) for want, have in zip(asked, given, strict=True))


def _plain(
    fmt: HidFieldFormat, step: Decimal, report_id: int | None, bit_offset: int, bit_size: int
) -> PickedField:
    """Take the bits as they are, at so much a count; every count is legal."""
    span = 1 << bit_size
    lowest = -span // 2 if fmt.signed else 0
    return PickedField(
        report_id=report_id,
        bit_offset=bit_offset,
        bit_size=bit_size,
        signed=fmt.signed,
        lowest=lowest,
        highest=lowest + span - 1,
        has_null_state=False,
        scale=FieldScale(zero=Fraction(0), step=Fraction(step), unit=fmt.unit_default),
    )


def _choose(found: str, slots: Sequence[Slot]) -> DeviceError:
    listed = "; ".join(str(slot) for slot in slots) or "nothing"
    return DeviceError(
        f"{found} of the gauge fits the format; it declares {listed}.",
        hint="State report_id and usage, or bit_offset, in the format.",
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldScale:
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


def scale_of(limits: hid_descriptor.FieldLimits, unit_default: LengthUnit | None) -> FieldScale:
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
    return FieldScale(zero=physical_min * power - limits.logical_min * step, step=step, unit=unit)


def is_length(limits: hid_descriptor.FieldLimits) -> bool:
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
        f"The field is not a length: {why}.", hint="State step and unit_default in the format."
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
