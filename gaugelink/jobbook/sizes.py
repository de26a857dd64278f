"""The sizes by which earlier jobs are found, and which earlier barrel was most like this one.

They can be made again at any time from a job's entries and facts. The book knows up to
which entry and fact of a job they were made, and so which jobs are due: the first search
after a job changed brings it up to date, and nothing has to remember to.

Two barrels are compared within what the measurements can tell: the difference of each size
is divided by its standard uncertainty, sqrt(u1^2 + u2^2), as if the two measurements had
nothing in common. Two made with one gauge share its error, so the true uncertainty of their
difference is smaller: "the same" is said a little too readily, never too seldom.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from operator import itemgetter
from typing import final

from gaugelink.jobbook.book import Book, job_not_found

# |x1 - x2| <= 2 sqrt(u1^2 + u2^2) for every size: two results agree when their E_n number
# is 1 at most, with U = 2 u (ISO/IEC 17043, from memory).
AGREE_WITHIN_U = 2.0
# No hand gauge tells two barrels apart better than by about this; from memory.
LEAST_U_MM = 0.005
BARREL = ("bore", "depth_rim", "depth_seat", "lid", "recess", "arbor")
# How many entries and facts a job has now: their numbers count from 1 without a gap.
_LENGTHS = (
    "SELECT job_id,"
    " (SELECT coalesce(max(number), 0) FROM entry WHERE entry.job_id = job.job_id) AS entries,"
    " (SELECT coalesce(max(number), 0) FROM fact WHERE fact.job_id = job.job_id) AS facts"
    " FROM job"
)
_DUE = (
    f"SELECT now.job_id, entries, facts FROM ({_LENGTHS}) AS now LEFT JOIN indexed USING (job_id)"
    " WHERE n_entries IS NOT entries OR n_facts IS NOT facts ORDER BY now.job_id"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptSize:
    """A size of a job by which it is found again, in mm, with its standard uncertainty."""

    name: str
    value_mm: float
    u_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SizeDifference:
    """How far an earlier job's size lies from the one looked for, in mm and in u."""

    name: str
    difference_mm: float
    in_u: float

    @property
    def agrees(self) -> bool:
        """Whether the two sizes may be one."""
        return abs(self.in_u) <= AGREE_WITHIN_U


@dataclass(frozen=True, slots=True, kw_only=True)
class Likeness:
    """How like an earlier job is: root mean square of its differences, in u."""

    job_id: int
    distance_in_u: float
    differences: tuple[SizeDifference, ...]

    @property
    def is_same_size(self) -> bool:
        """Whether every size agrees, and there are two at least: many barrels share a bore."""
        return len(self.differences) > 1 and all(each.agrees for each in self.differences)


@dataclass(frozen=True, slots=True, kw_only=True)
class JobState:
    """How far a job had come: the numbers of its last entry and fact."""

    job_id: int
    n_entries: int
    n_facts: int


