"""What was expected of a fitted spring beside what was seen, in one job and over many. Pure.

The ratio of seen to expected, over many jobs of one bench, is that bench's own factor: it
holds its movements, its cleaning and its way of measuring. It is shown, and never put
into a computation unasked.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import groupby

from gaugelink.jobbook.facts import After, Amplitude, Chosen, ForeseenSpan, StoredFact, seen_after

LEAST_JOBS = 5  # a factor from fewer says more of the jobs than of the bench: judgement
CONFIDENCE = 0.90


@dataclass(frozen=True, slots=True, kw_only=True)
class Fitting:
    """One spring that was fitted, and what was seen of it; None where nobody looked."""

    job_id: int
    chosen: Chosen
    after: After | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Compared:
    """A figure that was both expected and seen; ``seen`` is in the unit of ``foreseen``."""

    job_id: int
    name: str
    foreseen: ForeseenSpan
    seen: float

    @property
    def ratio(self) -> float:
        """Seen over the middle of what was expected."""
        return self.seen / self.foreseen.middle

    @property
    def is_inside(self) -> bool:
        """Whether it came as expected."""
        return self.foreseen.low <= self.seen <= self.foreseen.high


@dataclass(frozen=True, slots=True, kw_only=True)
class Prediction:
    """How good the predictions of one figure were.

    ``median_ratio`` is the bench's own factor, with an interval that holds the true median
    with ``confidence`` (0 where there are too few jobs); half of all ratios lie between
    ``quarter_ratio`` and ``three_quarter_ratio``.
    """

    name: str
    n: int
    n_inside: int
    median_ratio: float
    low_ratio: float
    high_ratio: float
    confidence: float
    quarter_ratio: float
    three_quarter_ratio: float

    @property
    def tells_enough(self) -> bool:
        """Whether there are enough jobs to speak of a factor."""
        return self.n >= LEAST_JOBS


def fittings(facts: Iterable[StoredFact]) -> tuple[Fitting, ...]:
    """Return every spring that was chosen, with what was seen until the next one was.

    What was written down before the first choice is taken as seen of it.

    Args:
        facts: of one job or of many, a job after the other, in the order they were added.
    """
    found: list[Fitting] = []
    for job_id, of_job in groupby(facts, key=lambda stored: stored.job_id):
        found += _of_job(job_id, [stored.fact for stored in of_job])
    return tuple(found)


def compare(fitting: Fitting) -> tuple[Compared, ...]:
    """Return the figures of a fitting that were both expected and seen."""
    chosen, after = fitting.chosen, fitting.after
    if after is None:
        return ()
    amplitude = _alike(chosen, after.amplitudes)
    rows = (
        ("hours", chosen.hours, after.hours_run),
        ("amplitude", chosen.amplitude_deg, amplitude.deg if amplitude else None),
        ("crown turns", chosen.crown_turns, after.crown_turns),
    )
    return tuple(
        Compared(job_id=fitting.job_id, name=name, foreseen=foreseen, seen=seen)
        for name, foreseen, seen in rows
        if foreseen is not None and foreseen.middle > 0 and seen is not None
    )


def judge(compared: Sequence[Compared]) -> tuple[Prediction, ...]:
    """Return how good the predictions were, a figure after the other."""
    names = dict.fromkeys(each.name for each in compared)
    return tuple(_judged(name, [c for c in compared if c.name == name]) for name in names)


def _of_job(job_id: int, facts: Sequence[object]) -> list[Fitting]:
    chosen: list[Chosen] = []
    pieces: list[list[After]] = [[]]
    for fact in facts:
        if isinstance(fact, Chosen):
            chosen.append(fact)
            if len(chosen) > 1:
                pieces.append([])
        elif isinstance(fact, After):
            pieces[-1].append(fact)
    return [
        Fitting(job_id=job_id, chosen=each, after=seen_after(seen))
        for each, seen in zip(chosen, pieces, strict=False)
    ]


def _alike(chosen: Chosen, amplitudes: Iterable[Amplitude]) -> Amplitude | None:
    """Return the first amplitude that was read as it was expected; what is open fits all."""
    for each in amplitudes:
        lies = chosen.position in (None, each.position)
        if lies and chosen.wind in (None, each.wind):
            return each
    return None


def _judged(name: str, compared: Sequence[Compared]) -> Prediction:
    ratios = sorted(each.ratio for each in compared)
    quarters = statistics.quantiles(ratios, method="inclusive") if len(ratios) > 1 else ratios * 3
    depth, confidence = _median_depth(len(ratios))
    return Prediction(
        name=name,
        n=len(ratios),
        n_inside=sum(each.is_inside for each in compared),
        median_ratio=statistics.median(ratios),
        low_ratio=ratios[depth],
        high_ratio=ratios[-1 - depth],
        confidence=confidence,
        quarter_ratio=quarters[0],
        three_quarter_ratio=quarters[2],
    )


def _median_depth(n: int) -> tuple[int, float]:
    """Return how many ratios to leave off at each end, and how surely the rest hold the median.

    The median lies below the k-th smallest of n with probability sum_{i<k} C(n, i) / 2^n,
    whatever the distribution: the sign test, turned round.
    """
    depth, confidence, missed = 0, 0.0, 0.0
    for k in range((n + 1) // 2):
        missed += 2 * _share(n, k)
        if 1 - missed < CONFIDENCE:
            break
        depth, confidence = k, 1 - missed
    return depth, confidence


def _share(n: int, k: int) -> float:
    """Return C(n, k) / 2^n by logarithms: the numbers themselves grow past all use."""
    log = math.lgamma(n + 1) - math.lgamma(k + 1) - math.lgamma(n - k + 1)
    return math.exp(log - n * math.log(2))
