"""What a person reads is written in plain words: the habits that crept in once stay out."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from house import PACKAGE

ROOT = PACKAGE.parent
WORST = re.compile(
    r"\b(?:stands|foreseen|judged|nowhere|anew)\b|\b(?:is|are) no\b|look at this|to any use"
    r"|what they drive|more readings are not worth|counts? no more|came twice and counts",
    re.IGNORECASE,
)
RIGHT = re.compile(
    r"stands (?:still|out)\b|(?:is|are) no (?:more|less|longer|lower|higher)\b"
    r"|there (?:is|are) no\b",  # a bench-mate says so
    re.IGNORECASE,
)
PAGES = ("README.md", "DEVELOPERS.md", "firmware_notes/*.md")
NAMES = re.compile(r"`[^`]*`|bcd52-judged|\w+ = \"judged\"")  # of code and formats: not prose


def said_by(source: str, stem: str) -> Iterator[tuple[int, str]]:
    """Yield each text of a module with its line: no docstrings, but the help of a command."""
    tree = ast.parse(source)
    asides = {
        id(node.value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)
    }
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef) and node.name == stem:
            yield node.lineno, ast.get_docstring(node) or ""
        if (
            isinstance(node, ast.Constant)
            and isinstance(node.value, str)
            and id(node) not in asides
        ):
            yield node.lineno, node.value


def worst(text: str) -> list[str]:
    """Return the words that a person should not have to read; a lone word is a name or a key."""
    prose = NAMES.sub("", RIGHT.sub("", " ".join(text.split())))
    return [] if " " not in prose.strip() else WORST.findall(prose)


def test_no_text_of_the_package_has_the_worst_words() -> None:
    found = {}
    for path in sorted(PACKAGE.rglob("*.py")):
        stem = path.stem if path.parent.name == "cli" else ""
        for line, text in said_by(path.read_text(encoding="utf-8"), stem):
            if words := worst(text):
                found[f"{path.relative_to(ROOT)}:{line}"] = words
    assert found == {}


@pytest.mark.parametrize("pattern", ["*.html", "*.toml", "*.md"])
def test_no_template_and_no_list_has_them(pattern: str) -> None:
    paths = sorted(PACKAGE.rglob(pattern))
    assert paths
    assert {str(p): words for p in paths if (words := _in_page(p))} == {}


@pytest.mark.parametrize("pattern", PAGES)
def test_no_page_for_readers_has_them(pattern: str) -> None:
    paths = sorted(ROOT.glob(pattern))
    assert paths
    assert {str(p): words for p in paths if (words := _in_page(p))} == {}


def _in_page(path: Path) -> list[str]:
    lines = path.read_text(encoding="utf-8").splitlines()
    expressions = re.compile(r"\{[{%].*?[%}]\}")  # of a template: names of Python
    return worst(expressions.sub("", " ".join(lines)))


@pytest.mark.parametrize(
    ("text", "n"),
    [
        ("The unit stands in the heading.", 1),
        ("This is no gauge, and it was judged as foreseen.", 3),
        ("There is no checksum.", 0),
        ("foreseen", 0),
        ("A fusee stands still, and is no longer wound.", 0),
        ("as `stands` or `foreseen` there", 0),
    ],
)
def test_the_worst_are_found_and_names_are_not(text: str, n: int) -> None:
    assert len(worst(text)) == n
    assert len([w for _, said in said_by(f"x = f'{{y}} {text}'", "") for w in worst(said)]) == n


def test_the_help_of_a_command_is_read_and_other_docstrings_are_not() -> None:
    source = '"""Stands."""\ndef size():\n    """It stands here."""\ndef other():\n    """It is."""'
    assert [text for _, text in said_by(source, "size")] == ["It stands here."]
