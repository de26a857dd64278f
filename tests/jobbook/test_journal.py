from __future__ import annotations

import pkgutil
import subprocess
import sys
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from jobbook_samples import (
    CALIPER,
    SETUP,
    begin,
    garbage,
    heard,
    keep,
    stored,
    taken,
)

from gaugelink import jobbook
from gaugelink.capture.acts import ZERO, Completed, GaugeDone, Skipped, Undone
from gaugelink.capture.plan import JobSetup
from gaugelink.errors import JobNotFound, JournalBusy, JournalDamaged, JournalError
from gaugelink.jobbook.book import default_path
from gaugelink.jobbook.journal import JobKeeper, Journal
from gaugelink.jobbook.lookup import Wanted
from gaugelink.model import GaugeKind

ITEMS = (heard(1), taken(1), garbage(2), heard(3), taken(3), garbage(4))
ACTS = (taken(1), taken(3))


@pytest.fixture
def path(tmp_path):
    return tmp_path / "new" / "folder" / "journal.sqlite"


@pytest.fixture
def journal(path):
    with Journal.open(path) as journal:
        yield journal


@pytest.fixture
def job_id(journal):
    return begin(journal)


def undone(measurand="bore"):
    return Undone(gauge_id=CALIPER.gauge_id, elapsed_s=9.0, measurand=measurand)


def titled(title):
    return JobSetup(title=title, plan=SETUP.plan)


def test_a_job_opened_again_is_what_was_written(path):
    micrometer = replace(CALIPER, gauge_id="a-micrometer", kind=GaugeKind.MICROMETER)
    before = datetime.now(UTC) - timedelta(milliseconds=1)
    with Journal.open(path) as journal:
        job_id = begin(journal)
        journal.add_gauge(job_id, micrometer)
        keep(journal, job_id, *ITEMS[:3])
        keep(journal, job_id, *ITEMS[3:])
    with Journal.open(path) as journal:
        record = journal.load(job_id)
        assert record.setup == SETUP
        assert record.gauges == (CALIPER, micrometer)  # in the order they were added
        assert record.acts == ACTS
        assert not record.closed
        assert before <= datetime.fromisoformat(record.created_utc) <= datetime.now(UTC)
        entries = list(journal.events(job_id))
    assert [entry.item for entry in entries] == list(ITEMS)
    assert [entry.number for entry in entries] == [1, 2, 3, 4, 5, 6]
    assert entries[2].raw == b"\xff\x002"
    assert entries[2].kind == "fault"
    stamps = [datetime.fromisoformat(entry.written_utc) for entry in entries]
    assert stamps == sorted(stamps)
    assert stamps[0].utcoffset() == timedelta(0)


def test_what_is_not_committed_is_seen_by_nobody(path, journal, job_id):
    journal.write(job_id, ITEMS)
    with Journal.open(path) as other:
        assert stored(other, job_id) == []
        journal.commit()
        assert stored(other, job_id) == list(ITEMS)


def test_what_is_gathered_bears_the_time_of_its_writing(journal, job_id, monkeypatch):
    for now_s in (1767225600.0, 1767225600.25):  # 2026-01-01T00:00:00 in UTC, by date -d
        monkeypatch.setattr("time.time", lambda now_s=now_s: now_s)
        journal.write(job_id, ITEMS[:2])
    monkeypatch.undo()
    journal.commit()
    stamps = [entry.written_utc for entry in journal.events(job_id)]
    first, later = "2026-01-01T00:00:00.000+00:00", "2026-01-01T00:00:00.250+00:00"
    assert stamps == [first, first, later, later]
    assert stored(journal, job_id) == [*ITEMS[:2], *ITEMS[:2]]


def test_closing_keeps_what_was_gathered(path):
    with Journal.open(path) as journal:
        job_id = begin(journal)
        journal.write(job_id, ITEMS)
    journal = Journal.open(path)
    assert stored(journal, job_id) == list(ITEMS)
    journal.close()
    journal.close()


def test_an_error_in_the_program_does_not_lose_what_was_gathered(path):
    with pytest.raises(ZeroDivisionError), Journal.open(path) as journal:
        job_id = begin(journal)
        journal.write(job_id, ITEMS)
        raise ZeroDivisionError
    with Journal.open(path) as journal:
        assert stored(journal, job_id) == list(ITEMS)


