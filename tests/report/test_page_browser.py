"""The page in a browser: accessible, readable on a telephone, and on two sheets of paper."""

from __future__ import annotations

import importlib.util
import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from look import DESK_PX, PHONE_PX, Browser, browsing, find_browser, sheets
from page_markup import page_of, sample

from gaugelink.report.page import Paper, page_html

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(find_browser() is None, reason="no browser is installed"),
]

SERIOUS = ("serious", "critical")
_AXE = """async () => (await axe.run(document)).violations.map(
    v => [v.impact, v.id, v.nodes.map(n => n.target.join(" ")).slice(0, 3)])"""
_WIDE = """() => [document.documentElement.scrollWidth,
    [...document.querySelectorAll("body *:not(svg *)")].filter(e => e.offsetParent &&
        [...e.childNodes].some(n => n.nodeType === 3 && n.data.trim()) &&
        parseFloat(getComputedStyle(e).fontSize) < 16).map(e => e.outerHTML.slice(0, 80))]"""
_PACKAGES = ("axe_playwright_python", "axe_core_python")


def axe() -> str | None:
    """The accessibility checker as a script: where AXE_JS says, or out of a Python package."""
    if "AXE_JS" in os.environ:
        return Path(os.environ["AXE_JS"]).read_text("utf-8")
    for package in _PACKAGES:
        found = importlib.util.find_spec(package)
        if found is not None and found.origin is not None:
            return (Path(found.origin).parent / "axe.min.js").read_text("utf-8")
    return None


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with browsing() as opened:
        yield opened


@pytest.fixture(scope="module")
def library() -> str:
    found = axe()
    if found is None:
        pytest.skip("axe-core is not installed")
    return found


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
@pytest.mark.parametrize("case", ["whole", "hostile", "nothing_fits", "unfinished"])
def test_axe_finds_nothing_serious(browser: Browser, library: str, case: str, dark: bool) -> None:
    found = browser.ask(page_of(case), _AXE, width=DESK_PX, dark=dark, library=library)
    assert [each for each in found if each[0] in SERIOUS] == []


def test_axe_finds_nothing_serious_on_a_telephone(browser: Browser, library: str) -> None:
    found = browser.ask(page_of("whole"), _AXE, width=PHONE_PX, library=library)
    assert [each for each in found if each[0] in SERIOUS] == []


def test_axe_finds_what_is_hard_to_read(browser: Browser, library: str) -> None:
    faint = page_of("by_rule").replace("--soft: #434b57", "--soft: #d8d8d8")
    found = browser.ask(faint, _AXE, width=DESK_PX, library=library)
    assert "color-contrast" in [each[1] for each in found if each[0] in SERIOUS]


@pytest.mark.parametrize("case", ["whole", "long_name", "hostile", "documented"])
def test_a_telephone_shows_it_without_scrolling_sideways(browser: Browser, case: str) -> None:
    width, small = browser.ask(page_of(case), _WIDE, width=PHONE_PX)
    assert width <= PHONE_PX
    assert small == []


@pytest.mark.parametrize("paper", Paper)
@pytest.mark.parametrize("case", ["whole", "documented", "many_readings", "no_arbor"])
def test_it_prints_on_two_sheets(browser: Browser, case: str, paper: Paper, tmp_path: Path) -> None:
    pdf = tmp_path / "page.pdf"
    browser.printed(page_html(sample(case), paper=paper), pdf)
    assert 1 <= sheets(pdf) <= 2
