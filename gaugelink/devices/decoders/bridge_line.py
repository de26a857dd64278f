r"""The lines of a bridge: bytes in, and out comes what the gauge behind it says.

A bridge is a microcontroller that counts the clock edges of a gauge and sends each burst
of bits on as a line of text. The line is a design of this project::

    #SSS,P,KIND,N,HEX,FLAGS*CCCC\r\n

    SSS    000 to 999, one more for each line, then 000 again
    P      0 to 9, the port of the bridge that the gauge is on
    KIND   what a kind of gauge sends (``formats.BIT_KINDS``), or KEY, HB, ID
    N      number of bits; in an ID line, of its text
    HEX    the bits packed as in devices.decoders.bits, two capitals or digits a byte
    FLAGS  0, or letters: see FLAG_LETTERS
    CCCC   CRC-16/CCITT-FALSE of everything between # and *, in hex

The bridge judges nothing; what its bits mean is for a ``BitDecoder``. This decoder
answers for the way in between. Lines are numbered, so a line that was lost, damaged or
sent twice is noticed; and a bit decoder that compares one burst with the one before is
told to forget it when there was something in between.

A heartbeat is not an event. But it comes once a second, so it serves a decoder without a
clock as one: several in a row with no burst between them mean that the bridge is alive
and a gauge that should send all the time is not.
"""

from __future__ import annotations

import re
from binascii import crc_hqx
from collections.abc import Mapping
from dataclasses import dataclass

from gaugelink.devices.decoders.bits import BitDecoder, BitFlag, BitFrame
from gaugelink.devices.decoders.formats import BIT_KINDS
from gaugelink.model import Fault, FaultKind, Ident, WireEvent

KEY = "KEY"  # a button or a pedal on the bridge was pressed
HEARTBEAT = "HB"  # once a second while the bridge runs
IDENT = "ID"  # who the bridge is: after a start, and when it is asked
BURSTS = frozenset(kind.bridge for kind in BIT_KINDS.values())
LINE_KINDS = BURSTS | {KEY, HEARTBEAT, IDENT}
_ASKED = frozenset(kind.bridge for kind in BIT_KINDS.values() if kind.is_asked)
# Between the first and the last of these, two seconds pass; the slowest free-running
# gauges send three times a second.
SILENT_BEATS = 3
_GAUGE_SILENT = "is the gauge switched on, and its battery good?"
MAX_LINE_BYTES = 128
FLAG_LETTERS: Mapping[str, BitFlag] = {
    "T": BitFlag.TRUNCATED,
    "X": BitFlag.EXTRA_EDGES,
    "G": BitFlag.GLITCHES,
    "O": BitFlag.OVERRUN,
    "B": BitFlag.BUTTON,
    "R": BitFlag.REQUESTED,
}
_ENVELOPE = re.compile(rb"#(?P<text>[^#*\r\n]*)\*(?P<crc>[0-9A-F]{4})\r\n")
_FIELDS = re.compile(
    r"(?P<number>\d{3}),(?P<port>\d),(?P<kind>[A-Z\d]+),(?P<bits>0|[1-9]\d{0,2}),"
    rf"(?P<hex>(?:[\dA-F]{{2}})*),(?P<flags>0|[{''.join(FLAG_LETTERS)}]+)",
    re.ASCII,
)


