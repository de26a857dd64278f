"""What a person says of a job: read, kept, and for a chosen spring joined with its ranking."""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields, replace
from pathlib import Path

from gaugelink.cli.jobs_typed import parse_after, parse_chosen, parse_train
from gaugelink.cli.output import emit, emit_json, say
from gaugelink.errors import InputError
from gaugelink.jobbook.fact_book import FactBook, chosen_from
from gaugelink.jobbook.facts import (
    After,
    ChoiceVersion,
    Chosen,
    Fact,
    Movement,
    Note,
    Photograph,
    Reference,
    StoredFact,
)
from gaugelink.jobbook.predictions import compare, fittings, judge
from gaugelink.report.job_contract import predictions_json
from gaugelink.report.job_text import predictions_text


@dataclass(frozen=True, slots=True, kw_only=True)
class FactOptions:
    """What was typed of a job; empty where nothing was."""

    movement: str | None = None
    reference: str | None = None
    train: str | None = None
    photographs: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    chosen: str | None = None
    after: str | None = None

    @property
    def is_empty(self) -> bool:
        """Whether nothing was typed."""
        return self == FactOptions()


def keep(job_id: int, options: FactOptions, journal: Path | None) -> None:
    """Keep what was typed with a job: all of it, or nothing.

    Raises:
        InputError: something that cannot be used.
        SizingError: a train that contradicts itself.
        JournalError: there is no such job, or it cannot be kept.
    """
    facts = [*_facts(options)]
    with FactBook(journal) as book:
        if options.chosen is not None:
            facts.append(_foreseen(book, job_id, parse_chosen(options.chosen)))
        if options.after is not None:  # last, so that it belongs to a spring chosen with it
            facts.append(parse_after(options.after))
        book.add(job_id, *facts)
    say(f"Kept with job {job_id}.")


def lost_photographs(facts: Sequence[StoredFact]) -> frozenset[str]:
    """Return the paths of photographs that are not there now."""
    paths = (stored.fact.path for stored in facts if isinstance(stored.fact, Photograph))
    return frozenset(path for path in paths if not os.path.exists(path))


def show_predictions(journal: Path | None, *, as_json: bool) -> None:
    """Show how good the predictions were over all jobs."""
    with FactBook(journal, to_read=True) as book:
        stored = book.of_kind(Chosen, After)
    compared = [each for fitting in fittings(stored) for each in compare(fitting)]
    predictions = judge(compared)
    if as_json:
        emit_json(predictions_json(predictions, compared))
    else:
        emit(predictions_text(predictions))


def _facts(options: FactOptions) -> Iterator[Fact]:
    if options.movement is not None:
        yield Movement(text=_said(options.movement, "--movement"))
    if options.reference is not None:
        yield Reference(text=_said(options.reference, "--reference"))
    if options.train is not None:
        yield parse_train(options.train)
    for path in options.photographs:
        yield Photograph(path=_photograph(path))
    for text in options.notes:
        yield Note(text=_said(text, "--note"))


def _said(text: str, option: str) -> str:
    if not text.strip():
        raise InputError(f"{option} says nothing.", hint=f'Type it like: {option} "some words".')
    return text.strip()


def _photograph(path: str) -> str:
    """Return the full path: what is kept must be found from any folder."""
    full = os.path.abspath(os.path.expanduser(_said(path, "--photo")))
    if not os.path.exists(full):
        say(f"There is no file at {full} now; the path is kept all the same.")
    return full


def _foreseen(book: FactBook, job_id: int, chosen: Chosen) -> Chosen:
    """Fill in what the latest ranking foresaw of the spring; what was typed wins."""
    ranking = book.latest(job_id, ChoiceVersion)
    foreseen = chosen_from(ranking, chosen.item) if ranking else None
    if foreseen is None:
        if chosen == Chosen(item=chosen.item):  # perhaps a slip of the hand in its name
            say(f"{chosen.item} is not in a ranking of job {job_id}: nothing is foreseen of it.")
        return chosen
    typed = {
        field.name: value
        for field in fields(chosen)
        if (value := getattr(chosen, field.name)) is not None
    }
    return replace(foreseen, **typed)
