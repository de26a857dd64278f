"""Two states of the stock compared, and a delivery added to what is there. Pure."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from gaugelink.errors import InputError
from gaugelink.stock.spring import StockSpring, item_key

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
    """What is different in the stock after a list was read."""

    new: tuple[StockSpring, ...] = ()
    changed: tuple[ChangedSpring, ...] = ()
    gone: tuple[StockSpring, ...] = ()
    same: tuple[StockSpring, ...] = ()


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


def with_delivery(
    stock: Iterable[StockSpring], delivery: Iterable[StockSpring]
) -> tuple[StockSpring, ...]:
    """Add a delivery: a known item gains what came, a new one stands at the end.

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
        f"{known.item!r} is in the stock with {what} {old}{unit}, and is to be added with "
        f"{new}{unit}; nothing was added.",
        hint="Give the other spring another item name, or read the whole list without --add.",
    )
