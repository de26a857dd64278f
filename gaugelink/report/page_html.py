"""The page: one file of HTML that needs nothing else, drawn like a workshop drawing.

Nothing in it runs, and nothing is fetched. What people typed is escaped, by the templates
in the text and by ``drawing`` in the drawings. Each drawing is there for a wide screen
and for a narrow one.
"""

from __future__ import annotations

import functools
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields
from enum import StrEnum
from functools import partial
from importlib.resources import files
from typing import Any

from gaugelink.drawing.barrel_plan import draw_barrel_plan
from gaugelink.drawing.barrel_section import draw_barrel_section
from gaugelink.drawing.dot_plot import draw_readings
from gaugelink.drawing.lettering import Sheet
from gaugelink.drawing.rules_plot import draw_budget, draw_rules
from gaugelink.drawing.svg import DRAWING_STYLE, FONT, Svg
from gaugelink.drawing.torque_plot import draw_torque
from gaugelink.report.page_content import PageContent
from gaugelink.report.page_words import HEADINGS, PageWords, page_words

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


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """A drawing, the same for a narrow screen, and its caption."""

    wide: Svg
    narrow: Svg
    caption: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PageDrawings:
    """The drawings of a page, by the section they stand in."""

    barrel: tuple[Figure, ...]
    torque: Figure | None
    readings: tuple[Figure, ...]
    rules: tuple[Figure, ...]
    budgets: tuple[Figure, ...]


def page_html(content: PageContent, *, paper: Paper | None = None) -> str:
    """Render a page.

    ``paper`` is what it will be printed on; None leaves that to the person who prints it.
    """
    (page,) = pages_html(content, (paper,))
    return page


def pages_html(content: PageContent, papers: Sequence[Paper | None]) -> tuple[str, ...]:
    """Render a page for each paper, from one working out of its words and drawings."""
    words, template = page_words(content), _template()
    told = {
        **{field.name: getattr(words, field.name) for field in fields(words)},
        "headings": HEADINGS,
        "figures": _drawn(content),
        "generator": f"{GENERATOR} {content.software}",
        "font": FONT,
        "drawing_style": DRAWING_STYLE,
    }
    return tuple(template.render(told, paper=paper).lstrip() for paper in papers)


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


def _clean(value: Any) -> Any:
    """Put a question mark in place of what no page can hold; markup is left as it is."""
    if isinstance(value, str) and not hasattr(value, "__html__"):
        return _NOT_HTML.sub("\ufffd", value)
    return value


@functools.lru_cache(maxsize=1)
def _drawn(content: PageContent) -> PageDrawings:
    """Draw for the screen and for paper alike, once."""
    words, torque = page_words(content), None
    if words.plot is not None:
        torque = _figure(partial(draw_torque, words.plot), "torque", words.torque_caption)
    return PageDrawings(
        barrel=_barrel(words),
        torque=torque,
        readings=tuple(
            _figure(
                partial(draw_readings, each.plot),
                f"readings-{i}",
                " ".join(each.said),
            )
            for i, each in enumerate(words.readings, start=1)
        ),
        rules=tuple(
            _figure(partial(draw_rules, (panel,)), f"rules-{i}")
            for i, panel in enumerate(words.rules, start=1)
        ),
        budgets=tuple(
            _figure(partial(draw_budget, each.output, each.bars), f"budget-{i}", each.rest)
            for i, each in enumerate(words.budgets, start=1)
        ),
    )


def _barrel(words: PageWords) -> tuple[Figure, ...]:
    if words.plan is None:
        return ()
    caption = f"{words.plan_caption} Shaded: the interval of a size; dashed: not measured."
    plan = _figure(partial(draw_barrel_plan, words.plan), "plan", caption)
    if words.section is None:
        return (plan,)
    caption = "Section, axis to wall. Shaded: the interval of the available height."
    return plan, _figure(partial(draw_barrel_section, words.section), "section", caption)


def _figure(draw: Callable[..., Svg], prefix: str, caption: str = "") -> Figure:
    """Draw for both sheets, the narrow one under a prefix of its own."""
    return Figure(
        wide=draw(prefix=prefix, sheet=Sheet.WIDE),
        narrow=draw(prefix=f"{prefix}-narrow", sheet=Sheet.NARROW),
        caption=caption,
    )
