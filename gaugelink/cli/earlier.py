"""Whether a barrel that has just been measured was on this bench before."""

from __future__ import annotations

from pathlib import Path

from gaugelink.cli.jobs_search import titles_of
from gaugelink.cli.jobs_sizes import bring_up_to_date
from gaugelink.errors import JournalError
from gaugelink.jobbook.dimensions import DimensionBook

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
    same = [like for like in likes if like.is_same_size]
    titles = titles_of(same, journal) if same else {}
    return [f"job {like.job_id} {titles[like.job_id]}".rstrip() for like in same]
