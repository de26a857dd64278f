"""Every trial weighed on everything that was heard."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import product

from gaugelink.devices.decoders.parity import SEVEN_BITS, Parity
from gaugelink.devices.identify.evidence import Evidence, weigh
from gaugelink.devices.identify.heard import PARITY, Bit7, Heard, bit7_of
from gaugelink.devices.identify.trials import Trial, all_trials
from gaugelink.devices.profiles.profile import PortSettings, Profile
from gaugelink.model import Frame
from gaugelink.units import LengthUnit

# A gauge that gives so many readings by itself, so fast, is not pressed by a hand.
_STREAM_READINGS, _STREAM_HZ = 5, 2.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighed:
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

    def joined(self, more: Weighed) -> Weighed:
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
) -> tuple[Weighed, ...]:
    """Try every profile and variant on every listening."""
    found: dict[tuple[str, tuple[tuple[str, str], ...]], Weighed] = {}
    for trial, each in product(all_trials(profiles, bridge_port), heard):
        for weighed in _weigh_one(trial, each):
            key = (trial.profile.name, tuple(sorted(weighed.trial.options.items())))
            found[key] = found[key].joined(weighed) if key in found else weighed
    return tuple(found.values())


def _weigh_one(trial: Trial, heard: Heard) -> Iterator[Weighed]:
    """Yield the trial on one listening; once for each unit where the bytes carry none."""
    bit7 = bit7_of(heard.data)
    needed = _port_options(trial.profile, heard.settings, bit7)
    adapted = replace(trial.with_bit7(bit7), options={**trial.options, **needed})
    evidence = weigh(adapted.decoder(), heard.data)
    tried = [(adapted, evidence)]
    if evidence.wants_unit:
        supposed = [adapted.supposing(unit) for unit in LengthUnit]
        tried = [(each, weigh(each.decoder(), heard.data)) for each in supposed]
    for each, found in tried:
        yield Weighed(
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
    if line is None:
        return {}  # a bridge has settings of its own
    if line.strip_high_bit or line.check_parity is not Parity.NONE:
        bit7 = Bit7.DATA  # the format deals with it
    if settings is None:
        return _BIT7_OPTIONS[bit7]
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


def _as_sent(settings: PortSettings, bit7: Bit7) -> PortSettings:
    """Return how the gauge sends what was heard with ``settings``."""
    if bit7 is Bit7.DATA:
        return settings
    stop_bits = 2 if bit7 is Bit7.STOP else settings.stop_bits
    parity = PARITY.get(bit7, Parity.NONE)
    return replace(settings, data_bits=7, parity=parity, stop_bits=stop_bits)


def _is_answer(heard: Heard, profile: Profile) -> bool:
    return heard.request is not None and heard.request == profile.request


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
