"""Values of any annotation, for round trips."""

from __future__ import annotations

import dataclasses
import typing

from hypothesis import strategies as st


def _is_text(text: str) -> bool:
    """No two surrogates that are one character together: those nobody can have typed."""
    utf16 = text.encode("utf-16", "surrogatepass")
    return utf16.decode("utf-16", "surrogatepass") == text


LEAVES = {
    str: st.text(st.characters(exclude_categories=())).filter(_is_text),  # lone surrogates too
    float: st.floats(allow_nan=False),
}


def any_value(kind: typing.Any) -> st.SearchStrategy[typing.Any]:
    """Values of an annotation; of a dataclass, every field is varied, defaults included."""
    if kind in LEAVES:
        return LEAVES[kind]
    if dataclasses.is_dataclass(kind) and isinstance(kind, type):
        hints = typing.get_type_hints(kind)
        fields = {f.name: any_value(hints[f.name]) for f in dataclasses.fields(kind)}
        return st.builds(kind, **fields)
    arguments = typing.get_args(kind)
    if typing.get_origin(kind) is tuple:
        return st.lists(any_value(arguments[0]), max_size=3).map(tuple)
    if typing.get_origin(kind) is frozenset:
        return st.frozensets(any_value(arguments[0]))
    if arguments:
        return st.one_of(*map(any_value, arguments))
    return st.from_type(kind)
