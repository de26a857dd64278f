"""The error tree drawn in ``errors`` is the one that exists, and each error says what to do."""

from __future__ import annotations

import builtins
import inspect
import re
import textwrap
from dataclasses import dataclass

import pytest

from gaugelink import errors
from gaugelink.errors import (
    FileFormatError,
    GaugelinkError,
    GaugeTimeout,
    GaugeUnavailable,
    JobNotFound,
    SizingError,
    Unavailable,
)

_LINE = re.compile(
    r"(?P<branch>[│├└─ ]*)(?P<name>[A-Z]\w+)"
    r"(?: +\((?P<builtin>\w+)\))?(?: +(?P<code>\d+))?(?: +(?P<rest>\S.*))?"
)
_INDENT = 3  # columns of one branch in the drawing


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    name: str
    parent: str
    builtin: str | None
    exit_code: int
    fields: frozenset[str]


def drawn_tree() -> list[Drawn]:
    """Read the drawing; a line without a code has that of its parent."""
    drawing = inspect.cleandoc(errors.__doc__ or "").partition("::\n\n")[2].partition("\n\n")[0]
    above: list[Drawn] = []
    found = []
    for line in textwrap.dedent(drawing).splitlines():
        match = _LINE.fullmatch(line.rstrip())
        assert match, f"not a line of the drawing: {line!r}"
        del above[len(match["branch"]) // _INDENT :]
        parent = above[-1] if above else None
        fields = re.findall(r"(?<!\w)\.(\w+)", match["rest"] or "")
        node = Drawn(
            name=match["name"],
            parent=parent.name if parent else "Exception",
            builtin=match["builtin"],
            exit_code=int(match["code"]) if match["code"] else parent.exit_code if parent else 0,
            fields=frozenset(fields) | (parent.fields if parent else frozenset()),
        )
        above.append(node)
        found.append(node)
    return found


def existing() -> dict[str, type[GaugelinkError]]:
    classes = vars(errors).values()
    return {
        cls.__name__: cls
        for cls in classes
        if isinstance(cls, type) and issubclass(cls, GaugelinkError)
    }


def test_every_class_is_drawn_once_and_nothing_else() -> None:
    names = [node.name for node in drawn_tree()]
    assert sorted(names) == sorted(existing())


@pytest.mark.parametrize("node", drawn_tree(), ids=lambda node: node.name)
def test_a_class_is_what_the_drawing_says(node: Drawn) -> None:
    cls = existing()[node.name]
    builtin = [getattr(builtins, node.builtin)] if node.builtin else []
    assert [base.__name__ for base in cls.__bases__] == [
        node.parent,
        *(base.__name__ for base in builtin),
    ]
    assert cls.exit_code == node.exit_code
    parameters = set(inspect.signature(cls.__init__).parameters) - {"self", "message"}
    assert parameters == node.fields


@pytest.mark.parametrize("cls", existing().values(), ids=lambda cls: cls.__name__)
def test_a_class_says_when_it_is_raised(cls: type[GaugelinkError]) -> None:
    assert cls.__doc__
    assert "exit_code" in vars(cls) or cls.__base__ is not GaugelinkError, "a branch has its code"


def test_branches_have_codes_of_their_own() -> None:
    codes = [cls.exit_code for cls in GaugelinkError.__subclasses__()]
    assert len(set(codes)) == len(codes)
    assert GaugelinkError.exit_code not in codes


def test_fields_are_kept() -> None:
    late = GaugeTimeout("No answer.", timeout_s=2.0, address="serial:a", hint="Switch it on.")
    busy = GaugeUnavailable("In use.", reason=Unavailable.BUSY, address="serial:b")
    unfit = SizingError("No room.", inputs=(name for name in ("arbor", "bore")))
    nobody = JobNotFound("There is no job 3.", path="j.sqlite")
    assert (str(late), late.timeout_s, late.address, late.hint) == (
        "No answer.",
        2.0,
        "serial:a",
        "Switch it on.",
    )
    assert (busy.reason, busy.address, busy.hint) == (Unavailable.BUSY, "serial:b", "")
    assert unfit.inputs == ("arbor", "bore")
    assert nobody.path == "j.sqlite"


@pytest.mark.parametrize(
    ("where", "text"),
    [("line 3", "a.toml: line 3: bad."), ("", "a.toml: bad.")],
)
def test_a_file_error_names_the_place(where: str, text: str) -> None:
    error = FileFormatError("bad.", path="a.toml", where=where)
    assert str(error) == text
    assert (error.path, error.where) == ("a.toml", where)
