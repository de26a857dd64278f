"""The stock as text: what is on hand, what a list changed, what is wrong in it."""

from __future__ import annotations

import functools
from collections.abc import Mapping, Sequence
from dataclasses import fields

from gaugelink.mechanics.materials import WHITE, shipped_materials
from gaugelink.report.table import one_line, shortened, table, wrapped
from gaugelink.stock.change import ChangedSpring, StockChange, StockMove
from gaugelink.stock.reading import MOST_FAULTS, RowFault, StockList
from gaugelink.stock.stock_spring import StockSpring

_HEADER = ("item", "height", "thickness", "length", "end", "metal", "on hand")
_ITEM_WIDTH = 16  # with the widest names of ends this makes 78 columns
_FINEST = 4  # decimals of a size
_MOST_LISTED = 10


def stock_text(springs: Sequence[StockSpring], n_sizes: int) -> str:
    """Render the springs that were found of a stock of ``n_sizes`` sizes; one alone in full."""
    if not n_sizes:
        return (
            "No springs yet. Read your list with: gaugelink stock FILE\n"
            "  or an invented one with: gaugelink stock --demo"
        )
    if not springs:
        return f"Nothing like that among {_sizes(n_sizes)}."
    part = "" if len(springs) == n_sizes else f"{len(springs)} of "
    low = sum(spring.running_out for spring in springs)
    on_hand = sum(spring.on_hand for spring in springs)
    head = f"STOCK  {part}{_sizes(n_sizes)}, {on_hand} on hand, {low} running out; mm"
    lines = [head, stock_table(springs)]
    if len(springs) == 1:
        lines += _details(springs[0])
    return "\n".join(lines)


def stock_table(springs: Sequence[StockSpring]) -> str:
    """Lay springs out as a table; the word low marks what is running out."""
    heights = _column([s.height_mm for s in springs], 2)
    thicknesses = _column([s.thickness_mm for s in springs], 2)
    lengths = _column([s.length_mm for s in springs], 0)
    rows = [
        (
            _short(s.item),
            height,
            thickness,
            length,
            s.end or "-",
            _metals().get(s.material or "", "-"),
            f"{s.on_hand} low" if s.running_out else str(s.on_hand),
        )
        for s, height, thickness, length in zip(springs, heights, thicknesses, lengths, strict=True)
    ]
    return table(_HEADER, rows)


def faults_text(read: StockList) -> str:
    """Render the first faults of a list, each with its place and what to do, and their number."""
    rows = f"{read.n_faulty_rows} rows" if read.n_faulty_rows > 1 else "1 row"
    head = wrapped(
        f"{len(read.faults)} in {rows} of {read.path}:", lead="FAULTS  ", split_words=False
    )
    lines = [wrapped(_fault(fault)) for fault in read.faults[:MOST_FAULTS]]
    rest = len(read.faults) - MOST_FAULTS
    more = [f"  and {rest} more"] if rest > 0 else []
    return "\n".join([head, *lines, *more])


def reading_text(read: StockList, change: StockChange) -> str:
    """Render what a list changed in the stock."""
    sheet = f", sheet {read.sheet!r}" if read.sheet else ""
    counts = {
        "new": len(change.new),
        "changed": len(change.changed),
        "gone": len(change.gone),
        "the same": len(change.same),
    }
    told = ", ".join(f"{n} {what}" for what, n in counts.items() if n)
    head = f"{_sizes(len(read.springs))} read: {told}; from {read.path}{sheet}."
    lines = [wrapped(head, lead="STOCK  ", split_words=False)]
    if len(change.new) < len(read.springs):  # the first list is new as a whole
        lines += _listed("new", [_named(spring) for spring in change.new])
    lines += _listed("changed", [_changed(c) for c in change.changed])
    lines += _listed("gone", [_named(spring) for spring in change.gone])
    if change.kept:
        lines.append(_kept(change.kept))
    if n_blank := read.n_blank_counts:
        rows = f"{n_blank} rows have" if n_blank > 1 else "1 row has"
        lines.append(wrapped(f"{rows} an empty count, taken as none on hand."))
    if read.unused:
        lines.append(wrapped(f"Columns that are not used: {', '.join(read.unused)}."))
    if read.other_sheets:
        lines.append(wrapped(f"Sheets that were not read: {', '.join(read.other_sheets)}."))
    return "\n".join(lines)


