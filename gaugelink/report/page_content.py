"""What a page is made from: a job with all that is known of it, gathered beforehand."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TypeVar

from gaugelink.assembly.parts import Measured
from gaugelink.assembly.quantities import Findings
from gaugelink.capture.plan import JobRecord
from gaugelink.choosing.results import Choice
from gaugelink.jobbook.exporting import RecordIdentity
from gaugelink.jobbook.facts import StoredFact
from gaugelink.sizing.inputs import SizingInputs
from gaugelink.sizing.results import SizeResult

_Kind = TypeVar("_Kind")


@dataclass(frozen=True, slots=True, kw_only=True)
class Sizing:
    """A sizing and what it was made from."""

    inputs: SizingInputs
    result: SizeResult


@dataclass(frozen=True, slots=True, kw_only=True)
class PageContent:
    """All that a page tells.

    Args:
        record: the job.
        parts: what each gauge found.
        findings: sizes with their uncertainty, and doubts.
        facts: what else is known of the job, in the order it was added.
        identity: of the record.
        software: version of gaugelink.
        created_utc: when the page is made, ISO 8601.
        sizing: None where there is nothing to size from.
        choice: None where no stock was looked at.
        missing: why there is no sizing, or no choice; empty when nothing is missing.
    """

    record: JobRecord
    parts: tuple[Measured, ...]
    findings: Findings
    facts: tuple[StoredFact, ...]
    identity: RecordIdentity
    software: str
    created_utc: str
    sizing: Sizing | None = None
    choice: Choice | None = None
    missing: str = ""

    @property
    def result(self) -> SizeResult | None:
        """The sizing's result."""
        return None if self.sizing is None else self.sizing.result

    def of_kind(self, kind: type[_Kind]) -> Iterator[_Kind]:
        """Yield the facts of one kind, in the order they were added."""
        facts: Iterator[object] = (stored.fact for stored in self.facts)
        return (fact for fact in facts if isinstance(fact, kind))

    def last(self, kind: type[_Kind]) -> _Kind | None:
        """Return the fact of one kind that counts, the last one; None if there is none."""
        return next(reversed([*self.of_kind(kind)]), None)
