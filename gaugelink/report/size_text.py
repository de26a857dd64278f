"""A sizing result as text for the terminal: what was measured, what the rules say, how sure."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from gaugelink.report.cautions import SPRING_CAUTIONS
from gaugelink.report.numbers import plus_minus
from gaugelink.report.spring_tables import distances_section, rules_section, springs_section
from gaugelink.report.table import table, wrapped
from gaugelink.sizing.results import SizeResult
from gaugelink.uncertainty.estimate import BudgetRow

_BUDGET_OUTPUTS = ("height", "half-area.thickness", "half-area.length", "half-area.turns")
_MOST_SHARES = 3
_LEAST_SHARE = 0.02
_MOST_NAMED = 3


def size_text(result: SizeResult) -> str:
    """Render a sizing result as text."""
    return "\n\n".join(_sections(result)) + "\n"


def _sections(result: SizeResult) -> Iterator[str]:
    yield _inputs(result)
    yield rules_section(result.rules)
    springs = [
        (name, spring)
        for name, spring in (("found", result.found), ("documented", result.documented))
        if spring is not None
    ]
    if springs:
        yield springs_section(springs)
        yield from (distances_section(name, spring) for name, spring in springs)
    yield _budget(result.budget)
    if result.warnings or result.disagreements:
        yield _warnings(result)
    yield SPRING_CAUTIONS


def _inputs(result: SizeResult) -> str:
    rows = [(_spoken(e.label), f"{plus_minus(e)} {e.unit}") for e in result.inputs]
    if result.height is not None:
        rows.append(("AVAILABLE HEIGHT", f"{plus_minus(result.height)} mm"))
    title = f"BARREL AND SPRINGS (value ± half of the {result.coverage:.0%} interval)"
    return f"{title}\n{table(('', ''), rows)}"


def _budget(rows: Sequence[BudgetRow]) -> str:
    lines = []
    for output in _BUDGET_OUTPUTS:
        largest = sorted((r for r in rows if r.output == output), key=lambda r: -r.share)
        shares = [
            f"{r.influence} {r.share:.0%}"
            for r in largest[:_MOST_SHARES]
            if r.share >= _LEAST_SHARE
        ]
        if shares:
            lines.append(wrapped(", ".join(shares), lead=f"  {_spoken(output)}: "))
    return "WHERE THE UNCERTAINTY COMES FROM (largest shares of the variance)\n" + "\n".join(lines)


def _warnings(result: SizeResult) -> str:
    texts = [w.text for w in result.warnings]
    if result.disagreements:
        first = ", ".join(_spoken(d.output) for d in result.disagreements[:_MOST_NAMED])
        more = len(result.disagreements) - _MOST_NAMED
        texts.append(
            "The first-order interval is not confirmed by the Monte Carlo, whose interval is "
            f"shown, for {first}{f' and {more} more' if more > 0 else ''}."
        )
    return "LOOK AT THIS\n" + "\n".join(wrapped(text, lead="  ! ") for text in texts)


def _spoken(label: str) -> str:
    return label.replace(".", " ").replace("_", " ")
