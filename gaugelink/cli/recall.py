"""Gauges that were read before: what they are at, and how they are read.

A known gauge completes an address; one that is opened becomes known at its first reading.
"""

from __future__ import annotations

import os
from collections.abc import Collection, Iterable, Mapping, Sequence
from pathlib import Path
from typing import final

from gaugelink.capture.acts import Act
from gaugelink.capture.runner import Keeper
from gaugelink.cli.output import say
from gaugelink.devices.address import SCHEMES, Address, parse_address
from gaugelink.devices.ports.identity import (
    BY_SOCKET,
    PROBED_SCHEMES,
    gauge_identity,
    is_by_socket,
    is_plugged_in,
)
from gaugelink.errors import GaugeNotFound, InputError, JournalError
from gaugelink.jobbook.book import default_path
from gaugelink.jobbook.gauge_book import GaugeBook, KnownGauge
from gaugelink.model import GaugeEvent, GaugeInfo, GaugeKind, Reading, Sends
from gaugelink.report.json_sizing import Json
from gaugelink.report.table import table
from gaugelink.units import LengthUnit

# What belongs to the gauge and not to its format: kept when another format is typed.
_OF_THE_GAUGE = frozenset({"kind", "mpe_mm", "shift_mpe_mm", "port"})
_OWN_FIELDS = frozenset({"format", "kind", "sends", "unit"})
_HEADER = ("format", "is a", "last used (UTC)")


class Memory:
    """The gauge book as one command uses it.

    A book that cannot be used is said once, and costs nothing but convenience.

    Args:
        journal: the file that was named; None for the usual one.
    """

    def __init__(self, journal: Path | None = None) -> None:
        self._path = journal or default_path()
        self.gauges: tuple[KnownGauge, ...] = ()
        if os.path.exists(self._path):  # looking must not make a journal
            try:
                with GaugeBook(self._path, to_read=True) as book:
                    self.gauges = book.gauges()
            except JournalError as error:
                say(f"No gauge is remembered: {error}")

    def completed(self, text: str, *, afresh: bool = False) -> str:
        """Return an address with what is known of its gauge; what was typed wins.

        Args:
            text: an address, or the plain name of a port whose gauge is known.
            afresh: leave out the format and what belongs to it.
        """
        named = self._named(text)
        where = parse_address(named.address if named else text)
        gauge = named or self.find(where)
        if gauge is None:
            return text
        known = options_of(gauge)
        if afresh or where.options.get("format", gauge.format) != gauge.format:
            known = {key: known[key] for key in known.keys() & _OF_THE_GAUGE}
        missing = {key: value for key, value in known.items() if key not in where.options}
        return with_options(where.text, missing)

    def find(self, where: Address) -> KnownGauge | None:
        """Return what is known of the gauge at an address."""
        if where.scheme not in PROBED_SCHEMES:
            return None
        identity = gauge_identity(where)
        same = [g for g in self.gauges if parse_address(g.address).scheme == where.scheme]
        exact = [gauge for gauge in same if gauge.gauge_id == identity]
        # The address may leave out the port of a bridge, or the serial number of a HID gauge.
        longer = [g for g in same if g.gauge_id.startswith((f"{identity}#", f"{identity}-"))]
        found = exact or longer
        return found[0] if len(found) == 1 else None

    def at(self, identity: str) -> list[KnownGauge]:
        """Return what is known at a port: one gauge, or those on the bridge that is there."""
        bridged = f"{identity}#"
        return [g for g in self.gauges if g.gauge_id == identity or g.gauge_id.startswith(bridged)]

    def remember(self, gauge: KnownGauge) -> bool:
        """Keep how a gauge is read; return False, and say why, when that cannot be done."""
        try:
            with GaugeBook(self._path) as book:
                book.remember(gauge)
        except JournalError as error:
            say(f"The gauge is not remembered: {error}")
            return False
        return True

    def forget(self, gauge_id: str) -> bool:
        """Forget a gauge; return False when it was not known."""
        if not any(gauge.gauge_id == gauge_id for gauge in self.gauges):
            return False
        with GaugeBook(self._path) as book:
            return book.forget(gauge_id)

    def plugged_in(self) -> list[str]:
        """Return the addresses of what is remembered and plugged in: a gauge of each kind.

        Raises:
            GaugeNotFound: there is none.
            InputError: there are two of one kind, or nobody said of which kind one is.
        """
        present = [gauge for gauge in self.gauges if is_there(gauge)]
        if not present:
            raise GaugeNotFound(
                "No gauge named, and no remembered gauge is plugged in.",
                hint="Plug one in. New gauge: 'gaugelink listen ADDRESS' once; 'gaugelink "
                "gauges' lists the addresses.",
            )
        _refuse_unclear(present)
        return [full_address(gauge) for gauge in present]

    def _named(self, text: str) -> KnownGauge | None:
        """Return the gauge whose identity, or whose port, is ``text`` without a scheme."""
        if not self.gauges or text.partition(":")[0].lower() in (*SCHEMES, *PROBED_SCHEMES):
            return None
        identity = gauge_identity(Address(text=text, scheme="serial", target=text))
        found = [gauge for gauge in self.gauges if gauge.gauge_id in (text, identity)]
        return found[0] if len(found) == 1 else None


