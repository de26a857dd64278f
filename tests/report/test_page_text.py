"""``report --text`` against the page: every sentence of it, in its order, and none of them again.

The page is read back from its HTML and its drawings, not from what both are written from.
"""

from __future__ import annotations

import functools
import re
from collections.abc import Iterator
from itertools import groupby

import pytest
from page_markup import Node, page_of, parsed, sample
from page_samples import CASES, each_case

from gaugelink.report import page_words as words_room
from gaugelink.report import plots
from gaugelink.report.page_answer import page_answer
from gaugelink.report.page_html import Paper, page_html
from gaugelink.report.page_text import page_text

# A terminal cuts names that leave a table no room, and these are nothing but such names.
COMPARED = each_case("hostile", "long_name")
BLOCKS = ("h1", "h2", "h3", "p", "li", "dt", "dd", "tr", "caption", "figcaption", "text")
# What explains lines and shades, which the text has not.
LEGENDS = (
    "Shaded: the interval of a size; dashed: not measured.",
    "Section, axis to wall. Shaded: the interval of the available height.",
    "Dots: readings as shown; crosses: rejected. Line: their",
    "share of the variance; hatched: type A, by statistics",
    "mean, interval shaded",
)
DRAWN = ("plan", "section", "torque")  # the text draws these in characters, in its own words


def bare(text: str) -> str:
    """Words alone, small: how the two are laid out does not count."""
    words = (word.strip(":-") for word in text.replace("____", " ").split())
    return " ".join(word for word in words if word and word not in ("x", "!", "#")).casefold()


def own_text(node: Node) -> str:
    """The text of a block without that of the blocks in it."""
    parts = []
    for child in node.children:
        if isinstance(child, str):
            parts.append(child)
        elif child.tag not in BLOCKS:
            parts.append(own_text(child))
    return " ".join("".join(parts).split())


def blocks(node: Node) -> Iterator[str]:
    """The sentences of the page as they follow one another, from the wide drawings alone."""
    if node.tag in ("style", "title", "desc", "defs") or "narrow" in node.attributes.get(
        "class", ""
    ):
        return
    if node.tag == "svg":
        if node.attributes["aria-labelledby"].removesuffix("-title") not in DRAWN:
            yield from written(node)
        return
    if node.tag == "tr":
        yield " ".join(cell.text for cell in node.all("th", "td"))
        return
    if node.tag in BLOCKS:
        yield own_text(node)
    for child in node.children:
        if isinstance(child, Node):
            yield from blocks(child)


def written(svg: Node) -> Iterator[str]:
    """What is written into a drawing but the figures of axes; a bar says its share last."""
    for text in svg.all("text"):
        if "data-tick" not in text.attributes:
            name, _, share = text.text.rpartition(": ")
            yield f"{share} {name}" if re.fullmatch(r"\d+ %", share) else text.text


@functools.cache
def told(case: str) -> list[str]:
    body = parsed(page_of(case)).one("body")
    said = []
    for block in blocks(body):
        for legend in LEGENDS:
            block = block.replace(legend, "").strip()
        if bare(block):
            said.append(bare(block))
    return [block for block, _ in groupby(said)]


@functools.cache
def of_text(case: str) -> str:
    text = re.sub(r"#+|\(type [AB]\)", " ", page_text(sample(case), ascii_only=True))
    return bare(text)


@COMPARED
def test_the_text_holds_every_sentence_of_the_page_in_its_order(case: str) -> None:
    text, at = of_text(case), 0
    for block in told(case):
        found = text.find(block, at)
        assert found >= 0, f"{block!r} does not follow {text[max(0, at - 60) : at]!r}"
        at = found + len(block)


@COMPARED
def test_the_text_says_nothing_more_often_than_the_page(case: str) -> None:
    text, page = of_text(case), "\n".join(told(case))
    sentences = {block for block in told(case) if block.endswith(".")}
    assert sentences
    for sentence in sentences:
        assert text.count(sentence) <= page.count(sentence), sentence


@each_case()
def test_the_text_begins_with_the_answer_and_ends_with_the_record(case: str) -> None:
    page = sample(case)
    text = page_text(page, ascii_only=True)
    assert text.startswith("MAINSPRING REPORT  Job 3  2026-03-01 09:05 UTC")
    headings = [line for line in text.splitlines() if line.isupper() and line[0] != " "]
    assert headings[:3] == [
        page_answer(page).heading.upper(),
        "BEFORE YOU OPEN THE BARREL",
        "BEFORE THE OLD SPRING COMES OUT",
    ]
    if "CHECK AFTER FITTING" in headings:
        assert headings[headings.index("CHECK AFTER FITTING") - 1] == "BEFORE YOU FIT IT"
    assert " ".join(page_answer(page).sentence.split()) in " ".join(text.split())
    assert text.endswith(f" {page.identity.sha256}\n")  # whole, to be copied
    if case not in ("hostile", "long_name"):
        assert max(map(len, text.splitlines())) <= 78


def test_each_drawing_of_a_page_is_worked_out_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """For screen, narrow screen, both papers and the terminal together."""
    counted = dict.fromkeys(("torque_plot", "barrel_plan", "barrel_section"), 0)

    def counting(name: str) -> None:
        work = getattr(words_room, name)

        def count(*given: object) -> object:
            counted[name] += 1
            return work(*given)

        monkeypatch.setattr(words_room, name, count)

    for name in counted:
        counting(name)
    content = CASES["whole"]()
    for paper in (None, *Paper):
        page_html(content, paper=paper)
    page_text(content)
    assert counted == dict.fromkeys(counted, 1)
    assert plots.barrel_plan is not words_room.barrel_plan  # it was the page's that was counted
