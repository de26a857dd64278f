"""``gaugelink gauges``: what is plugged in, the addresses to use, the formats."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from gaugelink.cli.folders import format_folders
from gaugelink.cli.output import emit, emit_json
from gaugelink.devices.ports.hid_finder import HidInfo
from gaugelink.devices.ports.hid_port import list_hid_gauges
from gaugelink.devices.ports.identity import PortInfo, list_serial_ports
from gaugelink.devices.ports.udev import udev_rules
from gaugelink.devices.profiles import Profile, load_profiles
from gaugelink.devices.simulation.sim_address import SIMULATIONS
from gaugelink.errors import GaugeUnavailable
from gaugelink.report.contract import SCHEMA, Json
from gaugelink.report.table import table


def run(*, as_json: bool, folders: Sequence[Path]) -> None:
    """List ports, simulated gauges and formats."""
    ports = list_serial_ports()
    known = load_profiles(format_folders(folders))
    profiles = [known.find(name) for name in known.names]
    if as_json:
        emit_json(
            {
                "schema": SCHEMA,
                "ports": [_port_json(port) for port in ports],
                "simulated": [f"sim:{name}" for name in SIMULATIONS],
                "formats": [_profile_json(profile) for profile in profiles],
            }
        )
    else:
        plugged = _ports_text(ports) + _hid_text()
        emit("\n\n".join((plugged, _others_text(), _formats_text(profiles))))


def run_udev() -> None:
    """Print the rule file that permits the HID devices which are plugged in."""
    emit(udev_rules(list_hid_gauges()).rstrip("\n"))


def address_of(port: PortInfo) -> str:
    """Return the address to type: the identity, which survives replugging."""
    return f"serial:{port.identity}"


def _ports_text(ports: Sequence[PortInfo]) -> str:
    if not ports:
        return "PLUGGED IN\n  no serial port; is the cable in, and its driver installed?"
    rows = [(address_of(p), p.device, p.description or p.manufacturer) for p in ports]
    return "PLUGGED IN\n" + table(("address", "port now", "description"), rows)


def _hid_text() -> str:
    """Return a table of the HID devices, empty when there are none or no driver for them."""
    try:
        found = list_hid_gauges()
    except GaugeUnavailable:
        return ""
    rows = [(i.address, _use(i), f"{i.manufacturer} {i.product}".strip()) for i in found]
    return "\n\nHID\n" + table(("address", "use", "description"), rows) if rows else ""


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


def _port_json(port: PortInfo) -> Json:
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
