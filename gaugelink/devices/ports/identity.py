"""Where a gauge is plugged in, and how to know it again elsewhere.

The name of a USB port follows the order of plugging in. What stays is the vendor,
the product and the serial number, or failing that the socket the cable is in.
"""

from __future__ import annotations

import os
import re
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from gaugelink.devices.address import PYSERIAL_SCHEMES, Address
from gaugelink.errors import DeviceError, GaugeNotFound, SeveralGaugesFit

if TYPE_CHECKING:
    from serial.tools.list_ports_common import ListPortInfo

# Serial numbers that a maker burns into every adapter of a kind, or that are none: 0001 and the
# like, one character throughout, or counting up. From memory; two adapters with one of these
# are seldom plugged in together, so that comparing what is there now does not show it.
_SHARED_SERIAL = re.compile(r"0*1?|(.)\1*|0?12345.*", re.ASCII)
BY_SOCKET = (
    "Its adapter has no serial number of its own, so it is known by the USB socket that it is in: "
    "another gauge plugged in there would pass for it."
)
# Kernel pseudo-terminals on Linux and macOS.
_PSEUDO = ("/dev/pts/", "/dev/ttys")
# Where a gauge is plugged in that can be known again; the others bring their format along.
PROBED_SCHEMES = ("serial", "bridge", "hid", *PYSERIAL_SCHEMES)


@dataclass(frozen=True, slots=True, kw_only=True)
class PortInfo:
    """One serial port of this machine.

    ``identity`` is ``usb-VID:PID-SERIAL`` where that names one adapter only, else
    ``usb-VID:PID@LOCATION``, else the device name. ``device`` may change on
    replugging. ``vid`` and ``pid`` are None for a port that is not on USB.
    """

    device: str
    identity: str
    description: str
    manufacturer: str
    serial_number: str
    location: str
    vid: int | None
    pid: int | None


def list_serial_ports() -> tuple[PortInfo, ...]:
    """List the serial ports that the system knows, by device name."""
    # The submodule has to be imported by name; the driver does not do it itself.
    from serial.tools import list_ports

    found = sorted(list_ports.comports(), key=lambda port: port.device)
    return tuple(_describe(port, found) for port in found)


def identity_of(device: str, ports: Sequence[PortInfo] | None = None) -> str:
    """Return the stable identity of ``device``; the name itself where nothing better is known.

    A link such as ``/dev/serial/by-id/...`` is followed, so that both names of one
    port give one identity.
    """
    known = list_serial_ports() if ports is None else ports
    for port in known:
        if device in (port.device, port.identity) or same_port(device, port.device):
            return port.identity
    # The name with a serial number that others bear too, as it was once remembered.
    named = [port.identity for port in known if device in _usb_names(port)]
    return named[0] if len(named) == 1 else callout(device)


def is_by_socket(identity: str) -> bool:
    """Tell whether an identity is that of a USB socket, for want of a serial number."""
    return identity.startswith("usb-") and "@" in identity


def locate(identity: str, ports: Sequence[PortInfo] | None = None) -> str:
    """Return the device name under which ``identity`` is plugged in now.

    Anything that is not a ``usb-`` identity is a device name or URL already.

    Raises:
        GaugeNotFound: it is not plugged in.
        SeveralGaugesFit: more than one bears that vendor, product and serial number.
    """
    if not identity.startswith("usb-"):
        return callout(identity)
    known = list_serial_ports() if ports is None else ports
    matches = [port for port in known if identity in (port.identity, *_usb_names(port))]
    if len(matches) == 1:
        return matches[0].device
    if matches:
        others = " or ".join(port.identity for port in matches)
        raise SeveralGaugesFit(
            f"{len(matches)} ports answer to {identity}.",
            address=identity,
            hint=f"Leave only the gauge plugged in, or name one of them: {others}.",
        )
    raise GaugeNotFound(
        f"{identity} is not plugged in.",
        address=identity,
        hint="Plug the gauge in; 'gaugelink gauges' lists what is connected.",
    )


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
            return identity_of(address.target)
        case "bridge":
            port = address.options.get("port")
            wire = address.target
            wire = wire if "://" in wire else identity_of(wire)
            return f"{wire}#{port}" if port else wire
    return address.target if address.is_url else address.text


def is_plugged_in(address: Address) -> bool:
    """Tell whether the port of ``address`` is there now; a network address never counts."""
    try:
        match address.scheme:
            case "serial" | "bridge":
                return _is_port(locate(address.target))
            case "hid":
                return _is_hid(address)
    except DeviceError:
        pass
    return False


def _is_port(device: str) -> bool:
    # Not every port is in the system's list: a link to one, a pseudo-terminal.
    ports = list_serial_ports()
    return device in {port.device for port in ports} or os.path.exists(device)


def _is_hid(address: Address) -> bool:
    from gaugelink.devices.ports.hid_finder import parse_target
    from gaugelink.devices.ports.hid_port import list_hid_gauges

    target = parse_target(address)
    return any(target.fits(info) for info in list_hid_gauges())


def _describe(port: ListPortInfo, found: Sequence[ListPortInfo]) -> PortInfo:
    return PortInfo(
        device=port.device,
        identity=_choose_identity(port, found),
        description=_text(port.description),
        manufacturer=_text(port.manufacturer),
        serial_number=_text(port.serial_number),
        location=_text(port.location),
        vid=port.vid,
        pid=port.pid,
    )


def _choose_identity(port: ListPortInfo, found: Sequence[ListPortInfo]) -> str:
    """Take the first name that no other port bears, nor may bear: cheap adapters share numbers."""
    taken = [name for other in found if other is not port for name in _usb_names(other)]
    shared = bool(_SHARED_SERIAL.fullmatch(port.serial_number or ""))
    names = _usb_names(port)
    own = names[-1:] if shared and port.location else names
    return next((name for name in own if name not in taken), port.device)


def _usb_names(port: ListPortInfo | PortInfo) -> list[str]:
    if port.vid is None or port.pid is None:
        return []
    usb = f"usb-{port.vid:04x}:{port.pid:04x}"
    names = [f"{usb}-{port.serial_number}"] if port.serial_number else []
    return names + ([f"{usb}@{port.location}"] if port.location else [])


def same_port(device: str, other: str, platform: str = sys.platform) -> bool:
    """Tell whether two names mean one port.

    On Windows following a name would open the port.
    """
    if platform == "win32":
        one, two = (name.upper().removeprefix("\\\\.\\") for name in (device, other))
        return one == two
    names = (callout(name, platform) for name in (device, other))
    return len({os.path.realpath(name) for name in names}) == 1


def is_pseudo(device: str) -> bool:
    """Tell whether a port is a pseudo-terminal, whose settings have no effect."""
    # On Windows following a name would open the port, and there are no pseudo-terminals.
    return os.name != "nt" and os.path.realpath(device).startswith(_PSEUDO)


def callout(device: str, platform: str = sys.platform) -> str:
    """Return the name by which a port of macOS is opened; elsewhere ``device`` itself.

    macOS has two names for a port. Opening ``/dev/tty.NAME`` waits for a modem to answer, and
    only ``/dev/cu.NAME`` is listed.
    """
    name = device.removeprefix("/dev/tty.")
    return f"/dev/cu.{name}" if platform == "darwin" and name != device else device


def _text(value: str | None) -> str:
    return "" if value in (None, "n/a") else str(value)
