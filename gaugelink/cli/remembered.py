"""What ``gaugelink gauges`` says of remembered gauges, and how one is forgotten."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from pathlib import Path

from gaugelink.cli.known import is_there
from gaugelink.cli.output import say
from gaugelink.cli.recall import Memory
from gaugelink.errors import InputError
from gaugelink.jobbook.gauge_book import KnownGauge
from gaugelink.report.contract import Json
from gaugelink.report.table import table

_HEADER = ("format", "is a", "last used (UTC)")


def header(memory: Memory) -> tuple[str, ...]:
    """Return the names of the columns of ``cells``."""
    return _HEADER if memory.gauges else ()


def cells(memory: Memory, identity: str) -> tuple[str, ...]:
    """Return how the gauges at a port are read; no columns where nothing is remembered."""
    return _cells(memory.at(identity)) if memory.gauges else ()


def _cells(gauges: Sequence[KnownGauge]) -> tuple[str, ...]:
    if not gauges:
        return ("-", "-", "-")
    formats = ", ".join(gauge.format for gauge in gauges)
    kinds = ", ".join(str(gauge.kind or "?") for gauge in gauges)
    return (formats, kinds, gauges[0].last_used_utc[:16].replace("T", " "))


def others_text(memory: Memory, listed: Collection[str]) -> str:
    """Return a table of the remembered gauges that are at none of the listed ports.

    Args:
        memory: what is remembered.
        listed: identities of the ports and devices that stand in other tables.
    """
    shown = {gauge.gauge_id for identity in listed for gauge in memory.at(identity)}
    rows = [
        (gauge.gauge_id, "yes" if is_there(gauge) else "no", *_cells([gauge]))
        for gauge in memory.gauges
        if gauge.gauge_id not in shown
    ]
    return "ALSO REMEMBERED\n" + table(("identity", "plugged in", *_HEADER), rows) if rows else ""


def gauge_json(gauge: KnownGauge) -> Json:
    """Return a remembered gauge as JSON data."""
    return {
        "identity": gauge.gauge_id,
        "address": gauge.address,
        "plugged_in": is_there(gauge),
        "format": gauge.format,
        "kind": gauge.kind,
        "sends": gauge.sends,
        "unit": gauge.unit,
        "options": dict(gauge.options),
        "first_used_utc": gauge.first_used_utc,
        "last_used_utc": gauge.last_used_utc,
    }


def forget(identity: str, journal: Path | None) -> None:
    """Forget how a gauge is read; its jobs stay.

    Raises:
        InputError: no gauge with that identity is remembered.
    """
    memory = Memory(journal)
    if not memory.forget(identity):
        known = ", ".join(gauge.gauge_id for gauge in memory.gauges) or "none"
        raise InputError(
            f"No gauge {identity!r} is remembered.", hint=f"Remembered gauges: {known}."
        )
    say(f"{identity} is forgotten. Its jobs stay as they are.")
