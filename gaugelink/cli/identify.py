"""``gaugelink listen`` where the format is not known: finding it out, and saying how sure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from gaugelink.cli.known import known_at, stated_kind, with_options
from gaugelink.cli.output import emit, emit_json, say
from gaugelink.cli.recall import Memory
from gaugelink.cli.stop_key import StopKey
from gaugelink.devices.address import Address, parse_address
from gaugelink.devices.identify.at_address import identify_at
from gaugelink.devices.identify.identities import gauge_identity
from gaugelink.devices.identify.prober import Patience
from gaugelink.devices.identify.verdict import Ask, Finding, Identification, Verdict, parse_shown
from gaugelink.devices.profiles.profile import find_profile
from gaugelink.errors import DeviceError
from gaugelink.model import Sends
from gaugelink.report.contract import SCHEMA, Json

_LISTED = 5
_NEXT = "It is remembered. From now on this is enough: gaugelink measure {address}"
_NEXT_KIND = (
    "It is remembered. Say once that it is a caliper, or kind=micrometer: "
    'gaugelink measure "{address}?kind=caliper"'
)
_NEXT_IN_FULL = 'Until it is, type all of its address: gaugelink measure "{address}"'
_PRESSES = (
    "Each line counts as a press of its data button; where it sends unasked, add sends=stream."
)
_MANY_ROUNDS = 1000  # with a time limit, the time ends the rounds


@dataclass(frozen=True, slots=True, kw_only=True)
class IdentifyOptions:
    """What was typed besides the address."""

    shows: str | None = None
    seconds: float | None = None
    folders: tuple[Path, ...] = ()
    as_json: bool = False


def run(address: str, options: IdentifyOptions, memory: Memory) -> None:
    """Find out what the gauge at an address sends; remember it when that is certain.

    Ctrl-C ends the listening, and what was heard until then is judged.

    Raises:
        DeviceError: it is not certain; the hint is what to do or answer next.
    """
    with StopKey() as stop:
        _run(parse_address(address), options, memory, stop)


def _run(where: Address, options: IdentifyOptions, memory: Memory, stop: StopKey) -> None:
    shown = parse_shown(options.shows) if options.shows is not None else None

    def tell(text: str) -> None:
        stop.hold()  # the port is open
        say(text)

    result = identify_at(
        where,
        folders=options.folders,
        shown=shown,
        patience=_patience(options.seconds),
        tell=tell,
        is_over=stop.is_asked,
    )
    found = _address_of(where, result.best) if result.best else ""
    if options.as_json:
        emit_json(identification_json(result, where))
    elif text := identification_text(result, where):
        emit(text)
    if result.verdict is not Verdict.CLEAR:
        raise _doubt(result, where)
    _remember(parse_address(found), result, options.folders, memory)


def _patience(seconds: float | None) -> Patience:
    if seconds is None:
        return Patience()
    return Patience(rounds=_MANY_ROUNDS, total_s=seconds)


def identification_text(result: Identification, where: Address) -> str:
    """Write what was found: the best with its reasons, and what else explains the bytes."""
    if result.best is None:
        return "\n".join(_line(each) for each in result.runners_up[:_LISTED])
    found = _address_of(where, result.best)
    sure = result.verdict is Verdict.CLEAR
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


def _line(finding: Finding) -> str:
    options = "".join(f" {key}={value}" for key, value in finding.options.items())
    examples = f", such as {finding.examples[-1]}" if finding.examples else ""
    return f"  {finding.format}{options}: {finding.evidence[0]}{examples}"


def identification_json(result: Identification, where: Address) -> Json:
    """Return an identification as JSON data; the sample is the start of the bytes, in hex."""
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


def _finding_json(finding: Finding, where: Address) -> Json:
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


def _address_of(where: Address, finding: Finding) -> str:
    """Return the address to type: what was typed, the format, and what it needs besides."""
    text = where.text
    if finding.scheme == "bridge" and where.scheme != "bridge":
        text = f"bridge:{text.removeprefix('serial:')}"
    needed = {"format": finding.format, **finding.options}
    missing = {key: value for key, value in needed.items() if key not in where.options}
    return with_options(text, missing)


def _doubt(result: Identification, where: Address) -> DeviceError:
    hint = result.question.text if result.question else ""
    match result.verdict:
        case Verdict.NOTHING_HEARD:
            said = f"Nothing was heard at {where.text}."
        case Verdict.UNKNOWN if result.question and result.question.ask is Ask.GAUGE:
            said = f"No known format explains the {result.n_bytes} bytes heard at {where.text}"
            said += f": {result.sample!r}."
        case _:
            said = f"What the gauge at {where.text} sends is not certain yet."
    return DeviceError(said, address=where.text, hint=hint)


def _remember(
    where: Address, result: Identification, folders: Sequence[Path], memory: Memory
) -> None:
    assert result.best is not None  # the verdict is CLEAR
    profile = find_profile(result.best.format, folders)
    sends = Sends(where.options.get("sends", profile.sends))
    kind = stated_kind(where)
    known = known_at(where, gauge_identity(where), profile.name, sends, kind)
    if memory.remember(known):
        say((_NEXT if kind else _NEXT_KIND).format(address=known.address))
    else:
        say(_NEXT_IN_FULL.format(address=where.text))
    if sends is Sends.BUTTON:
        say(_PRESSES)
