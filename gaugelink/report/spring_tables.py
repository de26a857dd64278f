"""Springs side by side: what they measure, and what they do in this barrel."""

from __future__ import annotations

from collections.abc import Sequence

from gaugelink.report.answer_text import span
from gaugelink.report.numbers import plus_minus
from gaugelink.report.table import table, wrapped
from gaugelink.sizing.results import ComparedSpring, RuleResult, SpringFigures
from gaugelink.uncertainty.estimate import Estimate

_DISTANCES = ("thickness", "length", "fill", "turns")


def rules_section(rules: Sequence[RuleResult]) -> str:
    """Lay out the spring by every rule, with the ground each rule stands on."""
    sizes = [
        (r.rule, _cell(r.figures.thickness), _cell(r.figures.length), _cell(r.figures.fill))
        for r in rules
    ]
    effects = _effects([(r.rule, r.figures) for r in rules])
    bases = "\n".join(wrapped(r.basis, lead=f"  {r.rule}: ") for r in rules)
    header = ("", "thickness mm", "length mm", "fill")
    return f"THE SPRING BY RULE\n{table(header, sizes)}\n\n{effects}\n\n{bases}"


def springs_section(springs: Sequence[tuple[str, ComparedSpring]]) -> str:
    """Lay out the springs that exist or are written down, and what they do."""
    header = ("", "height mm", "thickness mm", "length mm", "fill")
    sizes = [
        (
            name,
            _cell(spring.figures.height),
            _cell(spring.figures.thickness),
            _cell(spring.figures.length),
            _cell(spring.figures.fill),
        )
        for name, spring in springs
    ]
    effects = _effects([(name, spring.figures) for name, spring in springs])
    return f"SPRINGS COMPARED\n{table(header, sizes)}\n\n{effects}"


def distances_section(name: str, spring: ComparedSpring) -> str:
    """Lay out how far a spring lies from each rule, in standard uncertainties."""
    by_rule: dict[str, dict[str, float]] = {}
    for d in spring.distances:
        by_rule.setdefault(d.rule, {})[d.output] = d.in_u
    height = by_rule.pop("height", {}).get("height")
    rows = [
        (rule, *(_in_u(cells.get(output)) for output in _DISTANCES))
        for rule, cells in by_rule.items()
    ]
    title = f"THE {name.upper()} SPRING AGAINST EACH RULE (in u, of the measurement alone)"
    tail = f"\n  height against the available height: {_in_u(height)}" if height is not None else ""
    return f"{title}\n{table(('', *_DISTANCES), rows)}{tail}"


def _effects(springs: Sequence[tuple[str, SpringFigures]]) -> str:
    """What the springs do; hours only where the hours per turn are known."""
    hours = [f.torque_model.hours_usable if f.torque_model else None for _, f in springs]
    with_hours = any(each is not None for each in hours)
    header = ("", "turns, rings", "turns, spiral", "turns, usable")
    rows = [
        (name, _cell(figures.turns), _cell(figures.turns_spiral), _span(figures.turns_usable))
        for name, figures in springs
    ]
    if not with_hours:
        return table(header, rows)
    return table(
        (*header, "hours, usable"),
        [(*row, _span(each)) for row, each in zip(rows, hours, strict=True)],
    )


def _in_u(value: float | None) -> str:
    return "-" if value is None else f"{value:+.1f} u"


def _cell(estimate: Estimate | None) -> str:
    return "-" if estimate is None else plus_minus(estimate).replace(" ± ", "±")


def _span(estimate: Estimate | None) -> str:
    return "-" if estimate is None else span(estimate)
