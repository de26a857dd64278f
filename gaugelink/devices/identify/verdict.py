"""What came of an attempt to identify a gauge: a verdict, its reasons, and a question."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum


class Verdict(StrEnum):
    """How an identification ended."""

    CLEAR = "clear"  # one format explains the bytes, and nothing is left to ask
    AMBIGUOUS = "ambiguous"  # a fact is missing, which ``question`` asks for
    NOTHING_HEARD = "nothing heard"
    UNKNOWN = "unknown"  # bytes came, and no format explains them


class Ask(StrEnum):
    """What a question is about; stable, for other programs."""

    UNIT = "unit"  # what the display shows, for want of a unit
    VALUE = "value"  # what the display shows, because formats read different numbers
    UNIT_KEY = "unit key"  # what the display shows after the unit key
    MORE = "more"  # another reading
    SHOWN = "shown"  # what the display shows, once more: nothing agrees with it
    FORMAT = "format"  # which of formats that read alike
    PORT = "port"  # which port of a bridge
    GAUGE = "gauge"  # whether gauge, cable and port are in order


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """The one fact that decides, asked for in plain words."""

    ask: Ask
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One format, and how well it explains what was heard.

    Args:
        format: name of the profile.
        title: what the profile says of itself, in a line.
        scheme: ``bridge`` where a bridge was heard; empty for the scheme as typed.
        options: what the address needs besides the format, such as ``unit``.
        n_readings: whole readings that it found.
        share: share of the bytes that it explains, 0 to 1.
        examples: some readings, as the display would show them.
        evidence: for and against it, a sentence each.
    """

    format: str
    title: str
    scheme: str = ""
    options: Mapping[str, str] = field(default_factory=dict)
    n_readings: int = 0
    share: float = 0.0
    examples: tuple[str, ...] = ()
    evidence: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Identification:
    """The outcome: ``best`` is certain only when ``verdict`` is CLEAR.

    Args:
        verdict: how it ended.
        n_bytes: how much was heard.
        sample: the beginning of what was heard last.
        best: the format that explains most; None when none explains anything.
        alike: other formats that read everything that was heard as ``best`` does.
        runners_up: the other findings, the best first.
        question: what to do or answer next; None when the verdict is CLEAR.
    """

    verdict: Verdict
    n_bytes: int
    sample: bytes = b""
    best: Finding | None = None
    alike: tuple[str, ...] = ()
    runners_up: tuple[Finding, ...] = ()
    question: Question | None = None
