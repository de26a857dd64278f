"""The page as text for a terminal: the same sentences in the same order, drawn in characters."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from gaugelink.drawing.barrel_section import too_high
from gaugelink.drawing.terminal import plan_text, torque_text
from gaugelink.report.page_answer import Checks
from gaugelink.report.page_content import PageContent
from gaugelink.report.page_words import HEADINGS, Listed, PageWords, StockWords, Table, page_words
from gaugelink.report.plots import Budget, ReadingsFigure
from gaugelink.report.table import GAP, WIDTH, named_table, share_bar, table, wrapped


def page_text(content: PageContent, *, ascii_only: bool = False) -> str:
    """Render what a page tells as text.

    ``ascii_only`` is for a terminal without braille.
    """
    words = page_words(content)
    head = ("MAINSPRING REPORT", f"Job {words.job}", words.measured, words.unfinished)
    parts = ["\n".join((GAP.join(filter(None, head)), wrapped(words.title)))]
    for name, blocks in _sections(words, ascii_only=ascii_only):
        shown = [block for block in blocks if block]
        if shown:
            heading = HEADINGS.get(name, words.answer.heading)
            parts.append("\n".join((heading.upper(), *shown)))
    parts.append(_pairs(words.title_block))
    return "\n\n".join(parts) + "\n"


def _sections(words: PageWords, *, ascii_only: bool) -> Iterator[tuple[str, Iterable[str]]]:
    yield "answer", _answer(words)
    yield "opening", [wrapped(words.opening)]
    yield "taking_out", [wrapped(words.taking_out)]
    yield "movement", (wrapped(text, lead="  - ") for text in words.movement)
    yield "look", (wrapped(text, lead="  ! ") for text in words.doubts)
    yield "barrel", _barrel(words, ascii_only=ascii_only)
    if words.stock is not None:
        yield "stock", _stock(words.stock)
    if words.plot is not None or words.springs is not None:
        yield "torque", _torque(words, ascii_only=ascii_only)
    yield "fitting", [wrapped(words.fitting)]
    if words.stages:
        yield "check", _checks(words)
    else:
        yield "notes", _bulleted(words.notes)
    if words.gauges:
        yield "readings", _readings(words)
    yield "rules", _rules(words)
    yield "found", (_listed(each, "    ") for each in words.found)
    if words.budgets:
        yield "budget", (*map(_budget, words.budgets), wrapped(words.budget_note))


def _answer(words: PageWords) -> Iterator[str]:
    yield wrapped(words.answer.sentence)
    yield _pairs((f"{d.name}, mm", f"{d.numeral}  {d.note}".rstrip()) for d in words.answer.dials)
    yield from _bulleted(words.answer.grounds)


def _barrel(words: PageWords, *, ascii_only: bool) -> Iterator[str]:
    if words.plan is None:
        return
    yield plan_text(words.plan, ascii_only=ascii_only)
    yield wrapped(words.plan_caption)
    if words.section is not None and (alarm := too_high(words.section)):
        yield wrapped(alarm, lead="  ! ")
    yield _pairs(words.sizes)
    yield wrapped(words.sizes_note)


def _stock(stock: StockWords) -> Iterator[str]:
    if stock.picks is not None:
        yield _table(stock.picks)
    yield wrapped(stock.note)
    for listed in (stock.why, stock.refused):
        if listed is not None:
            yield _listed(listed, "  - ")


def _torque(words: PageWords, *, ascii_only: bool) -> Iterator[str]:
    if words.plot is not None:
        yield torque_text(words.plot, ascii_only=ascii_only)
    yield wrapped(words.torque_caption)
    if words.springs is not None:
        yield _table(words.springs)
        yield wrapped(words.springs_note)
    if words.at_fusee is not None:
        yield wrapped(words.chain)
        yield _table(words.at_fusee)
        yield wrapped(words.fusee_note)


def _checks(words: PageWords) -> Iterator[str]:
    yield from map(_stage, words.stages)
    said = " ".join(filter(None, (words.foreseen_for, f"Record it: {words.keep}")))
    yield wrapped(said)
    if words.notes:
        yield _listed(Listed(heading=HEADINGS["notes"], lines=words.notes), "  - ")


def _stage(stage: Checks) -> str:
    rows = [(check.what, check.foreseen, check.seen or "____") for check in stage.checks]
    return f"  {stage.when}\n{table(('check', 'expected', 'seen'), rows)}"


def _readings(words: PageWords) -> Iterator[str]:
    yield wrapped(f"Beside each: the {words.mean}")
    if not words.readings:
        yield wrapped(words.nothing_measured)
    yield from map(_measurand, words.readings)
    yield from (wrapped(gauge.text, lead=f"  {gauge.kind}: ") for gauge in words.gauges)


def _measurand(figure: ReadingsFigure) -> str:
    """The mean, how many readings stand behind it, and each of them."""
    plot = figure.plot
    lines = [
        wrapped(f"{plot.measurand}: {plot.mean.text} mm"),
        f"    {plot.count}",
        *(wrapped(line, lead="    ") for line in figure.said),
    ]
    return "\n".join(lines)


def _rules(words: PageWords) -> Iterator[str]:
    for panel in words.rules:
        rows = ((f"  {row.title}", row.size.figure) for row in panel.rows)
        yield f"  {panel.title}\n{_pairs(rows)}"
    if words.rules:
        yield from (wrapped(basis, lead=f"  {rule}: ") for rule, basis in words.bases)


def _budget(budget: Budget) -> str:
    bars = (
        wrapped(f"{bar.name} (type {bar.kind})", lead=share_bar(bar.share)) for bar in budget.bars
    )
    rest = [wrapped(budget.rest, lead="    ")] if budget.rest else []
    return "\n".join((wrapped(budget.heading), *bars, *rest))


def _listed(listed: Listed, lead: str) -> str:
    return "\n".join(
        (wrapped(listed.heading), *(wrapped(line, lead=lead) for line in listed.lines))
    )


def _bulleted(texts: Iterable[str]) -> Iterator[str]:
    return (wrapped(text, lead="  - ") for text in texts)


def _pairs(rows: Iterable[tuple[str, str]]) -> str:
    """Names on the left, what belongs to them beside them, or below where a word is too long."""
    told = [*rows]
    width = max((len(name) for name, _ in told), default=0)
    lines = []
    for name, text in told:
        lead = f"  {name:{width}}{GAP}"
        if max(map(len, text.split()), default=0) > WIDTH - len(lead):
            lines.append(f"  {name}")
            lead = "    "
        lines.append(wrapped(text, lead=lead))
    return "\n".join(lines)


def _table(shown: Table) -> str:
    names, *cells = zip(*shown.rows, strict=True)
    columns = dict(zip(shown.header[1:], cells, strict=True))
    return f"{wrapped(shown.caption)}\n{named_table(names, columns)}"