def test_jobs_keep_their_entries_apart(journal):
    first, second = begin(journal), begin(journal)
    journal.write(first, [heard(1)])
    journal.write(second, [heard(2)])
    journal.write(first, [heard(3)])
    journal.commit()
    assert stored(journal, first) == [heard(1), heard(3)]
    assert stored(journal, second) == [heard(2)]


def test_a_long_stream_comes_back_in_order(journal, job_id):
    many = [heard(n) for n in range(2345)]
    for start in range(0, len(many), 100):
        keep(journal, job_id, *many[start : start + 100])
    assert stored(journal, job_id) == many


def test_a_gauge_added_again_is_brought_up_to_date(journal, job_id):
    better = replace(CALIPER, mpe_mm=0.01, mpe_source="certificate, invented")
    journal.add_gauge(job_id, replace(CALIPER, gauge_id="other"))
    journal.add_gauge(job_id, better)
    assert journal.load(job_id).gauges == (better, replace(CALIPER, gauge_id="other"))


def test_closing_a_job_stores_what_was_gathered_with_it(path, journal, job_id):
    journal.write(job_id, [GaugeDone(gauge_id=CALIPER.gauge_id)])
    journal.mark_closed(job_id)
    with Journal.open(path) as other:
        record = other.load(job_id)
    assert record.closed
    assert record.acts == (GaugeDone(gauge_id=CALIPER.gauge_id),)


def test_the_latest_open_job_is_the_newest_that_is_not_closed(journal):
    assert journal.latest_open() is None
    first, second, third = begin(journal), begin(journal), begin(journal)
    assert journal.latest_open() == third
    journal.mark_closed(third)
    assert journal.latest_open() == second
    journal.mark_closed(first)
    journal.mark_closed(second)
    assert journal.latest_open() is None


def test_jobs_are_listed_newest_first_and_found_by_title_or_date(journal):
    titles = ["100% lever", "Élan, ladies'", "lever again"]
    ids = [journal.create_job(titled(title)) for title in titles]
    assert [line.title for line in journal.jobs()] == titles[::-1]
    assert [line.job_id for line in journal.jobs(limit=2)] == ids[:0:-1]
    assert [line.job_id for line in journal.jobs(wanted=Wanted(text="LEVER"))] == [ids[2], ids[0]]
    assert [line.job_id for line in journal.jobs(1, Wanted(text="LEVER"))] == [ids[2]]
    assert [line.title for line in journal.jobs(wanted=Wanted(text="élan"))] == [titles[1]]
    assert [line.title for line in journal.jobs(wanted=Wanted(text="%"))] == [titles[0]]
    today = journal.load(ids[0]).created_utc[:10]
    assert len(journal.jobs(wanted=Wanted(text=today))) == 3
    assert journal.jobs(wanted=Wanted(text="no such title")) == ()


def test_a_list_counts_readings_taken_and_standing(journal, job_id):
    gauge_id = CALIPER.gauge_id
    keep(
        journal,
        job_id,
        taken(0, ZERO),
        taken(1),
        taken(2),
        undone(),  # of 2
        taken(3),
        Completed(gauge_id=gauge_id, measurand="bore", n_readings=2),
        Skipped(gauge_id=gauge_id, measurand="depth"),
        undone("depth"),  # of the skip
        taken(4, "depth"),
        taken(0, ZERO),
        undone("depth"),  # of 4: an undo passes over zero checks
    )
    journal.mark_closed(job_id)
    (line,) = journal.jobs()
    assert (line.n_taken, line.n_standing, line.closed) == (6, 4, True)


@pytest.mark.parametrize(
    "use",
    [
        lambda journal: journal.load(99),
        lambda journal: list(journal.events(99)),
        lambda journal: journal.mark_closed(99),
        lambda journal: journal.add_gauge(99, CALIPER),
        lambda journal: keep(journal, 99, heard(1)),
    ],
    ids=["load", "events", "mark_closed", "add_gauge", "write"],
)
def test_a_job_that_is_not_there(journal, job_id, use):
    with pytest.raises(JobNotFound, match="No job 99") as caught:
        use(journal)
    assert caught.value.path == str(journal.path)
    keep(journal, job_id, heard(1))  # the journal still works
    assert stored(journal, job_id) == [heard(1)]


def test_a_job_number_is_not_used_twice(journal, job_id):
    journal._connection.execute("DELETE FROM gauge")
    journal._connection.execute("DELETE FROM job")
    assert begin(journal) > job_id


