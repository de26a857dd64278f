"""What the commands say and write is what was frozen in ``fixtures/golden/``.

After a wanted change: ``python fixtures/make_golden.py``, and read the difference.
"""

from __future__ import annotations

import difflib
import math
import re
import runpy
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from cli_runs import commands_built_once

FIXTURES = Path(__file__).parents[1] / "fixtures"
MAKER: dict[str, Any] = runpy.run_path(str(FIXTURES / "make_golden.py"))
GOLDEN: list[str] = list(MAKER["GOLDEN"])
made: Callable[[str], str] = MAKER["made"]

NUMBER = re.compile(r"(?<![\w.])(-?\d+(?:\.\d+)?(?:e[+-]?\d+)?)(?![\w.])")
MEMBER = re.compile(r"(?<=,)(?=\s?[\"'{<])")
MANY_DIGITS = 11  # a number of fewer is written for a person, and is compared as text
REL_TOL, ABS_TOL = 1e-9, 1e-12  # the last digits may differ from machine to machine
SHOWN_LINES = 60

# Of two that say the same, at the desk the quicker one: the text beside the data, or the data of
# one job beside that of another. Each kind of command, text, page and file stays there.
TWINS = {
    "choose_bore.json": "choose_bore.txt",
    "choose_job.json": "choose_job.txt",
    "choose_swing.json": "choose_swing.txt",
    "choose_typed.json": "choose_typed.txt",
    "demo.json": "measure.json",
    "report.txt": "report.html",
    "report_stock.html": "report.html",
    "size_bore.json": "size_bore.txt",
    "size_core.json": "size_core.txt",
    "size_inches.json": "size_inches.txt",
    "size_job.json": "journal_1_size.json",
    "size_job.xml": "size_typed.xml",
    "size_swing.json": "size_swing.txt",
    "size_twin.json": "size_twin.txt",
    "size_typed.txt": "size_draw.txt",
    "size_watch.txt": "size_watch.json",
}
EACH = [pytest.param(n, marks=pytest.mark.campaign if n in TWINS else ()) for n in GOLDEN]


def is_long(number: str) -> bool:
    mantissa = number.partition("e")[0]
    return len(mantissa.lstrip("-0.").replace(".", "")) >= MANY_DIGITS


def are_alike(kept: str, now: str) -> bool:
    """Tell whether two lines agree, but for the last digits of numbers as a program writes them."""
    if kept == now:
        return True
    olds, news = NUMBER.split(kept), NUMBER.split(now)  # text and numbers in turn
    if len(olds) != len(news) or olds[::2] != news[::2]:
        return False
    return all(
        old == new
        or (
            (is_long(old) or is_long(new))
            and math.isclose(float(old), float(new), rel_tol=REL_TOL, abs_tol=ABS_TOL)
        )
        for old, new in zip(olds[1::2], news[1::2], strict=True)
    )


def short_lines(text: str) -> list[str]:
    """Return the lines; a very long one, such as a row of SQL, ends after each of its members."""
    lines = text.splitlines()
    return [part for line in lines for part in (MEMBER.split(line) if len(line) > 300 else [line])]


def difference(name: str, kept: str, now: str) -> str:
    """Return what differs, or nothing; of numbers that are alike the kept one is shown."""
    olds, news = (short_lines(text) for text in (kept, now))
    if len(olds) == len(news):
        news = [old if are_alike(old, new) else new for old, new in zip(olds, news, strict=True)]
    lines = list(difflib.unified_diff(olds, news, f"golden/{name}", "made now", n=1, lineterm=""))
    left = len(lines) - SHOWN_LINES
    more = [f"... and {left} lines more"] if left > 0 else []
    return "\n".join([*lines[:SHOWN_LINES], *more])


@pytest.mark.parametrize("name", EACH)
def test_a_command_gives_what_was_frozen(name: str) -> None:
    kept = (FIXTURES / "golden" / name).read_text(encoding="utf-8")
    with commands_built_once():
        different = difference(name, kept, made(name))
    if different:
        pytest.fail(f"{different}\nIf it is wanted: python fixtures/make_golden.py", pytrace=False)


def test_every_frozen_file_is_compared() -> None:
    assert sorted(path.name for path in (FIXTURES / "golden").iterdir()) == sorted(GOLDEN)
    assert {*TWINS, *TWINS.values()} <= set(GOLDEN)
    assert not set(TWINS) & set(TWINS.values())


@pytest.mark.parametrize(
    ("kept", "now", "alike"),
    [
        ('"u": 0.022360679774997918,', '"u": 0.022360679774997944,', True),
        ('"u": 0.1,', '"u": 0.10000000000000002,', True),
        ('"u": 0.0,', '"u": -3.469446951953614e-18,', True),
        ('"u": 0.022360679774997918,', '"u": 0.022360679874997918,', False),
        ("11.02 mm", "11.03 mm", False),
        ("1.0", "1", False),
        ("0.14(2) mm", "0.14(3) mm", False),
        ("taken bore 11.52", "taken depth 11.52", False),
        ("demo-062", "demo-063", False),
        ("sha 868578a96f95dcafa", "sha 868578a96f95dcafb", False),
        ("1.5, 2.5", "1.5", False),
    ],
)
def test_only_the_last_digits_of_long_numbers_may_differ(kept: str, now: str, alike: bool) -> None:
    assert are_alike(kept, now) is alike
    assert (difference("invented", kept, now) == "") is alike