def move_text(move: StockMove) -> str:
    """Render what was taken out or brought back, what is left, and what is running out."""
    spring, count = move.spring, abs(move.count)
    done = "taken out" if move.count > 0 else "brought back"
    job = f" for job {move.job_id}" if move.job_id is not None else ""
    low = ", running out" if spring.running_out else ""
    lines = [
        wrapped(
            f"{count} of {one_line(spring.item)} {done}{job}: {spring.on_hand} left{low}.", lead=""
        )
    ]
    if spring.running_out:
        lines += _alternatives(move.alternatives)
    shown = {spring.item, *(s.item for s in move.alternatives if spring.running_out)}
    others = [s for s in move.running_out if s.item not in shown]
    if others:
        named = ", ".join(f"{_short(s.item)} ({s.on_hand})" for s in others[:_MOST_LISTED])
        rest = len(others) - _MOST_LISTED
        more = f" and {rest} more; gaugelink stock --low lists them" if rest > 0 else ""
        also = "Also running" if spring.running_out else "Running"
        lines.append(wrapped(f"{also} out: {named}{more}.", lead=""))
    return "\n".join(lines)


def _alternatives(springs: Sequence[StockSpring]) -> list[str]:
    if not springs:
        return ["Nothing on hand is near it in size."]
    head = "On hand nearest in size (gaugelink choose says which one suits a barrel):"
    return [head, stock_table(springs)]


def _kept(kept: Sequence[ChangedSpring]) -> str:
    named = ", ".join(f"{_short(c.now.item)} ({c.now.on_hand})" for c in kept[:_MOST_LISTED])
    rest = len(kept) - _MOST_LISTED
    more = f" and {rest} more" if rest > 0 else ""
    return wrapped(f"The list is unchanged here, so springs you used stay used: {named}{more}.")


def _listed(what: str, told: Sequence[str]) -> list[str]:
    lines = [wrapped(text, lead=f"  {what:9}") for text in told[:_MOST_LISTED]]
    rest = len(told) - _MOST_LISTED
    return [*lines, f"  and {rest} more"] if rest > 0 else lines


def _named(spring: StockSpring) -> str:
    return f"{one_line(spring.item)}: {spring.size} mm, {spring.on_hand} on hand"


def _changed(change: ChangedSpring) -> str:
    names = [field.name for field in fields(StockSpring)]
    told = [
        f"{name.removesuffix('_mm').replace('_', ' ')} {_value(before)} -> {_value(now)}"
        for name in names
        if (before := getattr(change.before, name)) != (now := getattr(change.now, name))
    ]
    return f"{one_line(change.now.item)}: {', '.join(told)}"


def _fault(fault: RowFault) -> str:
    column = f", {one_line(fault.column)}" if fault.column else ""
    return f"line {fault.line}{column}: {one_line(fault.fault)} {one_line(fault.hint)}"


def _details(spring: StockSpring) -> list[str]:
    tolerances = [
        f"{size} ±{value:g} mm"
        for size, value in (
            ("height", spring.height_tolerance_mm),
            ("thickness", spring.thickness_tolerance_mm),
            ("length", spring.length_tolerance_mm),
        )
        if value is not None
    ]
    told = {
        "tolerances": ", ".join(tolerances),
        "material": spring.material or "",
        "reorder at": str(spring.reorder_at),
        "note": one_line(spring.note),
    }
    return [wrapped(f"{what}: {text}") for what, text in told.items() if text]


def _column(values_mm: Sequence[float], least: int) -> list[str]:
    """Write sizes with the decimals that the finest of them needs."""
    shown = [f"{value:.{_FINEST}f}".rstrip("0") for value in values_mm]
    places = max((len(text.partition(".")[2]) for text in shown), default=0)
    return [f"{value:.{max(places, least)}f}" for value in values_mm]


@functools.cache
def _metals() -> Mapping[str, str]:
    """What the eye can tell of each material: blued steel or a white alloy."""
    names = {m.name: "white" if m.white else "blued" for m in shipped_materials()}
    return names | {WHITE: "white"}


def _sizes(count: int) -> str:
    return f"{count} sizes" if count != 1 else "1 size"


def _short(item: str) -> str:
    return shortened(one_line(item), _ITEM_WIDTH)


def _value(value: str | float | None) -> str:
    if value is None or value == "":
        return "-"
    return f"{value:g}" if isinstance(value, float) else one_line(str(value))