class BridgeDecoder:
    """Decodes the gauge on one port of a bridge; see ``devices.contract.Decoder``.

    Args:
        bit_decoder: fresh, for this gauge alone.
        kind: the kind of burst it understands, such as ``N52``.
        port: the port of the bridge that the gauge is on, 0 to 9. None takes the first
            that a burst comes from; a burst from another is then a fault, since two
            gauges must not be read as one.

    Raises:
        ValueError: there is no such kind.
    """

    def __init__(self, bit_decoder: BitDecoder, kind: str, port: int | None = None) -> None:
        self._bits = bit_decoder
        if kind not in BURSTS:
            raise ValueError(f"a bridge sends no bursts of kind {kind!r}")
        self._kind = kind
        self._port = port
        self._port_is_stated = port is not None
        self._pending = bytearray()
        self._skipping = False  # in the tail of an overlong line
        self._last: BridgeRecord | None = None
        self._damaged = 0  # lines since the last good one
        self._beats = 0  # heartbeats since the last burst

    def feed(self, data: bytes) -> list[WireEvent]:
        """Take bytes; return the events they complete, in order."""
        self._pending += data
        events: list[WireEvent] = []
        start = 0
        while end := self._pending.find(b"\n", start) + 1:
            events += self._end_line(bytes(self._pending[start:end]))
            start = end
        del self._pending[:start]
        return events + self._bound_memory()

    def flush(self) -> list[WireEvent]:
        """Report the line that silence has cut off; the numbering goes on."""
        raw = bytes(self._pending)
        self._pending.clear()
        self._skipping = False
        if not raw:
            return []
        return [self._damage(FaultKind.INCOMPLETE, raw, f"{raw!r} stopped before its end")]

    def reset(self) -> None:
        """Forget the line in progress and all that was counted; keep the port."""
        self._pending.clear()
        self._skipping = False
        self._last = None
        self._damaged = self._beats = 0
        self._bits.reset()

    def _end_line(self, raw: bytes) -> list[WireEvent]:
        if self._skipping:
            self._skipping = False
            return []
        if len(raw) > MAX_LINE_BYTES:
            return [self._overlong(raw)]
        # A bridge that restarts in the middle of a line begins a new one without ending it.
        start = max(0, raw.rfind(b"#"))
        if start == 0:
            return self._line(raw)
        reason = f"{raw[:start]!r} stopped where another line begins"
        return [self._damage(FaultKind.UNPARSED, raw[:start], reason), *self._line(raw[start:])]

    def _bound_memory(self) -> list[WireEvent]:
        """Give up on a line that is too long already: noise may never end one."""
        events: list[WireEvent] = []
        if not self._skipping and len(self._pending) > MAX_LINE_BYTES:
            events.append(self._overlong(bytes(self._pending)))
            self._skipping = True
        if self._skipping:
            self._pending.clear()
        return events

    def _overlong(self, raw: bytes) -> Fault:
        reason = f"more than {MAX_LINE_BYTES} bytes without a line end; is this a bridge?"
        return self._damage(FaultKind.OVERLONG, raw[:MAX_LINE_BYTES], reason)

    def _damage(self, kind: FaultKind, raw: bytes, reason: str) -> Fault:
        self._damaged += 1
        return Fault(kind=kind, reason=reason, raw=raw)

    def _line(self, raw: bytes) -> list[WireEvent]:
        record = read_record(raw)
        if isinstance(record, Fault):
            return [self._damage(record.kind, record.raw, record.reason)]
        if self._last is not None and record.raw == self._last.raw:
            return []  # sent twice
        return [*self._lost_before(record), *self._meaning(record)]

    def _lost_before(self, record: BridgeRecord) -> list[WireEvent]:
        """Compare the number of a line with the last; lines that came damaged are no news."""
        last, damaged = self._last, self._damaged
        self._last, self._damaged = record, 0
        missing = 0 if last is None else (record.number - last.number - 1) % 1000
        restarted = record.kind == IDENT and record.number == 0
        if missing or restarted:
            self._bits.reset()
        if last is None or restarted or missing <= damaged:
            return []
        reason = (
            f"lines lost on the way from the bridge: {missing - damaged}, unless it restarted; "
            f"number {record.number:03d} came after {last.number:03d}"
        )
        return [Fault(kind=FaultKind.INCOMPLETE, reason=reason, raw=b"")]

    def _meaning(self, record: BridgeRecord) -> list[WireEvent]:
        if record.kind == HEARTBEAT:
            return self._heartbeat()
        if record.kind == IDENT:
            text = record.packed.decode("ascii", "backslashreplace")
            return [Ident(text=text, raw=record.raw)]
        if record.kind == KEY:
            text = f"button or pedal on port {record.port} of the bridge"
            return [Ident(text=text, raw=record.raw)] if self._is_ours(record) else []
        return self._burst(record)

    def _heartbeat(self) -> list[WireEvent]:
        self._beats += 1
        if self._kind in _ASKED or self._beats != SILENT_BEATS:
            return []  # a gauge that is asked for its readings may be silent
        reason = f"the bridge answers, but its gauge does not; {_GAUGE_SILENT}"
        return [Fault(kind=FaultKind.INCOMPLETE, reason=reason, raw=b"")]

    def _is_ours(self, record: BridgeRecord) -> bool:
        return self._port in (None, record.port)

    def _burst(self, record: BridgeRecord) -> list[WireEvent]:
        if not self._is_ours(record):
            return [] if self._port_is_stated else [_second_gauge(record)]
        self._port = record.port
        self._beats = 0
        if record.kind != self._kind:
            return [_other_kind(record, self._kind)]
        if record.n_bits == 0:
            reason = f"the bridge asked, but the gauge did not answer; {_GAUGE_SILENT}"
            return [Fault(kind=FaultKind.INCOMPLETE, reason=reason, raw=record.raw)]
        burst = BitFrame(
            n_bits=record.n_bits, packed=record.packed, flags=record.flags, raw=record.raw
        )
        return self._bits.decode(burst)


