"""``gaugelink gauges``: what is plugged in, the addresses to use, the formats."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from gaugelink.cli.options import Formats, Journal, Json

if TYPE_CHECKING:
    from gaugelink.cli.recall import Memory
    from gaugelink.devices.ports.hid_finder import HidInfo
    from gaugelink.devices.ports.identity import PortInfo
    from gaugelink.devices.profiles.profile import Profile
    from gaugelink.report import json_sizing


def gauges(
    udev: Annotated[
        bool,
        typer.Option("--udev", help="Print the Linux rules for HID gauges and serial adapters."),
    ] = False,
    forget: Annotated[
        str | None,
        typer.Option(metavar="IDENTITY", help="Forget how the gauge IDENTITY is read."),
    ] = None,
    journal: Journal = None,
    json: Json = False,
    formats: Formats = None,
) -> None:
    """List what is plugged in, the addresses to use, the remembered gauges and the formats."""
    from gaugelink.cli.output import emit
    from gaugelink.cli.recall import forget as forget_gauge
    from gaugelink.devices.ports.hid_finder import serial_rules, udev_rules
    from gaugelink.devices.ports.hid_port import list_hid_gauges
    from gaugelink.devices.ports.identity import list_serial_ports

    if udev:
        text = udev_rules(list_hid_gauges()) + serial_rules(list_serial_ports())
        emit(text.rstrip("\n"))
    elif forget is not None:
        forget_gauge(forget, journal)
    else:
        _list(journal, formats or (), as_json=json)


def _list(journal: Path | None, folders: Sequence[Path], *, as_json: bool) -> None:
    """List ports, simulated gauges, remembered gauges and formats."""
    from gaugelink.cli.output import emit, emit_json, format_folders
    from gaugelink.cli.recall import Memory, gauge_json, others_text
    from gaugelink.devices.ports.identity import list_serial_ports
    from gaugelink.devices.profiles.profile import load_profiles
    from gaugelink.devices.simulated import SIMULATIONS
    from gaugelink.report.json_sizing import SCHEMA

    ports, hid = list_serial_ports(), _hid_found()
    memory = Memory(journal)
    known = load_profiles(format_folders(folders))
    profiles = [known.find(name) for name in known.names]
    if as_json:
        emit_json(
            {
                "schema": SCHEMA,
                "ports": [_port_json(port, memory) for port in ports],
                "hid": [_hid_json(info, memory) for info in hid],
                "remembered": [gauge_json(gauge) for gauge in memory.gauges],
                "simulated": [f"sim:{name}" for name in SIMULATIONS],
                "formats": [_profile_json(profile) for profile in profiles],
            }
        )
    else:
        plugged = _ports_text(ports, memory) + _hid_text(hid, memory)
        also = others_text(memory, [*(p.identity for p in ports), *(i.identity for i in hid)])
        parts = (plugged, _daemons_text(), also, _others_text(), _formats_text(profiles))
        emit("\n\n".join(filter(None, parts)))


def address_of(port: PortInfo) -> str:
    """Return the address to type: the identity, which survives replugging."""
    return f"serial:{port.identity}"


def _ports_text(ports: Sequence[PortInfo], memory: Memory) -> str:
    from gaugelink.cli.recall import cells, header
    from gaugelink.report.table import table

    if not ports:
        return "PLUGGED IN\n  no serial port: is the cable plugged in, and its driver installed?"
    rows = [
        (address_of(p), p.device, *cells(memory, p.identity), p.description or p.manufacturer)
        for p in ports
    ]
    return "PLUGGED IN\n" + table(("address", "port now", *header(memory), "description"), rows)


def _hid_text(found: Sequence[HidInfo], memory: Memory) -> str:
    """Return a table of the HID devices, empty when there are none."""
    from gaugelink.cli.recall import cells, header
    from gaugelink.report.table import table

    rows = [
        (i.address, _use(i), *cells(memory, i.identity), f"{i.manufacturer} {i.product}".strip())
        for i in found
    ]
    columns = ("address", "use", *header(memory), "description")
    return "\n\nHID\n" + table(columns, rows) if rows else ""


def _daemons_text() -> str:
    """Name the daemons that run and take adapters for their own; empty when there are none."""
    from gaugelink.devices.ports.holders import KEEP_OFF, named, running_daemons

    found = running_daemons()
    return f"BESIDE US\n  {named(found)}\n  {KEEP_OFF}" if found else ""


def _hid_found() -> tuple[HidInfo, ...]:
    """List the HID devices; none where the system has no driver for them."""
    from gaugelink.devices.ports.hid_port import list_hid_gauges
    from gaugelink.errors import GaugeUnavailable

    try:
        return list_hid_gauges()
    except GaugeUnavailable:
        return ()


def _use(info: HidInfo) -> str:
    return "keyboard" if info.is_keyboard else f"usage {info.usage_page:04x}:{info.usage:04x}"


def _others_text() -> str:
    from gaugelink.devices.simulated import SIMULATIONS

    simulated = "  ".join(f"sim:{name}" for name in SIMULATIONS)
    return (
        "WITHOUT A PORT\n"
        "  keys:         a gauge that types, or you\n"
        "  replay:FILE   a recorded exchange\n"
        f"  {simulated}   simulated gauges, to try things out"
    )


def _formats_text(profiles: Sequence[Profile]) -> str:
    rows = [(p.name, p.title + (" (experimental)" if p.experimental else "")) for p in profiles]
    width = max((len(name) for name, _ in rows), default=0)
    lines = (f"  {name.ljust(width)}  {title}" for name, title in rows)
    return "FORMATS (add ?format=NAME to an address)\n" + "\n".join(lines)


def _port_json(port: PortInfo, memory: Memory) -> json_sizing.Json:
    return {
        "address": address_of(port),
        "device": port.device,
        "identity": port.identity,
        "description": port.description,
        "manufacturer": port.manufacturer,
        "serial_number": port.serial_number,
        "location": port.location,
        "vid": port.vid,
        "pid": port.pid,
        "remembered": [gauge.gauge_id for gauge in memory.at(port.identity)],
    }


def _hid_json(info: HidInfo, memory: Memory) -> json_sizing.Json:
    return {
        "address": info.address,
        "identity": info.identity,
        "manufacturer": info.manufacturer,
        "product": info.product,
        "usage_page": info.usage_page,
        "usage": info.usage,
        "is_keyboard": info.is_keyboard,
        "remembered": [gauge.gauge_id for gauge in memory.at(info.identity)],
    }


def _profile_json(profile: Profile) -> json_sizing.Json:
    return {
        "name": profile.name,
        "title": profile.title,
        "experimental": profile.experimental,
        "sends": str(profile.sends),
        "unit": profile.unit_default,
        "source": profile.source,
    }
