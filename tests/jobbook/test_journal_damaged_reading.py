"""One number changed inside a row that is whole to SQLite: noticed when read, checked, rescued."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from book_samples import content
from jobbook_samples import CALIPER, SETUP, keep, reading

from gaugelink.capture.acts import Taken
from gaugelink.errors import JournalDamaged
from gaugelink.jobbook.copies import back_up, restore
from gaugelink.jobbook.export import Exporter, read_job_file
from gaugelink.jobbook.export_format import BadItem, job_from, job_line, read_rows
from gaugelink.jobbook.journal import Journal
from gaugelink.jobbook.rescue import rescue
from gaugelink.model import GaugeEvent

# What a disk may change: where it lies in the row, what becomes of it.
DAMAGE = {
    "the number of a taken reading": (2, "detail", "11.02", "17.02", 1),
    "the text of a taken reading": (2, "detail", "11.02", "11.06", -1),
    "its unit": (2, "detail", '"mm"', '"in"', 1),
    "the number that the gauge sent": (1, "detail", "11.02", "13.02", 1),
}


@pytest.fixture(name="path")
def journal_of_two_readings(tmp_path: Path) -> Path:
    path = tmp_path / "journal.sqlite"
    with Journal.open(path) as journal:
        job = journal.create_job(SETUP)
        journal.add_gauge(job, CALIPER)
        for number, value_mm in enumerate((11.02, 11.03)):
            body = reading(value_mm, raw=f"{value_mm:.2f} mm".encode())
            who, when = CALIPER.gauge_id, float(number)
            sent = GaugeEvent(gauge_id=who, elapsed_s=when, body=body)
            took = Taken(gauge_id=who, elapsed_s=when, measurand="bore", reading=body)
            keep(journal, job, sent, took)
    return path


def damage(path: Path, name: str) -> int:
    """Change a row, and return its number."""
    number, column, before, after, which = DAMAGE[name]
    with closing(sqlite3.connect(path)) as connection:
        (value,) = connection.execute(
            f"SELECT {column} FROM entry WHERE number = ?", (number,)
        ).fetchone()
        if which < 0:
            head, _, tail = value.rpartition(before)
            changed = head + after + tail
        else:
            changed = value.replace(before, after, 1)
        assert changed != value
        connection.execute(f"UPDATE entry SET {column} = ? WHERE number = ?", (changed, number))
        connection.commit()
    return number


@pytest.mark.parametrize("name", DAMAGE)
def test_it_is_noticed_when_the_job_or_its_events_are_read(path: Path, name: str) -> None:
    number = damage(path, name)
    with (
        Journal.open(path, to_read=True) as journal,
        pytest.raises(JournalDamaged, match=r"entry [12] of job 1: "),
    ):
        journal.load(1)
        list(journal.events(1))
    assert number in (1, 2)


@pytest.mark.parametrize("name", DAMAGE)
def test_a_checked_backup_has_no_such_reading(path: Path, tmp_path: Path, name: str) -> None:
    back_up(path, tmp_path / "sound.sqlite")
    damage(path, name)
    with pytest.raises(JournalDamaged, match=r"entry [12] of job 1: "):
        back_up(path, tmp_path / "backup.sqlite")
    assert not (tmp_path / "backup.sqlite").exists()
    before = content(path)
    with pytest.raises(JournalDamaged, match=r"entry [12] of job 1: "):
        restore(path, tmp_path / "sound.sqlite")
    done = restore(tmp_path / "sound.sqlite", path)  # what is damaged is replaced, and kept
    assert done.aside is not None
    assert content(done.aside) == before


@pytest.mark.parametrize("name", DAMAGE)
def test_a_rescue_leaves_it_out_and_says_which(path: Path, tmp_path: Path, name: str) -> None:
    damage(path, name)
    (job,) = rescue(path, tmp_path / "rescued.sqlite").jobs
    assert job.contradicting
    assert set(job.contradicting) <= {1, 2}
    assert set(job.contradicting) <= set(job.lost)
    with Journal.open(tmp_path / "rescued.sqlite") as journal:
        taken = [act for act in journal.load(1).acts if isinstance(act, Taken)]
    assert [act.reading.displayed for act in taken][-1] == "11.03"


@pytest.mark.parametrize("name", ["the number of a taken reading", "its unit"])
def test_it_is_not_imported(path: Path, tmp_path: Path, name: str) -> None:
    damage(path, name)
    with closing(sqlite3.connect(path)) as connection:
        rows = read_rows(connection, 1)
    assert rows is not None
    item = json.loads(job_line(rows))
    with pytest.raises(BadItem, match="entry 2: it says"):
        job_from(item)


def test_a_reading_that_was_sought_was_sent_earlier(path: Path, tmp_path: Path) -> None:
    with Journal.open(path) as journal:
        who = CALIPER.gauge_id
        smallest, last = reading(3.80, raw=b"3.80 mm"), reading(3.84, raw=b"3.84 mm")
        sent = [
            GaugeEvent(gauge_id=who, elapsed_s=t, body=b) for t, b in ((8, smallest), (9, last))
        ]
        took = Taken(gauge_id=who, elapsed_s=9, measurand="arbor", reading=smallest)
        keep(journal, 1, *sent, took)
        assert journal.load(1).acts[-1] == took
    assert back_up(path, tmp_path / "backup.sqlite").n_entries == 7


def test_a_sound_journal_has_none(path: Path, tmp_path: Path) -> None:
    assert back_up(path, tmp_path / "backup.sqlite").n_entries == 4
    with Exporter(path) as exporter:
        exporter.write(tmp_path / "jobs.json")
    assert read_job_file(tmp_path / "jobs.json").jobs
    (job,) = rescue(path, tmp_path / "rescued.sqlite").jobs
    assert (job.lost, job.contradicting) == ((), ())
