"""The transport for everything the serial driver opens: device names and its URLs.

Seconds, bytes and our errors come out; framing is the decoder's work, never a
gap between bytes, since the driver rounds such gaps to tenths of a second.
"""

from __future__ import annotations

import errno
import os
import select
from contextlib import suppress
from typing import TYPE_CHECKING, final

from gaugelink.devices.clock import SystemClock
from gaugelink.devices.contract import Port
from gaugelink.devices.ports.identity import identity_of, locate
from gaugelink.devices.ports.translate import WRITE_TIMEOUT_S, driver_errors, translate
from gaugelink.errors import GaugeDisconnected

if TYPE_CHECKING:
    from serial import Serial

    from gaugelink.devices.address import Address
    from gaugelink.devices.profiles.profile import PortSettings, Profile


def build_port(address: Address, profile: Profile) -> Port:
    """Join a transport for ``address`` with the machine's clock; nothing is opened yet."""
    transport = SerialTransport(
        address=address.text, target=address.target, settings=profile.port, is_url=address.is_url
    )
    return Port(transport=transport, clock=SystemClock())


@final
class SerialTransport:
    """Bytes to and from a serial port, found again by identity after unplugging.

    Args:
        address: the address as the user typed it.
        target: a device name, a ``usb-`` identity or, with ``is_url``, a driver URL.
        settings: speed, framing and control lines from the format profile.
        is_url: True when ``target`` goes to the driver as it is.
    """

    def __init__(
        self, *, address: str, target: str, settings: PortSettings, is_url: bool = False
    ) -> None:
        self._address = address
        self._name = target if is_url else address.partition("?")[0]  # for messages: no options
        self._settings = settings
        self._is_url = is_url
        self._identity = target if is_url else identity_of(target)
        self._port: Serial | None = None
        self._descriptor: int | None = None  # of an open port that the system can wait for

    @property
    def address(self) -> str:
        """The address as the user typed it."""
        return self._address

    @property
    def identity(self) -> str:
        """USB identity, or the device name or URL where there is none."""
        return self._identity

    def open(self) -> None:
        """Open the port wherever the gauge is plugged in now.

        Raises:
            GaugeNotFound: nothing is there.
            GaugeUnavailable: it is in use, not permitted, or not a serial port.
        """
        self.close()
        device = self._identity if self._is_url else locate(self._identity)
        with driver_errors(self._name, opening=True):
            port = self._configured(device)
            port.open()
            self._port = port
            self._descriptor = None if self._is_url else _descriptor_of(port)
            _prefer_low_latency(port)

    def read(self, max_bytes: int, timeout_s: float) -> bytes:
        """Wait at most ``timeout_s`` for a byte, then take what has come with it.

        Raises:
            GaugeDisconnected: the port has gone, or is not open.
        """
        port = self._opened()
        if self._descriptor is None:
            with driver_errors(self._name):
                return _read_by_driver(port, max_bytes, timeout_s)
        try:
            return _read_ready(self._descriptor, max_bytes, timeout_s)
        except OSError as exc:
            raise translate(exc, self._name) from exc

    def write(self, data: bytes) -> None:
        """Send ``data``.

        Raises:
            GaugeDisconnected: the port has gone, or is not open.
            GaugeTimeout: the port takes nothing.
        """
        port = self._opened()
        with driver_errors(self._name):
            port.write(data)

    def close(self) -> None:
        """Close the port; safe to call twice and after a loss."""
        port, self._port, self._descriptor = self._port, None, None
        if port is not None:
            # A port that has gone cannot be closed properly; it is given up either way.
            with suppress(OSError):
                port.close()

    def _configured(self, device: str) -> Serial:
        import serial

        settings = self._settings
        port = serial.serial_for_url(
            device,
            do_not_open=True,
            baudrate=settings.baud,
            bytesize=settings.data_bits,
            parity=str(settings.parity),
            stopbits=settings.stop_bits,
            exclusive=True,
        )
        # Over RFC 2217 the driver refuses to open with a write timeout.
        if not device.startswith("rfc2217:"):
            port.write_timeout = WRITE_TIMEOUT_S
        # Before opening: some cables draw their power from these lines, and some
        # bridges restart when they change.
        port.dtr = settings.dtr
        port.rts = settings.rts
        return port

    def _opened(self) -> Serial:
        if self._port is None:
            raise GaugeDisconnected(
                f"{self._name} is not open.", address=self._name, hint="Open the gauge first."
            )
        return self._port


def _prefer_low_latency(port: Serial) -> None:
    """Ask a USB adapter not to hold bytes back (16 ms on some); not every port can."""
    set_mode = getattr(port, "set_low_latency_mode", None)
    if set_mode is not None:
        # Not this system, or not this kind of port: it works without.
        with suppress(NotImplementedError, ValueError):
            set_mode(True)


def _descriptor_of(port: Serial) -> int | None:
    """Return what ``select`` can wait for; on Windows that is no serial port."""
    return None if os.name == "nt" else port.fileno()


def _read_ready(descriptor: int, max_bytes: int, timeout_s: float) -> bytes:
    """Wait, and take all that has come, in two system calls: the driver makes seven for a line.

    At twenty lines a second from each gauge that is a fifth of what a job costs.
    """
    if not select.select((descriptor,), (), (), timeout_s)[0]:
        return b""
    try:
        data = os.read(descriptor, max_bytes)
    except BlockingIOError:  # not ready after all, as a select may be mistaken
        return b""
    if not data:
        raise OSError(errno.EIO, "ready to read, but at its end: the port has hung up")
    return data


def _read_by_driver(port: Serial, max_bytes: int, timeout_s: float) -> bytes:
    """Read a URL, or a port of Windows: the first byte, then what has come with it."""
    if port.timeout != timeout_s:
        port.timeout = timeout_s
    data: bytes = port.read(min(max(1, port.in_waiting), max_bytes))
    return data + _drain(port, max_bytes - len(data)) if data else b""


def _drain(port: Serial, room: int) -> bytes:
    """Take what is waiting; a socket says only that something is, so it is asked again."""
    taken = b""
    # An error here is met again by the next read, after these bytes were delivered.
    with suppress(OSError):
        while room > len(taken) and (waiting := port.in_waiting):
            taken += port.read(min(waiting, room - len(taken)))
    return taken
