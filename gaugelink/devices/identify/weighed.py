"""What was heard at a port, weighed under every format that may be there.

Heard
    The bytes of one listening. A port that is opened with 8 data bits hears everything: of
    a gauge that sends 7 bits it hears the parity bit, or the first stop bit, in bit 7.
Trial
    A profile, or a variant of it that an address can ask for: published descriptions of
    the bit formats disagree, and gauges without a check in their frames accept any bits.
    So each is tried with its levels inverted, its words exchanged and so on; and a gauge
    that types, with each keyboard layout.
Evidence
    How much of the bytes one decoder explains.

``VERDICT.md`` beside this file follows one reading through all of it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum
from itertools import chain, combinations, product
from typing import Any, TypeAlias

from gaugelink.devices.contract import Decoder
from gaugelink.devices.decoders import make_decoder
from gaugelink.devices.decoders.bits import BitFormat
from gaugelink.devices.decoders.bridge_line import BURSTS, BridgeRecord, read_record
from gaugelink.devices.decoders.formats import WireFormat, bit_kind
from gaugelink.devices.decoders.hid_keys import HidKeysFormat, KeyboardLayout
from gaugelink.devices.decoders.line import SEVEN_BITS, LineFormat, Parity
from gaugelink.devices.profiles.profile import PortSettings, Profile, as_opened
from gaugelink.model import Fault, FaultKind, Frame, Ident, WireEvent
from gaugelink.units import LengthUnit

# Line noise keeps a parity half of the time: this lets about a fifth of the bytes be noise.
MOST = 0.9
_Key: TypeAlias = tuple[str, tuple[tuple[str, str], ...]]  # the name of a trial, its options
# A gauge that gives so many readings by itself, so fast, is not pressed by a hand.
_STREAM_READINGS, _STREAM_HZ = 5, 2.5
# What the gauge says in good form although it is not a reading.
_IN_FORM = (FaultKind.GAUGE_ERROR, FaultKind.NO_UNIT)


@dataclass(frozen=True, slots=True, kw_only=True)
class Heard:
    """The bytes of one listening, in order and without gaps.

    Args:
        data: as they came.
        settings: how the port was set; None where settings have no effect (a socket, a
            pseudo-terminal, HID).
        request: what was sent just before; None when the bytes came by themselves.
        duration_s: time from the first byte to the last, in seconds.
    """

    data: bytes
    settings: PortSettings | None = None
    request: bytes | None = None
    duration_s: float = 0.0


class Bit7(StrEnum):
    """What bit 7 of the bytes is."""

    DATA = "data"
    EVEN = "even parity"
    ODD = "odd parity"
    STOP = "a stop bit"


PARITY = {Bit7.EVEN: Parity.EVEN, Bit7.ODD: Parity.ODD}


def bit7_of(data: bytes) -> Bit7:
    """Return what bit 7 looks like: a parity that most bytes keep, always 1, or plain data."""
    high = sum(byte >> 7 for byte in data)
    if not high:
        return Bit7.DATA
    even = sum(byte.bit_count() % 2 == 0 for byte in data)
    if even >= MOST * len(data):
        return Bit7.EVEN
    if len(data) - even >= MOST * len(data):
        return Bit7.ODD
    return Bit7.STOP if high >= MOST * len(data) else Bit7.DATA


def burst_ports(data: bytes) -> frozenset[int] | None:
    """Return the ports of a bridge from which bursts came; None where no bridge is heard."""
    lines = (line[line.rfind(b"#") :] for line in data.splitlines(keepends=True))
    records = [r for r in map(read_record, lines) if isinstance(r, BridgeRecord)]
    if not records:
        return None
    return frozenset(r.port for r in records if r.kind in BURSTS and r.n_bits)


def is_idle_bridge(data: bytes, port: int | None = None) -> bool:
    """Tell whether a bridge is heard, but no gauge on its port ``port``, or on any."""
    ports = burst_ports(data)
    return ports is not None and not (ports if port is None else ports & {port})


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """One profile, perhaps changed, to be tried on bytes.

    Args:
        profile: with its changes.
        options: the changes as options of an address.
        unit: the unit that is supposed where the bytes carry none.
        bridge_port: the port of the bridge that is listened to; None takes any one.
    """

    profile: Profile
    options: Mapping[str, str] = field(default_factory=dict)
    unit: LengthUnit | None = None
    bridge_port: int | None = None

    def decoder(self) -> Decoder:
        """Make a fresh decoder."""
        return make_decoder(self.profile, unit=self.unit, bridge_port=self.bridge_port)

    def supposing(self, unit: LengthUnit) -> Trial:
        """Return the same trial with a unit supposed."""
        return replace(self, unit=unit, options={**self.options, "unit": str(unit)})

    def with_bit7(self, bit7: Bit7) -> Trial:
        """Return the trial for bytes of seven bits that were read as eight."""
        line = self.profile.line
        if line is None or line.strip_high_bit or line.check_parity is not Parity.NONE:
            return self
        changed = replace(
            line,
            check_parity=PARITY.get(bit7, Parity.NONE),
            strip_high_bit=bit7 is Bit7.STOP,
        )
        return replace(self, profile=replace(self.profile, wire=changed))


def all_trials(profiles: Sequence[Profile], bridge_port: int | None = None) -> tuple[Trial, ...]:
    """Return every profile and its variants, without variants that are there already."""
    trials = [trial for profile in profiles for trial in _trials_of(profile)]
    known = [profile.wire for profile in profiles]
    kept = []
    for trial in trials:
        wire = trial.profile.wire
        if not trial.options or wire not in known:
            kept.append(replace(trial, bridge_port=bridge_port))
            known.append(wire)
    return tuple(kept)


def _trials_of(profile: Profile) -> Iterator[Trial]:
    """Yield the profile as it is, then its variants, those with fewest changes first."""
    yield Trial(profile=profile)
    fmt = profile.wire
    if isinstance(fmt, LineFormat):
        return
    others = [(key, value) for key, value in _variants(fmt) if getattr(fmt, key) != value]
    sizes = (combinations(others, n) for n in range(1, len(others) + 1))
    for chosen in chain.from_iterable(sizes):
        changes: dict[str, Any] = dict(chosen)
        yield Trial(
            profile=replace(profile, wire=replace(fmt, **changes)),
            options={key: _written(value) for key, value in changes.items()},
        )


def _variants(fmt: WireFormat) -> tuple[tuple[str, object], ...]:
    match fmt:
        case BitFormat():
            return bit_kind(fmt).variants
        case HidKeysFormat():
            return ("layout", KeyboardLayout.DE), ("layout", KeyboardLayout.FR)
    return ()


def _written(value: object) -> str:
    return str(value).lower() if isinstance(value, bool) else str(value)


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """What a decoder made of some bytes.

    Listening begins and ends anywhere, so a piece of a line before the first whole one
    and after the last is neither for nor against a format, unless it is too long to be
    a piece of such a line.

    Args:
        frames: the readings, in order.
        others: texts of what was explained besides: what the gauge calls itself, errors.
        faults: why bytes could not be explained.
        n_reading_bytes: bytes of the readings.
        n_explained: bytes of all that was explained.
        n_unexplained: bytes that are neither line nor frame of the format.
        wants_unit: a reading or a refused one lacks a unit.
    """

    frames: tuple[Frame, ...] = ()
    others: tuple[str, ...] = ()
    faults: tuple[str, ...] = ()
    n_reading_bytes: int = 0
    n_explained: int = 0
    n_unexplained: int = 0
    wants_unit: bool = False

    @property
    def share(self) -> float:
        """Share of the bytes that is explained, 0 to 1; 0 of none at all."""
        total = self.n_explained + self.n_unexplained
        return self.n_explained / total if total else 0.0

    def __add__(self, more: Evidence) -> Evidence:
        return Evidence(
            frames=self.frames + more.frames,
            others=self.others + more.others,
            faults=self.faults + more.faults,
            n_reading_bytes=self.n_reading_bytes + more.n_reading_bytes,
            n_explained=self.n_explained + more.n_explained,
            n_unexplained=self.n_unexplained + more.n_unexplained,
            wants_unit=self.wants_unit or more.wants_unit,
        )


def weigh(decoder: Decoder, data: bytes) -> Evidence:
    """Return what a fresh decoder makes of the bytes of one listening."""
    events = decoder.feed(data)
    frames = tuple(event for event in events if isinstance(event, Frame))
    longest = _longest_line(frames)
    head = [e for e in events[:1] if _is_piece(e, longest) and data.startswith(e.raw)]
    body = events[len(head) :] + [e for e in decoder.flush() if not _is_piece(e, longest)]
    return _counted(frames, body)


def _counted(frames: tuple[Frame, ...], body: Sequence[WireEvent]) -> Evidence:
    bad = [e for e in body if isinstance(e, Fault) and e.kind not in _IN_FORM]
    others = [e for e in body if isinstance(e, Fault | Ident) and e not in bad]
    n_reading = _bytes_of(frames)
    return Evidence(
        frames=frames,
        others=tuple(e.text if isinstance(e, Ident) else e.reason for e in others),
        faults=tuple(fault.reason for fault in bad),
        n_reading_bytes=n_reading,
        n_explained=n_reading + _bytes_of(others),
        n_unexplained=_bytes_of(bad),
        wants_unit=any(_lacks_unit(event) for event in body),
    )


def _longest_line(frames: Sequence[Frame]) -> int:
    """Return the length of the longest line; its readings divide it, each channel once."""
    lengths: list[int] = []
    channels: set[str] = set()
    for frame in frames:
        if not lengths or frame.channel in channels:
            lengths.append(0)
            channels.clear()
        lengths[-1] += len(frame.raw)
        channels.add(frame.channel)
    return max(lengths, default=0)


def _is_piece(event: WireEvent, longest: int) -> bool:
    is_bad = isinstance(event, Fault) and event.kind not in _IN_FORM
    return is_bad and len(event.raw) <= longest


def _lacks_unit(event: WireEvent) -> bool:
    if isinstance(event, Fault):
        return event.kind is FaultKind.NO_UNIT
    return isinstance(event, Frame) and event.unit is None


def _bytes_of(events: Sequence[WireEvent]) -> int:
    return sum(len(event.raw) for event in events)


@dataclass(frozen=True, slots=True, kw_only=True)
class WeighedTrial:
    """One trial, and the evidence from all listenings that ask for the same options.

    Args:
        trial: its options are complete: variant, unit and port settings.
        evidence: the sum.
        settings: how the port was set; None where settings have no effect.
        bit7: what bit 7 was.
        is_own: the port was set as the profile has it, or settings have no effect.
        has_answered: readings came after the profile's own request.
        streams: readings came fast and by themselves.
        line_end: the bytes that ended the last reading, if it was a line.
    """

    trial: Trial
    evidence: Evidence
    settings: PortSettings | None
    bit7: Bit7
    is_own: bool
    has_answered: bool = False
    streams: bool = False
    line_end: bytes = b""

    @property
    def profile(self) -> Profile:
        """The profile that was tried."""
        return self.trial.profile

    @property
    def last(self) -> Frame:
        """The latest reading; only where there is one."""
        return self.evidence.frames[-1]

    def preceded_by(self, more: WeighedTrial) -> WeighedTrial:
        """Return the sum with a listening that wanted no unit; the latest stays the latest."""
        return replace(self, evidence=more.evidence + self.evidence)

    def joined(self, more: WeighedTrial) -> WeighedTrial:
        """Return the sum with another listening under the same options."""
        return replace(
            self,
            evidence=self.evidence + more.evidence,
            has_answered=self.has_answered or more.has_answered,
            streams=self.streams or more.streams,
            line_end=more.line_end or self.line_end,
        )


def weigh_all(
    heard: Sequence[Heard], profiles: Sequence[Profile], bridge_port: int | None = None
) -> tuple[WeighedTrial, ...]:
    """Try every profile and variant on every listening."""
    found: dict[_Key, WeighedTrial] = {}
    for trial, each in product(all_trials(profiles, bridge_port), heard):
        for weighed in _weigh_one(trial, each):
            key = (trial.profile.name, tuple(sorted(weighed.trial.options.items())))
            found[key] = found[key].joined(weighed) if key in found else weighed
    return tuple(_with_unit_joined(found))


def _with_unit_joined(found: Mapping[_Key, WeighedTrial]) -> Iterator[WeighedTrial]:
    """Count a listening that wants no unit, as noise does, for the trials that suppose one."""
    without = {key: _bare(key) for key, weighed in found.items() if weighed.trial.unit}
    for key, weighed in found.items():
        if key in without and without[key] in found:
            yield weighed.preceded_by(found[without[key]])
        elif key not in without.values():
            yield weighed


def _bare(key: _Key) -> _Key:
    name, options = key
    return name, tuple(option for option in options if option[0] != "unit")


def _weigh_one(trial: Trial, heard: Heard) -> Iterator[WeighedTrial]:
    """Yield the trial on one listening; once for each unit where the bytes carry none."""
    if trial.profile.bits and heard.settings and burst_ports(heard.data) is None:
        return  # no bridge: the noise of another speed says nothing of it
    bit7 = bit7_of(heard.data)
    needed = _port_options(trial.profile, heard.settings, bit7)
    adapted = replace(trial.with_bit7(bit7), options={**trial.options, **needed})
    evidence = weigh(adapted.decoder(), heard.data)
    tried = [(adapted, evidence)]
    if evidence.wants_unit:
        supposed = [adapted.supposing(unit) for unit in LengthUnit]
        tried = [(each, weigh(each.decoder(), heard.data)) for each in supposed]
    for each, found in tried:
        yield WeighedTrial(
            trial=each,
            evidence=found,
            settings=heard.settings,
            bit7=bit7,
            is_own=not needed or heard.settings is None,
            has_answered=bool(found.frames) and _is_answer(heard, trial.profile),
            streams=_is_stream(heard, len(found.frames)),
            line_end=_line_end(found.frames, heard.data),
        )


def _port_options(profile: Profile, settings: PortSettings | None, bit7: Bit7) -> Mapping[str, str]:
    """Return the options with which an address hears the gauge as it was heard just now."""
    line = profile.line
    if line is None:  # a bridge has settings of its own, but for its speed
        same = settings is None or settings.baud == profile.port.baud or profile.bits is None
        return {} if same or settings is None else {"baud": str(settings.baud)}
    if line.strip_high_bit or line.check_parity is not Parity.NONE:
        bit7 = Bit7.DATA  # the format deals with it
    if settings is None:
        return {} if bit7 in (Bit7.DATA, _own_bit7(profile.port)) else _BIT7_OPTIONS[bit7]
    sent = _as_sent(settings, bit7)
    own = profile.port
    if (sent.baud, sent.data_bits, sent.parity) == (own.baud, own.data_bits, own.parity):
        return {}
    return {
        "baud": str(sent.baud),
        "data_bits": str(sent.data_bits),
        "parity": str(sent.parity),
        "stop_bits": str(sent.stop_bits),
    }


_BIT7_OPTIONS: Mapping[Bit7, Mapping[str, str]] = {
    Bit7.DATA: {},
    Bit7.EVEN: {"check_parity": "E"},
    Bit7.ODD: {"check_parity": "O"},
    Bit7.STOP: {"strip_high_bit": "true"},
}


def _own_bit7(port: PortSettings) -> Bit7:
    """Return what bit 7 is where a port of seven data bits is opened with eight."""
    if port.data_bits == 8:
        return Bit7.DATA
    return next((bit7 for bit7, parity in PARITY.items() if parity is port.parity), Bit7.STOP)


def _as_sent(settings: PortSettings, bit7: Bit7) -> PortSettings:
    """Return how the gauge sends what was heard with ``settings``."""
    if bit7 is Bit7.DATA:
        return settings
    stop_bits = 2 if bit7 is Bit7.STOP else settings.stop_bits
    parity = PARITY.get(bit7, Parity.NONE)
    return replace(settings, data_bits=7, parity=parity, stop_bits=stop_bits)


def _is_answer(heard: Heard, profile: Profile) -> bool:
    asked = (profile.request, as_opened(profile).request)
    return heard.request is not None and heard.request in asked


def _is_stream(heard: Heard, n_readings: int) -> bool:
    if heard.request is not None or n_readings < _STREAM_READINGS or not heard.duration_s:
        return False
    return (n_readings - 1) / heard.duration_s >= _STREAM_HZ


def _line_end(frames: Sequence[Frame], data: bytes) -> bytes:
    """Return what ends the last line; a format that ends lines with CR leaves a LF behind it."""
    if not frames:
        return b""
    ending = frames[-1].raw.translate(SEVEN_BITS)
    text = ending.rstrip(b"\r\n")
    followed = data.translate(SEVEN_BITS).partition(ending)[2].startswith(b"\n")
    return ending[len(text) :] + (b"\n" if ending.endswith(b"\r") and followed else b"")
