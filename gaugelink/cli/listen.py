"""``gaugelink listen``: every byte of a gauge, and what it means.

Where its format is not known, that is found out, and said with how sure it is.
"""

from __future__ import annotations

import math
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from gaugelink.cli.options import Formats, Journal, Json

if TYPE_CHECKING:
    from gaugelink.cli.recall import Memory
    from gaugelink.cli.stop_key import StopKey
    from gaugelink.devices.address import Address
    from gaugelink.devices.gauge import Gauge
    from gaugelink.devices.identify.prober import Patience
    from gaugelink.devices.identify.verdict import FormatFinding, Identification
    from gaugelink.errors import DeviceError
    from gaugelink.model import GaugeEvent


_POLL_S = 0.1
_SILENT = (
    "Is the gauge switched on, its battery good, and the format right? Press its data button "
    "while listening, and check the cable."
)

_KINDS = {
    "Reading": "reading",
    "Fault": "fault",
    "Ident": "ident",
    "LinkChange": "link",
    "UnitSwitch": "unit switch",
}
_LISTED = 5
_NEXT = "Remembered. From now on type only: gaugelink measure {address}"
_NEXT_KIND = (
    "Remembered. Say once that it is a caliper, or kind=micrometer: "
    'gaugelink measure "{address}?kind=caliper"'
)
_NEXT_IN_FULL = 'Until then, type the whole address: gaugelink measure "{address}"'
_PRESSES = (
    "Each line counts as a press of its data button; where it sends unasked, add sends=stream."
)
_MANY_ROUNDS = 1000  # with a time limit, the time ends the rounds


@dataclass(frozen=True, slots=True, kw_only=True)
class ListenOptions:
    """What was typed after ``listen``."""

    seconds: float | None = None
    record: Path | None = None
    shows: str | None = None
    identify: bool = False
    journal: Path | None = None
    folders: tuple[Path, ...] = ()


def listen(
    address: Annotated[
        str, typer.Argument(help="Such as serial:PORT, serial:PORT?format=NAME, or sim:caliper")
    ],
    seconds: Annotated[
        float | None, typer.Option(help="Stop after so many seconds; otherwise Ctrl-C stops.")
    ] = None,
    record: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="Also write the exchange to FILE, for replay:FILE."),
    ] = None,
    shows: Annotated[
        str | None,
        typer.Option(metavar="TEXT", help='What the display shows now, such as "12.34 mm".'),
    ] = None,
    identify: Annotated[
        bool, typer.Option("--identify", help="Identify the format again, even if remembered.")
    ] = False,
    journal: Journal = None,
    json: Json = False,
    formats: Formats = None,
) -> None:
    """Show what a gauge sends, byte for byte, and what it means.

    Without a format, find out which one the gauge sends, and remember it: exit code 0 when it is
    certain, 3 when nothing was heard or a question
    remains. Only read requests are ever sent.
    """
    from gaugelink.cli.recall import Memory, is_unknown, tell_remembered
    from gaugelink.devices.address import parse_address

    options = ListenOptions(
        seconds=seconds,
        record=record,
        shows=shows,
        identify=identify,
        journal=journal,
        folders=tuple(formats or ()),
    )
    _require_time(options.seconds)
    memory = Memory(options.journal)
    afresh = options.identify or options.shows is not None
    full = memory.completed(address, afresh=afresh)
    if afresh or is_unknown(parse_address(full)):
        _identify(full, options, memory, as_json=json)
    else:
        tell_remembered(memory, [address], [full])
        _listen(full, options, memory, as_json=json)


def _require_time(seconds: float | None) -> None:
    from gaugelink.errors import InputError

    if seconds is not None and not (math.isfinite(seconds) and seconds > 0.0):
        raise InputError("--seconds must be above zero.", hint="Type it like --seconds 5.")


