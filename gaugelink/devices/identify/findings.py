"""From a weighed trial to a finding: its reasons in sentences."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from gaugelink.devices.decoders.line_format import LineFormat
from gaugelink.devices.identify.heard import Bit7
from gaugelink.devices.identify.verdict import Finding
from gaugelink.devices.identify.weighed import Weighed
from gaugelink.devices.profiles.profile import PortSettings
from gaugelink.model import Frame, Sends

_EXAMPLES = 3
_END_NAMES = {b"\r\n": "CR LF", b"\r": "CR", b"\n": "LF"}


def finding_of(weighed: Weighed, alike: Sequence[str] = ()) -> Finding:
    """Return the finding, with the options that the address needs.

    Args:
        weighed: the trial.
        alike: formats that read everything alike.
    """
    options = dict(weighed.trial.options)
    if weighed.streams and weighed.profile.sends is not Sends.STREAM:
        options["sends"] = str(Sends.STREAM)
    return Finding(
        format=weighed.profile.name,
        title=weighed.profile.title,
        scheme="bridge" if weighed.profile.bits is not None else "",
        options=options,
        n_readings=len(weighed.evidence.frames),
        share=weighed.evidence.share,
        examples=tuple(dict.fromkeys(map(shown_text, weighed.evidence.frames)))[-_EXAMPLES:],
        evidence=tuple(_sentences(weighed, alike)),
    )


def shown_text(frame: Frame) -> str:
    """Write a reading as a display would show it: counts have no end of digits."""
    value = frame.value
    if frame.step is not None:
        value = round(value, max(0, -frame.step.adjusted()))
    return f"{value:f} {frame.unit}" if frame.unit else f"{value:f}"


def settings_text(settings: PortSettings) -> str:
    """Write port settings as people do: 4800 baud 7E2."""
    parts = (settings.data_bits, settings.parity, settings.stop_bits)
    return f"{settings.baud} baud {''.join(map(str, parts))}"


def _sentences(weighed: Weighed, alike: Sequence[str]) -> Iterator[str]:
    evidence = weighed.evidence
    share = f"{100 * evidence.share:.0f} % of the bytes explained"
    yield f"{_count(len(evidence.frames), 'reading')}, {share}"
    if evidence.faults:
        yield f"{_count(len(evidence.faults), 'fault')}, the first: {evidence.faults[0]}"
    if evidence.others:
        yield f"the gauge says: {evidence.others[-1]}"
    yield from _about_port(weighed)
    if evidence.frames and isinstance(weighed.profile.wire, LineFormat):
        yield f"lines end with {_END_NAMES.get(weighed.line_end, repr(weighed.line_end))}"
    if weighed.has_answered:
        yield f"it answers the read request {weighed.profile.request!r}"
    if weighed.streams:
        yield "it sends all the time, unasked"
    if alike:
        yield f"reads all of it as {', '.join(alike)} would, and would accept least besides"
    if weighed.profile.experimental:
        yield "parts of this format are inferred: compare some readings with the display"


def _about_port(weighed: Weighed) -> Iterator[str]:
    settings, own = weighed.settings, weighed.profile.port
    if settings is not None:
        besides = "" if weighed.is_own else f", though the format is known at {settings_text(own)}"
        yield f"heard at {settings_text(settings)}{besides}"
    if weighed.bit7 is not Bit7.DATA and isinstance(weighed.profile.wire, LineFormat):
        yield f"bit 7 of the bytes is {weighed.bit7}: seven data bits, read as eight"


def _count(n: int, noun: str) -> str:
    return f"{n} {noun}" if n == 1 else f"{n or 'no'} {noun}s"
