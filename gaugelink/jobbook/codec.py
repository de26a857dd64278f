"""The one codec of the book: what is kept as JSON, and read again bit for bit.

What is in people's files has names of its own. The room that keeps a class declares its
wire name with ``declared``; a field is called as in Python unless the declaration says
otherwise. So a class or a field may be renamed, and the files stay as they are.

Which fields there are, and what each of them holds, is read off the class: texts, numbers,
enumerations, other declared classes, tuples and sets of these, and None where it may be.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields
from functools import partial
from types import NoneType
from typing import Any, TypeAlias, TypeVar, final, get_args, get_origin, get_type_hints

_Kept = TypeVar("_Kept")
_Class = TypeVar("_Class", bound=type)
Reader: TypeAlias = Callable[[Any], object]  # makes a field from its JSON value, or raises


class UnreadableRow(ValueError):
    """A row that this version did not write; the journal says which one it is."""


@final
class Form:
    """How the JSON of one kind of thing is written and read.

    Args:
        compact: no blank after a comma or colon.
        allow_nan: whether a number may be infinite, which is not JSON but is read again.
        omits_none: a field that is None is left out, and one that is null is refused.
        is_whole: every field must be there, even one that has a default.
        readers: what reads a type of field, where that is stricter than usual.
    """

    def __init__(
        self,
        *,
        compact: bool = False,
        allow_nan: bool = True,
        omits_none: bool = False,
        is_whole: bool = False,
        readers: Mapping[object, Reader] | None = None,
    ) -> None:
        self.omits_none = omits_none
        self.is_whole = is_whole
        self.readers = {str: text, **(readers or {})}
        # Made once, because json.dumps with options builds an encoder at every call.
        # ASCII only: bytes that a terminal could not decode survive as escapes.
        self.json = json.JSONEncoder(
            separators=(",", ":") if compact else None, allow_nan=allow_nan, default=_nested
        ).encode


@dataclass(frozen=True, slots=True, kw_only=True)
class _Wire:
    """What was declared of a class: its name, its form, and the names of its fields."""

    name: str
    form: Form
    apart: tuple[str, ...]
    names: Mapping[str, str]


class _Wires(dict[type, _Wire]):
    """All that was declared."""

    def __missing__(self, cls: type) -> _Wire:
        raise TypeError(f"{cls.__name__} has no wire name")


_WIRES = _Wires()


def declared(
    form: Form,
    classes: Mapping[str, _Class],
    *,
    apart: tuple[str, ...] = (),
    names: Mapping[str, str] | None = None,
) -> Mapping[str, _Class]:
    """Declare classes that are kept; return them.

    Args:
        form: how their JSON is written.
        classes: each under its name in the file, which also tells it in a refusal.
        apart: fields that are not part of the JSON, such as those with a column of their own.
        names: the names in the file of fields that Python calls otherwise.
    """
    for name, cls in classes.items():
        _WIRES[cls] = _Wire(name=name, form=form, apart=apart, names=names or {})
    return classes


def wire_name(cls: type) -> str:
    """Return the name that a class has in the file."""
    return _WIRES[cls].name


def named(name: str, known: Mapping[str, _Class], what: str) -> _Class:
    """Return the class of a wire name.

    Raises:
        UnreadableRow: no class has it.
    """
    if name not in known:
        raise UnreadableRow(f"unknown {what} {name!r}")
    return known[name]


def encode(item: object) -> str:
    """Return a declared thing as JSON."""
    return _WIRES[type(item)].form.json(plain(item))


def decode(cls: type[_Kept], detail: str, **apart: object) -> _Kept:
    """Return the thing that ``encode`` wrote.

    ``apart`` are the fields that are not part of its JSON.

    Raises:
        UnreadableRow: a field is missing, unknown or wrong.
    """
    with refusing(wire_name(cls)):
        return made(cls, json_in(detail), **apart)


def json_in(text: str) -> Any:
    """Return what a text holds as JSON.

    Raises:
        ValueError: it is not JSON.
    """
    # A row of ours has nothing around it: looking for blanks is half of what json.loads costs.
    try:
        value, end = _read_at_start(text)
    except ValueError:
        end = -1
    return value if end == len(text) else json.loads(text)


_read_at_start = json.JSONDecoder().raw_decode


class refusing:  # noqa: N801 - a context manager is called like a function
    """Turns what a wrong value raises in the block into ``UnreadableRow``, which names it.

    A class, because a generator costs several times as much, and each row passes through.
    """

    __slots__ = ("_what",)

    def __init__(self, what: str) -> None:
        self._what = what

    def __enter__(self) -> None:
        """Begin the block."""

    def __exit__(self, kind: object, error: BaseException | None, traceback: object) -> None:
        """Let pass what is not of a wrong value."""
        if isinstance(error, KeyError | TypeError | ValueError | AttributeError):
            raise UnreadableRow(f"{self._what}: {type(error).__name__} {error}") from error


def plain(item: object) -> dict[str, Any]:
    """Return the fields that the JSON of a declared thing holds."""
    shape = _SHAPES[type(item)]
    values = {name: getattr(item, attribute) for name, attribute in shape.attributes}
    if shape.omits_none:
        return {name: value for name, value in values.items() if value is not None}
    return values


def made(cls: type[_Kept], values: Mapping[str, Any], **apart: object) -> _Kept:
    """Return a ``cls`` from the values in its JSON and the fields that are kept apart.

    Raises:
        KeyError, TypeError, ValueError, AttributeError: a field is unknown, missing or wrong.
    """
    shape = _SHAPES[cls]
    fields_of = shape.fields
    for name, value in values.items():
        attribute, read = fields_of[name]
        apart[attribute] = read(value)
    if shape.is_whole and len(values) < len(fields_of):
        raise KeyError(next(name for name in fields_of if name not in values))
    return cls(**apart)


def text(value: object) -> str:
    """Return a value that is a text.

    Raises:
        TypeError: it is none.
    """
    if not isinstance(value, str):
        raise TypeError(f"{value!r} is not text")
    return value


@dataclass(frozen=True, slots=True, kw_only=True)
class _Shape:
    """What is read off a class once: its fields by wire name, each with what makes it again."""

    attributes: tuple[tuple[str, str], ...]
    fields: Mapping[str, tuple[str, Reader]]
    omits_none: bool
    is_whole: bool


class _Shapes(dict[type, _Shape]):
    """The shapes of all classes, each worked out when it is first needed."""

    def __missing__(self, cls: type) -> _Shape:
        wire, kinds = _WIRES[cls], get_type_hints(cls)
        kept = [field.name for field in fields(cls) if field.name not in wire.apart]
        shape = self[cls] = _Shape(
            attributes=tuple((wire.names.get(name, name), name) for name in kept),
            fields={
                wire.names.get(name, name): (name, _reader(kinds[name], wire.form)) for name in kept
            },
            omits_none=wire.form.omits_none,
            is_whole=wire.form.is_whole,
        )
        return shape


_SHAPES = _Shapes()


def _reader(kind: Any, form: Form) -> Reader:
    """Return what makes a value of an annotation from its JSON."""
    if kind in form.readers:
        return form.readers[kind]
    if kind in _WIRES:
        return partial(made, kind)
    if get_origin(kind) in (tuple, frozenset):
        return _several(get_origin(kind), _reader(get_args(kind)[0], form))
    if NoneType in get_args(kind):
        (some,) = (_reader(each, form) for each in get_args(kind) if each is not NoneType)
        return some if form.omits_none else lambda value: None if value is None else some(value)
    if not isinstance(kind, type):
        raise TypeError(f"nothing reads {kind}")
    return kind


def _several(collection: Any, read: Reader) -> Reader:
    return lambda values: collection(map(read, values))


def _nested(value: object) -> object:
    if isinstance(value, frozenset):
        return sorted(value)
    return dict(value) if isinstance(value, Mapping) else plain(value)
