"""The kinds of work that the crash campaign kills, and what must be left of each."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from contextlib import closing
from itertools import count
from pathlib import Path

from book_samples import KEPT, content, fill, is_sound, old_journal
from jobbook_samples import CALIPER, begin, heard, taken

from gaugelink.capture.acts import Superseded
from gaugelink.jobbook.copies import back_up, restore
from gaugelink.jobbook.export import Exporter, Importer, _with_identity, read_job_file
from gaugelink.jobbook.facts import FactBook, Remark
from gaugelink.jobbook.journal import Journal

Say = Callable[[str], object]
MOST_ROUNDS = 50


class Bench:
    """A folder with a journal, and one kind of work on it that is killed again and again."""

    def __init__(self, folder: Path) -> None:
        self.path = folder / "journal.sqlite"
        self.other = folder / "other.sqlite"
        self.file = folder / "jobs.json"

    def prepare(self) -> None:
        """Make what the work starts from; called before each trial."""

    def work(self, say: Say) -> None:
        """Work, and say what is done as soon as it is; runs in a process of its own."""
        raise NotImplementedError

    def check(self, said: list[str]) -> None:
        """Look at what is left after a kill, knowing what was said."""
        with Journal.open(self.path) as journal:
            for number in journal.numbers():
                journal.load(number)
        assert is_sound(self.path)


class Capture(Bench):
    """Readings, and facts, are written and acknowledged."""

    def prepare(self) -> None:
        if not self.path.exists():
            with Journal.open(self.path) as journal:
                begin(journal)

    def work(self, say: Say) -> None:
        with Journal.open(self.path) as journal, FactBook(self.path) as book:
            first = sum(1 for _ in journal.events(1)) + 1
            say("begun")
            for number in count(first):
                journal.write(1, [heard(number), taken(number)])
                journal.commit()
                say(f"{number / 100:.2f}")
                if number % 3 == 0:
                    book.add(1, Remark(text=str(number)))
                    say(f"note {number}")

    def check(self, said: list[str]) -> None:
        super().check(said)
        with Journal.open(self.path) as journal, FactBook(self.path) as book:
            kept = {a.reading.displayed for a in journal.load(1).acts if hasattr(a, "reading")}
            notes = {f"note {s.fact.text}" for s in book.facts(1) if isinstance(s.fact, Remark)}
        assert set(said) <= kept | notes


class Import(Bench):
    """A file of jobs is taken into a book that has one already."""

    def prepare(self) -> None:
        if not self.file.exists():
            fill(self.other, n_jobs=40)
            with Exporter(self.other) as exporter:
                exporter.write(self.file)
        for each in self.path.parent.glob("journal.sqlite*"):
            each.unlink()
        fill(self.path, n_jobs=1)

    def work(self, say: Say) -> None:
        file = read_job_file(self.file)
        with Importer(self.path) as importer:
            say("begun")
            importer.take(file)
            say("imported")

    def check(self, said: list[str]) -> None:
        super().check(said)
        with Journal.open(self.path) as journal:
            n_jobs = len(journal.numbers())
        assert n_jobs == 41 or ("imported" not in said and 1 <= n_jobs < 41)
        with closing(sqlite3.connect(self.path)) as connection:
            for job in read_job_file(self.file).jobs:  # each of them whole, or not at all
                rows = _with_identity(connection, job.identity)
                assert rows is None or (rows.entries, rows.facts) == (job.entries, job.facts)


class Migrate(Bench):
    """A journal of schema 1 is brought up to date."""

    def prepare(self) -> None:
        for each in self.path.parent.glob("journal.sqlite*"):
            each.unlink()
        old_journal(self.path, 1)
        self.before = content(self.path, "entry", "gauge")

    def work(self, say: Say) -> None:
        say("begun")
        Journal.open(self.path).close()
        say("opened")

    def check(self, said: list[str]) -> None:
        super().check(said)
        assert content(self.path, "entry", "gauge") == self.before


class BackUp(Bench):
    """A backup is renewed over and over, while the journal grows."""

    def prepare(self) -> None:
        if not self.path.exists():
            fill(self.path)

    def work(self, say: Say) -> None:
        with Journal.open(self.path) as journal:
            say("begun")
            for number in range(MOST_ROUNDS):
                journal.write(1, [taken(number)])
                journal.commit()
                done = back_up(self.path, self.other)
                say(f"backup {done.n_entries}")

    def check(self, said: list[str]) -> None:
        super().check(said)
        told = [int(each.split()[1]) for each in said if each.startswith("backup")]
        if not self.other.exists():
            assert not told
            return
        assert is_sound(self.other)
        assert len(content(self.other, "entry")["entry"]) >= max(told, default=0)
        for part in self.path.parent.glob("*.part*"):
            part.unlink(missing_ok=True)  # what a kill may leave behind, beside the backup


class Restore(Bench):
    """Two backups are put in the journal's place by turns."""

    def prepare(self) -> None:
        if not self.other.exists():
            for number, name in ((3, "a"), (5, "b")):
                back_up(
                    fill(self.path.with_name(f"from-{name}.sqlite"), n_jobs=number),
                    self.other.with_name(f"backup-{name}.sqlite"),
                )
            self.other.touch()
        if not self.path.exists():
            restore(self.path.with_name("backup-a.sqlite"), self.path)

    def work(self, say: Say) -> None:
        say("begun")
        for _ in range(MOST_ROUNDS):
            for name in "ba":
                done = restore(self.path.with_name(f"backup-{name}.sqlite"), self.path)
                say(f"restored {name} {done.aside}")

    def check(self, said: list[str]) -> None:
        super().check(said)
        backups = [self.path.with_name(f"backup-{name}.sqlite") for name in "ab"]
        assert content(self.path, *KEPT) in [content(each, *KEPT) for each in backups]
        for each in said:
            aside = Path(each.split()[2]) if each.startswith("restored") else None
            if aside is not None:
                assert is_sound(aside)
        for left in (*self.path.parent.glob("*.before-*"), *self.path.parent.glob("*.part*")):
            left.unlink(missing_ok=True)


class Redo(Bench):
    """A closed job is opened to measure one size anew and closed again, over and over."""

    def prepare(self) -> None:
        if not self.path.exists():
            fill(self.path, n_jobs=1)

    def work(self, say: Say) -> None:
        with Journal.open(self.path) as journal:
            journal.load(1)
            say("begun")
            for number in range(MOST_ROUNDS):
                journal.write(1, [Superseded(gauge_id=CALIPER.gauge_id, measurand="bore")])
                journal.mark_open(1)
                say("open")
                journal.write(1, [taken(number)])
                journal.mark_closed(1)
                say("closed")

    def check(self, said: list[str]) -> None:
        super().check(said)
        with Journal.open(self.path) as journal:
            record = journal.load(1)
            (line,) = journal.jobs()
        assert record.closed is not isinstance(record.acts[-1], Superseded)
        assert line.n_standing == (1 if record.closed else 0)
        n_open = sum(isinstance(act, Superseded) for act in record.acts)
        assert n_open >= said.count("open")


KINDS: tuple[type[Bench], ...] = (Capture, Redo, Import, Migrate, BackUp, Restore)
