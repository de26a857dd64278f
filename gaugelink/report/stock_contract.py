"""The stock as JSON: extended over time, never renamed. Lengths in mm."""

from __future__ import annotations

from collections.abc import Sequence

from gaugelink.report.contract import SCHEMA
from gaugelink.report.figures_contract import Json
from gaugelink.stock.change import StockChange, StockMove
from gaugelink.stock.reading import RowFault, StockList
from gaugelink.stock.spring import StockSpring


def spring_json(spring: StockSpring) -> Json:
    """Return a spring of the stock as JSON data; null is what its list does not say."""
    return {
        "item": spring.item,
        "height_mm": spring.height_mm,
        "thickness_mm": spring.thickness_mm,
        "length_mm": spring.length_mm,
        "height_tolerance_mm": spring.height_tolerance_mm,
        "thickness_tolerance_mm": spring.thickness_tolerance_mm,
        "length_tolerance_mm": spring.length_tolerance_mm,
        "end": spring.end,
        "material": spring.material,
        "on_hand": spring.on_hand,
        "reorder_at": spring.reorder_at,
        "running_out": spring.running_out,
        "note": spring.note,
    }


def stock_json(springs: Sequence[StockSpring], n_sizes: int) -> Json:
    """Return the springs that were found, and of how many sizes, as JSON data."""
    return {
        "schema": SCHEMA,
        "n_sizes": n_sizes,
        "springs": [spring_json(spring) for spring in springs],
        "running_out": [spring.item for spring in springs if spring.running_out],
    }


def reading_json(read: StockList, change: StockChange | None) -> Json:
    """Return what a list says, and what it changed, as JSON data; ``None``: nothing was taken."""
    changed = change or StockChange()
    return {
        "schema": SCHEMA,
        "file": read.path,
        "sheet": read.sheet or None,
        "other_sheets": list(read.other_sheets),
        "taken": change is not None,
        "new": [spring_json(spring) for spring in changed.new],
        "changed": [
            {"before": spring_json(c.before), "now": spring_json(c.now)} for c in changed.changed
        ],
        "gone": [spring_json(spring) for spring in changed.gone],
        "n_same": len(changed.same),
        "n_faulty_rows": read.n_faulty_rows,
        "faults": [_fault_json(fault) for fault in read.faults],
        "unused_columns": list(read.unused),
    }


def move_json(move: StockMove) -> Json:
    """Return what was taken out or brought back as JSON data."""
    return {
        "schema": SCHEMA,
        "spring": spring_json(move.spring),
        "taken": move.count,
        "job": move.job_id,
        "running_out": [spring.item for spring in move.running_out],
        "alternatives": [spring_json(spring) for spring in move.alternatives],
    }


def _fault_json(fault: RowFault) -> Json:
    return {
        "line": fault.line,
        "column": fault.column,
        "fault": fault.fault,
        "hint": fault.hint,
    }
