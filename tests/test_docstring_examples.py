"""The examples in the docstrings say what happens when they are typed."""

from __future__ import annotations

import doctest
from importlib import import_module
from pathlib import Path

import pytest

import gaugelink

ROOT = Path(gaugelink.__file__).parent
WITH_EXAMPLES = sorted(
    ".".join(path.relative_to(ROOT.parent).with_suffix("").parts).removesuffix(".__init__")
    for path in ROOT.rglob("*.py")
    if ">>> " in path.read_text(encoding="utf-8")
)


@pytest.mark.parametrize("name", WITH_EXAMPLES)
def test_the_examples_of_a_module_hold(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    failed, tried = doctest.testmod(import_module(name))
    assert tried > 0
    assert failed == 0, capsys.readouterr().out


def test_there_are_examples() -> None:
    assert len(WITH_EXAMPLES) > 10
