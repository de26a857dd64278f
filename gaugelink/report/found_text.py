"""The found spring read: the finding with its clues, and the length that nobody uncoiled."""

from __future__ import annotations

from collections.abc import Iterator

from gaugelink.mechanics.found_length import FoundLength
from gaugelink.report.table import table, wrapped
from gaugelink.sizing.finding import CLOSE, Answer, Finding, Question, Speaks
from gaugelink.uncertainty.estimate import Estimate

_TITLES = {
    Question.TIRED: "Tired?",
    Question.WRONG: "The wrong one?",
    Question.ORIGINAL: "The original?",
}
_MARKS = {Speaks.FOR: "+", Speaks.AGAINST: "-", Speaks.NEITHER: "?"}


def finding_section(finding: Finding) -> str:
    """Lay out what the found spring seems to be, and each clue with its ground."""
    lines = [line for answer in finding.answers for line in _answer(answer)]
    title = "THE FOUND SPRING READ (+ speaks for yes, - for no, ? for neither)"
    return "\n".join((title, *lines, wrapped(CLOSE)))


def found_length_section(found: FoundLength, used: Estimate | None = None) -> str:
    """Lay out the length of the found spring by each method, and what they give together.

    Args:
        found: the length from what was weighed and counted.
        used: the length that was reckoned with; another one where it was typed as well.
    """
    rows = [
        (m.method.value, f"{m.value_mm:.0f}", f"{m.u_mm:.1f}", f"{100 * m.weight:.0f} %")
        for m in found.methods
    ]
    rows.append(("together", f"{found.length.value:.0f}", f"{found.u_mm:.1f}", ""))
    advice = [wrapped(each.text, lead="  ! ") for each in found.advice]
    if used is not None and used.value != found.length.value:
        text = f"The typed length of {used.value:.0f} mm is used; this stands beside it."
        advice.insert(0, wrapped(text))
    title = "ITS LENGTH WITHOUT UNCOILING"
    return "\n".join((title, table(("", "length mm", "u mm", "weight"), rows), *advice))


def _answer(answer: Answer) -> Iterator[str]:
    yield wrapped(answer.text, lead=f"  {_TITLES[answer.question]} ")
    for clue in answer.clues:
        yield wrapped(f"{clue.seen} ({clue.basis})", lead=f"    {_MARKS[clue.speaks]} ")
