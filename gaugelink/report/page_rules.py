"""Rules and springs side by side, and what makes the figures uncertain, as the drawings take it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from gaugelink.drawing.dimension import Dimension
from gaugelink.drawing.rules_plot import Bar, RowKind, RulePanel, RuleRow
from gaugelink.names import spoken
from gaugelink.report.page_content import PageContent
from gaugelink.report.page_spring import PageSpring, dimension, given_springs, page_spring
from gaugelink.sizing.results import RuleResult, SizeResult
from gaugelink.sizing.rules import HALF_AREA
from gaugelink.uncertainty.estimate import BudgetRow

_MOST_BARS = 3
_LEAST_SHARE = 0.02


@dataclass(frozen=True, slots=True, kw_only=True)
class Budget:
    """The largest shares of the variance of one figure; ``left_out`` is what the rest has."""

    output: str
    bars: tuple[Bar, ...]
    left_out: float


def rule_panels(content: PageContent) -> tuple[RulePanel, ...]:
    """Return height, thickness and length, by every rule and of every spring that is known."""
    result = content.result
    if result is None:
        return ()
    springs = _springs(content, result)
    panels = {
        "height": [*_available(result), *_rows(springs, lambda s: s.height)],
        "thickness": [*_by_rule(result, _thickness), *_rows(springs, lambda s: s.thickness)],
        "length": [*_by_rule(result, _length), *_rows(springs, lambda s: s.length)],
    }
    return tuple(
        RulePanel(title=f"{name} in mm", rows=tuple(rows))
        for name, rows in panels.items()
        if len(rows) > 1 or (rows and rows[0].kind is RowKind.RULE)
    )


def rule_bases(content: PageContent) -> tuple[tuple[str, str], ...]:
    """Return each rule with the ground it stands on."""
    rules = content.result.rules if content.result else ()
    return tuple((rule.rule, rule.basis) for rule in rules)


def budgets(content: PageContent) -> tuple[Budget, ...]:
    """Return what makes the available height and the length by rule uncertain."""
    result = content.result
    if result is None:
        return ()
    made = (_budget(output, result) for output in ("height", f"{_rule(content)}.length"))
    return tuple(budget for budget in made if budget is not None)


def turns_budget(content: PageContent) -> Budget | None:
    """Return what makes the usable turns uncertain: mostly one thing, what is assumed."""
    result, spring = content.result, page_spring(content)
    if result is None or spring is None:
        return None
    label = _rule(content) if spring.kind is RowKind.PICKED else spring.label
    return _budget(f"{label}.turns_usable", result)


def _rule(content: PageContent) -> str:
    spring = page_spring(content)
    return spring.label if spring is not None and spring.kind is RowKind.RULE else HALF_AREA


def _springs(content: PageContent, result: SizeResult) -> tuple[PageSpring, ...]:
    given, shown = given_springs(result), page_spring(content)
    picked = [shown] if shown is not None and shown.kind is RowKind.PICKED else []
    return (*given.values(), *picked)


def _available(result: SizeResult) -> Iterator[RuleRow]:
    if result.height is not None:
        yield _row("available", RowKind.RULE, dimension(result.height))


def _by_rule(
    result: SizeResult, size: Callable[[RuleResult], Dimension | None]
) -> Iterator[RuleRow]:
    """Rules that ask for one and the same size share a row."""
    names: dict[Dimension, list[str]] = {}
    for rule in result.rules:
        asked = size(rule)
        if asked is not None:
            names.setdefault(asked, []).append(rule.rule)
    for asked, together in names.items():
        everyone = len(together) == len(result.rules) > 1
        name = "every rule" if everyone else ", ".join(together)
        yield _row(name, RowKind.RULE, asked)


def _thickness(rule: RuleResult) -> Dimension | None:
    return dimension(rule.figures.thickness)


def _length(rule: RuleResult) -> Dimension | None:
    length = rule.figures.length
    return None if length is None else dimension(length)


def _rows(
    springs: tuple[PageSpring, ...], size: Callable[[PageSpring], Dimension | None]
) -> Iterator[RuleRow]:
    for spring in springs:
        known = size(spring)
        if known is not None:
            yield _row(spring.label, spring.kind, known)


def _row(name: str, kind: RowKind, size: Dimension) -> RuleRow:
    return RuleRow(
        name=name,
        kind=kind,
        value=size.value_mm,
        low=size.low_mm,
        high=size.high_mm,
        figure=size.figure,
    )


def _budget(output: str, result: SizeResult) -> Budget | None:
    rows = sorted((r for r in result.budget if r.output == output), key=lambda r: -r.share)
    shown = [row for row in rows[:_MOST_BARS] if row.share >= _LEAST_SHARE]
    if not shown:
        return None
    return Budget(
        output=spoken(output),
        bars=tuple(_bar(row) for row in shown),
        left_out=max(0.0, 1.0 - sum(row.share for row in shown)),
    )


def _bar(row: BudgetRow) -> Bar:
    return Bar(name=row.influence, kind=row.kind, share=row.share)
