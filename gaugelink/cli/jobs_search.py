"""Finding earlier jobs: by text, date and size, or by how like their barrels are.

The sizes that they are found by are made here, of what was measured and what was chosen; by
them ``measure`` says whether a barrel was on this bench before.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from gaugelink.assembly.job import Job, read_job
from gaugelink.capture.plan import MEASURANDS, JobRecord
from gaugelink.cli.jobs_facts import pairs_in
from gaugelink.cli.output import bar, emit, emit_json, say
from gaugelink.errors import InputError, JournalError
from gaugelink.jobbook.facts import Chosen, SizeVersion, StoredFact
from gaugelink.jobbook.journal import Journal
from gaugelink.jobbook.lookup import Wanted
from gaugelink.jobbook.sizes import (
    JobState,
    KeptSize,
    Likeness,
    SizeBook,
)
from gaugelink.quantities import TypedLength, parse_length, parse_spring
from gaugelink.report.json_records import job_line_json, likeness_json
from gaugelink.report.text_job import jobs_text, likeness_text
from gaugelink.uncertainty.estimate import Quantity, factor_of, independent_influences

_MOST_LISTED = 1000
_NEAREST = 5
# How far a typed size may be off and still be meant; +- says it otherwise. Judgement.
_WITHIN_MM = {"bore": 0.1, "height": 0.05, "thickness": 0.005}
_WITHIN_OF_LENGTH = 0.05
_TYPED_U_MM = 0.02  # of a typed size without +-: what a caliper may be off by
_LIKE = ("bore", "depth", "depth_rim", "depth_seat", "lid", "recess", "arbor")
_DATE = re.compile(r"\d{4}(-\d{2}(-\d{2})?)?")
_MOST_NAMED = 3
_AT_ONCE = 100  # jobs kept in one transaction
_WORTH_A_WORD = 500


@dataclass(frozen=True, slots=True, kw_only=True)
class SearchOptions:
    """What was typed to narrow the list down; empty where nothing was."""

    text: str = ""
    bore: str | None = None
    height: str | None = None
    size: str | None = None
    first: str = ""
    last: str = ""


def list_jobs(options: SearchOptions, journal: Path | None, *, as_json: bool) -> None:
    """List the jobs that have everything that was typed, newest first."""
    wanted = Wanted(
        text=options.text,
        first=_date(options.first, "--from"),
        last=_date(options.last, "--to"),
        among=_among(options, journal),
    )
    with Journal.open(journal, to_read=True) as opened:
        lines = opened.jobs(_MOST_LISTED, wanted)
    if as_json:
        emit_json({"schema": 1, "jobs": [job_line_json(line) for line in lines]})
    elif lines:
        emit(jobs_text(lines))
    elif options == SearchOptions():
        emit("No jobs yet. Begin one with: gaugelink measure ADDRESS")
    else:
        emit("No job has all that.")


def list_like(text: str, journal: Path | None, *, as_json: bool) -> None:
    """Show the earlier jobs whose barrels are most like a job's, or like typed sizes."""
    bring_up_to_date(journal)
    job_id = int(text) if text.strip().isdecimal() else None
    with SizeBook(journal) as book:
        sizes = _sizes_of(book, job_id) if job_id is not None else [*_typed_sizes(text)]
        likes = book.like(sizes, _NEAREST, but=job_id)
    titles = titles_of(likes, journal)
    if as_json:
        emit_json(likeness_json(likes, titles))
    else:
        emit(likeness_text(likes, titles))


def titles_of(likes: Sequence[Likeness], journal: Path | None) -> dict[int, str]:
    """Return the titles of jobs by their number."""
    with Journal.open(journal, to_read=True) as opened:
        lines = opened.jobs(_NEAREST, Wanted(among=frozenset(like.job_id for like in likes)))
    return {line.job_id: line.title for line in lines}


def _sizes_of(book: SizeBook, job_id: int) -> list[KeptSize]:
    book.state(job_id)  # refuses a number that is not a job
    sizes = [*book.of(job_id).values()]
    if all(size.name != "bore" for size in sizes):
        raise InputError(
            f"No bore was measured in job {job_id}, so nothing can be compared with it.",
            hint='Type what you know: gaugelink jobs --like "bore=11.02 arbor=3.67".',
        )
    return sizes


def _typed_sizes(text: str) -> Iterator[KeptSize]:
    rest, pairs = pairs_in(text, "--like", _LIKE)
    if rest or all(pair.name != "bore" for pair in pairs):
        raise InputError(
            f"--like: {text!r} is neither a job nor sizes with a bore.",
            hint='Give a number, or type it like: gaugelink jobs --like "bore=11.02 depth=1.64".',
        )
    for pair in pairs:
        length = parse_length(pair.value, pair.name)
        name = "depth_rim" if pair.name == "depth" else pair.name
        u_mm = _TYPED_U_MM if length.u_mm is None else length.u_mm
        yield KeptSize(name=name, value_mm=length.value_mm, u_mm=u_mm)


def _among(options: SearchOptions, journal: Path | None) -> frozenset[int] | None:
    """Return the jobs that have the typed sizes; None when none was typed."""
    if options.bore is options.height is options.size is None:
        return None
    bring_up_to_date(journal)
    with SizeBook(journal) as book:
        return frozenset.intersection(*_found(book, options))


