"""The verdict: which format explains what was heard, or what to ask.

A weighed trial becomes a finding with its reasons in sentences. A question is about one
fact at a time, and only about facts that the person can see.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from gaugelink.devices.decoders.line import SEVEN_BITS, LineFormat
from gaugelink.devices.identify.breadth import breadth
from gaugelink.devices.identify.verdict import (
    NOTHING,
    Ask,
    FormatFinding,
    FormatQuestion,
    FormatVerdict,
    Identification,
    Said,
    Shown,
)
from gaugelink.devices.identify.weighed import (
    Bit7,
    Heard,
    WeighedTrial,
    burst_ports,
    is_idle_bridge,
    weigh_all,
)
from gaugelink.devices.profiles.profile import PortSettings, Profile
from gaugelink.model import Frame, Sends

# Below this share of explained bytes, the format is another one or the speed is wrong.
MIN_SHARE = 0.7
# Formats whose shares are closer than this explain the bytes equally well.
SHARE_MARGIN = 0.1
# So many bytes of readings do not come about by chance: one byte in twenty, or fewer,
# fits at each place of a line, so noise fits once in 10^10.
MIN_READING_BYTES = 8
_SAMPLE_BYTES = 64
# Readings looked at, from the last one back, to see whether two formats read alike.
_COMPARED = 20
_EXAMPLES = 3
_END_NAMES = {b"\r\n": "CR LF", b"\r": "CR", b"\n": "LF"}
_AGAIN = 'Then listen again, giving what the display shows, such as --shows "{example}".'
NOTHING_HEARD = FormatQuestion(
    ask=Ask.GAUGE,
    text=(
        "Is the gauge switched on, and its battery good? Press its data button while listening. "
        "Check the cable, and set the gauge to a usual speed, such as 9600 baud."
    ),
)
ONLY_BRIDGE = FormatQuestion(
    ask=Ask.GAUGE,
    text=(
        "The bridge answers, but its gauge does not. Is the gauge switched on, its "
        "battery good, and its cable wired to the port of the bridge that is asked, port 0?"
    ),
)
ONLY_ZEROS = FormatQuestion(
    ask=Ask.MORE,
    text=(
        "Only zeros came, which a dead line may send as well, and which every format reads alike. "
        "Open the jaws to about 10 mm, and press the data button again."
    ),
)
TOO_LITTLE = FormatQuestion(
    ask=Ask.MORE,
    text="One short line may be chance. Press the data button again, twice or more.",
)


def identify(
    heard: Sequence[Heard], profiles: Sequence[Profile], said: Said = NOTHING
) -> Identification:
    """Find the format that explains what was heard.

    ``heard`` has one entry for each listening at the port, the latest last.
    """
    n_bytes = sum(len(each.data) for each in heard)
    told = [h for h in heard if h.data and not is_idle_bridge(h.data, said.bridge_port)]
    if not told:
        question = ONLY_BRIDGE if n_bytes else NOTHING_HEARD
        return Identification(
            verdict=FormatVerdict.NOTHING_HEARD, n_bytes=n_bytes, question=question
        )
    weighed = sorted(weigh_all(told, profiles, said.bridge_port), key=_promise)
    explaining = [w for w in weighed if w.evidence.n_explained and said.admits(w.trial.unit)]
    opinion = _opinion(told, explaining, said) or _Opinion(
        verdict=FormatVerdict.UNKNOWN, question=not_explained(_reasons(weighed))
    )
    return Identification(
        verdict=opinion.verdict,
        n_bytes=n_bytes,
        sample=told[-1].data[:_SAMPLE_BYTES],
        best=finding_of(opinion.best, opinion.alike) if opinion.best else None,
        alike=opinion.alike,
        runners_up=tuple(finding_of(w) for w in explaining if w is not opinion.best),
        question=opinion.question,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Opinion:
    verdict: FormatVerdict
    best: WeighedTrial | None = None
    alike: tuple[str, ...] = ()
    question: FormatQuestion | None = None


def _opinion(
    told: Sequence[Heard], explaining: Sequence[WeighedTrial], said: Said
) -> _Opinion | None:
    """Judge; None where no format explains anything whole."""
    ports = sorted(frozenset().union(*(burst_ports(h.data) or () for h in told)))
    if len(ports) > 1 and said.bridge_port is None:
        return _Opinion(verdict=FormatVerdict.AMBIGUOUS, question=which_port(ports))
    whole = [w for w in explaining if w.evidence.share >= MIN_SHARE]
    rivals = _rivals(whole, said.shown)
    return _decide(rivals, said.shown) if rivals else _doubt(whole, said.shown)


def _promise(weighed: WeighedTrial) -> tuple[float, bool, bool, int, str]:
    """Order trials for lists: by what they explain, then by how little they suppose."""
    return (
        -round(weighed.evidence.share, 1),
        not weighed.evidence.frames,
        not weighed.is_own,
        len(weighed.trial.options),
        weighed.profile.name,
    )


def _rivals(whole: Sequence[WeighedTrial], shown: Shown | None) -> list[WeighedTrial]:
    """Return those that read what was heard, and what the display shows, best of all."""
    found = [w for w in whole if w.evidence.frames]
    if shown is not None:
        found = [w for w in found if _is_shown(w, shown)]
    most = max((w.evidence.share for w in found), default=0.0)
    return [w for w in found if w.evidence.share > most - SHARE_MARGIN]


def _is_shown(weighed: WeighedTrial, shown: Shown) -> bool:
    latest = {frame.channel: frame for frame in weighed.evidence.frames}
    return any(map(shown.agrees_with, latest.values()))


def _doubt(whole: Sequence[WeighedTrial], shown: Shown | None) -> _Opinion | None:
    """Judge where no format has a reading that may count; None where none has anything."""
    if any(w.evidence.frames for w in whole) and shown is not None:
        return _Opinion(verdict=FormatVerdict.UNKNOWN, question=not_shown(whole, shown))
    if whole:
        question = no_reading_yet(whole[0])
        return _Opinion(verdict=FormatVerdict.AMBIGUOUS, best=whole[0], question=question)
    return None


def _reasons(weighed: Sequence[WeighedTrial]) -> str:
    """Return why a HID gauge cannot be read: its descriptor tells more than the bytes do."""
    refused = (w for w in weighed if w.profile.hid and w.evidence.faults and not w.trial.options)
    return " ".join(f"{w.profile.name}: {w.evidence.faults[0].rstrip('.')}." for w in refused)


def _decide(rivals: Sequence[WeighedTrial], shown: Shown | None) -> _Opinion:
    """Take the format that would have accepted least of those that read alike, or ask."""
    likely = min(rivals, key=_promise)
    alike = [w for w in rivals if _read_alike(likely, w)]
    ranks = [_rank(w) for w in alike] if len(alike) > 1 else [()]
    equals = [w for w, rank in zip(alike, ranks, strict=True) if rank == min(ranks)]
    best = equals[0]
    names = sorted({w.profile.name for w in alike} - {best.profile.name})
    question = _question(rivals, alike, equals, shown)
    verdict = FormatVerdict.AMBIGUOUS if question else FormatVerdict.CLEAR
    return _Opinion(verdict=verdict, best=best, alike=tuple(names), question=question)


def _rank(weighed: WeighedTrial) -> tuple[int, bool, bool, bool, int]:
    return (
        breadth(weighed.trial, weighed.last.raw),
        not weighed.has_answered,
        not weighed.is_own,
        weighed.profile.experimental,
        len(weighed.trial.options),
    )


def _question(
    rivals: Sequence[WeighedTrial],
    alike: Sequence[WeighedTrial],
    equals: Sequence[WeighedTrial],
    shown: Shown | None,
) -> FormatQuestion | None:
    """Ask for the one fact that decides; None when nothing is left to decide."""
    if not any(frame.value for w in equals for frame in w.evidence.frames):
        return ONLY_ZEROS
    if len({w.trial.options.get("unit_bit") for w in rivals}) > 1:
        return unit_key(equals[0].profile.name)
    if len(alike) < len(rivals):
        return shown_value(rivals, shown)
    if shown is None and equals[0].evidence.n_reading_bytes < MIN_READING_BYTES:
        return TOO_LITTLE
    return which_format(equals) if len(equals) > 1 else None


def _read_alike(one: WeighedTrial, other: WeighedTrial) -> bool:
    """Compare readings of the same moments; one may have read a piece before the first."""
    mine, theirs = _moments(one), _moments(other)
    shared = [moment for moment in mine if moment in theirs]
    pairs = [(mine[each], theirs[each]) for each in shared] or [(one.last, other.last)]
    alike = all((a.value, a.unit) == (b.value, b.unit) for a, b in pairs)
    return one.trial.unit is other.trial.unit and alike


def _moments(weighed: WeighedTrial) -> dict[bytes, Frame]:
    """Return the latest readings by what was on the wire, the latest one first."""
    found: dict[bytes, Frame] = {}
    for frame in weighed.evidence.frames[: -_COMPARED - 1 : -1]:
        found.setdefault(frame.raw.translate(SEVEN_BITS).strip(b"\r\n"), frame)
    return found


def _at_one_moment(weighed: Sequence[WeighedTrial]) -> list[Frame]:
    """Return the latest reading that all have of the same bytes; else the last one of each."""
    read = [w for w in weighed if w.evidence.frames]
    moments = [_moments(w) for w in read]
    shared = [each for each in moments[0] if all(each in m for m in moments)] if moments else []
    return [m[shared[0]] for m in moments] if shared else [w.last for w in read]


def finding_of(weighed: WeighedTrial, alike: Sequence[str] = ()) -> FormatFinding:
    """Return the finding, with the options that the address needs.

    ``alike`` are the formats that read everything alike.
    """
    options = dict(weighed.trial.options)
    if weighed.streams and weighed.profile.sends is not Sends.STREAM:
        options["sends"] = str(Sends.STREAM)
    return FormatFinding(
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


def _sentences(weighed: WeighedTrial, alike: Sequence[str]) -> Iterator[str]:
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


def _about_port(weighed: WeighedTrial) -> Iterator[str]:
    settings, own = weighed.settings, weighed.profile.port
    if settings is not None:
        besides = "" if weighed.is_own else f", though the format is known at {settings_text(own)}"
        yield f"heard at {settings_text(settings)}{besides}"
    if weighed.bit7 is not Bit7.DATA and isinstance(weighed.profile.wire, LineFormat):
        yield f"bit 7 of the bytes is {weighed.bit7}: seven data bits, read as eight"


def _count(n: int, noun: str) -> str:
    return f"{n} {noun}" if n == 1 else f"{n or 'no'} {noun}s"


def which_port(ports: Sequence[int]) -> FormatQuestion:
    """Ask which of the gauges on a bridge is meant."""
    names = " or ".join(f"port={port}" for port in ports)
    text = f"The bridge has more than one gauge. Add one of them to the address: {names}."
    return FormatQuestion(ask=Ask.PORT, text=text)


def not_explained(reasons: str) -> FormatQuestion:
    """Say what may be wrong where bytes came that mean nothing; ``reasons`` if any are known."""
    text = (
        "If they look like noise, set the gauge to a usual speed such as 9600 baud; if they "
        "look like numbers, keep them with ?format=text-input and --record FILE, and write a "
        "format of your own as DEVELOPERS.md shows."
    )
    return FormatQuestion(ask=Ask.GAUGE, text=reasons or text)


def no_reading_yet(best: WeighedTrial) -> FormatQuestion:
    """Ask for a reading where the gauge has only said something else."""
    said = best.evidence.others[-1].rstrip(".")
    text = (
        f"No reading yet, only: {said}. Bring the gauge into its range and press its data button."
    )
    return FormatQuestion(ask=Ask.MORE, text=text)


def not_shown(whole: Sequence[WeighedTrial], shown: Shown) -> FormatQuestion:
    """Ask again, since no format reads what the display is said to show."""
    read = " or ".join(_readings(whole))
    text = (
        f"No format reads {shown}; what was heard last is {read}. "
        f"Hold the gauge still. {_AGAIN.format(example=shown)}"
    )
    return FormatQuestion(ask=Ask.SHOWN, text=text)


def shown_value(rivals: Sequence[WeighedTrial], shown: Shown | None) -> FormatQuestion:
    """Ask what the display shows: that decides between numbers, and between units."""
    read = " or ".join(_readings(rivals))
    frames = _at_one_moment(rivals)
    example = shown_text(frames[0])
    if len({frame.value for frame in frames}) == 1 and all(w.trial.unit for w in rivals):
        what = f"The line does not name its unit: {read}? Look at the display."
        return FormatQuestion(ask=Ask.UNIT, text=f"{what} {_AGAIN.format(example=example)}")
    before = f"{shown} fits more than one format. " if shown else ""
    text = (
        f"{before}The last reading may be {read}. Close the jaws, press zero, open them to a "
        f"length that you know, such as 10 mm. {_AGAIN.format(example='10.00 mm')}"
    )
    return FormatQuestion(ask=Ask.VALUE, text=text)


def unit_key(format_name: str) -> FormatQuestion:
    """Ask for a reading in inches: only that shows whether the gauge sends its unit."""
    text = (
        "Some gauges of this kind do not send their unit. Open the jaws to about 10 mm and press "
        f"the unit key, so that the display shows inches. {_AGAIN.format(example='0.3935 in')} "
        f"A gauge without that key is read as ?format={format_name}."
    )
    return FormatQuestion(ask=Ask.UNIT_KEY, text=text)


def which_format(best: Sequence[WeighedTrial]) -> FormatQuestion:
    """Ask which format it is where all of them would do."""
    names = "; ".join(f"{w.profile.name}: {w.profile.title}" for w in best)
    text = f"These formats read the gauge alike; add the one that fits as ?format=NAME. {names}."
    return FormatQuestion(ask=Ask.FORMAT, text=text)


def _readings(weighed: Sequence[WeighedTrial]) -> list[str]:
    """Return the last reading of each, without repeats; few enough to read."""
    return list(dict.fromkeys(map(shown_text, _at_one_moment(weighed))))[:4]
