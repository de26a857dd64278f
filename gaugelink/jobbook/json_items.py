"""Walking through a large JSON file an item at a time, so that it need not all be objects."""

from __future__ import annotations

import json
import re
from collections.abc import Generator, Iterator
from dataclasses import dataclass
from typing import Any

_decode = json.JSONDecoder().raw_decode
_BLANK = re.compile(r"[ \t\r\n]*")


@dataclass(frozen=True, slots=True, kw_only=True)
class Member:
    """A member of the outermost object; of a list, each item, after one numbered 0.

    ``number`` counts the items of a list from 1; it is None for what is no list.
    """

    name: str
    number: int | None
    value: Any


def members(text: str) -> Iterator[Member]:
    """Go through the members of the object that a text holds, in order.

    Raises:
        ValueError: the text is no JSON object.
        RecursionError: an item is nested too deeply.
    """
    at = _after(text, 0, "{")
    while True:
        name, at = _decode(text, _blank(text, at))
        if not isinstance(name, str):
            raise ValueError(f"a name is missing at {at}")
        at = _blank(text, _after(text, at, ":"))
        if text[at : at + 1] == "[":
            yield Member(name=name, number=0, value=None)
            at = yield from _items(text, at + 1, name)
        else:
            value, at = _decode(text, at)
            yield Member(name=name, number=None, value=value)
        at = _blank(text, at)
        if text[at : at + 1] == "}":
            break
        at = _after(text, at, ",")
    if _blank(text, at + 1) != len(text):
        raise ValueError(f"something follows at {at + 1}")


def _items(text: str, at: int, name: str) -> Generator[Member, None, int]:
    """Go through the items of a list; return where it ends."""
    at, number = _blank(text, at), 0
    if text[at : at + 1] == "]":
        return at + 1
    while True:
        number += 1
        value, at = _decode(text, _blank(text, at))
        yield Member(name=name, number=number, value=value)
        at = _blank(text, at)
        if text[at : at + 1] == "]":
            return at + 1
        at = _after(text, at, ",")


def _blank(text: str, at: int) -> int:
    found = _BLANK.match(text, at)
    assert found is not None  # it matches nothing as well
    return found.end()


def _after(text: str, at: int, mark: str) -> int:
    at = _blank(text, at)
    if text[at : at + 1] != mark:
        raise ValueError(f"{mark!r} is missing at {at}")
    return at + 1
