"""The section of the results on springs of hidden strength."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING

from hidden_strength import FOUND, NEW
from tally import Verdict

if TYPE_CHECKING:
    from strength_study import Cell, LookResult

HEADING = "## Springs of hidden strength"
TITLES = {
    "stress_full": "stress",
    "torque_half_turn": "torque ½ turn on",
    "turns_usable": "usable turns",
    "hours_to_stop": "hours to stop",
    "loose_coils": "loose coils",
}
_COLUMNS = [(spring, label) for spring in (FOUND, NEW) for label in TITLES]
_NAMES = {FOUND: "found", NEW: "new"}


def section(results: Sequence[LookResult], command: str, how: str) -> str:
    """Return the section, without what stands before it on the page."""
    return "\n".join(
        [
            HEADING,
            "",
            f"`{command}`: {how}",
            "",
            "Each bench has a found spring and a new one of hidden material, stress, modulus and",
            "wear; the repairer is told the class, that it is white, or nothing, and counts some",
            "of its signs with his error. `spring_physics.py` works out what the springs do. A",
            "cell is the coverage of the stated 95 % interval in %, and its mean width over that",
            "of an oracle with the same prior and the same counts (importance sampling). Goal:",
            "93 %; bold where it is missed by more than chance does once in a thousand.",
            "",
            *_rows(results),
            "",
            "Mean half-width of the interval over the mean of the truth, in %; the last column is",
            "the least coverage of the oracle's own intervals, in %, which checks the study.",
            "",
            *_widths(results),
            "",
            _sum(results),
        ]
    )


def _rows(results: Sequence[LookResult]) -> Iterator[str]:
    yield from _heading(["scenario", *(f"{_NAMES[s]}: {TITLES[n]}" for s, n in _COLUMNS)])
    for result in results:
        cells = (result[f"{spring}.{label}"] for spring, label in _COLUMNS)
        yield _row([result.look.name, *map(_cell, cells)])


def _cell(cell: Cell) -> str:
    text = f"{100 * cell.coverage:.1f}"
    marked = f"**{text}**" if cell.verdict() is Verdict.MISSED else text
    return f"{marked} · {cell.width_ratio:.2f}"


def _widths(results: Sequence[LookResult]) -> Iterator[str]:
    columns = (f"{_NAMES[s]}: {TITLES[n]}" for s, n in _COLUMNS)
    yield from _heading(["scenario", *columns, "oracle, least"])
    for result in results:
        cells = [result[f"{spring}.{label}"] for spring, label in _COLUMNS]
        parts = (f"{100 * cell.half_width / cell.value:.0f}" for cell in cells)
        least = min(cell.oracle_coverage for cell in cells)
        yield _row([result.look.name, *parts, f"{100 * least:.0f}"])


def _sum(results: Sequence[LookResult]) -> str:
    cells = [cell for result in results for cell in result.cells]
    covered = sum(cell.covered for cell in cells) / sum(cell.benches for cell in cells)
    oracle = sum(cell.oracle_coverage for cell in cells) / len(cells)
    missed = sum(cell.verdict() is Verdict.MISSED for cell in cells)
    below = sum(cell.verdict() is Verdict.OPEN for cell in cells)
    return (
        f"All {len(cells)} cells together cover {100 * covered:.1f} %, the oracle "
        f"{100 * oracle:.1f} %. {missed} miss the goal, {below} lie below "
        "it within what chance does."
    )


def _heading(cells: Sequence[str]) -> Iterator[str]:
    yield _row(cells)
    yield _row("---" for _ in cells)


def _row(cells: Iterable[str]) -> str:
    return f"| {' | '.join(cells)} |"


def page_with(page: str, new: str) -> str:
    """Return a page with its section of this heading, which is the last, replaced."""
    return f"{page.partition(HEADING)[0].rstrip()}\n\n{new}\n"
