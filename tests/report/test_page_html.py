"""The page as HTML: well formed, self-contained, accessible by its structure, and escaped."""

from __future__ import annotations

import re
from itertools import pairwise

import pytest
from page_markup import Node, page_of, parsed, sample
from page_samples import HOSTILE, LONG, each_case

from gaugelink.report.page_html import Paper, page_html

ALL = each_case()
REFERENCES = ("aria-labelledby", "aria-describedby")
SHOWN = HOSTILE.replace("\x07", "\ufffd").replace("\ud800", "\ufffd")


def section(root: Node, name: str) -> Node:
    return next(n for n in root.all("section") if n.attributes["id"] == name)


@ALL
def test_every_tag_is_closed_by_its_own(case: str) -> None:
    root = parsed(page_of(case))
    assert [node.tag for node in root.children if not isinstance(node, str)] == ["html"]
    assert page_of(case).startswith("<!DOCTYPE html>")


@ALL
def test_a_parser_of_the_standard_finds_no_fault(case: str) -> None:
    html5lib = pytest.importorskip("html5lib", reason="html5lib is not installed")
    parser = html5lib.HTMLParser(strict=False)
    parser.parse(page_of(case))
    assert parser.errors == []


def test_the_strict_reading_finds_a_fault() -> None:
    with pytest.raises(AssertionError, match="closes"):
        parsed("<html><p><b>x</p></b></html>")
    with pytest.raises(AssertionError, match="not closed"):
        parsed("<html><p>x</p>")


@ALL
def test_ids_are_unique_and_every_reference_leads_to_one(case: str) -> None:
    root = parsed(page_of(case))
    ids = [node.attributes["id"] for node in root.walk() if "id" in node.attributes]
    assert len(ids) == len(set(ids))
    meant = [node.attributes[a] for node in root.walk() for a in REFERENCES if a in node.attributes]
    urls = re.findall(r"url\(#([^)]*)\)", page_of(case))
    assert meant
    assert {*meant, *urls} <= set(ids)


@ALL
def test_the_page_needs_nothing_and_runs_nothing(case: str) -> None:
    page = page_of(case)
    root = parsed(page)
    assert root.all("script", "link", "img", "iframe", "object", "base", "a", "form") == []
    names = {name for node in root.walk() for name in node.attributes}
    assert not [name for name in names if name.startswith("on")]
    assert names & {"src", "href", "xlink:href", "action"} == set()
    style = root.one("style").text
    assert "@import" not in style
    assert "url(" not in style
    # The one address in it is the name of the language of the drawings.
    assert set(re.findall(r"https?://[^\s\"<]*", page)) <= {"http://www.w3.org/2000/svg"}


@ALL
def test_a_page_is_small_enough_to_be_sent(case: str) -> None:
    assert len(page_of(case).encode("utf-8")) < 250_000


