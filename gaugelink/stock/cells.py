"""What one cell of a list says, by the column that it stands in."""

from __future__ import annotations

import functools
import math
import re
import unicodedata
from collections.abc import Callable, Mapping

from gaugelink.errors import InputError
from gaugelink.mechanics.materials import OPEN, WHITE, shipped_ends, shipped_materials
from gaugelink.stock.columns import Column
from gaugelink.stock.limits import MOST_ON_HAND, fault_of_size, meant_by
from gaugelink.stock.units import MILLIMETRE, cell_mm, is_plain, quoted

_MOST_LETTERS = {"item": 80, "note": 2000}
_MOST_DIGITS = 12
_WHOLE = re.compile(r"\+?(\d+)(?:[.,]0*)?")
_SIGNS = re.compile(r"^(?:±|\+-|\+/-)\s*")


def read_cell(text: str, column: Column) -> str | int | float:
    """Return the value of a cell that is not blank.

    Args:
        text: the cell without the blanks around it.
        column: where it stands.

    Raises:
        InputError: it cannot be used; the message is a sentence without the column's name.
    """
    return _READERS[column.name](text, column)


def _text(text: str, column: Column) -> str:
    most = _MOST_LETTERS[column.name]
    if len(text) > most:
        raise InputError(
            f"{len(text)} letters are more than the {most} that there is room for.",
            hint="Shorten it; a quotation mark that is not closed also does this.",
        )
    if text.isprintable():
        return text
    if any(unicodedata.category(letter) in ("Cc", "Cs") for letter in _without_breaks(text)):
        raise InputError("There is a control character in it.", hint="Type it anew.")
    if column.name == "item" and _without_breaks(text) != text:
        raise InputError("An item name has one line only.", hint="Move the rest to the note.")
    return text


def _without_breaks(text: str) -> str:
    return text.replace("\r\n", "").replace("\n", "").replace("\t", "")


def _size(text: str, column: Column) -> float:
    size_mm = cell_mm(text, column.unit)
    if fault := fault_of_size(column.name, size_mm):
        number = cell_mm(text, MILLIMETRE) if is_plain(text) else math.nan
        hint = meant_by(column.name, text, number) or "Check the number and its unit."
        raise InputError(f"{fault}.", hint=hint)
    return size_mm


def _tolerance(text: str, column: Column) -> float:
    tolerance_mm = cell_mm(_SIGNS.sub("", text), column.unit)
    if not tolerance_mm > 0:
        raise InputError(
            f"{text!r} is no tolerance above zero.",
            hint="Leave it empty where it is not known; the usual one is taken then.",
        )
    return tolerance_mm


def _count(text: str, column: Column) -> int:
    match = _WHOLE.fullmatch(text)
    if match is None or len(match[1]) > _MOST_DIGITS or int(match[1]) > MOST_ON_HAND:
        raise InputError(
            f"{quoted(text)} is no whole number from 0 to {MOST_ON_HAND:,}.", hint="Type it like 3."
        )
    return int(match[1])


def _end(text: str, column: Column) -> str:
    return _known(text, "outer end", _ends())


def _material(text: str, column: Column) -> str:
    return _known(text, "material", _materials())


@functools.cache
def _ends() -> Mapping[str, str]:
    return {_spelt(end.name): end.name for end in shipped_ends()}


@functools.cache
def _materials() -> Mapping[str, str]:
    names = [*(material.name for material in shipped_materials()), WHITE, OPEN]
    return {_spelt(name): name for name in names}


def _known(text: str, what: str, names: Mapping[str, str]) -> str:
    name = names.get(text) or names.get(_spelt(text))
    if name is None:
        raise InputError(
            f"No {what} is called {quoted(text)}.", hint=f"Known are {', '.join(names.values())}."
        )
    return name


def _spelt(name: str) -> str:
    return re.sub(r"[\s_-]+", "-", name.strip()).casefold()


_READERS: Mapping[str, Callable[[str, Column], str | int | float]] = {
    "item": _text,
    "height": _size,
    "thickness": _size,
    "length": _size,
    "height tolerance": _tolerance,
    "thickness tolerance": _tolerance,
    "length tolerance": _tolerance,
    "end": _end,
    "material": _material,
    "on hand": _count,
    "reorder at": _count,
    "note": _text,
}
