"""What is known of a job besides its readings: said by the person, or computed and kept.

Facts are only ever added. Of a movement, a reference, a train or a spring that was fitted
the last one counts; notes and photographs all stand; versions of a result are counted.
What was seen after fitting comes in pieces (crown turns today, hours run tomorrow), and
``seen_after`` puts them together; so does ``who_and_where`` with the head of the record.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from typing import Any, TypeAlias, TypeVar, final

from gaugelink.jobbook.book import Book, job_not_found, now_utc
from gaugelink.jobbook.codec import Form, UnreadableRow, declared, decode, encode, named, wire_name


class Lay(StrEnum):
    """How the movement lay when its amplitude was read."""

    DIAL_UP = "dial-up"
    DIAL_DOWN = "dial-down"
    CROWN_UP = "crown-up"
    CROWN_DOWN = "crown-down"
    CROWN_LEFT = "crown-left"
    CROWN_RIGHT = "crown-right"
    VERTICAL = "vertical"  # on its edge, nobody said which


class WindState(StrEnum):
    """How far the movement was wound then."""

    WOUND = "wound"
    AFTER_24_H = "24h"


@dataclass(frozen=True, slots=True, kw_only=True)
class Movement:
    """What the movement is, in the person's words."""

    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class JobReference:
    """Whose it is, or its number on the bench."""

    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Particulars:
    """What heads the record of a job: workshop, customer, who measured, the room's warmth in C.

    None where nobody has said.
    """

    workshop: str | None = None
    customer: str | None = None
    by: str | None = None
    temperature_c: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Photograph:
    """A picture, by the path of its file."""

    path: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Remark:
    """Anything else."""

    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TrainData:
    """What is known of the train; None where nobody has said.

    ``teeth`` is the chain from the barrel on, wheel over pinion, such as "80/10 75/12".
    """

    teeth: str | None = None
    hours_per_turn: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class HowWound:
    """Winding and outer end in the words of their options; None where nobody has said."""

    winding: str | None = None
    end: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ForeseenSpan:
    """Two ends between which a figure is expected; both may be one."""

    low: float
    high: float

    @property
    def middle(self) -> float:
        """The value half-way."""
        return (self.low + self.high) / 2


@dataclass(frozen=True, slots=True, kw_only=True)
class SizeVersion:
    """A sizing as it was shown: its JSON, and the version of gaugelink that made it."""

    result: Mapping[str, Any]
    software: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ChoiceVersion:
    """A ranking of the stock as it was shown: its JSON, and the version that made it."""

    result: Mapping[str, Any]
    software: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Chosen:
    """The spring that was taken, and what was expected of it; None where nothing was.

    ``amplitude_deg`` is expected for the ``position`` and ``wind`` beside it; ``length_mm`` is
    as fitted, and ``cut_from_mm`` what it was before, where it was shortened.
    """

    item: str
    height_mm: float | None = None
    thickness_mm: float | None = None
    length_mm: float | None = None
    turns: ForeseenSpan | None = None
    crown_turns: ForeseenSpan | None = None
    hours: ForeseenSpan | None = None
    torque_ratio: ForeseenSpan | None = None
    amplitude_deg: ForeseenSpan | None = None
    position: Lay | None = None
    wind: WindState | None = None
    end: str | None = None
    cut_from_mm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Amplitude:
    """An amplitude that was read, in degrees; None where nobody said how it lay."""

    deg: float
    position: Lay | None = None
    wind: WindState | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class After:
    """What was seen after fitting; None where it was not looked at.

    ``noise`` is what was heard at full wind, in the person's words.
    """

    crown_turns: float | None = None
    hours_run: float | None = None
    amplitudes: tuple[Amplitude, ...] = ()
    noise: str | None = None


Fact: TypeAlias = (
    Movement
    | JobReference
    | Particulars
    | Photograph
    | Remark
    | TrainData
    | HowWound
    | SizeVersion
    | ChoiceVersion
    | Chosen
    | After
)


def _result(value: object) -> dict[str, Any]:
    if not isinstance(value, dict):
        raise TypeError("a result is not an object")
    return value


