"""A barrel sized from Python as ``gaugelink size`` does it; see ``gaugelink`` for the names.

What is typed after ``--found-mass`` on a command line is here ``found_mass=``, the same
text with the same meaning: ``bore="11.02 +- 0.03"``, ``train="90/12"``.
"""

from __future__ import annotations

from gaugelink.assembly.job import Job
from gaugelink.cli.barrel import kept_words
from gaugelink.cli.options import BARREL_OPTIONS
from gaugelink.cli.size import sized
from gaugelink.errors import InputError
from gaugelink.sizing.results import SizeResult
from gaugelink.statistics.outlier_method import OutlierMethod


def size(
    job: Job | None = None,
    *,
    outliers: str = "grubbs",
    coverage: float = 0.95,
    draws: int = 200_000,
    seed: int = 1,
    **typed: str | float | bool | None,
) -> SizeResult:
    """Size a job, typed values, or both; a typed value takes the place of a measured one.

    Nothing is written: neither to the journal nor to a stream.

    Args:
        job: a job as ``load_job`` returns it.
        outliers: the test for outlying readings: grubbs, dixon, esd or none.
        coverage: coverage probability of the intervals.
        draws: number of Monte Carlo draws.
        seed: their seed.
        typed: values by the name of their option; None says nothing.

    Raises:
        InputError: an unknown name, a value that cannot be used, or no bore.
        GaugelinkError: readings that cannot be summarised, or sizes that cannot be.
    """
    names = [row.name for row in BARREL_OPTIONS]
    for name in typed:
        if name not in names:
            raise InputError(
                f"A barrel has no option {name!r}.", hint=f"Names are {', '.join(names)}."
            )
    if outliers not in list(OutlierMethod):
        raise InputError(
            f"{outliers!r} is not a test for outlying readings.",
            hint=f"It is one of {', '.join(OutlierMethod)}.",
        )
    said = {n: w if w is True else str(w) for n, w in typed.items() if w not in (None, False)}
    words = {**said, **kept_words(said, job)}
    _, result = sized(
        words, job, OutlierMethod(outliers), coverage=coverage, draws=draws, seed=seed
    )
    return result
