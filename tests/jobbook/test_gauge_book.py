"""The gauges that were read before are known again, whatever happens in between."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest
from jobbook_samples import begin

from gaugelink.errors import JournalBusy, JournalDamaged, JournalNotWritable
from gaugelink.jobbook import gauge_book, schema
from gaugelink.jobbook.gauge_book import GaugeBook, KnownGauge
from gaugelink.jobbook.journal import Journal
from gaugelink.model import GaugeKind, Sends
from gaugelink.units import LengthUnit

CALIPER = KnownGauge(
    gauge_id="usb-1234:5678-A1",
    address="serial:usb-1234:5678-A1",
    format="line-4800-7E2-plain",
    kind=GaugeKind.CALIPER,
    sends=Sends.STREAM,
    unit=LengthUnit.INCH,
    options={"mpe_mm": "0.01", "baud": "9600"},
)
PLAIN = KnownGauge(
    gauge_id="/dev/ttyS0",
    address="serial:/dev/ttyS0",
    format="line-9600-8N1-unit",
    kind=None,
    sends=Sends.BUTTON,
)


@pytest.fixture(name="path")
def path_of_journal(tmp_path: Path) -> Path:
    return tmp_path / "journal.sqlite"


@pytest.fixture(autouse=True)
def clock(monkeypatch: pytest.MonkeyPatch) -> None:
    """Each look at the clock is a minute after the one before."""
    minutes = iter(range(60))

    class Ticking(gauge_book.datetime):
        @classmethod
        def now(cls, tz: object = None) -> Ticking:
            return cls(2026, 1, 1, 12, next(minutes), tzinfo=gauge_book.UTC)

    monkeypatch.setattr(gauge_book, "datetime", Ticking)


def kept(gauge: KnownGauge, first: int, last: int) -> KnownGauge:
    stamp = "2026-01-01T12:{:02d}:00.000000+00:00"
    return replace(gauge, first_used_utc=stamp.format(first), last_used_utc=stamp.format(last))


@pytest.mark.parametrize("gauge", [CALIPER, PLAIN], ids=lambda g: g.format)
def test_every_field_comes_back(gauge: KnownGauge, path: Path) -> None:
    with GaugeBook(path) as book:
        book.remember(gauge)
    with GaugeBook(path) as book:
        assert book.gauges() == (kept(gauge, 0, 0),)


def test_the_last_used_gauge_is_the_first_and_its_first_use_stays(path: Path) -> None:
    changed = replace(CALIPER, format="line-two-channel", unit=None, options={})
    with GaugeBook(path) as book:
        for gauge in (CALIPER, PLAIN, changed):
            book.remember(gauge)
        assert book.gauges() == (kept(changed, 0, 2), kept(PLAIN, 1, 1))


def test_a_forgotten_gauge_is_gone_and_nothing_else(path: Path) -> None:
    with GaugeBook(path) as book:
        book.remember(CALIPER)
        book.remember(PLAIN)
        assert not book.forget("usb-1234:5678")
        assert book.forget(CALIPER.gauge_id)
        assert not book.forget(CALIPER.gauge_id)
        assert book.gauges() == (kept(PLAIN, 1, 1),)


def test_a_name_that_is_no_unicode_is_kept_and_found(path: Path) -> None:
    odd = replace(PLAIN, gauge_id="/dev/tty\udcff", address="serial:/dev/tty\udcff")
    with GaugeBook(path) as book:
        book.remember(odd)
        assert book.gauges() == (kept(odd, 0, 0),)
        assert book.forget(odd.gauge_id)
        assert book.gauges() == ()


def test_book_and_journal_share_one_file(path: Path) -> None:
    with Journal.open(path) as journal, GaugeBook(path) as book:
        job_id = begin(journal)
        book.remember(CALIPER)
        assert journal.load(job_id).job_id == job_id
        assert book.gauges() == (kept(CALIPER, 0, 0),)
    assert {file.name for file in path.parent.iterdir()} == {path.name}


def test_what_is_remembered_is_on_the_disk_before_the_file_is_closed(path: Path) -> None:
    with GaugeBook(path) as book, GaugeBook(path) as other:
        book.remember(CALIPER)
        assert other.gauges() == (kept(CALIPER, 0, 0),)
        assert book._connection.execute("PRAGMA synchronous").fetchone() == (2,)  # FULL


@pytest.mark.parametrize(
    "change",
    [
        "SET detail = 'no json'",
        "SET detail = '{}'",
        "SET detail = replace(detail, 'caliper', 'ruler')",
        "SET detail = replace(detail, 'stream', 'sometimes')",
        "SET detail = replace(detail, '\"in\"', '\"cm\"')",
        "SET detail = '[]'",
        "SET detail = X'FF'",
    ],
)
def test_a_row_that_is_not_ours_is_damage(change: str, path: Path) -> None:
    with GaugeBook(path) as book:
        book.remember(CALIPER)
        with closing(sqlite3.connect(path)) as meddler, meddler:
            meddler.execute(f"UPDATE known_gauge {change}")
        with pytest.raises(JournalDamaged) as caught:
            book.gauges()
    assert caught.value.path == str(path)
    assert caught.value.hint


def test_a_missing_table_is_damage(path: Path) -> None:
    with GaugeBook(path) as book:
        book._connection.execute("DROP TABLE known_gauge")
        for use in (book.gauges, lambda: book.remember(PLAIN), lambda: book.forget("x")):
            with pytest.raises(JournalDamaged, match="known_gauge"):
                use()


def test_a_file_of_another_program_is_refused(path: Path) -> None:
    path.write_bytes(b"This is no database, whatever its name. " * 40)
    with pytest.raises(JournalDamaged):
        GaugeBook(path)


def test_a_folder_that_cannot_be_made_is_named(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    with pytest.raises(JournalNotWritable) as caught:
        GaugeBook(tmp_path / "file" / "sub" / "j.sqlite")
    assert "j.sqlite" in caught.value.path


def test_a_read_only_file_is_left_alone(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    GaugeBook(path).close()
    monkeypatch.setattr(schema.os, "access", lambda file, mode: False)  # root may write anywhere
    with pytest.raises(JournalNotWritable, match="read-only"):
        GaugeBook(path)
    assert {file.name for file in path.parent.iterdir()} == {path.name}


@pytest.mark.parametrize("what", ["file", "folder"])
def test_what_is_read_only_can_be_read(
    what: str, path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with GaugeBook(path) as book:
        book.remember(CALIPER)
    closed = path if what == "file" else path.parent
    monkeypatch.setattr(schema.os, "access", lambda file, mode: file != closed)
    before = path.read_bytes()
    with GaugeBook(path, to_read=True) as book:
        assert [gauge.gauge_id for gauge in book.gauges()] == [CALIPER.gauge_id]
        assert {file.name for file in path.parent.iterdir()} == {path.name}
        with pytest.raises(JournalNotWritable, match="cannot be written to"):
            book.remember(CALIPER)
    assert path.read_bytes() == before


@pytest.mark.parametrize("mishap", ["log", "older"])
def test_a_read_only_file_that_is_not_whole_alone_is_not_read(
    mishap: str, path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    GaugeBook(path).close()
    if mishap == "log":
        Path(f"{path}-wal").touch()
    else:
        with closing(sqlite3.connect(path)) as connection:
            connection.execute(f"PRAGMA user_version = {schema.SCHEMA - 1}")
    monkeypatch.setattr(schema.os, "access", lambda file, mode: False)
    with pytest.raises(JournalNotWritable, match="read-only"):
        GaugeBook(path, to_read=True)


def test_a_locked_file_is_busy(path: Path) -> None:
    with GaugeBook(path) as book, closing(sqlite3.connect(path, isolation_level=None)) as other:
        book._connection.execute("PRAGMA busy_timeout = 10")
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(JournalBusy):
            book.remember(CALIPER)
        other.execute("ROLLBACK")
        book.remember(CALIPER)
        assert len(book.gauges()) == 1


def test_the_usual_place_is_that_of_the_journal(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("GAUGELINK_HOME", str(tmp_path / "home"))
    with GaugeBook() as book:
        book.remember(PLAIN)
    assert (tmp_path / "home" / "journal.sqlite").is_file()


@pytest.mark.parametrize("back_s", [0.0, 0.01])
def test_gauges_of_one_tick_stay_in_the_order_of_their_use(
    back_s: float, path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    ticks = iter([30.0, 30.0 - back_s, 30.0 - back_s])

    class Slow(gauge_book.datetime):
        @classmethod
        def now(cls, tz: object = None) -> Slow:
            return cls.fromtimestamp(next(ticks), tz=gauge_book.UTC)

    monkeypatch.setattr(gauge_book, "datetime", Slow)
    used = [replace(PLAIN, gauge_id=gauge_id) for gauge_id in ("c", "a", "b")]
    with GaugeBook(path) as book:
        for gauge in used:
            book.remember(gauge)
        assert [gauge.gauge_id for gauge in book.gauges()] == ["b", "a", "c"]