@final
class SizeBook(Book):
    """The sizes of all jobs."""

    def due(self) -> tuple[JobState, ...]:
        """Return the jobs whose sizes are missing or older than the job."""
        with self._reading() as connection:
            rows = connection.execute(_DUE).fetchall()
        return tuple(JobState(job_id=j, n_entries=e, n_facts=f) for j, e, f in rows)

    def forget(self) -> None:
        """Make the sizes of all jobs due again, as when a gauge's record has changed."""
        with self._writing() as connection:
            connection.execute("DELETE FROM indexed")

    def state(self, job_id: int) -> JobState:
        """Return how far a job has come; ask before it is read.

        Raises:
            JobNotFound: no job has that number.
        """
        with self._reading() as connection:
            row = connection.execute(f"{_LENGTHS} WHERE job_id = ?", (job_id,)).fetchone()
            if row is None:
                raise job_not_found(self._path, job_id)
        return JobState(job_id=job_id, n_entries=row[1], n_facts=row[2])

    def keep(self, sizes: Mapping[JobState, Iterable[KeptSize]]) -> None:
        """Keep the sizes of some jobs, as these were then, in place of those before, durably."""
        with self._writing() as connection:
            jobs = [(state.job_id,) for state in sizes]
            connection.executemany("DELETE FROM dimension WHERE job_id = ?", jobs)
            connection.executemany(
                "INSERT INTO dimension VALUES (?, ?, ?, ?)",
                [
                    (state.job_id, size.name, size.value_mm, size.u_mm)
                    for state, of_job in sizes.items()
                    for size in of_job
                ],
            )
            connection.executemany(
                "INSERT OR REPLACE INTO indexed VALUES (?, ?, ?)",
                [(state.job_id, state.n_entries, state.n_facts) for state in sizes],
            )

    def of(self, job_id: int) -> dict[str, KeptSize]:
        """Return the sizes that are kept of a job, by name."""
        with self._reading() as connection:
            rows = connection.execute(
                "SELECT name, value_mm, u_mm FROM dimension WHERE job_id = ?", (job_id,)
            ).fetchall()
        return _by_name(rows)

    def near(self, names: Sequence[str], value_mm: float, within_mm: float) -> frozenset[int]:
        """Return the jobs with a size of one of the names within so much, or 2 u, of a value."""
        marks = ", ".join("?" for _ in names)
        with self._reading() as connection:
            rows = connection.execute(
                f"SELECT job_id FROM dimension WHERE name IN ({marks})"
                " AND abs(value_mm - ?) <= max(?, 2 * u_mm)",
                (*names, value_mm, within_mm),
            )
            return frozenset(job for (job,) in rows)

    def like(
        self, wanted: Sequence[KeptSize], n: int, but: int | None = None
    ) -> tuple[Likeness, ...]:
        """Return the ``n`` jobs whose barrels are most like the sizes looked for.

        Args:
            wanted: sizes of the barrel, the bore among them; others are left aside.
            n: at most so many.
            but: a job to leave out: the one looked from.
        """
        barrel = [each for name in BARREL for each in wanted if each.name == name]
        marks = ", ".join("?" for _ in BARREL)
        with self._reading() as connection:
            rows = connection.execute(
                f"SELECT job_id, name, value_mm, u_mm FROM dimension WHERE name IN ({marks})"
                " ORDER BY job_id",
                BARREL,
            ).fetchall()
        jobs = ((job, list(of_job)) for job, of_job in groupby(rows, key=itemgetter(0)))
        likes = (
            likeness(job, barrel, _by_name(row[1:] for row in of_job))
            for job, of_job in jobs
            if job != but
        )
        return nearest((each for each in likes if each is not None), n)


def _by_name(rows: Iterable[tuple[str, float, float]]) -> dict[str, KeptSize]:
    return {
        name: KeptSize(name=name, value_mm=value_mm, u_mm=u_mm) for name, value_mm, u_mm in rows
    }


def likeness(
    job_id: int, wanted: Iterable[KeptSize], found: Mapping[str, KeptSize]
) -> Likeness | None:
    """Compare the sizes looked for with those of an earlier job; None without a bore in common."""
    pairs = [(each, found[each.name]) for each in wanted if each.name in found]
    differences = tuple(_difference(one, other) for one, other in pairs)
    if not any(each.name == "bore" for each in differences):
        return None
    squares = [each.in_u**2 for each in differences]
    return Likeness(
        job_id=job_id,
        distance_in_u=math.sqrt(math.fsum(squares) / len(squares)),
        differences=differences,
    )


def nearest(likes: Iterable[Likeness], n: int) -> tuple[Likeness, ...]:
    """Return the ``n`` most alike: those of the same size first, then by distance."""
    order = sorted(likes, key=lambda a: (not a.is_same_size, a.distance_in_u, -a.job_id))
    return tuple(order[:n])


def _difference(wanted: KeptSize, found: KeptSize) -> SizeDifference:
    u_mm = math.hypot(wanted.u_mm, found.u_mm, LEAST_U_MM)
    difference_mm = found.value_mm - wanted.value_mm
    return SizeDifference(name=wanted.name, difference_mm=difference_mm, in_u=difference_mm / u_mm)
