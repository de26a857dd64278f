"""Jobs are found by what was typed of them, and by when they were begun."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from jobbook_samples import SETUP

from gaugelink.errors import JournalDamaged
from gaugelink.jobbook import journal
from gaugelink.jobbook.facts import (
    After,
    Chosen,
    FactBook,
    JobReference,
    Movement,
    Remark,
    SizeVersion,
)
from gaugelink.jobbook.journal import Journal
from gaugelink.jobbook.lookup import Wanted

DAYS = {1: "2024-02-29", 2: "2025-12-31", 3: "2026-01-01", 4: "2026-11-25"}
TITLES = {1: "bag 1", 2: "Würfel", 3: "50% off", 4: ""}


@pytest.fixture(name="path")
def path_of_a_journal_of_some_years(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    path = tmp_path / "journal.sqlite"
    with Journal.open(path) as opened:
        for job, day in DAYS.items():
            stamp = f"{day}T12:00:00.000+00:00"
            monkeypatch.setattr(journal, "now_utc", lambda stamp=stamp: stamp)
            assert opened.create_job(replace(SETUP, title=TITLES[job])) == job
    with FactBook(path) as book:
        book.add(1, Movement(text="Cylinder"), Remark(text="HOOK worn"), Remark(text="of été"))
        book.add(2, JobReference(text="Mrs Example"), Chosen(item="A17"))
        book.add(3, After(noise="knocks"), SizeVersion(result={"rules": "half-area"}, software="0"))
    return path


def found(path: Path, wanted: Wanted, limit: int = 9) -> list[int]:
    with Journal.open(path) as opened:
        return [line.job_id for line in opened.jobs(limit, wanted)]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("", [4, 3, 2, 1]),
        ("cylinder", [1]),
        ("hook", [1]),
        ("ÉTÉ", [1]),
        ("mrs ex", [2]),
        ("a17", [2]),
        ("WÜRFEL", [2]),
        ("knock", [3]),
        ("50%", [3]),
        ("half-area", []),  # a result is not what a person typed
        ("2026-01", [3]),
    ],
)
def test_a_text_is_looked_for_in_all_that_was_typed(
    path: Path, text: str, expected: list[int]
) -> None:
    assert found(path, Wanted(text=text)) == expected


@pytest.mark.parametrize(
    ("first", "last", "expected"),
    [
        ("2025", "", [4, 3, 2]),
        ("2026-01-01", "", [4, 3]),
        ("", "2025", [2, 1]),
        ("", "2026-01", [3, 2, 1]),
        ("2025-12-31", "2026-01-01", [3, 2]),
        ("2026-11-26", "", []),
    ],
)
def test_both_dates_are_included(path: Path, first: str, last: str, expected: list[int]) -> None:
    assert found(path, Wanted(first=first, last=last)) == expected


def test_everything_that_was_asked_for_must_hold(path: Path) -> None:
    assert found(path, Wanted(among={1, 2, 3})) == [3, 2, 1]
    assert found(path, Wanted(among={1, 2, 3}, first="2025", text="ü")) == [2]
    assert found(path, Wanted(among=frozenset())) == []
    assert found(path, Wanted(among={1, 2, 3}), limit=2) == [3, 2]


def test_a_fact_that_cannot_be_read_is_named(path: Path) -> None:
    with Journal.open(path) as opened:
        opened._connection.execute("UPDATE fact SET detail = '{' WHERE job_id = 1")
        with pytest.raises(JournalDamaged, match="a fact of job 1"):
            opened.jobs(9, Wanted(text="x"))
