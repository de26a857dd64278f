"""The page as text for a terminal: the same things in the same order, drawn in characters."""

from __future__ import annotations

from collections.abc import Iterator

from gaugelink.drawing.terminal import plan_text, torque_text
from gaugelink.report.page_answer import Checks, after_fitting, foreseen_for, page_answer
from gaugelink.report.page_content import PageContent, page_spring
from gaugelink.report.page_figures import barrel_plan
from gaugelink.report.page_tables import title_block
from gaugelink.report.page_torque import torque_plot
from gaugelink.report.table import table, wrapped
from gaugelink.report.text_choice import choose_text
from gaugelink.report.text_job import facts_text, job_text
from gaugelink.report.text_size import size_text

_SHOWN_PICKS = 6


def page_text(content: PageContent, *, ascii_only: bool = False) -> str:
    """Render what a page tells as text.

    Args:
        content: what it tells.
        ascii_only: draw with ASCII where the terminal has no braille.
    """
    return "\n\n".join(part.strip("\n") for part in _parts(content, ascii_only) if part) + "\n"


def _parts(content: PageContent, ascii_only: bool) -> Iterator[str]:
    yield _answer(content)
    if content.sizing is not None:
        plan = barrel_plan(content.sizing, page_spring(content))
        yield plan_text(plan, ascii_only=ascii_only)
    plot = torque_plot(content)
    if plot is not None:
        yield torque_text(plot, ascii_only=ascii_only)
    if content.choice is not None:
        yield choose_text(content.choice, show=_SHOWN_PICKS)
    if content.result is not None:
        yield size_text(content.result)
    stages = after_fitting(content)
    if stages:
        said = wrapped(foreseen_for(content))
        yield "\n".join(filter(None, ("CHECK AFTER FITTING", said, *map(_checks, stages))))
    yield job_text(content.record, content.parts, content.findings)
    yield facts_text(content.facts)
    yield "\n".join(wrapped(text, lead=f"  {name}: ") for name, text in title_block(content))


def _answer(content: PageContent) -> str:
    answer = page_answer(content)
    grounds = (wrapped(ground, lead="  - ") for ground in answer.grounds)
    record = content.record
    head = f"RECOMMENDATION  for job {record.job_id}  {record.setup.title}".rstrip()
    return "\n".join((head, wrapped(answer.sentence), *grounds))


def _checks(stage: Checks) -> str:
    rows = [(check.what, check.foreseen, check.seen or "____") for check in stage.checks]
    return table((stage.when, "foreseen", "seen"), rows)
