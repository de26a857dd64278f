"""A sizing result as text for the terminal: what was measured, what the rules say, how sure."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from gaugelink.names import spoken
from gaugelink.report.answer_text import answer_section, movement_section
from gaugelink.report.cautions import spring_cautions
from gaugelink.report.found_text import finding_section, found_length_section
from gaugelink.report.numbers import plus_minus
from gaugelink.report.spring_tables import distances_section, rules_section, springs_section
from gaugelink.report.table import table, wrapped
from gaugelink.report.torque_text import torque_section
from gaugelink.sizing.results import SizeResult
from gaugelink.uncertainty.estimate import BudgetRow

_BUDGET_OUTPUTS = (
    "height",
    "half-area.thickness",
    "half-area.length",
    "half-area.turns",
    "half-area.turns_usable",
    "found.turns_usable",
)
# Their spread is judgement and far from linear: that both routes differ is no news.
_ROUGH = (
    *("turns_usable", "turns_working", "hours_usable", "torque_full", "torque_kept", "energy"),
    *("loose_coils", "stress_range", "crown_turns", "ratio_low", "ratio_high"),
    *("ratio_day_low", "ratio_day_high", "to_found_low", "to_found_high"),
)
_ASSUMED = ("modulus", "full_wind_stress", "end_room")  # said with the torque
_MOST_SHARES = 3
_LEAST_SHARE = 0.02
_WHOLE_BAR = 20  # characters: five per cent each
_MOST_NAMED = 3


def size_text(result: SizeResult) -> str:
    """Render a sizing result as text."""
    return "\n\n".join(_sections(result)) + "\n"


def _sections(result: SizeResult) -> Iterator[str]:
    """Yield the answer first, its grounds after it, and what to mind where it is done last."""
    yield from filter(None, (movement_section(result), answer_section(result)))
    if result.finding is not None:
        yield finding_section(result.finding)
    if result.found_length is not None:
        used = result.found.figures.length if result.found is not None else None
        yield found_length_section(result.found_length, used)
    yield _inputs(result)
    yield from _springs(result)
    yield from filter(None, (torque_section(result), _budget(result.budget), _refused(result)))
    if texts := tuple(_warnings(result)):
        yield "LOOK AT THIS\n" + "\n".join(wrapped(text, lead="  ! ") for text in texts)
    yield spring_cautions(result.watch.arrangement)


def _springs(result: SizeResult) -> Iterator[str]:
    if result.rules:
        yield rules_section(result.rules)
    springs = [
        (name, spring)
        for name, spring in (("found", result.found), ("documented", result.documented))
        if spring is not None
    ]
    if springs:
        yield springs_section(springs)
    if result.rules and result.found is not None:
        yield distances_section("found", result.found)


def _inputs(result: SizeResult) -> str:
    shown = (e for e in result.inputs if e.label not in _ASSUMED and "." not in e.label)
    rows = [(spoken(e.label), f"{plus_minus(e)} {e.unit}") for e in shown]
    if result.height is not None:
        rows.append(("AVAILABLE HEIGHT", f"{plus_minus(result.height)} mm"))
    title = f"BARREL (value ± half of the {100 * result.coverage:g} % interval)"
    return f"{title}\n{table(('', ''), rows)}"


def _refused(result: SizeResult) -> str | None:
    if not result.refused:
        return None
    texts = (f"{no.asked}: {no.reason} {no.hint}" for no in result.refused)
    return "NOT WORKED OUT\n" + "\n".join(wrapped(text) for text in texts)


def _budget(rows: Sequence[BudgetRow]) -> str | None:
    lines: list[str] = []
    for output in _BUDGET_OUTPUTS:
        largest = sorted((r for r in rows if r.output == output), key=lambda r: -r.share)
        shown = [_share(r) for r in largest[:_MOST_SHARES] if r.share >= _LEAST_SHARE]
        lines += [f"  {spoken(output)}", *shown] if shown else []
    title = "WHERE THE UNCERTAINTY COMES FROM (largest shares of the variance)"
    return "\n".join((title, *lines)) if lines else None


def _share(row: BudgetRow) -> str:
    """The bar before the name: names are of any length, and bars are to be compared."""
    bar = "#" * max(1, round(_WHOLE_BAR * row.share))
    percent = f"{100 * row.share:.0f} %"
    return wrapped(spoken(row.influence), lead=f"    {percent:>5}  {bar:<{_WHOLE_BAR}}  ")


def _warnings(result: SizeResult) -> Iterator[str]:
    yield from (warning.text for warning in result.warnings)
    labels = [d.output for d in result.disagreements]
    labels = [label for label in labels if label.rpartition(".")[2] not in _ROUGH]
    if labels:
        first = ", ".join(spoken(label) for label in labels[:_MOST_NAMED])
        more = len(labels) - _MOST_NAMED
        yield (
            "The first-order interval is not confirmed by the Monte Carlo, whose interval is "
            f"shown, for {first}{f' and {more} more' if more > 0 else ''}."
        )
