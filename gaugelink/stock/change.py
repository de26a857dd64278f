"""Two states of the stock compared, a delivery added, and a list written as CSV.

Reading a list that was written gives the same springs again.
"""

from __future__ import annotations

import csv
import io
import os
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from gaugelink.errors import InputError
from gaugelink.stock.columns import FIELDS
from gaugelink.stock.stock_spring import StockSpring, item_key
from gaugelink.stock.xlsx_file import csv_cell

_MOST_NAMED = 5
_SIZES = ("height_mm", "thickness_mm", "length_mm")
# What a list may be silent on; two that are not silent must agree.
_STATED = (
    "height_tolerance_mm",
    "thickness_tolerance_mm",
    "length_tolerance_mm",
    "end",
    "material",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangedSpring:
    """One item before and after."""

    before: StockSpring
    now: StockSpring


@dataclass(frozen=True, slots=True, kw_only=True)
class StockChange:
    """What is different in the stock after a list was read.

    ``kept`` are counts that the list says as it did before, and that stay what use made of them:
    first the spring as the list has it, then as it is.
    """

    new: tuple[StockSpring, ...] = ()
    changed: tuple[ChangedSpring, ...] = ()
    gone: tuple[StockSpring, ...] = ()
    same: tuple[StockSpring, ...] = ()
    kept: tuple[ChangedSpring, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class StockMove:
    """Springs of one item taken out or brought back.

    Args:
        spring: the item as it is now.
        count: how many were taken; below zero, brought back.
        job_id: the job that they were for.
        running_out: all of the stock that is running out now.
        alternatives: what is on hand nearest in size.
    """

    spring: StockSpring
    count: int
    job_id: int | None = None
    running_out: tuple[StockSpring, ...] = ()
    alternatives: tuple[StockSpring, ...] = ()


def compare(before: Iterable[StockSpring], now: Iterable[StockSpring]) -> StockChange:
    """Say what is new, changed, gone and the same; items are matched by ``item_key``."""
    left = {item_key(spring.item): spring for spring in before}
    new, changed, same = [], [], []
    for spring in now:
        old = left.pop(item_key(spring.item), None)
        if old is None:
            new.append(spring)
        elif old == spring:
            same.append(spring)
        else:
            changed.append(ChangedSpring(before=old, now=spring))
    return StockChange(
        new=tuple(new), changed=tuple(changed), gone=tuple(left.values()), same=tuple(same)
    )


def recounted(
    listed: Iterable[StockSpring], stock: Iterable[StockSpring], said: Mapping[str, int | None]
) -> tuple[StockSpring, ...]:
    """Give each spring of a list the count of the stock, unless the list says another than before.

    Args:
        listed: the springs of the list.
        stock: what is kept.
        said: what the list said when it was read last, by item as the stock has it.
    """
    known = {item_key(spring.item): spring for spring in stock}

    def counted(spring: StockSpring) -> StockSpring:
        old = known.get(item_key(spring.item))
        is_unchanged = old is not None and said.get(old.item) == spring.on_hand
        return replace(spring, on_hand=old.on_hand) if old and is_unchanged else spring

    return tuple(map(counted, listed))


def first_names(springs: Sequence[StockSpring]) -> str:
    """Name the first of some springs, and say how many more there are."""
    named = ", ".join(" ".join(spring.item.split()) for spring in springs[:_MOST_NAMED])
    rest = len(springs) - _MOST_NAMED
    return f"{named} and {rest} more" if rest > 0 else named


def with_delivery(
    stock: Iterable[StockSpring], delivery: Iterable[StockSpring]
) -> tuple[StockSpring, ...]:
    """Add a delivery: a known item gains what came, a new one is at the end.

    What the delivery is silent on (tolerances, end, material, note, when to order again)
    stays as it was.

    Raises:
        InputError: a known item comes in another size, end or material.
    """
    joined = {item_key(spring.item): spring for spring in stock}
    for spring in delivery:
        key = item_key(spring.item)
        joined[key] = _more_of(joined[key], spring) if key in joined else spring
    return tuple(joined.values())


def _more_of(known: StockSpring, came: StockSpring) -> StockSpring:
    stated: dict[str, float | str | None] = {}
    for name in _SIZES + _STATED:
        old, new = getattr(known, name), getattr(came, name)
        if None not in (old, new) and old != new:
            raise _another_spring(known, name, old, new)
        stated[name] = old if new is None else new
    return replace(
        known,
        **stated,  # type: ignore[arg-type]  # each name gets a value of its own type
        on_hand=known.on_hand + came.on_hand,
        reorder_at=came.reorder_at or known.reorder_at,
        note=came.note or known.note,
    )


def _another_spring(known: StockSpring, name: str, old: object, new: object) -> InputError:
    what = name.removesuffix("_mm").replace("_", " ")
    unit = " mm" if name.endswith("_mm") else ""
    return InputError(
        f"{known.item!r} is in the stock with {what} {old}{unit}, and the list adds it with "
        f"{new}{unit}; nothing was added.",
        hint="Give the other spring another item name, or read the whole list without --add.",
    )


_HEADINGS = [f"{name} (mm)" if FIELDS[name].endswith("_mm") else name for name in FIELDS]


def stock_csv(springs: Iterable[StockSpring]) -> str:
    """Write springs as CSV text, lengths in mm with every digit that they have."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(_HEADINGS)
    writer.writerows([_cell(getattr(s, field)) for field in FIELDS.values()] for s in springs)
    return out.getvalue()


def write_stock(path: Path, springs: Iterable[StockSpring]) -> None:
    """Write springs into a new CSV file; what is there already is never overwritten.

    Raises:
        InputError: the file exists, or cannot be written.
    """
    if path.suffix.casefold() in (".xlsx", ".xls", ".ods"):
        raise InputError(
            f"{path.name} would not be a spreadsheet: the export is CSV.",
            hint="Name it FILE.csv; every spreadsheet program opens it.",
        )
    text = stock_csv(springs)
    # Spreadsheets take text beyond ASCII for UTF-8 only with a byte order mark before it.
    encoding = "utf-8" if text.isascii() else "utf-8-sig"
    try:
        with path.open("x", encoding=encoding, newline="") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
    except (OSError, ValueError) as exc:
        raise InputError(
            f"The list cannot be written to {path} ({getattr(exc, 'strerror', None) or exc}).",
            hint="Name a new file in a folder that you may write to.",
        ) from exc


def _cell(value: str | float | int | None) -> str:
    return "" if value is None else csv_cell(value) if isinstance(value, str) else repr(value)
