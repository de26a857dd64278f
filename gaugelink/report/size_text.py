"""A sizing result as text for the terminal: what was measured, what the rules say, how sure."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from gaugelink.report.cautions import SPRING_CAUTIONS
from gaugelink.report.numbers import plus_minus
from gaugelink.report.table import table, wrapped
from gaugelink.sizing.results import ComparedSpring, SizeResult, SpringFigures
from gaugelink.uncertainty.estimate import BudgetRow, Estimate

_BUDGET_OUTPUTS = ("height", "half-area.thickness", "half-area.length", "half-area.turns")
_MOST_SHARES = 3
_LEAST_SHARE = 0.02
_MOST_NAMED = 3


def size_text(result: SizeResult) -> str:
    """Render a sizing result as text."""
    return "\n\n".join(_sections(result)) + "\n"


def _sections(result: SizeResult) -> Iterator[str]:
    yield _inputs(result)
    yield _rules(result)
    springs = [
        (name, spring)
        for name, spring in (("found", result.found), ("documented", result.documented))
        if spring is not None
    ]
    if springs:
        yield _springs(springs)
        yield from (_distances(name, spring) for name, spring in springs)
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


def _rules(result: SizeResult) -> str:
    header = ("", "thickness mm", "length mm", "fill", "turns, rings", "turns, spiral")
    rows = [(rule.rule, *_figure_cells(rule.figures)) for rule in result.rules]
    bases = "\n".join(wrapped(r.basis, lead=f"  {r.rule}: ") for r in result.rules)
    return f"THE SPRING BY RULE\n{table(header, rows)}\n{bases}"


def _figure_cells(figures: SpringFigures) -> tuple[str, ...]:
    return tuple(
        _cell(estimate)
        for estimate in (
            figures.thickness,
            figures.length,
            figures.fill,
            figures.turns,
            figures.turns_spiral,
        )
    )


def _springs(springs: Sequence[tuple[str, ComparedSpring]]) -> str:
    header = ("", "height mm", "thickness mm", "length mm", "fill", "turns, rings", "torque")
    rows = [
        (name, _cell(s.figures.height), *_figure_cells(s.figures)[:4], _torque(s))
        for name, s in springs
    ]
    notes = "\n".join(wrapped(f"{name}: {s.torque_reference}") for name, s in springs)
    return (
        f"SPRINGS COMPARED (torque as a multiple of the reference)\n{table(header, rows)}\n{notes}"
    )


def _torque(spring: ComparedSpring) -> str:
    ratio = spring.torque_ratio
    return "-" if ratio is None else f"{ratio.low:.2f} .. {ratio.high:.2f}"


def _distances(name: str, spring: ComparedSpring) -> str:
    outputs = ("thickness", "length", "fill", "turns")
    by_rule: dict[str, dict[str, float]] = {}
    for d in spring.distances:
        by_rule.setdefault(d.rule, {})[d.output] = d.in_u
    height = by_rule.pop("height", {}).get("height")
    rows = [
        (rule, *(_in_u(cells.get(output)) for output in outputs)) for rule, cells in by_rule.items()
    ]
    title = f"HOW FAR THE {name.upper()} SPRING LIES FROM EACH RULE (u: of the measurement alone)"
    tail = f"\n  height against the available height: {_in_u(height)}" if height is not None else ""
    return f"{title}\n{table(('', *outputs), rows)}{tail}"


def _in_u(value: float | None) -> str:
    return "-" if value is None else f"{value:+.1f} u"


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


def _cell(estimate: Estimate | None) -> str:
    return "-" if estimate is None else plus_minus(estimate)


def _spoken(label: str) -> str:
    return label.replace(".", " ").replace("_", " ")
