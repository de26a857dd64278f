"""Whose address it is: the stable identity of a gauge, and whether it is plugged in."""

from __future__ import annotations

import os

from gaugelink.devices.address import PYSERIAL_SCHEMES, Address
from gaugelink.devices.ports import identity as serial_identity
from gaugelink.errors import DeviceError

# Where a gauge is plugged in that can be known again; the others bring their format along.
PROBED_SCHEMES = ("serial", "bridge", "hid", *PYSERIAL_SCHEMES)


def gauge_identity(address: Address) -> str:
    """Return the identity that a gauge opened at ``address`` would have.

    Nothing is opened. Addresses of schemes that have no gauge to know again are their
    own identity.
    """
    match address.scheme:
        case "hid":
            from gaugelink.devices.ports.hid_finder import parse_target
            from gaugelink.devices.ports.hid_port import HidTransport

            return HidTransport(address=address.text, target=parse_target(address)).identity
        case "serial":
            return serial_identity.identity_of(address.target)
        case "bridge":
            port = address.options.get("port")
            wire = address.target
            wire = wire if "://" in wire else serial_identity.identity_of(wire)
            return f"{wire}#{port}" if port else wire
    return address.target if address.is_url else address.text


def is_plugged_in(address: Address) -> bool:
    """Tell whether the port of ``address`` is there now; a network address never counts."""
    try:
        match address.scheme:
            case "serial" | "bridge":
                return _is_port(serial_identity.locate(address.target))
            case "hid":
                return _is_hid(address)
    except DeviceError:
        pass
    return False


def _is_port(device: str) -> bool:
    # Not every port is in the system's list: a link to one, a pseudo-terminal.
    ports = serial_identity.list_serial_ports()
    return device in {port.device for port in ports} or os.path.exists(device)


def _is_hid(address: Address) -> bool:
    from gaugelink.devices.ports.hid_finder import parse_target
    from gaugelink.devices.ports.hid_port import list_hid_gauges

    target = parse_target(address)
    return any(target.fits(info) for info in list_hid_gauges())
