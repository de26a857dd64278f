"""A reading that stands apart: where it is, and the figures a test has on it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TypeAlias


@dataclass(frozen=True, slots=True, kw_only=True)
class Suspect:
    """The value that a test looks at: its position in the sample, and the statistic of it."""

    index: int
    value: float
    statistic: float


@dataclass(frozen=True, slots=True, kw_only=True)
class JudgedSuspect:
    """A suspect with the critical value that its statistic is held against."""

    index: int
    value: float
    statistic: float
    critical_value: float

    @property
    def exceeds(self) -> bool:
        """Whether the statistic is larger than its critical value."""
        return self.statistic > self.critical_value


Judged: TypeAlias = tuple[JudgedSuspect, ...]


def judged(suspect: Suspect, critical_value: float, *, index: int) -> JudgedSuspect:
    """Hold a suspect against a critical value; ``index`` is its place in the whole sample."""
    return JudgedSuspect(
        index=index,
        value=suspect.value,
        statistic=suspect.statistic,
        critical_value=critical_value,
    )


def significant_groups(steps: Sequence[JudgedSuspect]) -> Iterator[Judged]:
    """Yield each leading group of steps whose last one exceeds, the largest group first."""
    for size in range(len(steps), 0, -1):
        if steps[size - 1].exceeds:
            yield tuple(steps[:size])