def test_a_failed_commit_stores_nothing_of_it(journal, job_id):
    keep(journal, job_id, heard(1))
    journal.write(job_id, [heard(2)])
    journal.write(99, [heard(3)])
    with pytest.raises(JobNotFound):
        journal.commit()
    assert stored(journal, job_id) == [heard(1)]
    keep(journal, job_id, heard(2))
    assert stored(journal, job_id) == [heard(1), heard(2)]


def test_the_second_of_two_writers_of_one_job_is_refused(path, journal, job_id):
    keep(journal, job_id, taken(1))
    with Journal.open(path) as other:
        assert other.load(job_id).acts == (taken(1),)
        keep(other, job_id, taken(2))
        with pytest.raises(JournalBusy, match=f"writing job {job_id}.*is safe"):
            keep(journal, job_id, taken(3))
        keep(other, job_id, taken(4))
    assert journal.load(job_id).acts == (taken(1), taken(2), taken(4))
    keep(journal, job_id, taken(5))  # allowed, now that it was opened again
    assert journal.load(job_id).acts[-1] == taken(5)


def test_two_programs_write_two_jobs_side_by_side(path, journal):
    with Journal.open(path) as other:
        ours, theirs = begin(journal), begin(other)
        for n in range(5):
            journal.write(ours, [heard(n)])
            keep(other, theirs, heard(10 + n))  # not held up by what is only gathered
            journal.commit()
        assert stored(other, ours) == [heard(n) for n in range(5)]
        assert stored(journal, theirs) == [heard(10 + n) for n in range(5)]


def test_a_row_from_elsewhere_is_named(journal, job_id):
    keep(journal, job_id, heard(1), taken(1))
    journal._connection.execute("UPDATE entry SET kind = 'hummed' WHERE number = 2")
    for use in (journal.load, lambda job_id: list(journal.events(job_id))):
        with pytest.raises(JournalDamaged, match=f"entry 2 of job {job_id}.*'hummed'") as caught:
            use(job_id)
        assert str(journal.path) in str(caught.value)
        assert caught.value.hint


@pytest.mark.parametrize("column", ["setup", "title"])
def test_a_text_that_is_not_text_is_damage(journal, job_id, column):
    journal._connection.execute(f"UPDATE job SET {column} = CAST(x'80ff' AS TEXT)")
    with pytest.raises(JournalDamaged):
        journal.load(job_id)
        journal.jobs()


def test_a_title_and_a_gauge_in_bytes_that_the_terminal_could_not_decode(journal):
    odd = b"Caf\xe9".decode("utf-8", "surrogateescape")
    job_id = journal.create_job(titled(odd))
    journal.add_gauge(job_id, replace(CALIPER, gauge_id=odd))
    record = journal.load(job_id)
    assert record.setup.title == odd
    assert record.gauges[0].gauge_id == odd
    assert journal.jobs()[0].title == "Caf\\udce9"


def test_a_keeper_writes_to_its_job(journal, job_id):
    begin(journal)
    keeper = JobKeeper(journal=journal, job_id=job_id)
    keeper.write(ITEMS)
    keeper.commit()
    assert stored(journal, job_id) == list(ITEMS)


def test_the_journal_lies_in_the_users_folder(monkeypatch, tmp_path):
    monkeypatch.delenv("GAUGELINK_HOME", raising=False)
    assert default_path().name == "journal.sqlite"
    assert "gaugelink" in default_path().parent.name
    monkeypatch.setenv("GAUGELINK_HOME", str(tmp_path / "bench"))
    with Journal.open() as journal:
        assert journal.path == tmp_path / "bench" / "journal.sqlite"
    assert journal.path.exists()


def test_a_folder_that_is_a_file(tmp_path):
    (tmp_path / "file").write_text("not a folder")
    with pytest.raises(JournalError, match="nothing was kept") as caught:
        Journal.open(tmp_path / "file" / "journal.sqlite")
    assert caught.value.hint


def test_importing_the_jobbook_loads_no_third_party_package():
    rooms = [f"gaugelink.jobbook.{room.name}" for room in pkgutil.iter_modules(jobbook.__path__)]
    code = f"import sys, {', '.join(rooms)}; print(*sorted(sys.modules))"
    names = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    ).stdout.split()
    assert "gaugelink.jobbook.journal" in rooms
    assert set(rooms) <= set(names)
    assert not {"platformdirs", "numpy", "serial", "hid", "pint", "rich", "typer"} & set(names)
