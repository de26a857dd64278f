"""The stock is kept as it was read, and nothing is ever taken twice."""

from __future__ import annotations

import sqlite3
import threading
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest
from jobbook_samples import begin, stock_uses

from gaugelink.errors import (
    InputError,
    JobNotFound,
    JournalBusy,
    JournalDamaged,
    JournalError,
    JournalNotWritable,
)
from gaugelink.jobbook.journal import Journal
from gaugelink.jobbook.stock_book import StockBook
from gaugelink.stock.change import ChangedSpring, StockChange
from gaugelink.stock.reading import MOST_ON_HAND
from gaugelink.stock.stock_spring import StockSpring

FULL = StockSpring(
    item="A 1",
    height_mm=1.2,
    thickness_mm=0.1 + 0.02,  # not 0.12 to the last bit
    length_mm=360.0,
    height_tolerance_mm=0.02,
    thickness_tolerance_mm=0.002,
    length_tolerance_mm=5.0,
    end="slipping-bridle",
    material="carbon-steel",
    on_hand=3,
    reorder_at=1,
    note="Größe\nund mehr",
)
PLAIN = StockSpring(item="B2", height_mm=1.25, thickness_mm=0.12, length_mm=380.0)


@pytest.fixture(name="path")
def path_of_journal(tmp_path: Path) -> Path:
    return tmp_path / "journal.sqlite"


@pytest.fixture(name="book")
def book_with_two(path: Path):
    with StockBook(path) as book:
        book.replace([FULL, PLAIN])
        yield book


def changed_utc(path: Path) -> dict[str, str]:
    with closing(sqlite3.connect(path)) as connection:
        return dict(connection.execute("SELECT item, changed_utc FROM stock_spring"))


def test_every_field_comes_back_in_the_order_of_the_list(book: StockBook, path: Path) -> None:
    with StockBook(path) as again:
        assert again.springs() == (FULL, PLAIN)


def test_a_list_takes_the_place_of_the_stock(book: StockBook, path: Path) -> None:
    before = changed_utc(path)
    more, new = replace(FULL, on_hand=4), replace(PLAIN, item="C3")
    assert book.replace([new, more]) == StockChange(
        new=(new,), changed=(ChangedSpring(before=FULL, now=more),), gone=(PLAIN,)
    )
    assert book.springs() == (new, more)
    assert changed_utc(path)["A 1"] > before["A 1"]


def test_what_stays_the_same_keeps_its_time(book: StockBook, path: Path) -> None:
    before = changed_utc(path)
    assert book.replace([PLAIN, FULL]) == StockChange(same=(PLAIN, FULL))
    assert changed_utc(path) == before
    assert book.springs() == (PLAIN, FULL)


def test_a_count_that_the_list_says_as_before_leaves_what_use_made_of_it(book: StockBook) -> None:
    book.use("A 1", count=2)
    left = replace(FULL, on_hand=1)
    spelt = replace(FULL, item="a 1")
    change = book.replace([spelt, PLAIN])
    assert change.kept == (ChangedSpring(before=spelt, now=replace(spelt, on_hand=1)),)
    assert book.springs() == (replace(left, item="a 1"), PLAIN)
    more = replace(FULL, on_hand=5)
    assert book.replace([more, PLAIN]).kept == ()
    assert book.springs() == (more, PLAIN)


def test_a_delivery_stays_until_the_list_says_another_count(book: StockBook) -> None:
    new = replace(PLAIN, item="C3", on_hand=4)
    book.add([replace(FULL, on_hand=2), new])
    book.use("C3")
    book.replace([FULL, PLAIN, new])
    assert [spring.on_hand for spring in book.springs()] == [5, 1, 3]
    book.replace([replace(FULL, on_hand=4), PLAIN, new])
    assert [spring.on_hand for spring in book.springs()] == [4, 1, 3]


def test_where_it_is_not_known_what_the_list_said_its_count_is_taken(
    book: StockBook, path: Path
) -> None:
    book.use("A 1")
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("UPDATE stock_spring SET listed = NULL")
        connection.commit()
    book.replace([FULL, PLAIN])
    assert book.springs() == (FULL, PLAIN)


def test_a_list_drops_only_what_it_may(book: StockBook) -> None:
    with pytest.raises(InputError, match=r"lacks 1 of the stock, B2; nothing was taken"):
        book.replace([FULL], may_drop={"A 1"})
    assert book.springs() == (FULL, PLAIN)
    assert book.replace([FULL], may_drop={"B2"}).gone == (PLAIN,)


def test_a_delivery_is_added(book: StockBook) -> None:
    change = book.add([replace(FULL, on_hand=2)])
    assert change.changed[0].now.on_hand == 5
    assert change.same == (PLAIN,)
    with pytest.raises(InputError, match=r"height 1\.2 mm"):
        book.add([replace(PLAIN, item="C3"), replace(FULL, height_mm=1.25)])
    assert book.springs() == (replace(FULL, on_hand=5), PLAIN)  # all of it or nothing


@pytest.mark.parametrize("name", ["A 1", "a 1", " a  1 "])
def test_one_is_taken_out_and_the_use_is_kept(name: str, book: StockBook, path: Path) -> None:
    with Journal.open(path) as journal:
        job_id = begin(journal)
    assert book.use(name, count=2, job_id=job_id) == replace(FULL, on_hand=1)
    assert book.give_back(name, job_id=job_id) == replace(FULL, on_hand=2)
    assert stock_uses(path) == [("A 1", job_id, 2), ("A 1", job_id, -1)]
    assert book.springs() == (replace(FULL, on_hand=2), PLAIN)


def test_uses_outlive_the_spring(book: StockBook, path: Path) -> None:
    book.use("B2")
    book.replace([FULL])
    assert stock_uses(path) == [("B2", None, 1)]


