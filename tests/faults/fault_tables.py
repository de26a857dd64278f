"""Tables of what came of the faults."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from damage import ALIKE, BIT_FAULTS, WIRE_FAULTS


@dataclass(slots=True, kw_only=True)
class Tally:
    """What came of the trials of one fault in one format.

    ``passed`` are the wrong values that the plan's range lets pass, ``at_once`` those among
    them that are taken without a second reading, and ``far`` those of them that are far off.
    """

    n: int = 0
    right: int = 0
    wrong: int = 0
    passed: int = 0
    at_once: int = 0
    far: int = 0


Table = dict[tuple[str, str], Tally]  # by format and fault


def rows(table: Table, faults: Sequence[str], *, bore: bool) -> Iterator[str]:
    """Yield the lines of a table with one row for each format that has any of the faults."""
    width = 13 if bore else 12
    yield " " * 28 + "".join(f"{fault:>{width}}" for fault in faults)
    for name in dict.fromkeys(format for format, _ in table):
        tallies = [table.get((name, fault)) for fault in faults]
        if any(tallies):
            cells = [_cell(tally, bore=bore) if tally else "-" for tally in tallies]
            yield f"{name:28}" + "".join(f"{cell:>{width}}" for cell in cells)


def _cell(tally: Tally, *, bore: bool) -> str:
    if not bore or not tally.wrong:
        return str(tally.wrong)
    return f"{tally.wrong}/{tally.passed}/{tally.at_once}"


def outcomes(table: Table) -> str:
    """Return what came of all trials that had a fault."""
    hit = [tally for (_, fault), tally in table.items() if fault != "none"]
    n, right, wrong = (sum(getattr(t, name) for t in hit) for name in ("n", "right", "wrong"))
    far = sum(tally.far for tally in hit)
    return (
        f"Of {n} faults: {right} right values, {n - right - wrong} none, {wrong} wrong; {far} far "
        "off and taken at once."
    )


def report(n: int, any_size: Table, bores: Table) -> str:
    """Return both tables as text."""
    wire = tuple(WIRE_FAULTS)[1:]
    cable = (*BIT_FAULTS, *(name for name in ALIKE if any(f == name for _, f in any_size)))
    parts = [f"Wrong values of {n}, any size; faults on the way to the computer"]
    parts += [*rows(any_size, wire, bore=False), ""]
    parts += [f"Wrong values of {n}, any size; faults in the cable of the gauge (n: count kept)"]
    parts += [*rows(any_size, cable, bore=False), outcomes(any_size), ""]
    parts += [f"Bore of 11.4 to 11.6 mm: wrong of {n} / within the plan / and taken at once"]
    parts += [*rows(bores, wire, bore=True), ""]
    parts += ["The same; faults in the cable of the gauge"]
    parts += [*rows(bores, cable, bore=True), outcomes(bores)]
    return "\n".join(parts) + "\n"