_FORM = Form(compact=True, allow_nan=False, omits_none=True, readers={Mapping[str, Any]: _result})
FACTS: Mapping[str, type[Fact]] = declared(
    _FORM,
    {
        "movement": Movement,
        "reference": JobReference,
        "particulars": Particulars,
        "photograph": Photograph,
        "note": Remark,
        "train": TrainData,
        "wound": HowWound,
        "size": SizeVersion,
        "choice": ChoiceVersion,
        "chosen": Chosen,
        "after": After,
    },
)
declared(_FORM, {"span": ForeseenSpan, "amplitude": Amplitude})


def decode_fact(name: str, detail: str) -> Fact:
    """Return the fact that lies under a wire name as JSON.

    Raises:
        UnreadableRow: unknown name, or a field that is missing, unknown or wrong.
    """
    return decode(named(name, FACTS, "fact"), detail)


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredFact:
    """A fact as the book holds it; ``number`` counts from 1 within the job."""

    job_id: int
    number: int
    written_utc: str
    fact: Fact


_Kind = TypeVar("_Kind", bound=Fact)
_Said = TypeVar("_Said", str | None, float | None)
_ADD = (
    "INSERT INTO fact SELECT ?1, 1 + coalesce(max(number), 0), ?2, ?3, ?4"
    " FROM fact WHERE job_id = ?1"
)
_READ = "SELECT job_id, number, written_utc, name, detail FROM fact"


@final
class FactBook(Book):
    """The facts of all jobs."""

    def add(self, job_id: int, *facts: Fact) -> None:
        """Add facts to a job, durably: all of them, or none.

        Raises:
            JobNotFound: no job has that number.
        """
        with self._writing() as connection:
            self._check_job(connection, job_id)
            connection.executemany(_ADD, [_row(job_id, fact) for fact in facts])

    def add_version(self, job_id: int, version: SizeVersion | ChoiceVersion) -> int:
        """Add a version of a result, durably, unless the latest is the same.

        Returns:
            The number of the version, counted from 1.

        Raises:
            JobNotFound: no job has that number.
        """
        row = _row(job_id, version)
        with self._writing() as connection:
            self._check_job(connection, job_id)
            earlier = connection.execute(
                "SELECT detail FROM fact WHERE name = ? AND job_id = ? ORDER BY number",
                (row[2], job_id),
            ).fetchall()
            if earlier and earlier[-1][0] == row[3]:
                return len(earlier)
            connection.execute(_ADD, row)
        return len(earlier) + 1

    def facts(self, job_id: int) -> tuple[StoredFact, ...]:
        """Return all that was added to a job, in order; nothing for a job that is not there."""
        with self._reading() as connection:
            rows = connection.execute(f"{_READ} WHERE job_id = ? ORDER BY number", (job_id,))
            return tuple(_stored(*row) for row in rows)

    def latest(self, job_id: int, kind: type[_Kind]) -> _Kind | None:
        """Return the last fact of one kind that was added to a job; None if there is none."""
        with self._reading() as connection:
            row = connection.execute(
                f"{_READ} WHERE name = ? AND job_id = ? ORDER BY number DESC LIMIT 1",
                (wire_name(kind), job_id),
            ).fetchone()
        if row is None:
            return None
        fact = _stored(*row).fact
        assert isinstance(fact, kind)
        return fact

    def of_kind(self, *kinds: type[Fact]) -> tuple[StoredFact, ...]:
        """Return the facts of some kinds in all jobs, a job after the other, in order."""
        names = [wire_name(kind) for kind in kinds]
        marks = ", ".join("?" for _ in names)
        with self._reading() as connection:
            rows = connection.execute(
                f"{_READ} WHERE name IN ({marks}) ORDER BY job_id, number", names
            )
            return tuple(_stored(*row) for row in rows)

    def _check_job(self, connection: sqlite3.Connection, job_id: int) -> None:
        if connection.execute("SELECT 1 FROM job WHERE job_id = ?", (job_id,)).fetchone() is None:
            raise job_not_found(self._path, job_id)


