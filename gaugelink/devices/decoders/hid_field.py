"""A length in a field of HID reports: framed reports in, events out.

Nothing is taken that the descriptor does not vouch for: a report that is too short, a
count outside the logical limits and the null state are faults.
"""

from __future__ import annotations

from gaugelink.devices.decoders.hid_descriptor import parse_descriptor
from gaugelink.devices.decoders.hid_format import HidFieldFormat
from gaugelink.devices.decoders.hid_pick import Pick, pick
from gaugelink.devices.decoders.hid_report import ReportBody, ReportDescriptor
from gaugelink.devices.decoders.hid_stream import Descriptor, Report, ReportStream
from gaugelink.errors import DeviceError
from gaugelink.model import Fault, FaultKind, Frame, WireEvent

__all__ = ["HidFieldDecoder", "HidFieldFormat"]


class HidFieldDecoder:
    """Decodes one gauge's reports; see ``devices.contract.Decoder``.

    Reports with another ID than that of the field are no events: a gauge may send its
    battery or its buttons in them.
    """

    def __init__(self, fmt: HidFieldFormat) -> None:
        self._format = fmt
        self._stream = ReportStream()
        self._forget_descriptor()

    def feed(self, data: bytes) -> list[WireEvent]:
        """Take bytes; return the events they complete, in order."""
        events: list[WireEvent] = []
        for record in self._stream.feed(data):
            if isinstance(record, Descriptor):
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
        self._descriptor = ReportDescriptor(fields=(), has_report_ids=bool(self._format.report_id))
        self._choice = self._choose()

    def _learn(self, record: Descriptor) -> None:
        try:
            self._descriptor = parse_descriptor(record.data)
        except DeviceError as error:
            self._choice = str(error)
        else:
            self._choice = self._choose()

    def _choose(self) -> Pick | str:
        """Return the bits to read, or why there are none."""
        try:
            return pick(self._descriptor, self._format)
        except DeviceError as error:
            return str(error)

    def _report(self, report: Report) -> list[WireEvent]:
        field = self._choice
        if isinstance(field, str):
            return [_fault(report, field)]
        body = self._descriptor.body(report.data)
        if field.report_id not in (None, body.report_id):
            return []
        return [_length(report, body, field)]


def _length(report: Report, body: ReportBody, field: Pick) -> Frame | Fault:
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


def _fault(report: Report, reason: str, kind: FaultKind = FaultKind.UNPARSED) -> Fault:
    return Fault(kind=kind, reason=reason, raw=report.raw)
