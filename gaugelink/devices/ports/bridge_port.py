"""A bridge on a serial port: known settings, and a heartbeat that must be heard.

A bridge sends something at least once a second, so its silence is never normal: the
board hangs, has lost its power, or is none. That is a lost link, although the port
is still there. Opening the port again restarts many boards; the link counts as back
when a byte has come.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, final

from gaugelink.devices.contract import Clock, Port, SystemClock, Transport
from gaugelink.devices.ports.serial_port import SerialTransport
from gaugelink.devices.profiles.profile import PortSettings
from gaugelink.errors import GaugeDisconnected, GaugeNotFound, InputError

if TYPE_CHECKING:
    from gaugelink.devices.address import Address
    from gaugelink.devices.profiles.profile import Profile

SETTINGS = PortSettings(baud=115200)

# Three heartbeats; many boards also take 1 to 2 s to start after their port is opened.
LINK_QUIET_S = 3.0

_HINT = "Check the cable and the supply of the bridge, or restart it."


def build_port(address: Address, profile: Profile) -> Port:
    """Join a transport for ``address`` with the machine's clock; nothing is opened yet.

    Raises:
        InputError: the format is not one that a bridge sends.
    """
    if profile.bits is None:
        raise InputError(
            f"The format {profile.name} does not come through a bridge.",
            hint="Write serial: instead of bridge:, or choose a format of bits such as bcd52.",
        )
    clock = SystemClock()
    wire = SerialTransport(
        address=address.text,
        target=address.target,
        settings=replace(SETTINGS, baud=profile.port.baud),
        is_url="://" in address.target,
    )
    place = f"#{port}" if (port := address.options.get("port")) else ""
    return Port(transport=BridgeTransport(wire, clock=clock, place=place), clock=clock)


@final
class BridgeTransport:
    """Passes bytes on, and treats ``LINK_QUIET_S`` without any as a lost link.

    Args:
        wire: the port that the bridge is on.
        clock: measures the silence.
        place: what tells the gauges on one bridge apart, added to its identity.
    """

    def __init__(self, wire: Transport, *, clock: Clock, place: str = "") -> None:
        self._wire = wire
        self._clock = clock
        self.address = wire.address
        self.identity = wire.identity + place
        self._heard_s = 0.0
        self._fell_silent = False
        self._wire_is_open = False
        self._early = b""  # the sign of life that ended a silence

    def open(self) -> None:
        """Open the port; after a silence, this succeeds once the bridge is heard.

        Raises:
            GaugeNotFound: nothing is there, or the bridge is still silent.
            GaugeUnavailable: the port is in use, not permitted, or not a serial port.
        """
        if not (self._fell_silent and self._wire_is_open):
            self._wire.open()
            self._wire_is_open = True
        if self._fell_silent:
            self._early = self._sign_of_life()
            self._fell_silent = False
        self._heard_s = self._clock.now_s()

    def read(self, max_bytes: int, timeout_s: float) -> bytes:
        """Return what has come, as the port does.

        Raises:
            GaugeDisconnected: the port has gone, or the bridge has been silent too long.
        """
        data, self._early = self._early[:max_bytes], self._early[max_bytes:]
        data = data or self._wire.read(max_bytes, timeout_s)
        now_s = self._clock.now_s()
        if data:
            self._heard_s = now_s
        elif now_s - self._heard_s >= LINK_QUIET_S:
            self._fell_silent = True
            raise GaugeDisconnected(
                f"The bridge at {self.address} has been silent for {LINK_QUIET_S:.0f} s.",
                address=self.address,
                hint=_HINT,
            )
        return data

    def write(self, data: bytes) -> None:
        """Send ``data`` (a read request); same errors as the port."""
        self._wire.write(data)

    def close(self) -> None:
        """Close the port; safe to call twice and after a loss."""
        self._early = b""
        self._wire_is_open = False
        self._wire.close()

    def _sign_of_life(self) -> bytes:
        """Take what has come without waiting; the port stays open for the next look."""
        try:
            data = self._wire.read(4096, 0.0)
        except GaugeDisconnected:
            self._wire_is_open = False
            data = b""
        if not data:
            raise GaugeNotFound(
                f"The bridge at {self.address} is still silent.",
                address=self.address,
                hint=_HINT,
            )
        return data
