"""The verdict: which format explains what was heard, or what to ask."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from gaugelink.devices.identify import questions
from gaugelink.devices.identify.breadth import breadth
from gaugelink.devices.identify.findings import finding_of
from gaugelink.devices.identify.heard import Heard, burst_ports, is_idle_bridge
from gaugelink.devices.identify.shown import NOTHING, Said, Shown
from gaugelink.devices.identify.verdict import Identification, Question, Verdict
from gaugelink.devices.identify.weighed import Weighed, weigh_all
from gaugelink.devices.profiles.profile import Profile

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


def identify(
    heard: Sequence[Heard], profiles: Sequence[Profile], said: Said = NOTHING
) -> Identification:
    """Find the format that explains what was heard.

    Args:
        heard: one entry for each listening at the port; the latest last.
        profiles: what may be there.
        said: what the person has said already.
    """
    n_bytes = sum(len(each.data) for each in heard)
    told = [h for h in heard if h.data and not is_idle_bridge(h.data, said.bridge_port)]
    if not told:
        question = questions.only_bridge() if n_bytes else questions.nothing_heard()
        return Identification(verdict=Verdict.NOTHING_HEARD, n_bytes=n_bytes, question=question)
    weighed = sorted(weigh_all(told, profiles, said.bridge_port), key=_promise)
    explaining = [w for w in weighed if w.evidence.n_explained and said.admits(w.trial.unit)]
    opinion = _opinion(told, explaining, said) or _Opinion(
        verdict=Verdict.UNKNOWN, question=questions.not_explained(_reasons(weighed))
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
    verdict: Verdict
    best: Weighed | None = None
    alike: tuple[str, ...] = ()
    question: Question | None = None


def _opinion(told: Sequence[Heard], explaining: Sequence[Weighed], said: Said) -> _Opinion | None:
    """Judge; None where no format explains anything whole."""
    ports = sorted(frozenset().union(*(burst_ports(h.data) or () for h in told)))
    if len(ports) > 1 and said.bridge_port is None:
        return _Opinion(verdict=Verdict.AMBIGUOUS, question=questions.which_port(ports))
    whole = [w for w in explaining if w.evidence.share >= MIN_SHARE]
    rivals = _rivals(whole, said.shown)
    return _decide(rivals, said.shown) if rivals else _doubt(whole, said.shown)


def _promise(weighed: Weighed) -> tuple[float, bool, bool, int, str]:
    """Order trials for lists: by what they explain, then by how little they suppose."""
    return (
        -round(weighed.evidence.share, 1),
        not weighed.evidence.frames,
        not weighed.is_own,
        len(weighed.trial.options),
        weighed.profile.name,
    )


def _rivals(whole: Sequence[Weighed], shown: Shown | None) -> list[Weighed]:
    """Return those that read what was heard, and what the display shows, best of all."""
    found = [w for w in whole if w.evidence.frames]
    if shown is not None:
        found = [w for w in found if _is_shown(w, shown)]
    most = max((w.evidence.share for w in found), default=0.0)
    return [w for w in found if w.evidence.share > most - SHARE_MARGIN]


def _is_shown(weighed: Weighed, shown: Shown) -> bool:
    latest = {frame.channel: frame for frame in weighed.evidence.frames}
    return any(map(shown.agrees_with, latest.values()))


def _doubt(whole: Sequence[Weighed], shown: Shown | None) -> _Opinion | None:
    """Judge where no format has a reading that may count; None where none has anything."""
    if any(w.evidence.frames for w in whole) and shown is not None:
        return _Opinion(verdict=Verdict.UNKNOWN, question=questions.not_shown(whole, shown))
    if whole:
        question = questions.no_reading_yet(whole[0])
        return _Opinion(verdict=Verdict.AMBIGUOUS, best=whole[0], question=question)
    return None


def _reasons(weighed: Sequence[Weighed]) -> str:
    """Return why a HID gauge cannot be read: its descriptor tells more than the bytes do."""
    refused = (w for w in weighed if w.profile.hid and w.evidence.faults and not w.trial.options)
    return " ".join(f"{w.profile.name}: {w.evidence.faults[0].rstrip('.')}." for w in refused)


def _decide(rivals: Sequence[Weighed], shown: Shown | None) -> _Opinion:
    """Take the format that would have accepted least of those that read alike, or ask."""
    likely = min(rivals, key=_promise)
    alike = [w for w in rivals if _read_alike(likely, w)]
    ranks = [_rank(w) for w in alike] if len(alike) > 1 else [()]
    equals = [w for w, rank in zip(alike, ranks, strict=True) if rank == min(ranks)]
    best = equals[0]
    names = sorted({w.profile.name for w in alike} - {best.profile.name})
    question = _question(rivals, alike, equals, shown)
    verdict = Verdict.AMBIGUOUS if question else Verdict.CLEAR
    return _Opinion(verdict=verdict, best=best, alike=tuple(names), question=question)


def _rank(weighed: Weighed) -> tuple[int, bool, bool, bool, int]:
    return (
        breadth(weighed.trial, weighed.last.raw),
        not weighed.has_answered,
        not weighed.is_own,
        weighed.profile.experimental,
        len(weighed.trial.options),
    )


def _question(
    rivals: Sequence[Weighed],
    alike: Sequence[Weighed],
    equals: Sequence[Weighed],
    shown: Shown | None,
) -> Question | None:
    """Ask for the one fact that decides; None when nothing is left to decide."""
    if len({w.trial.options.get("unit_bit") for w in rivals}) > 1:
        return questions.unit_key(equals[0].profile.name)
    if len(alike) < len(rivals):
        return questions.shown_value(rivals, shown)
    if shown is None and equals[0].evidence.n_reading_bytes < MIN_READING_BYTES:
        return questions.too_little()
    return questions.which_format(equals) if len(equals) > 1 else None


def _read_alike(one: Weighed, other: Weighed) -> bool:
    """Compare readings from the last one back; one may have read a piece before the first."""
    pairs = zip(_compared(one), _compared(other), strict=False)
    return one.trial.unit is other.trial.unit and all(a == b for a, b in pairs)


def _compared(weighed: Weighed) -> list[tuple[object, object]]:
    latest = weighed.evidence.frames[: -_COMPARED - 1 : -1]
    return [(frame.value, frame.unit) for frame in latest]
