"""The page in a browser: accessible, readable on a telephone, and on two sheets of paper."""

from __future__ import annotations

import importlib.util
import os
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations, product
from pathlib import Path

import pytest
from look import DESK_PX, PHONE_PX, Browser, browsing, find_browser, media, sheets
from page_markup import drawings, page_of, sample

from gaugelink.report.page_html import Paper, page_html

pytestmark = pytest.mark.skipif(find_browser() is None, reason="no browser is installed")

DRAWN = ["documented", "long_name", "no_arbor", "many_readings", "nothing_fits", "large"]
_PRINTED = ["long_name", "documented", "many_readings", "no_arbor"]
SERIOUS = ("serious", "critical")
_AXE = """async () => (await axe.run(document)).violations.map(
    v => [v.impact, v.id, v.nodes.map(n => n.target.join(" ")).slice(0, 3)])"""
_WIDE = """() => [document.documentElement.scrollWidth,
    [...document.querySelectorAll("body *:not(svg *)")].filter(e => e.offsetParent &&
        [...e.childNodes].some(n => n.nodeType === 3 && n.data.trim()) &&
        parseFloat(getComputedStyle(e).fontSize) < 16).map(e => e.outerHTML.slice(0, 80))]"""
_LETTERING = """() => [...document.querySelectorAll("svg")].filter(svg => svg.checkVisibility())
    .map(svg => ({id: svg.getAttribute("aria-labelledby"),
        letters: [...svg.querySelectorAll("text")].map(text => {
            const size = parseFloat(getComputedStyle(text).fontSize), box = text.getBBox();
            const y = text.y.baseVal[0].value, em = {up: 0.8 * size, down: 0.22 * size};
            return {text: text.textContent, px: size * text.getScreenCTM().a,
                left: box.x, right: box.x + box.width, top: y - em.up, bottom: y + em.down};
        })}))"""
_NUMERALS = """() => [...document.querySelectorAll(".numeral")].map(n => {
    const box = n.getBoundingClientRect(), size = parseFloat(getComputedStyle(n).fontSize);
    return [n.textContent, box.height / size, n.parentElement.clientWidth - n.scrollWidth]; })"""
LEAST_PX = 12
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


@dataclass(frozen=True, slots=True, kw_only=True)
class Letters:
    """A text in a drawing: its height on the screen, and what it covers on its sheet, in px."""

    text: str
    px: float
    left: float
    right: float
    top: float
    bottom: float

    def is_clear_of(self, other: Letters) -> bool:
        beside = self.right <= other.left or other.right <= self.left
        return beside or self.bottom <= other.top or other.bottom <= self.top


def campaign(*values: object) -> object:
    """A row of parameters that is left to the campaign; one page of each kind is for every run."""
    return pytest.param(*values, marks=pytest.mark.campaign)


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


@pytest.mark.campaign
@pytest.mark.parametrize("dark", [False, True])
@pytest.mark.parametrize("case", ["whole", "hostile", "nothing_fits", "unfinished"])
def test_axe_finds_nothing_serious(browser: Browser, library: str, case: str, dark: bool) -> None:
    found = browser.ask(page_of(case), _AXE, width=DESK_PX, dark=dark, library=library)
    assert [each for each in found if each[0] in SERIOUS] == []


@pytest.mark.campaign
def test_axe_finds_nothing_serious_on_a_telephone(browser: Browser, library: str) -> None:
    found = browser.ask(page_of("whole"), _AXE, width=PHONE_PX, library=library)
    assert [each for each in found if each[0] in SERIOUS] == []


@pytest.mark.campaign
def test_axe_finds_what_is_hard_to_read(browser: Browser, library: str) -> None:
    faint = page_of("by_rule").replace("--soft: #434b57", "--soft: #d8d8d8")
    found = browser.ask(faint, _AXE, width=DESK_PX, library=library)
    assert "color-contrast" in [each[1] for each in found if each[0] in SERIOUS]


@pytest.mark.parametrize("case", ["whole", *map(campaign, ["long_name", "hostile", "documented"])])
def test_a_telephone_shows_it_without_scrolling_sideways(browser: Browser, case: str) -> None:
    width, small = browser.ask(page_of(case), _WIDE, width=PHONE_PX)
    assert width <= PHONE_PX
    assert small == []


def lettering(browser: Browser, case: str, width: int, dark: bool) -> dict[str, list[Letters]]:
    """Every text of every drawing that is seen, by the id of its title."""
    found = browser.ask(page_of(case), _LETTERING, width=width, dark=dark)
    return {each["id"]: [Letters(**text) for text in each["letters"]] for each in found}


@pytest.mark.parametrize(
    "width", [PHONE_PX, DESK_PX, *map(campaign, [320, 480, 481, 980, 981, 1000])]
)
def test_lettering_of_drawings_is_never_small(browser: Browser, width: int) -> None:
    seen = lettering(browser, "whole", width, dark=False)
    assert len(seen) == len(drawings("whole")) // 2
    assert all(("-narrow-" in name) is (width <= 480) for name in seen)
    sizes = [letters.px for texts in seen.values() for letters in texts]
    assert min(sizes) >= LEAST_PX
    if width == PHONE_PX:
        assert min(sizes) >= 14


@pytest.mark.campaign
@pytest.mark.parametrize("width", [320, PHONE_PX])
def test_figures_of_the_recommendation_stand_on_one_line(browser: Browser, width: int) -> None:
    """A digit on a line of its own would be read as another figure, or not at all."""
    shown = browser.ask(page_of("nothing_fits"), _NUMERALS, width=width)
    assert [text for text, _, _ in shown] == ["1.45", "0.13", "390"]
    for text, lines, room in shown:
        assert lines < 1.5, text
        assert room >= 0, text


@pytest.mark.parametrize("width", [PHONE_PX, 1000])
@pytest.mark.parametrize(
    ("case", "dark"),
    [
        *(campaign(case, False) for case in ["whole", *DRAWN]),
        campaign("whole", True),
        campaign("hostile", True),
    ],
)
def test_lettering_is_large_and_covers_no_other(
    browser: Browser, case: str, dark: bool, width: int
) -> None:
    seen = lettering(browser, case, width, dark)
    assert seen
    for name, texts in seen.items():
        assert min(letters.px for letters in texts) >= LEAST_PX
        for one, other in combinations(texts, 2):
            assert one.is_clear_of(other), (name, one, other)


@pytest.mark.parametrize(
    ("case", "paper"),
    [
        *(campaign("whole", paper) for paper in Paper),
        *(campaign(*each) for each in product(_PRINTED, Paper)),
    ],
)
def test_it_prints_on_two_sheets(browser: Browser, case: str, paper: Paper, tmp_path: Path) -> None:
    pdf = tmp_path / "page.pdf"
    browser.printed(page_html(sample(case), paper=paper), pdf)
    assert 1 <= sheets(pdf) <= 2


@pytest.mark.campaign
@pytest.mark.parametrize("paper", Paper)
def test_an_open_browser_prints_as_its_command_line_does(
    browser: Browser, paper: Paper, tmp_path: Path
) -> None:
    page, one, other = page_html(sample("whole"), paper=paper), tmp_path / "1", tmp_path / "2"
    browser.printed(page, one)
    browser.printed_by_command(page, other)
    assert sheets(one) == sheets(other)
    assert media(one) == media(other) != set()
