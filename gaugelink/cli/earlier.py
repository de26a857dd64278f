"""Whether a barrel that has just been measured was on this bench before."""

from __future__ import annotations

from pathlib import Path

from gaugelink.cli.jobs_sizes import bring_up_to_date
from gaugelink.errors import JournalError
from gaugelink.jobbook.dimensions import DimensionBook
from gaugelink.jobbook.journal import Journal

_MOST_NAMED = 3


def earlier_text(job_id: int, journal: Path | None) -> str:
    """Return a sentence that names earlier jobs of the same size; empty where there is none.

    The measuring is over and kept: a journal that cannot be read now is no reason to fail.
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
    with DimensionBook(journal) as book:
        sizes = [*book.of(job_id).values()]
        likes = book.like(sizes, _MOST_NAMED, but=job_id)
    with Journal.open(journal) as opened:
        titles = {
            like.job_id: opened.load(like.job_id).setup.title for like in likes if like.is_same_size
        }
    return [f"job {number} {title}".rstrip() for number, title in titles.items()]