def _second_gauge(record: BridgeRecord) -> Fault:
    reason = f"another gauge is on port {record.port} of the bridge; add port= to the address"
    return Fault(kind=FaultKind.UNPARSED, reason=reason, raw=record.raw)


def _other_kind(record: BridgeRecord, wanted: str) -> Fault:
    reason = (
        f"the bridge sends bursts of kind {record.kind}, "
        f"but the format that was chosen needs {wanted}"
    )
    return Fault(kind=FaultKind.UNPARSED, reason=reason, raw=record.raw)


@dataclass(frozen=True, slots=True, kw_only=True)
class BridgeRecord:
    """The fields of one whole, undamaged line; ``raw`` is the line with its end."""

    number: int
    port: int
    kind: str
    n_bits: int
    packed: bytes
    flags: frozenset[BitFlag]
    raw: bytes


def read_record(raw: bytes) -> BridgeRecord | Fault:
    """Return the fields of one line, or why it is none.

    Args:
        raw: everything up to and including a line feed.
    """
    envelope = _ENVELOPE.fullmatch(raw)
    if envelope is None:
        return _fault(raw, "is not a whole line from a bridge; just after opening, one is normal")
    expected = f"{crc_hqx(envelope['text'], 0xFFFF):04X}".encode()
    if envelope["crc"] != expected:
        return _fault(raw, f"was damaged on its way: its checksum would be {expected.decode()}")
    fields = _FIELDS.fullmatch(envelope["text"].decode("latin-1"))
    if fields is None:
        return _fault(raw, "has a right checksum, but its fields are not those of a bridge line")
    if fields["kind"] not in LINE_KINDS:
        return _fault(raw, f"is of an unknown kind {fields['kind']!r}")
    return _checked_bits(raw, fields)


def _checked_bits(raw: bytes, fields: re.Match[str]) -> BridgeRecord | Fault:
    n_bits, packed = int(fields["bits"]), bytes.fromhex(fields["hex"])
    if len(packed) != (n_bits + 7) // 8 or int.from_bytes(packed, "little") >> n_bits:
        return _fault(raw, f"does not contain the {n_bits} bits it claims")
    return BridgeRecord(
        number=int(fields["number"]),
        port=int(fields["port"]),
        kind=fields["kind"],
        n_bits=n_bits,
        packed=packed,
        flags=frozenset(FLAG_LETTERS[letter] for letter in fields["flags"] if letter != "0"),
        raw=raw,
    )


def _fault(raw: bytes, why: str) -> Fault:
    return Fault(kind=FaultKind.UNPARSED, reason=f"{raw!r} {why}", raw=raw)
