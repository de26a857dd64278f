"""``gaugelink gauges``: what is plugged in, the addresses to use, the formats."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from gaugelink.cli.folders import format_folders
from gaugelink.cli.output import emit, emit_json
from gaugelink.devices.ports.identity import PortInfo, list_serial_ports
from gaugelink.devices.profiles import Profile, load_profiles
from gaugelink.devices.simulation.sim_address import SIMULATIONS
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
        emit("\n\n".join((_ports_text(ports), _others_text(), _formats_text(profiles))))


def address_of(port: PortInfo) -> str:
    """Return the address to type: the identity, which survives replugging."""
    return f"serial:{port.identity}"


def _ports_text(ports: Sequence[PortInfo]) -> str:
    if not ports:
        return "PLUGGED IN\n  no serial port; is the cable in, and its driver installed?"
    rows = [(address_of(p), p.device, p.description or p.manufacturer) for p in ports]
    return "PLUGGED IN\n" + table(("address", "port now", "description"), rows)


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
        "unit": profile.line.unit_default,
        "source": profile.source,
    }
