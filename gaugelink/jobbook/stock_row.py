"""A spring of the stock as a table row and back again, exactly.

Item and count have columns of their own; all else is JSON, whose names stand in people's
files and so do not change.
"""

from __future__ import annotations

import json
import math
from dataclasses import fields
from typing import Any

from gaugelink.jobbook.codec import UnreadableRow
from gaugelink.stock.spring import StockSpring

_COLUMNS = frozenset({"item", "on_hand"})
_IN_DETAIL = tuple(f.name for f in fields(StockSpring) if f.name not in _COLUMNS)


def detail_of(spring: StockSpring) -> str:
    """Return the JSON of all that has no column of its own."""
    return json.dumps({name: getattr(spring, name) for name in _IN_DETAIL}, allow_nan=False)


def decode(item: Any, on_hand: Any, detail: Any) -> StockSpring:
    """Return the spring that a row holds.

    Raises:
        UnreadableRow: a value is missing or wrong.
    """
    try:
        values = json.loads(detail)
        return StockSpring(
            item=_text(item),
            on_hand=_whole(on_hand),
            reorder_at=_whole(values["reorder_at"]),
            note=_text(values["note"]),
            end=_text_or_none(values["end"]),
            material=_text_or_none(values["material"]),
            height_mm=_length(values["height_mm"]),
            thickness_mm=_length(values["thickness_mm"]),
            length_mm=_length(values["length_mm"]),
            height_tolerance_mm=_length_or_none(values["height_tolerance_mm"]),
            thickness_tolerance_mm=_length_or_none(values["thickness_tolerance_mm"]),
            length_tolerance_mm=_length_or_none(values["length_tolerance_mm"]),
        )
    except (KeyError, TypeError, ValueError) as exc:
        raise UnreadableRow(f"spring of the stock: {type(exc).__name__} {exc}") from exc


def _text(value: Any) -> str:
    if not isinstance(value, str):
        raise TypeError(f"{value!r} is no text")
    return value


def _text_or_none(value: Any) -> str | None:
    return None if value is None else _text(value)


def _whole(value: Any) -> int:
    if type(value) is not int or value < 0:
        raise ValueError(f"{value!r} is no count")
    return value


def _length(value: Any) -> float:
    if type(value) not in (int, float) or not 0 < value < math.inf:
        raise ValueError(f"{value!r} is no length")
    return float(value)


def _length_or_none(value: Any) -> float | None:
    return None if value is None else _length(value)