def record_size(path: Path | None, job_id: int, result: Mapping[str, Any], software: str) -> int:
    """Keep a sizing of a job as it is shown; return the number of the version.

    ``path`` None is the usual journal; ``software`` is the version of gaugelink that made the
    result.

    Raises:
        JournalError: it cannot be kept.
    """
    with FactBook(path) as book:
        return book.add_version(job_id, SizeVersion(result=result, software=software))


def record_choice(path: Path | None, job_id: int, result: Mapping[str, Any], software: str) -> int:
    """Keep a ranking of the stock for a job as it is shown; return the number of the version.

    The figures of a spring that is chosen later are taken from the latest ranking.

    Raises:
        JournalError: it cannot be kept.
    """
    with FactBook(path) as book:
        return book.add_version(job_id, ChoiceVersion(result=result, software=software))


def chosen_from(ranking: ChoiceVersion, item: str) -> Chosen | None:
    """Return a spring of a ranking with the figures expected there; None if it is not in it."""
    picks: Sequence[Mapping[str, Any]] = ranking.result.get("picks", ())
    pick = next((pick for pick in picks if pick.get("item") == item), None)
    if pick is None:
        return None
    return Chosen(
        item=item,
        height_mm=_size_mm(pick, "height"),
        thickness_mm=_size_mm(pick, "thickness"),
        length_mm=_size_mm(pick, "cut_to") or _size_mm(pick, "length"),
        turns=_span(pick.get("turns_usable") or pick.get("turns")),
        hours=_span(pick.get("hours_to_stop") or pick.get("hours")),
        torque_ratio=_span(pick.get("torque_ratio")),
        amplitude_deg=_span(pick.get("amplitude")),
        end=pick.get("end") or None,
        cut_from_mm=_size_mm(pick, "length") if pick.get("cut_to") else None,
    )


def _size_mm(pick: Mapping[str, Any], name: str) -> float | None:
    size = pick.get(name)
    return None if size is None else float(size)


def _span(ends: Mapping[str, Any] | None) -> ForeseenSpan | None:
    if ends is None or ends.get("low") is None or ends.get("high") is None:
        return None
    return ForeseenSpan(low=float(ends["low"]), high=float(ends["high"]))


def _row(job_id: int, fact: Fact) -> tuple[int, str, str, str]:
    return job_id, now_utc(), wire_name(type(fact)), encode(fact)


def _stored(job_id: int, number: int, written_utc: str, name: str, detail: str) -> StoredFact:
    try:
        fact = decode_fact(name, detail)
    except UnreadableRow as exc:
        raise UnreadableRow(f"fact {number} of job {job_id}: {exc}") from exc
    return StoredFact(job_id=job_id, number=number, written_utc=written_utc, fact=fact)


def seen_after(pieces: Iterable[After]) -> After | None:
    """Put together what was seen at different times; the last word on each figure counts.

    Args:
        pieces: the facts of one job, in the order they were added.
    """
    whole: After | None = None
    for piece in pieces:
        whole = piece if whole is None else _joined(whole, piece)
    return whole


def _joined(before: After, later: After) -> After:
    amplitudes = {(a.position, a.wind): a for a in (*before.amplitudes, *later.amplitudes)}
    return After(
        crown_turns=_later(before.crown_turns, later.crown_turns),
        hours_run=_later(before.hours_run, later.hours_run),
        amplitudes=tuple(amplitudes.values()),
        noise=later.noise if later.noise is not None else before.noise,
    )


def _later(before: _Said, later: _Said) -> _Said:
    return before if later is None else later


def who_and_where(pieces: Iterable[Particulars]) -> Particulars:
    """Put together what was said of the record's head; the last word on each counts."""
    whole = Particulars()
    for piece in pieces:
        whole = Particulars(
            workshop=_later(whole.workshop, piece.workshop),
            customer=_later(whole.customer, piece.customer),
            by=_later(whole.by, piece.by),
            temperature_c=_later(whole.temperature_c, piece.temperature_c),
        )
    return whole