def tell_remembered(memory: Memory, typed: Iterable[str], full: Iterable[str]) -> None:
    """Say of each address whose format was not typed that it is read as last time.

    Args:
        memory: what is remembered.
        typed: the addresses as they were typed.
        full: the same, completed.
    """
    named = tuple(text for text in typed if "format=" in text)  # completed at their end
    for text in full:
        gauge = memory.find(parse_address(text))
        if gauge is None or text.startswith(named):
            continue
        unit = f", unit {gauge.unit}" if gauge.unit else ""
        say(
            f"{gauge.gauge_id} is read as remembered: {gauge.format}{unit}, "
            f"last used {gauge.last_used_utc[:10]}."
        )
        if is_by_socket(gauge.gauge_id):
            say(BY_SOCKET)


@final
class RememberingKeeper:
    """Passes everything on to a keeper; a gauge is remembered at its first reading.

    Args:
        keeper: the one that does the work.
        memory: where the gauges are remembered.
        infos: the gauges.
    """

    def __init__(self, keeper: Keeper, memory: Memory, infos: Iterable[GaugeInfo]) -> None:
        self._keeper = keeper
        self._memory = memory
        known = {info.gauge_id: known_from(info, info.kind) for info in infos}
        self._unread = {gauge_id: gauge for gauge_id, gauge in known.items() if gauge}
        self._due: list[KnownGauge] = []

    def write(self, items: Sequence[GaugeEvent | Act]) -> None:
        """Pass events and acts on."""
        self._keeper.write(items)
        for item in items:
            if isinstance(item, GaugeEvent) and isinstance(item.body, Reading):
                gauge = self._unread.pop(item.gauge_id, None)
                self._due += [gauge] if gauge else []

    def commit(self) -> None:
        """Make everything durable, and then remember who gave a reading."""
        self._keeper.commit()
        while self._due:
            self._memory.remember(self._due.pop())


def _refuse_unclear(present: Sequence[KnownGauge]) -> None:
    for gauge in present:
        if gauge.kind is None:
            raise InputError(
                f"Say whether {gauge.gauge_id} is a caliper or a micrometer.",
                hint=f'Type it once: gaugelink measure "{gauge.address}?kind=caliper", '
                "or kind=micrometer.",
            )
    for kind in GaugeKind:
        same = [gauge for gauge in present if gauge.kind is kind]
        if len(same) > 1:
            raise InputError(
                f"{len(same)} {kind}s are plugged in: {', '.join(g.gauge_id for g in same)}.",
                hint=f"Name the one to use: gaugelink measure {same[0].address}",
            )


def options_of(gauge: KnownGauge) -> dict[str, str]:
    """Return all options of the address of a known gauge."""
    own = {"format": gauge.format, "kind": gauge.kind, "sends": gauge.sends, "unit": gauge.unit}
    return {key: str(value) for key, value in own.items() if value} | dict(gauge.options)


def full_address(gauge: KnownGauge) -> str:
    """Return the address that opens a known gauge, with all options."""
    return with_options(gauge.address, options_of(gauge))


def is_there(gauge: KnownGauge) -> bool:
    """Tell whether a known gauge is plugged in."""
    return is_plugged_in(parse_address(with_options(gauge.address, gauge.options)))


def with_options(text: str, options: Mapping[str, str]) -> str:
    """Return an address with more options."""
    if not options:
        return text
    joined = "&".join(f"{key}={value}" for key, value in options.items())
    return f"{text}{'&' if '?' in text else '?'}{joined}"


def known_from(info: GaugeInfo, kind: GaugeKind | None) -> KnownGauge | None:
    """Return what is to be remembered of an opened gauge; None where there is nothing to.

    Args:
        info: who the gauge is.
        kind: what it is; None when that was only supposed.
    """
    where = parse_address(info.address)
    if where.scheme not in PROBED_SCHEMES:
        return None
    return known_at(where, info.gauge_id, info.format, info.sends, kind)


def known_at(
    where: Address, gauge_id: str, format_name: str, sends: Sends, kind: GaugeKind | None
) -> KnownGauge:
    """Return what is to be remembered of a gauge that was read at ``where``."""
    unit = where.options.get("unit")
    return KnownGauge(
        gauge_id=gauge_id,
        address=_stable_address(where, gauge_id),
        format=format_name,
        kind=kind,
        sends=sends,
        unit=LengthUnit(unit) if unit else None,
        options={k: v for k, v in where.options.items() if k not in _OWN_FIELDS},
    )


def stated_kind(where: Address) -> GaugeKind | None:
    """Return what a gauge is, if its address says so."""
    kind = where.options.get("kind")
    return GaugeKind(kind) if kind else None


def is_unknown(where: Address) -> bool:
    """Tell whether an address leaves open which format its gauge sends."""
    return where.scheme in PROBED_SCHEMES and "format" not in where.options


def _stable_address(where: Address, gauge_id: str) -> str:
    """Return an address made of the identity: the name of a port may be another tomorrow."""
    if where.is_url:
        return where.target
    if where.scheme == "hid":
        return "hid:" + gauge_id.removeprefix("hid-").replace("-", ":", 1)
    port = where.options.get("port")
    return f"{where.scheme}:{gauge_id.removesuffix(f'#{port}') if port else gauge_id}"


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
    say(f"{identity} is forgotten. Its jobs are unchanged.")
