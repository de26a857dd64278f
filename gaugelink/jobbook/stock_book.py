"""The springs on hand, and each one that was taken out, in the journal's file.

What is on hand changes only inside a transaction that looks at it, so that two programs
can never take the same spring. Item and count have columns of their own; all else of a
spring is JSON.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Mapping
from dataclasses import replace
from typing import Any, final

from gaugelink.errors import InputError
from gaugelink.jobbook.book import Book, job_not_found, now_utc, translated
from gaugelink.jobbook.codec import Form, declared, decode, encode, refusing, text, wire_name
from gaugelink.stock.change import (
    ChangedSpring,
    StockChange,
    compare,
    first_names,
    recounted,
    with_delivery,
)
from gaugelink.stock.reading import MOST_ON_HAND
from gaugelink.stock.stock_spring import StockSpring, item_key, nearest

_MOVE = (
    "UPDATE stock_spring SET on_hand = on_hand + :more, changed_utc = :now"
    " WHERE item = :item AND on_hand + :more BETWEEN 0 AND :most"
)
_ALL = "SELECT item, on_hand, detail FROM stock_spring"
_ONE = f"{_ALL} WHERE item = ?"
_MOST_SUGGESTED = 3


def _whole(value: Any) -> int:
    if type(value) is not int or value < 0:
        raise ValueError(f"{value!r} is not a count")
    return value


def _length(value: Any) -> float:
    if type(value) not in (int, float) or not 0 < value < math.inf:
        raise ValueError(f"{value!r} is not a length")
    return float(value)


declared(
    Form(allow_nan=False, is_whole=True, readers={int: _whole, float: _length}),
    {"spring of the stock": StockSpring},
    apart=("item", "on_hand"),
)


@final
class StockBook(Book):
    """The stock; a context manager.

    What a method has done when it returns is on the disk; when it raises, nothing was done.
    """

    def springs(self) -> tuple[StockSpring, ...]:
        """Return every spring, in the order of the list that it came from."""
        with translated(self._path):
            return self._read()

    def replace(
        self, springs: Iterable[StockSpring], *, may_drop: Collection[str] | None = None
    ) -> StockChange:
        """Let a list take the place of the stock; return what that changed.

        Where the list says the same count as when it was read last, what was taken out or brought
        back since stays so.

        Args:
            springs: the list.
            may_drop: items of the stock that the list may lack; None for any.

        Raises:
            InputError: the list lacks an item that may not be dropped.
        """
        listed = tuple(springs)
        with self._writing():
            stock, said = self._read(), self._said()
            now = recounted(listed, stock, said)
            change = self._rewrite(stock, now, {s.item: s.on_hand for s in listed})
            _refuse_lost(
                [s for s in change.gone if may_drop is not None and s.item not in may_drop]
            )
        pairs = zip(listed, now, strict=True)
        return replace(
            change, kept=tuple(ChangedSpring(before=a, now=b) for a, b in pairs if a != b)
        )

    def add(self, springs: Iterable[StockSpring]) -> StockChange:
        """Add a delivery to the stock; return what that changed.

        Raises:
            InputError: a known item comes in another size, end or material.
        """
        delivery = tuple(springs)
        with self._writing():
            stock, said = self._read(), self._said()
            now = with_delivery(stock, delivery)
            return self._rewrite(stock, now, {s.item: s.on_hand for s in now} | said)

    def use(self, item: str, *, count: int = 1, job_id: int | None = None) -> StockSpring:
        """Take some of an item out; return it as it is left.

        Args:
            item: as the list has it; capitals and spaces do not matter.
            count: how many, at least 1.
            job_id: the job that it is for.

        Raises:
            InputError: there is no such item, or there are fewer on hand.
            JobNotFound: there is no such job.
        """
        return self._move(item, -_checked(count), job_id)

    def give_back(self, item: str, *, count: int = 1, job_id: int | None = None) -> StockSpring:
        """Put some of an item back; otherwise as ``use``."""
        return self._move(item, _checked(count), job_id)

    def _said(self) -> dict[str, int | None]:
        """Return what the list said of each item when it was read last."""
        rows = self._connection.execute("SELECT item, listed FROM stock_spring")
        with refusing(wire_name(StockSpring)):
            return {text(item): None if n is None else _whole(n) for item, n in rows}

    def _rewrite(
        self,
        before: tuple[StockSpring, ...],
        now: tuple[StockSpring, ...],
        said: Mapping[str, int | None],
    ) -> StockChange:
        _refuse_too_many(now)
        change = compare(before, now)
        self._write(now, said, kept={spring.item for spring in change.same})
        return change

    def _write(
        self, springs: Iterable[StockSpring], said: Mapping[str, int | None], kept: set[str]
    ) -> None:
        """Write every row anew; a spring that is the same keeps the time of its last change."""
        changed = dict(self._connection.execute("SELECT item, changed_utc FROM stock_spring"))
        now = now_utc()
        self._connection.execute("DELETE FROM stock_spring")
        self._connection.executemany(
            "INSERT INTO stock_spring VALUES (?, ?, ?, ?, ?, ?)",
            (
                (
                    spring.item,
                    position,
                    spring.on_hand,
                    changed[spring.item] if spring.item in kept else now,
                    encode(spring),
                    said[spring.item],
                )
                for position, spring in enumerate(springs)
            ),
        )

    def _move(self, item: str, more: int, job_id: int | None) -> StockSpring:
        with self._writing():
            spring = self._find(item)
            self._refuse_unknown_job(job_id)
            values = {"item": spring.item, "more": more, "now": now_utc(), "most": MOST_ON_HAND}
            if self._connection.execute(_MOVE, values).rowcount == 0:
                raise self._too_few(spring, -more) if more < 0 else _too_many(spring.item)
            self._connection.execute(
                "INSERT INTO stock_use (item, job_id, used_utc, count) VALUES (?, ?, ?, ?)",
                (spring.item, job_id, values["now"], -more),
            )
            return self._find(spring.item)

    def _find(self, item: str) -> StockSpring:
        row = self._connection.execute(_ONE, (_sayable(item),)).fetchone()
        if row is None:
            items = [name for (name,) in self._connection.execute("SELECT item FROM stock_spring")]
            key = item_key(item)
            same = next((name for name in items if item_key(name) == key), None)
            if same is None:
                raise _unknown(item, items)
            row = self._connection.execute(_ONE, (same,)).fetchone()
        return _spring(*row)

    def _read(self) -> tuple[StockSpring, ...]:
        rows = self._connection.execute(f"{_ALL} ORDER BY position")
        return tuple(_spring(*row) for row in rows)

    def _too_few(self, spring: StockSpring, wanted: int) -> InputError:
        near = [f"{s.item} ({s.size})" for s in nearest(spring, self._read())]
        left = f"only {spring.on_hand}" if spring.on_hand else "none"
        return InputError(
            f"Cannot take {wanted} of {spring.item!r}: {left} on hand.",
            hint=f"On hand nearest in size: {', '.join(near) or 'none'}.",
        )

    def _refuse_unknown_job(self, job_id: int | None) -> None:
        query = "SELECT 1 FROM job WHERE job_id = ?"
        if job_id is not None and not self._connection.execute(query, (job_id,)).fetchone():
            raise job_not_found(self._path, job_id)


def _spring(item: Any, on_hand: Any, detail: Any) -> StockSpring:
    with refusing(wire_name(StockSpring)):
        columns = {"item": text(item), "on_hand": _whole(on_hand)}
    return decode(StockSpring, detail, **columns)


def _too_many(item: str) -> InputError:
    return InputError(
        f"There would be more than {MOST_ON_HAND:,} of {item!r} on hand.",
        hint="Check the count.",
    )


def _checked(count: int) -> int:
    if not 1 <= count <= MOST_ON_HAND:
        raise InputError(f"{count} is not a number of springs.", hint="Give a count of 1 or more.")
    return count


def _refuse_too_many(springs: Iterable[StockSpring]) -> None:
    for spring in springs:
        if spring.on_hand > MOST_ON_HAND:
            raise _too_many(spring.item)


def _refuse_lost(lost: Collection[StockSpring]) -> None:
    if lost:
        raise InputError(
            f"The list lacks {len(lost)} of the stock, {first_names([*lost])}; nothing was taken.",
            hint="Drop them with --drop, or add the list to the stock with --add.",
        )


def _sayable(item: str) -> str:
    """Take out what UTF-8 cannot hold; no item has such letters."""
    return item.encode("utf-8", "replace").decode("utf-8")


def _unknown(item: str, items: Iterable[str]) -> InputError:
    key = item_key(item)
    near = [name for name in items if key and key in item_key(name)][:_MOST_SUGGESTED]
    return InputError(
        f"The stock has no item {item!r}.",
        hint=f"Is it {' or '.join(near)}?" if near else "'gaugelink stock' lists the items.",
    )
