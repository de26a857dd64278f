"""Every sentence that this stage says to the person at the bench."""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum

from gaugelink.model import Advice
from gaugelink.statistics.moments import displayed_mm


class Outcome(StrEnum):
    """What became of a marked reading, as the end of its sentence."""

    LEFT_OUT = "so it is left out"
    BY_GAUGE = "given what the gauge repeats to, so it is left out"
    IN_DOUBT = "so it is left out and the uncertainty allows for the doubt"
    UNUSUAL = "which is not rare enough to leave it out"
    DRIFTING = "but the readings drift, so it is kept"
    PAIR = "but another reading stands apart as well, so it is kept"
    OTHER_SIDE = "but a sweep hardly ever errs on that side, so it is kept"

    @property
    def rejects(self) -> bool:
        """Whether the reading does not count."""
        return self in (Outcome.LEFT_OUT, Outcome.BY_GAUGE, Outcome.IN_DOUBT)


def mark_reason(
    *,
    index: int,
    value_mm: float,
    rest_mean_mm: float,
    n_rest: int,
    resolution_mm: float,
    alpha: float,
    outcome: Outcome,
) -> str:
    """Say why a reading was marked and what became of it.

    Args:
        index: position in the series, from 0; people count from 1.
        value_mm: the reading.
        rest_mean_mm: mean of the readings that do not stand apart.
        n_rest: how many those are.
        resolution_mm: display step, sets the number of decimals.
        alpha: significance level of the test that fired.
        outcome: left out, or kept and why.

    Returns:
        One sentence.
    """
    value = displayed_mm(value_mm, resolution_mm)
    gap = displayed_mm(abs(value_mm - rest_mean_mm), resolution_mm)
    side = "above" if value_mm > rest_mean_mm else "below"
    return (
        f"Reading {index + 1} ({value}) lies {gap} {side} the mean of the {n_rest} readings "
        f"that agree; chance does that in fewer than 1 series in {round(1 / alpha)}, {outcome}."
    )


def single_reading() -> Advice:
    """Advise on one reading."""
    return Advice(
        code="single_reading",
        text="One reading says nothing about its own scatter; take at least two more.",
    )


def coarse_display(n: int, resolution_mm: float) -> Advice:
    """Advise on n equal readings: a scatter of zero is the display's doing."""
    return Advice(
        code="coarse_display",
        text=(
            f"All {n} readings used are equal because the display counts in steps of "
            f"{resolution_mm:.4g} mm; the value is not exact, and the step is added to the "
            "uncertainty as its resolution."
        ),
    )


def spread_wide(n: int, spread_mm: float, limit_mm: float, resolution_mm: float) -> Advice:
    """Advise on a few readings that lie too far apart."""
    return Advice(
        code="spread_wide",
        text=(
            f"The {n} readings spread over {displayed_mm(spread_mm, resolution_mm)}, more than "
            f"the {limit_mm:.4g} mm that gauge and hand account for; take two more readings."
        ),
    )


def two_suspects(indices: Sequence[int], n: int) -> Advice:
    """Advise on two readings that stand apart from the rest."""
    first, second = sorted(i + 1 for i in indices)
    return Advice(
        code="two_suspects",
        text=(
            f"Readings {first} and {second} of {n} both stand apart, too many to tell which are "
            "wrong; clean the faces and measure again."
        ),
    )


def drift(rise_mm: float, resolution_mm: float) -> Advice:
    """Advise on readings that creep one way; ``rise_mm`` is negative when they fall."""
    verb = "rise" if rise_mm > 0.0 else "fall"
    return Advice(
        code="drift",
        text=(
            f"The readings {verb} by about {displayed_mm(abs(rise_mm), resolution_mm)} from the "
            "first to the last; let part and gauge come to one temperature, check the zero and "
            "measure again."
        ),
    )