def test_a_narrow_drawing_is_there_for_each_and_shown_on_narrow_screens_only() -> None:
    page = page_of("whole")
    forms = [n for n in parsed(page).walk() if n.attributes.get("class") in ("wide", "narrow")]
    assert [n.attributes["class"] for n in forms] == ["wide", "narrow"] * (len(forms) // 2)
    assert len(forms) == len(parsed(page).all("svg"))
    style = parsed(page).one("style").text
    shown = "@media screen and (max-width: 480px) { .wide { display: none; } .narrow {"
    assert ".narrow { display: none; }" in style.partition("@media")[2]
    assert f"{shown} display: block; }} }}" in style
    assert (style.count(".narrow {"), style.count(".wide {")) == (2, 1)


@ALL
def test_headings_and_landmarks_make_an_outline(case: str) -> None:
    root = parsed(page_of(case))
    assert root.one("html").attributes["lang"] == "en"
    assert all(len(root.all(tag)) == 1 for tag in ("h1", "header", "main", "footer"))
    assert len(root.one("head").all("title")) == 1
    levels = [int(node.tag[1]) for node in root.all("h1", "h2", "h3", "h4")]
    assert levels[0] == 1
    assert all(after - before <= 1 for before, after in pairwise(levels))
    for part in root.all("section"):
        assert part.all("h2")[0].attributes["id"] == part.attributes["aria-labelledby"]


@ALL
def test_every_table_and_drawing_has_its_words(case: str) -> None:
    root = parsed(page_of(case))
    for table in root.all("table"):
        assert table.all("caption") or table.attributes["aria-labelledby"]
        assert all(cell.attributes["scope"] in ("row", "col") for cell in table.all("th"))
        widths = {
            len([c for c in row.children if not isinstance(c, str)]) for row in table.all("tr")
        }
        assert len(widths) == 1
    for svg in root.all("svg"):
        assert svg.attributes["role"] == "img"
        assert all(svg.one(tag).text for tag in ("title", "desc"))


@ALL
def test_what_scrolls_can_be_reached_by_the_keyboard(case: str) -> None:
    boxes = [n for n in parsed(page_of(case)).walk() if n.attributes.get("class") == "scroll"]
    for box in boxes:
        assert (box.attributes["role"], box.attributes["tabindex"]) == ("region", "0")
        assert box.attributes["aria-labelledby"]


def test_what_people_typed_stands_there_as_they_typed_it() -> None:
    root = parsed(page_of("hostile"))
    assert root.one("h1").text == SHOWN
    assert root.all("script", "b") == []
    assert len(root.all("style")) == 1
    said = root.one("footer").text
    assert said.count(SHOWN) == 6  # title, movement, reference, workshop, customer, who measured
    assert all(SHOWN in section(root, name).text for name in ("check", "look", "readings"))
    item = HOSTILE.replace("\x07", "\ufffd").replace("\ud800", "")
    assert f"Why {item}A03" in section(root, "stock").text


def test_a_page_can_be_written_as_utf_8_whatever_was_typed() -> None:
    assert page_of("hostile").encode("utf-8")
    assert not re.search("[\x00-\x08\x0b\x0c\x0e-\x1f]", page_of("hostile"))


def test_a_long_name_is_there_in_full() -> None:
    assert parsed(page_of("long_name")).one("h1").text == LONG


@pytest.mark.parametrize("paper", Paper)
def test_the_paper_is_named_only_where_it_is_asked_for(paper: Paper) -> None:
    size = re.compile(r"@page \{[^}]*size: (\w+)")
    assert size.search(page_of("by_rule")) is None
    found = size.search(page_html(sample("by_rule"), paper=paper))
    assert found is not None
    assert found[1] == paper


@pytest.mark.parametrize(
    ("case", "there", "missing"),
    [
        ("whole", ("movement", "stock", "torque", "check", "found", "budget"), ()),
        ("by_rule", ("barrel", "torque", "rules"), ("stock", "found", "movement")),
        ("no_lid", ("barrel", "torque", "stock", "rules"), ("movement",)),
        (
            "unfinished",
            ("answer", "readings", "opening", "fitting"),
            ("barrel", "torque", "check", "rules"),
        ),
        (
            "empty",
            ("answer", "opening", "fitting"),
            ("barrel", "torque", "check", "rules", "budget"),
        ),
    ],
)
def test_a_section_with_nothing_in_it_is_left_out(
    case: str, there: tuple[str, ...], missing: tuple[str, ...]
) -> None:
    root = parsed(page_of(case))
    ids = {part.attributes["id"] for part in root.all("section")}
    assert set(there) <= ids
    assert not set(missing) & ids


def test_each_caution_stands_before_the_step_it_belongs_to() -> None:
    ids = [part.attributes["id"] for part in parsed(page_of("whole")).all("section")]
    assert ids.index("opening") == ids.index("answer") + 1 < ids.index("readings")
    assert ids.index("fitting") == ids.index("check") - 1


def test_printed_sheets_are_counted_and_carry_the_job() -> None:
    style = parsed(page_of("whole")).one("style").text
    margins = style[style.index("@page") : style.index(":root", style.index("@page"))]
    assert 'content: "sheet " counter(page) " of " counter(pages)' in margins
    assert 'content: "Mainspring report, job 3"' in margins


@ALL
def test_the_title_block_says_which_record_and_which_software(case: str) -> None:
    content, said = sample(case), parsed(page_of(case)).one("footer").text
    assert content.identity.sha256 in said
    assert content.identity.name in said
    assert f"gaugelink {content.software}" in said
    assert all(gauge.gauge_id in said for gauge in content.record.gauges)


def luminance(colour: str) -> float:
    """Relative luminance of ``#rrggbb``: WCAG 2.2, definitions."""
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_ink_stands_out_from_paper_in_light_in_dark_and_in_print() -> None:
    style = parsed(page_of("by_rule")).one("style").text
    palettes = [
        dict(re.findall(r"--(\w+): (#[0-9a-f]{6})", block))
        for block in re.findall(r"color-scheme: light[^}]*|dark\) \{ :root \{[^}]*", style)
    ]
    assert len(palettes) == 3
    for colours in palettes:
        paper = luminance(colours["paper"])
        for name, least in {"ink": 7.0, "soft": 7.0, "spring": 4.5, "alarm": 4.5}.items():
            ink = luminance(colours[name])
            light, dark = max(paper, ink), min(paper, ink)
            assert (light + 0.05) / (dark + 0.05) >= least, name  # WCAG 2.2, 1.4.3 and 1.4.6
