"""``gaugelink choose``: the stock ranked for a barrel."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from gaugelink.cli import options as o

if TYPE_CHECKING:
    from gaugelink.assembly.job import Job
    from gaugelink.choosing.choice import Choice
    from gaugelink.statistics.outlier_method import OutlierMethod
    from gaugelink.stock.stock_spring import StockSpring

# Draws of a sizing for each of a choice, so that both have their usual number.
DRAWS_OF_SIZE = 25


@o.told_of_barrel
def choose(
    job: o.Job = None,
    *,
    typed: o.Typed,
    stock: o.StockList = None,
    sheet: o.Sheet = None,
    show: Annotated[
        int,
        typer.Option(metavar="N", help="How many springs to list.", rich_help_panel=o.STOCK),
    ] = 8,
    strip: Annotated[
        Literal["normal", "fine", "precision", "watch"],
        typer.Option(
            help="Strip tolerance, where the stock states none.",
            rich_help_panel=o.STOCK,
        ),
    ] = "watch",
    outliers: o.Outliers = "grubbs",
    coverage: o.Coverage = 0.95,
    seed: o.Seed = 1,
    draws: o.Draws = 8_000,
    journal: o.Journal = None,
    json: o.Json = False,
) -> None:
    """Rank the springs on hand for a job, or typed values, and say how sure the first place is.

    Torque is compared with the documented size, or the found spring if it is healthy, or the
    half-area rule. What cannot be fitted is refused, with the reason. A wished amplitude is
    compared with what each spring gives; it does not change the order.
    """
    from gaugelink import __version__
    from gaugelink.assembly.job import load_job
    from gaugelink.cli.barrel import keeping, kept_with, with_kept_words
    from gaugelink.cli.output import emit, emit_json
    from gaugelink.cli.size import sized
    from gaugelink.errors import InputError
    from gaugelink.jobbook.facts import record_choice
    from gaugelink.recommending.recommend import recommend
    from gaugelink.report.json_choice import choose_json
    from gaugelink.report.text_choice import choose_text
    from gaugelink.statistics.outlier_method import OutlierMethod

    if show < 1:
        raise InputError(f"Cannot list {show} springs.", hint="Give --show 1 or more.")
    loaded, treatment = None if job is None else load_job(journal, job), OutlierMethod(outliers)
    told = with_kept_words(typed, loaded)  # said once for both
    _, result = sized(
        told,
        loaded,
        treatment,
        coverage=coverage,
        draws=DRAWS_OF_SIZE * draws,
        seed=seed,
        every_rule=False,
    )
    choice = chosen(
        told,
        loaded,
        treatment,
        stock=stock,
        sheet=sheet,
        journal=journal,
        strip=strip,
        show=show,
        coverage=coverage,
        draws=draws,
        seed=seed,
    )
    answer = recommend(result, choice)
    data = choose_json(choice, job, answer)
    try:
        if json:
            emit_json(data)
        else:
            emit(choose_text(choice, answer, show=show))
    finally:  # also where the reader had enough
        if job is not None:
            with keeping(job):
                record_choice(journal, job, kept_with(data, typed), __version__)


def chosen(
    typed: o.Typed,
    job: Job | None,
    treatment: OutlierMethod,
    *,
    stock: Path | None = None,
    sheet: str | None = None,
    journal: Path | None = None,
    strip: str = "watch",
    show: int = 8,
    coverage: float = 0.95,
    draws: int = 8_000,
    seed: int = 1,
) -> Choice:
    """Return the choice for a job and typed words.

    Args:
        typed: words by the name of their row in ``BARREL_OPTIONS``.
        job: the job it was measured in, if there is one.
        treatment: the test for outlying readings of the job.
        stock: a list of springs, instead of the stock that is kept in ``journal``.
        sheet: of that list.
        journal: the file of the jobs; None for the usual one.
        strip: a ``choosing.springs.Grade``.
        show: springs that will be listed, above 0.
        coverage: coverage probability of the intervals.
        draws: number of Monte Carlo draws.
        seed: their seed.

    Raises:
        InputError: something typed cannot be used, or there is no stock.
        FileFormatError: the list of springs cannot be used.
    """
    from dataclasses import replace

    from gaugelink.choosing.choose_spring import SHORTLIST, choose_spring
    from gaugelink.choosing.springs import Grade
    from gaugelink.choosing.state import ChoosingInputs
    from gaugelink.cli.barrel import doubts_of, sizing_inputs
    from gaugelink.model import Advice

    known = sizing_inputs(typed, job, treatment)
    choice = choose_spring(
        ChoosingInputs(barrel=known.inputs, strip=Grade(strip)),
        springs_of(stock, sheet, journal),
        shortlist=max(show, SHORTLIST),
        coverage=coverage,
        draws=draws,
        seed=seed,
    )
    measured = (Advice(code=each.code, text=each.text) for each in doubts_of(typed, job, treatment))
    refused = (
        Advice(code="not-covered", text=f"{no.asked}: {no.reason} {no.hint}")
        for no in known.refused
    )
    return replace(choice, warnings=(*measured, *refused, *choice.warnings))


def springs_of(
    stock: Path | None, sheet: str | None, journal: Path | None
) -> tuple[StockSpring, ...]:
    """Return the springs to choose from: those of a list, or the stock that is kept.

    Raises:
        InputError: nothing is kept, or the list has no such sheet.
        FileFormatError: the list cannot be used.
    """
    from gaugelink.cli.stock import stock_springs
    from gaugelink.errors import InputError
    from gaugelink.stock.reading import sound_springs

    if stock is not None:
        return sound_springs(stock, sheet=sheet)
    if sheet is not None:
        raise InputError("--sheet needs a list of springs.", hint="Give the list with --stock.")
    return stock_springs(journal)
