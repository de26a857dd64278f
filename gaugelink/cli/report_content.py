"""Everything that a page tells, gathered: the job, its sizing, the stock, its identity."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

from gaugelink import __version__
from gaugelink.assembly.parts import Measured, measured_parts
from gaugelink.choosing.results import Choice
from gaugelink.cli.barrel import BarrelOptions, with_kept_train
from gaugelink.cli.choose import ChooseOptions, chosen
from gaugelink.cli.findings import job_findings, known_gauges
from gaugelink.cli.output import say
from gaugelink.cli.retyped import latest_words, spoken, with_words, words_of
from gaugelink.cli.size import SizeOptions, sized_from
from gaugelink.errors import SizingError
from gaugelink.jobbook.exporting import Exporter, RecordIdentity
from gaugelink.jobbook.fact_book import FactBook
from gaugelink.jobbook.facts import StoredFact
from gaugelink.jobbook.journal import Journal
from gaugelink.report.page_content import PageContent, Sizing
from gaugelink.report.table import wrapped


@dataclass(frozen=True, slots=True, kw_only=True)
class ContentOptions:
    """What was typed of the job, its barrel and the stock; ``stock`` is a list to use."""

    job: int
    barrel: BarrelOptions
    stock: Path | None = None
    sheet: str | None = None
    found_healthy: bool = False
    coverage: float = 0.95
    seed: int = 1
    draws: int = 200_000


@dataclass(frozen=True, slots=True, kw_only=True)
class _Worked:
    """What came of sizing and choosing, and in a sentence what did not."""

    sizing: Sizing | None = None
    choice: Choice | None = None
    missing: str = ""


def page_content(typed: ContentOptions) -> PageContent:
    """Gather what the page of a job tells.

    Raises:
        InputError: something typed cannot be used.
        JournalError: the job cannot be read.
        FileFormatError: the list of springs cannot be used.
    """
    with Journal.open(typed.barrel.journal, to_read=True) as journal:
        record = journal.load(typed.job)
    with FactBook(typed.barrel.journal, to_read=True) as book:
        facts = book.facts(typed.job)
    typed = _as_before(typed, facts)
    barrel = typed.barrel
    known = known_gauges(record, barrel.journal)
    parts = measured_parts(record, barrel.outliers, known)
    worked = _worked(_choosing(typed), parts, typed.draws)
    return PageContent(
        record=record,
        parts=parts,
        findings=job_findings(record, known, barrel.outliers),
        facts=facts,
        identity=_identity(barrel.journal, typed.job),
        software=__version__,
        created_utc=datetime.now(UTC).isoformat(timespec="seconds"),
        sizing=worked.sizing,
        choice=worked.choice,
        missing=worked.missing,
    )


def _as_before(typed: ContentOptions, facts: tuple[StoredFact, ...]) -> ContentOptions:
    """Where nothing is typed of the barrel, the page is of what was last sized or chosen."""
    words = latest_words(facts)
    if not words or words_of(typed.barrel):
        return typed
    again = f"As typed for job {typed.job} before: {spoken(words)}"
    say(wrapped(again, lead="", split_words=False))
    return replace(typed, barrel=with_words(typed.barrel, words))


def _choosing(typed: ContentOptions) -> ChooseOptions:
    return ChooseOptions(
        barrel=with_kept_train(typed.barrel),
        stock=typed.stock,
        sheet=typed.sheet,
        found_healthy=typed.found_healthy,
        coverage=typed.coverage,
        seed=typed.seed,
    )


def _worked(options: ChooseOptions, parts: Sequence[Measured], draws: int) -> _Worked:
    """A job without a bore, or one that contradicts itself, still has a page."""
    measured = {each.measurand for part in parts for each in part.series}
    if "bore" not in measured and options.barrel.lengths.get("bore") is None:
        return _Worked(missing="The bore has not been measured yet.")
    try:
        done = sized_from(_sizing(options, draws))
    except SizingError as exc:
        return _Worked(missing=f"{exc} {exc.hint}")
    sizing = Sizing(inputs=done.inputs, result=done.result)
    try:
        choice = chosen(options)
    except SizingError as exc:
        return _Worked(sizing=sizing, missing=f"No spring was chosen: {exc} {exc.hint}")
    return _Worked(sizing=sizing, choice=choice if choice.stock_size else None)


def _sizing(options: ChooseOptions, draws: int) -> SizeOptions:
    return SizeOptions(
        barrel=options.barrel, coverage=options.coverage, seed=options.seed, draws=draws
    )


def _identity(journal: Path | None, job: int) -> RecordIdentity:
    with Exporter(journal, to_read=True) as exporter:
        return exporter.identity(job)