def _identify(address: str, options: ListenOptions, memory: Memory, *, as_json: bool) -> None:
    from gaugelink.cli.stop_key import StopKey
    from gaugelink.devices.address import parse_address
    from gaugelink.errors import InputError

    if options.record is not None:
        raise InputError(
            "--record needs the format.",
            hint="Listen without --record first; if it finds no format, add ?format=text-input: "
            "every byte is recorded anyway.",
        )
    with StopKey() as stop:
        _find_out(parse_address(address), options, memory, stop, as_json=as_json)


def _listen(address: str, options: ListenOptions, memory: Memory, *, as_json: bool) -> None:
    from gaugelink.cli.output import emit, emit_json, format_folders, say
    from gaugelink.cli.recall import known_from, stated_kind
    from gaugelink.cli.stop_key import StopKey
    from gaugelink.devices.address import parse_address
    from gaugelink.devices.registry import open_gauge
    from gaugelink.errors import DeviceError
    from gaugelink.model import Reading

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
    from gaugelink.cli.output import say
    from gaugelink.devices.address import parse_address
    from gaugelink.devices.ports.identity import PROBED_SCHEMES

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


def event_json(event: GaugeEvent) -> dict[str, Any]:
    """Return one event as JSON data, its bytes in hex."""
    from gaugelink.model import Reading

    body = event.body
    data: dict[str, Any] = {
        "gauge": event.gauge_id,
        "elapsed_s": event.elapsed_s,
        "kind": _KINDS[type(body).__name__],
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


def _meaning(event: GaugeEvent) -> str:
    from gaugelink.cli.talk import event_line
    from gaugelink.model import Reading
    from gaugelink.report.table import one_line

    body = event.body
    if isinstance(body, Reading):
        flags = f"  ({', '.join(sorted(body.flags))})" if body.flags else ""
        return one_line(f"{body.displayed} {body.unit}{flags}")
    return event_line(event)


def _raw(event: GaugeEvent) -> bytes:
    from gaugelink.model import LinkChange

    return b"" if isinstance(event.body, LinkChange) else event.body.raw


def _find_out(
    where: Address, options: ListenOptions, memory: Memory, stop: StopKey, *, as_json: bool
) -> None:
    """Find out what the gauge at an address sends; remember it when that is certain.

    Ctrl-C ends the listening, and what was heard until then is assessed.

    Raises:
        DeviceError: it is not certain; the hint is what to do or answer next.
    """
    from gaugelink.cli.output import emit, emit_json, format_folders, say
    from gaugelink.devices.address import parse_address
    from gaugelink.devices.identify.prober import identify_at
    from gaugelink.devices.identify.verdict import FormatVerdict, parse_shown

    folders = format_folders(options.folders)
    shown = parse_shown(options.shows) if options.shows is not None else None

    def tell(text: str) -> None:
        stop.hold()  # the port is open
        say(text)

    result = identify_at(
        where,
        folders=folders,
        shown=shown,
        patience=_patience(options.seconds),
        tell=tell,
        is_over=stop.is_asked,
    )
    found = _address_of(where, result.best) if result.best else ""
    if as_json:
        emit_json(identification_json(result, where))
    elif text := identification_text(result, where):
        emit(text)
    if result.verdict is not FormatVerdict.CLEAR:
        raise _doubt(result, where)
    _remember(parse_address(found), result, folders, memory)


def _patience(seconds: float | None) -> Patience:
    from gaugelink.devices.identify.prober import Patience

    if seconds is None:
        return Patience()
    return Patience(rounds=_MANY_ROUNDS, total_s=seconds)


def identification_text(result: Identification, where: Address) -> str:
    """Write what was found: the best with its reasons, and what else explains the bytes."""
    from gaugelink.devices.identify.verdict import FormatVerdict

    if result.best is None:
        return "\n".join(_line(each) for each in result.runners_up[:_LISTED])
    found = _address_of(where, result.best)
    sure = result.verdict is FormatVerdict.CLEAR
    head = f"{result.best.format}: {result.best.title}"
    lines = [head if sure else f"perhaps {head}"]
    lines += [f"  {sentence}" for sentence in result.best.evidence]
    if result.best.examples:
        lines.append(f"  such as {', '.join(result.best.examples)}")
    if sure:
        lines.append(f"  address {found}")
    elif others := result.runners_up[:_LISTED]:
        lines += ["or", *(_line(each) for each in others)]
    return "\n".join(lines)


def _line(finding: FormatFinding) -> str:
    options = "".join(f" {key}={value}" for key, value in finding.options.items())
    examples = f", such as {finding.examples[-1]}" if finding.examples else ""
    return f"  {finding.format}{options}: {finding.evidence[0]}{examples}"


def identification_json(result: Identification, where: Address) -> dict[str, Any]:
    """Return an identification as JSON data; the sample is the start of the bytes, in hex."""
    from gaugelink.report.json_sizing import SCHEMA

    question = result.question
    return {
        "schema": SCHEMA,
        "address": where.text,
        "verdict": str(result.verdict),
        "n_bytes": result.n_bytes,
        "sample_hex": result.sample.hex(),
        "best": _finding_json(result.best, where) if result.best else None,
        "alike": list(result.alike),
        "runners_up": [_finding_json(each, where) for each in result.runners_up],
        "question": {"ask": str(question.ask), "text": question.text} if question else None,
    }


def _finding_json(finding: FormatFinding, where: Address) -> dict[str, Any]:
    return {
        "address": _address_of(where, finding),
        "format": finding.format,
        "title": finding.title,
        "options": dict(finding.options),
        "n_readings": finding.n_readings,
        "share": finding.share,
        "examples": list(finding.examples),
        "evidence": list(finding.evidence),
    }


def _address_of(where: Address, finding: FormatFinding) -> str:
    """Return the address to type: what was typed, the format, and what it needs besides."""
    from gaugelink.cli.recall import with_options

    text = where.text
    if finding.scheme == "bridge" and where.scheme != "bridge":
        text = f"bridge:{text.removeprefix('serial:')}"
    needed = {"format": finding.format, **finding.options}
    missing = {key: value for key, value in needed.items() if key not in where.options}
    return with_options(text, missing)


def _doubt(result: Identification, where: Address) -> DeviceError:
    from gaugelink.devices.identify.verdict import Ask, FormatVerdict
    from gaugelink.errors import DeviceError

    hint = result.question.text if result.question else ""
    match result.verdict:
        case FormatVerdict.NOTHING_HEARD:
            said = f"Nothing was heard at {where.text}."
        case FormatVerdict.UNKNOWN if result.question and result.question.ask is Ask.GAUGE:
            said = f"No known format fits the {result.n_bytes} bytes heard at {where.text}"
            said += f": {result.sample!r}."
        case _:
            said = f"It is not certain yet what the gauge at {where.text} sends."
    return DeviceError(said, address=where.text, hint=hint)


def _remember(
    where: Address, result: Identification, folders: Sequence[Path], memory: Memory
) -> None:
    from gaugelink.cli.output import say
    from gaugelink.cli.recall import known_at, stated_kind
    from gaugelink.devices.ports.identity import BY_SOCKET, gauge_identity, is_by_socket
    from gaugelink.devices.profiles.profile import find_profile
    from gaugelink.model import Sends

    assert result.best is not None  # the verdict is CLEAR
    profile = find_profile(result.best.format, folders)
    sends = Sends(where.options.get("sends", profile.sends))
    kind = stated_kind(where)
    known = known_at(where, gauge_identity(where), profile.name, sends, kind)
    if is_by_socket(known.gauge_id):
        say(BY_SOCKET)
    if memory.remember(known):
        say((_NEXT if kind else _NEXT_KIND).format(address=known.address))
    else:
        say(_NEXT_IN_FULL.format(address=where.text))
    if sends is Sends.BUTTON:
        say(_PRESSES)
