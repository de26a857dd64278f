"""``gaugelink gauges``: what is plugged in, the addresses to use, the formats."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from gaugelink.cli.output import emit, emit_json, format_folders
from gaugelink.cli.recall import Memory, cells, forget, gauge_json, header, others_text
from gaugelink.devices.ports.hid_finder import HidInfo, udev_rules
from gaugelink.devices.ports.hid_port import list_hid_gauges
from gaugelink.devices.ports.identity import PortInfo, list_serial_ports
from gaugelink.devices.profiles.profile import Profile, load_profiles
from gaugelink.devices.simulated import SIMULATIONS
from gaugelink.errors import GaugeUnavailable
from gaugelink.report.json_sizing import SCHEMA, Json
from gaugelink.report.table import table


def run(*, as_json: bool, folders: Sequence[Path], journal: Path | None = None) -> None:
    """List ports, simulated gauges, remembered gauges and formats."""
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
        parts = (plugged, also, _others_text(), _formats_text(profiles))
        emit("\n\n".join(filter(None, parts)))


def run_forget(identity: str, *, journal: Path | None) -> None:
    """Forget how a gauge is read."""
    forget(identity, journal)


def run_udev() -> None:
    """Print the rule file that permits the HID devices which are plugged in."""
    emit(udev_rules(list_hid_gauges()).rstrip("\n"))


def address_of(port: PortInfo) -> str:
    """Return the address to type: the identity, which survives replugging."""
    return f"serial:{port.identity}"


def _ports_text(ports: Sequence[PortInfo], memory: Memory) -> str:
    if not ports:
        return "PLUGGED IN\n  no serial port; is the cable in, and its driver installed?"
    rows = [
        (address_of(p), p.device, *cells(memory, p.identity), p.description or p.manufacturer)
        for p in ports
    ]
    return "PLUGGED IN\n" + table(("address", "port now", *header(memory), "description"), rows)


def _hid_text(found: Sequence[HidInfo], memory: Memory) -> str:
    """Return a table of the HID devices, empty when there are none."""
    rows = [
        (i.address, _use(i), *cells(memory, i.identity), f"{i.manufacturer} {i.product}".strip())
        for i in found
    ]
    columns = ("address", "use", *header(memory), "description")
    return "\n\nHID\n" + table(columns, rows) if rows else ""


def _hid_found() -> tuple[HidInfo, ...]:
    """List the HID devices; none where the system has no driver for them."""
    try:
        return list_hid_gauges()
    except GaugeUnavailable:
        return ()


def _use(info: HidInfo) -> str:
    return "keyboard" if info.is_keyboard else f"usage {info.usage_page:04x}:{info.usage:04x}"


def _others_text() -> str:
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


def _port_json(port: PortInfo, memory: Memory) -> Json:
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


def _hid_json(info: HidInfo, memory: Memory) -> Json:
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


def _profile_json(profile: Profile) -> Json:
    return {
        "name": profile.name,
        "title": profile.title,
        "experimental": profile.experimental,
        "sends": str(profile.sends),
        "unit": profile.unit_default,
        "source": profile.source,
    }
