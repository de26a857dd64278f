"""``gaugelink choose``: the stock ranked for a barrel."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from gaugelink import __version__
from gaugelink.choosing.choose import SHORTLIST, choose_spring
from gaugelink.choosing.results import Choice
from gaugelink.choosing.springs import Grade
from gaugelink.choosing.state import ChoosingInputs
from gaugelink.cli.barrel import BarrelOptions, KnownBarrel, kept_with, known_barrel
from gaugelink.cli.output import emit, emit_json
from gaugelink.cli.stock import stock_springs
from gaugelink.errors import InputError
from gaugelink.jobbook.fact_book import record_choice
from gaugelink.model import Advice
from gaugelink.report.json_choice import choose_json
from gaugelink.report.text_choice import choose_text
from gaugelink.stock.reading import sound_springs
from gaugelink.stock.spring import StockSpring


@dataclass(frozen=True, slots=True, kw_only=True)
class ChooseOptions:
    """What was typed after ``choose``; ``stock`` is a list to use instead of the stock kept."""

    barrel: BarrelOptions
    stock: Path | None = None
    sheet: str | None = None
    found_healthy: bool = False
    strip: Grade = Grade.PRECISION
    show: int = 8
    coverage: float = 0.95
    seed: int = 1
    draws: int = 8_000


def run(options: ChooseOptions, *, as_json: bool) -> None:
    """Choose, keep the ranking with the job it is for, and show it."""
    choice = chosen(options)
    result, job = choose_json(choice, options.barrel.job), options.barrel.job
    if job is not None:
        kept = kept_with(result, options.barrel)
        record_choice(options.barrel.journal, job, kept, __version__)
    if as_json:
        emit_json(result)
    else:
        emit(choose_text(choice, show=options.show))


def chosen(options: ChooseOptions) -> Choice:
    """Return the choice for a job and typed values.

    Raises:
        InputError: something typed cannot be used, or there is no stock.
        FileFormatError: the list of springs cannot be used.
    """
    if options.show < 1:
        raise InputError(
            f"A list of {options.show} springs cannot be shown.", hint="Give --show 1 or more."
        )
    known = known_barrel(options.barrel)
    inputs = ChoosingInputs(
        barrel=known.inputs, found_healthy=options.found_healthy, strip=options.strip
    )
    choice = choose_spring(
        inputs,
        springs_of(options),
        shortlist=max(options.show, SHORTLIST),
        coverage=options.coverage,
        draws=options.draws,
        seed=options.seed,
    )
    return replace(choice, warnings=(*_doubts(known), *choice.warnings))


def springs_of(options: ChooseOptions) -> tuple[StockSpring, ...]:
    """Return the springs to choose from: those of a list, or the stock that is kept.

    Raises:
        InputError: nothing is kept, or the list has no such sheet.
        FileFormatError: the list cannot be used.
    """
    if options.stock is not None:
        return sound_springs(options.stock, sheet=options.sheet)
    if options.sheet is not None:
        raise InputError("--sheet needs a list of springs.", hint="Give the list with --stock.")
    return stock_springs(options.barrel.journal)


def _doubts(known: KnownBarrel) -> tuple[Advice, ...]:
    measured = tuple(Advice(code=each.code, text=each.text) for each in known.doubts)
    refused = (
        Advice(code="not-covered", text=f"{no.asked}: {no.reason} {no.hint}")
        for no in known.refused
    )
    return (*measured, *refused)
