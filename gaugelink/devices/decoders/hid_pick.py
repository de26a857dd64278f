"""Which bits of which report are the gauge's length: the format's choice among the fields."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from itertools import islice

from gaugelink.devices.decoders.hid_format import HidFieldFormat
from gaugelink.devices.decoders.hid_report import HidField, ReportDescriptor
from gaugelink.devices.decoders.hid_scale import Scale, is_length, scale_of
from gaugelink.devices.decoders.hid_stream import MAX_REPORT_BYTES
from gaugelink.errors import DeviceError

_LISTED = 8  # a descriptor may declare hundreds of values; a person reads a few


@dataclass(frozen=True, slots=True, kw_only=True)
class Slot:
    """One value in a report: element number ``index`` of a field, with its usage."""

    field: HidField
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
class Pick:
    """The bits that are the length, the counts that are legal in them, and their scale.

    ``report_id`` None stands for any report.
    """

    report_id: int | None
    bit_offset: int
    bit_size: int
    signed: bool
    lowest: int
    highest: int
    has_null_state: bool
    scale: Scale


def pick(descriptor: ReportDescriptor, fmt: HidFieldFormat) -> Pick:
    """Find the bits that ``fmt`` asks for.

    Raises:
        DeviceError: no field fits, or several do, or the one that does is no length.
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
    return Pick(
        report_id=field.report_id,
        bit_offset=slot.bit_offset,
        bit_size=field.bit_size,
        signed=field.limits.logical_min < 0,
        lowest=field.limits.logical_min,
        highest=field.limits.logical_max,
        has_null_state=field.has_null_state,
        scale=scale_of(field.limits, fmt.unit_default),
    )


def _slots(descriptor: ReportDescriptor) -> Iterator[Slot]:
    """Yield what could be a length: an array says which keys are down, a relative field moves."""
    for field in descriptor.inputs():
        if field.is_variable and not field.is_relative:
            for index, usage in enumerate(field.element_usages()):
                slot = Slot(field=field, index=index, usage=usage)
                if slot.bit_offset + field.bit_size > 8 * MAX_REPORT_BYTES:
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
) -> Pick:
    """Take the bits as they are, at so much a count; every count is legal."""
    span = 1 << bit_size
    lowest = -span // 2 if fmt.signed else 0
    return Pick(
        report_id=report_id,
        bit_offset=bit_offset,
        bit_size=bit_size,
        signed=fmt.signed,
        lowest=lowest,
        highest=lowest + span - 1,
        has_null_state=False,
        scale=Scale(zero=Fraction(0), step=Fraction(step), unit=fmt.unit_default),
    )


def _choose(found: str, slots: Sequence[Slot]) -> DeviceError:
    listed = "; ".join(str(slot) for slot in slots) or "nothing"
    return DeviceError(
        f"{found} of the gauge fits the format; it declares {listed}.",
        hint="State report_id and usage, or bit_offset, in the format.",
    )
