"""The page: one file of HTML that needs nothing else, drawn like a workshop drawing.

::

    PageContent ──> page_answer, page_tables, page_checks ──> words ───┐
                ──> page_spring ──> page_barrel, page_torque ──┐       ├─> templates ──> page
                ──> page_readings, page_rules ─────────────────┴─> SVG ┘

Nothing in it runs, and nothing is fetched. What people typed is escaped, by the templates
in the text and by ``drawing`` in the drawings.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from enum import StrEnum
from importlib.resources import files
from typing import Any

from gaugelink.drawing.svg import DRAWING_STYLE, FONT
from gaugelink.report.page_answer import (
    after_fitting,
    first_the_movement,
    foreseen_for,
    page_answer,
    page_doubts,
)
from gaugelink.report.page_content import PageContent
from gaugelink.report.page_figures import (
    barrel_sizes,
    figures_of,
    gauge_lines,
    rule_bases,
    turns_budget,
)
from gaugelink.report.page_tables import (
    knocking_springs,
    moment,
    notes,
    picks_table,
    refused_lines,
    springs_table,
    title_block,
)
from gaugelink.report.page_torque import torque_plot
from gaugelink.report.table import OPENING_CAUTIONS, SPRING_CAUTIONS

GENERATOR = "gaugelink"

_LAST = (0xFFFE, 0xFFFF)  # of each plane: characters that are none
# What HTML refuses in a text: control characters, lone surrogates, non-characters.
_LAST_TWO = "".join(chr(plane + last) for plane in range(0, 0x110000, 0x10000) for last in _LAST)
_NOT_HTML = re.compile(
    f"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\ud800-\udfff\ufdd0-\ufdef{_LAST_TWO}]"
)


class Paper(StrEnum):
    """A size of paper to print on."""

    A4 = "A4"
    LETTER = "letter"


def page_html(content: PageContent, *, paper: Paper | None = None) -> str:
    """Render a page.

    Args:
        content: what it tells.
        paper: what it will be printed on; None leaves that to the person who prints it.
    """
    page: str = _template().render(**_told(content), paper=paper)
    return page.lstrip()


def _template() -> Any:
    from jinja2 import Environment, FunctionLoader, StrictUndefined

    folder = files("gaugelink.report") / "templates"
    environment = Environment(
        loader=FunctionLoader(lambda name: (folder / name).read_text(encoding="utf-8")),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=_clean,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return environment.get_template("page.html")


def _told(content: PageContent) -> Mapping[str, Any]:
    plot, choice = torque_plot(content), content.choice
    return {
        "generator": f"{GENERATOR} {content.software}",
        "font": FONT,
        "drawing_style": DRAWING_STYLE,
        "record": content.record,
        "measured": moment(content.record.created_utc),
        "title": content.record.setup.title or "untitled",
        "answer": page_answer(content),
        "movement": first_the_movement(content),
        "doubts": page_doubts(content),
        "sizes": () if content.sizing is None else tuple(barrel_sizes(content.sizing)),
        "figures": figures_of(content, plot),
        "coverage": content.result.coverage if content.result else 0.95,
        "springs": springs_table(content, plot),
        "knocking": knocking_springs(content),
        "choice": choice,
        "picks": None if choice is None else picks_table(choice),
        "refused": () if choice is None else refused_lines(choice),
        "stages": after_fitting(content),
        "foreseen_for": foreseen_for(content),
        "cautions": tuple(_caution(text) for text in (OPENING_CAUTIONS, SPRING_CAUTIONS)),
        "gauges": gauge_lines(content),
        "finding": content.result.finding if content.result else None,
        "bases": rule_bases(content),
        "turns": turns_budget(content),
        "notes": notes(content),
        "title_block": title_block(content),
    }


def _caution(text: str) -> tuple[str, str]:
    heading, _, body = text.partition("\n")
    return heading.capitalize(), " ".join(body.split())


def _clean(value: Any) -> Any:
    """Put a question mark in place of what no page can hold; markup is left as it is."""
    if isinstance(value, str) and not hasattr(value, "__html__"):
        return _NOT_HTML.sub("\ufffd", value)
    return value