def test_more_than_there_are_cannot_be_taken(book: StockBook, path: Path) -> None:
    with pytest.raises(InputError, match="Cannot take 4 of 'A 1': only 3 on hand") as caught:
        book.use("A 1", count=4)
    assert caught.value.hint == "On hand nearest in size: B2 (1.25 x 0.12 x 380)."
    book.use("A 1", count=3)
    with pytest.raises(InputError, match="Cannot take 1 of 'A 1': none on hand"):
        book.use("A 1")
    assert stock_uses(path) == [("A 1", None, 3)]


@pytest.mark.parametrize("count", [0, -1, MOST_ON_HAND + 1, 10**30])
def test_a_count_that_is_none_is_refused(count: int, book: StockBook, path: Path) -> None:
    for move in (book.use, book.give_back):
        with pytest.raises(InputError, match="not a number of springs"):
            move("A 1", count=count)
    assert stock_uses(path) == []


def test_no_stock_grows_beyond_reason(book: StockBook) -> None:
    with pytest.raises(InputError, match="more than 1,000,000"):
        book.give_back("A 1", count=MOST_ON_HAND)
    with pytest.raises(InputError, match="more than 1,000,000"):
        book.add([replace(PLAIN, on_hand=MOST_ON_HAND)])
    assert book.springs() == (FULL, PLAIN)


@pytest.mark.parametrize(
    ("name", "hint"), [("b", "Is it B2?"), ("Z", "lists the items"), ("x\udcff", "lists the items")]
)
def test_an_item_that_is_not_there_is_named(
    name: str, hint: str, book: StockBook, path: Path
) -> None:
    with pytest.raises(InputError, match="no item") as caught:
        book.use(name)
    assert hint in caught.value.hint
    assert stock_uses(path) == []


def test_a_job_that_is_not_there_takes_nothing(book: StockBook) -> None:
    with pytest.raises(JobNotFound):
        book.use("A 1", job_id=7)
    assert book.springs() == (FULL, PLAIN)


def test_what_is_done_is_on_the_disk_and_seen_by_others(book: StockBook, path: Path) -> None:
    with StockBook(path) as other:
        book.use("A 1")
        assert other.springs()[0].on_hand == 2
        assert book._connection.execute("PRAGMA synchronous").fetchone() == (2,)  # FULL


def test_two_who_take_the_last_ones_never_take_one_twice(path: Path) -> None:
    n_springs, n_takers = 60, 4
    with StockBook(path) as book:
        book.replace([replace(PLAIN, on_hand=n_springs)])
    left: list[int] = []

    def take_all() -> None:
        with StockBook(path) as book:
            while True:
                try:
                    left.append(book.use("B2").on_hand)
                except InputError:
                    return

    takers = [threading.Thread(target=take_all) for _ in range(n_takers)]
    for taker in takers:
        taker.start()
    for taker in takers:
        taker.join()
    assert sorted(left) == list(range(n_springs))
    assert sum(count for _, _, count in stock_uses(path)) == n_springs


@pytest.mark.parametrize(
    "change",
    [
        "detail = 'no json'",
        "detail = '{}'",
        "detail = '[]'",
        "detail = X'FF'",
        "detail = replace(detail, '1.2', '\"1.2\"')",
        "detail = replace(detail, '1.2', '-1.2')",
        "detail = replace(detail, '1.2', 'NaN')",
        "detail = replace(detail, '\"carbon-steel\"', '5')",
        "on_hand = 'some'",
    ],
)
def test_a_row_that_is_not_ours_is_damage(change: str, book: StockBook, path: Path) -> None:
    with closing(sqlite3.connect(path)) as meddler, meddler:
        meddler.execute("PRAGMA ignore_check_constraints = ON")
        meddler.execute(f"UPDATE stock_spring SET {change}")
    for look in (book.springs, lambda: book.use("A 1"), lambda: book.replace([PLAIN])):
        with pytest.raises(JournalDamaged) as caught:
            look()
        assert caught.value.path == str(path)
        assert caught.value.hint


def test_a_missing_table_is_damage(book: StockBook) -> None:
    book._connection.execute("DROP TABLE stock_spring")
    for look in (book.springs, lambda: book.use("A 1"), lambda: book.replace([PLAIN])):
        with pytest.raises(JournalDamaged, match="stock_spring"):
            look()


def test_a_lock_of_another_program_is_waited_for_and_then_named(path: Path) -> None:
    with StockBook(path) as book:
        book.replace([PLAIN])
    with (
        closing(sqlite3.connect(path, isolation_level=None)) as other,
        StockBook(path, busy_timeout_s=0.05) as book,
    ):
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(JournalBusy):
            book.use("B2")
        assert book.springs() == (PLAIN,)  # looking goes on
        other.execute("ROLLBACK")
        assert book.use("B2").on_hand == 0


def test_a_folder_that_cannot_be_made_is_said(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    with pytest.raises(JournalNotWritable):
        StockBook(tmp_path / "file" / "journal.sqlite")


def test_a_failure_halfway_leaves_the_stock_as_it_was(book: StockBook, path: Path) -> None:
    """The disk, played by a trigger, gives up after half of the rows are written."""
    book._connection.execute(
        "CREATE TEMP TRIGGER half BEFORE INSERT ON stock_spring WHEN NEW.position = 1"
        " BEGIN SELECT RAISE(ABORT, 'no more'); END"
    )
    with pytest.raises(JournalError):
        book.replace([replace(PLAIN, item="X"), replace(PLAIN, item="Y")])
    assert not book._connection.in_transaction
    with StockBook(path) as other:
        assert other.springs() == (FULL, PLAIN)