def _found(book: SizeBook, options: SearchOptions) -> Iterator[frozenset[int]]:
    if options.bore is not None:
        bore = parse_length(options.bore, "bore")
        yield _near(book, "bore", ("bore",), bore)
    if options.height is not None:
        height = parse_length(options.height, "height")
        names = ("height", "found_height", "chosen_height")
        yield _near(book, "height", names, height)
    if options.size is not None:
        sizes = parse_spring(options.size, "size")
        yield _with_spring(book, "chosen", sizes) | _with_spring(book, "found", sizes[:2])


def _with_spring(book: SizeBook, which: str, sizes: Sequence[TypedLength]) -> frozenset[int]:
    """Return the jobs whose chosen or found spring has all these sizes."""
    names = ("height", "thickness", "length")
    found = [
        _near(book, name, (f"{which}_{name}",), size)
        for name, size in zip(names, sizes, strict=False)
    ]
    return frozenset.intersection(*found)


def _near(book: SizeBook, name: str, names: tuple[str, ...], size: TypedLength) -> frozenset[int]:
    within_mm = _WITHIN_MM.get(name, _WITHIN_OF_LENGTH * size.value_mm)
    if size.u_mm is not None:
        within_mm = 2 * size.u_mm
    return book.near(names, size.value_mm, within_mm)


def _date(text: str, option: str) -> str:
    if text and not (_DATE.fullmatch(text) and _is_day(f"{text}-01-01"[:10])):
        raise InputError(
            f"{option}: {text!r} is not a date.",
            hint="Type a day, a month or a year: 2026-11-25, 2026-11 or 2026.",
        )
    return text


def _is_day(text: str) -> bool:
    try:
        date.fromisoformat(text)
    except ValueError:
        return False
    return True


def earlier_text(job_id: int, journal: Path | None) -> str:
    """Return a sentence that names earlier jobs of the same size; empty where there is none.

    The measuring is over and kept: a journal that cannot be read now is not a reason to fail.
    """
    try:
        named = _same(job_id, journal)
    except JournalError:
        return ""
    if not named:
        return ""
    return (
        f"This barrel may have been here before: {', '.join(named)} "
        f"{'has' if len(named) == 1 else 'have'} the same sizes within the uncertainty. "
        f"Compare with: gaugelink jobs --like {job_id}"
    )


def _same(job_id: int, journal: Path | None) -> list[str]:
    bring_up_to_date(journal)
    with SizeBook(journal) as book:
        sizes = [*book.of(job_id).values()]
        likes = book.like(sizes, _MOST_NAMED, but=job_id)
    same = [like for like in likes if like.is_same_size]
    titles = titles_of(same, journal) if same else {}
    return [f"job {like.job_id} {titles[like.job_id]}".rstrip() for like in same]


def bring_up_to_date(journal: Path | None) -> int:
    """Make the sizes of all jobs whose sizes are missing or old; return how many were due."""
    with SizeBook(journal) as book:
        due = book.due()
        if len(due) >= _WORTH_A_WORD:
            say(f"Indexing {len(due)} jobs once; this takes a moment.")
        with bar("Indexing jobs") as told:
            for start in range(0, len(due), _AT_ONCE):
                told(start, len(due))
                book.keep(dict(_sizes(due[start : start + _AT_ONCE], journal)))
    return len(due)


def reindex(journal: Path | None) -> int:
    """Make the sizes of all jobs afresh; return how many there are."""
    with SizeBook(journal) as book:
        book.forget()
    return bring_up_to_date(journal)


def dimensions_of(job: Job) -> tuple[KeptSize, ...]:
    """Return the sizes of a job: barrel and spring found, available height, spring chosen."""
    return (*_measured(job), *_from_facts(job.facts))


def _sizes(
    due: Sequence[JobState], journal: Path | None
) -> Iterator[tuple[JobState, tuple[KeptSize, ...]]]:
    with Journal.open(journal) as opened:
        for state in due:
            yield state, dimensions_of(read_job(opened, state.job_id))


def is_of_a_barrel(record: JobRecord) -> bool:
    """Tell whether a job measures a barrel; a check of a gauge measures blocks and pins."""
    return {step.measurand for step in record.setup.plan.steps} <= set(MEASURANDS)


def _measured(job: Job) -> Iterator[KeptSize]:
    if not is_of_a_barrel(job.record):
        return
    reference = job.record.setup.plan.depth_reference
    for name, quantity in job.quantities().items():
        # A depth to the rim and one to the seat are two sizes, which no search may mix up.
        told_apart = f"depth_{reference}" if name == "depth" else name
        yield KeptSize(name=told_apart, value_mm=quantity.value, u_mm=_u_mm(quantity))


def _u_mm(quantity: Quantity) -> float:
    """Return the combined standard uncertainty; influences are independent, GUM 5.1.2."""
    influences = independent_influences([quantity])
    return math.hypot(*(factor_of(quantity, each) * each.u for each in influences))


def _from_facts(facts: Sequence[StoredFact]) -> Iterator[KeptSize]:
    newest = {type(stored.fact): stored.fact for stored in facts}
    size = newest.get(SizeVersion)
    if isinstance(size, SizeVersion) and (height := size.result.get("height")):
        yield KeptSize(name="height", value_mm=float(height["value"]), u_mm=float(height["u"]))
    chosen = newest.get(Chosen)
    if isinstance(chosen, Chosen):
        for name in ("height", "thickness", "length"):
            value_mm = getattr(chosen, f"{name}_mm")
            if value_mm is not None:
                yield KeptSize(name=f"chosen_{name}", value_mm=value_mm, u_mm=0.0)
