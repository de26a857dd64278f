"""``gaugelink listen``: every byte of a gauge, and what it means."""

from __future__ import annotations

import math
import time
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

from gaugelink.cli import identify
from gaugelink.cli.folders import format_folders
from gaugelink.cli.known import is_unknown, known_from, stated_kind
from gaugelink.cli.output import emit, emit_json, say
from gaugelink.cli.recall import Memory
from gaugelink.cli.stop_key import StopKey
from gaugelink.cli.wording import event_line
from gaugelink.devices.address import parse_address
from gaugelink.devices.gauge import Gauge
from gaugelink.devices.identify.identities import PROBED_SCHEMES
from gaugelink.devices.registry import open_gauge
from gaugelink.errors import DeviceError, InputError
from gaugelink.model import Fault, GaugeEvent, Ident, LinkChange, Reading, UnitSwitch
from gaugelink.report.contract import Json

_POLL_S = 0.1
_SILENT = (
    "Is the gauge switched on, its battery good, and the format its own? Press its data button "
    "while listening, and check the cable."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class ListenOptions:
    """What was typed after ``listen``."""

    seconds: float | None = None
    record: Path | None = None
    shows: str | None = None
    identify: bool = False
    journal: Path | None = None
    folders: tuple[Path, ...] = ()


def run(address: str, options: ListenOptions, *, as_json: bool) -> None:
    """Listen until time is up, the recording ends, or the person stops it.

    Where nobody has said which format the gauge sends, find that out instead.

    Raises:
        InputError: something typed cannot be used.
        DeviceError: the port cannot be opened, nothing was heard, or what the gauge sends
            is not certain.
    """
    _require_time(options.seconds)
    memory = Memory(options.journal)
    afresh = options.identify or options.shows is not None
    full = memory.completed(address, afresh=afresh)
    if afresh or is_unknown(parse_address(full)):
        _identify(full, options, memory, as_json=as_json)
    else:
        _listen(full, options, memory, as_json=as_json)


def _require_time(seconds: float | None) -> None:
    if seconds is not None and not (math.isfinite(seconds) and seconds > 0.0):
        raise InputError(
            f"{seconds:g} seconds are no time to listen.", hint="Give --seconds above zero."
        )


def _identify(address: str, options: ListenOptions, memory: Memory, *, as_json: bool) -> None:
    if options.record is not None:
        raise InputError(
            "A recording needs to know the format.",
            hint="Listen without --record first; where that finds nothing out, add "
            "?format=text-input: every byte is kept all the same.",
        )
    identify.run(
        address,
        identify.IdentifyOptions(
            shows=options.shows,
            seconds=options.seconds,
            folders=format_folders(options.folders),
            as_json=as_json,
        ),
        memory,
    )


def _listen(address: str, options: ListenOptions, memory: Memory, *, as_json: bool) -> None:
    folders = format_folders(options.folders)
    gauge = open_gauge(address, folders=folders, record_to=options.record)
    known = known_from(gauge.info, stated_kind(parse_address(address)))
    heard: set[type] = set()
    with StopKey() as stop:
        try:
            with gauge:
                stop.hold()
                say(f"listening to {address} as {gauge.info.format}; Ctrl-C stops")
                for event in _events(gauge, options.seconds, stop):
                    heard.add(type(event.body))
                    if as_json:
                        emit_json(event_json(event), indent=None)
                    else:
                        emit(event_text(event))
        finally:
            if known and Reading in heard:
                memory.remember(known)
        if not heard:
            raise DeviceError(f"Nothing was heard at {address}.", address=address, hint=_SILENT)
        if Reading not in heard:
            _say_how_to_find_out(gauge)


def _say_how_to_find_out(gauge: Gauge) -> None:
    where = parse_address(gauge.info.address)
    if where.scheme in PROBED_SCHEMES:
        bare = where.target if where.is_url else f"{where.scheme}:{where.target}"
        say(f"No {gauge.info.format} reading came. What it is: gaugelink listen {bare} --identify")


def _events(gauge: Gauge, seconds: float | None, stop: StopKey) -> Iterator[GaugeEvent]:
    """Go through what comes, its times counted from now; half a line at the end is told too."""
    begun_s = gauge.now_s()
    until_s = None if seconds is None else time.monotonic() + seconds
    while not (gauge.ended or stop.is_asked()):
        if until_s is not None and time.monotonic() >= until_s:
            break
        try:
            events = gauge.poll(_POLL_S)
        except KeyboardInterrupt:  # asked twice: the port hangs
            break
        for event in events:
            yield replace(event, elapsed_s=event.elapsed_s - begun_s)
    for event in gauge.unfinished():
        yield replace(event, elapsed_s=event.elapsed_s - begun_s)


def event_text(event: GaugeEvent) -> str:
    """Write one event as a line: time, meaning, bytes."""
    raw = _raw(event)
    return (
        f"{event.elapsed_s:10.3f} s  {_meaning(event):44}  {raw!r}"
        if raw
        else (f"{event.elapsed_s:10.3f} s  {_meaning(event)}")
    )


def event_json(event: GaugeEvent) -> Json:
    """Return one event as JSON data, its bytes in hex."""
    body = event.body
    data: Json = {
        "gauge": event.gauge_id,
        "elapsed_s": event.elapsed_s,
        "kind": _KINDS[type(body)],
        "raw_hex": _raw(event).hex(),
        "text": _meaning(event),
    }
    if isinstance(body, Reading):
        data |= {
            "value_mm": body.value_mm,
            "resolution_mm": body.resolution_mm,
            "displayed": body.displayed,
            "unit": str(body.unit),
        }
    return data


_KINDS = {
    Reading: "reading",
    Fault: "fault",
    Ident: "ident",
    LinkChange: "link",
    UnitSwitch: "unit switch",
}


def _meaning(event: GaugeEvent) -> str:
    body = event.body
    if isinstance(body, Reading):
        flags = f"  ({', '.join(sorted(body.flags))})" if body.flags else ""
        return f"{body.displayed} {body.unit}{flags}"
    return event_line(event)


def _raw(event: GaugeEvent) -> bytes:
    return b"" if isinstance(event.body, LinkChange) else event.body.raw
