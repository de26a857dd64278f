"""The transport for HID gauges, on hidapi: whole reports, framed, with their descriptor.

On Linux the ``hidraw`` backend is preferred. It leaves a keyboard to the desktop, so
what the gauge types also goes to the window in front; the other backend takes the
keyboard away while it is open. Elsewhere hidapi has one backend only.

Milliseconds and lists of numbers stay in here; seconds, bytes and our errors come out.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from types import ModuleType
from typing import TYPE_CHECKING, Any, final

from gaugelink.devices.clock import SystemClock
from gaugelink.devices.contract import Port
from gaugelink.devices.decoders.hid_stream import (
    MAX_REPORT_BYTES,
    frame_descriptor,
    frame_report,
)
from gaugelink.devices.ports.hid_failures import gone, no_driver, not_opened, refuse_keyboard
from gaugelink.devices.ports.hid_finder import (
    HidInfo,
    HidTarget,
    describe,
    find,
    parse_target,
)
from gaugelink.errors import DeviceError, GaugeDisconnected, InputError

if TYPE_CHECKING:
    from gaugelink.devices.address import Address
    from gaugelink.devices.profiles.profile import Profile


def build_port(address: Address, profile: Profile) -> Port:
    """Join a transport for ``address`` with the machine's clock; nothing is opened yet.

    Raises:
        InputError: an address that names no device, or a format that is not for HID.
    """
    if profile.hid is None:
        raise InputError(
            f"The format {profile.name} is not one that a HID gauge sends.",
            hint="Choose hid-keyboard, hid-field or one of your own with such a decoder.",
        )
    transport = HidTransport(address=address.text, target=parse_target(address))
    return Port(transport=transport, clock=SystemClock())


def list_hid_gauges() -> tuple[HidInfo, ...]:
    """List the HID devices that could be gauges, keyboards among them.

    Raises:
        GaugeUnavailable: hidapi cannot be loaded on this system.
    """
    return describe(_driver().enumerate())


@final
class HidTransport:
    """Reports from a HID device, found again by vendor, product and serial number.

    Args:
        address: the address as the user typed it.
        target: what that says of the device.
    """

    def __init__(self, *, address: str, target: HidTarget) -> None:
        self._address = address
        self._target = target
        self._identity = _identity_of(target)
        self._device: Any = None
        self._pending = b""
        self._descriptor = b""

    @property
    def address(self) -> str:
        """The address as the user typed it."""
        return self._address

    @property
    def identity(self) -> str:
        """``hid-VID:PID-SERIAL``, without the serial number where the device has none."""
        return self._identity

    def open(self) -> None:
        """Open the device wherever it is plugged in now.

        Raises:
            GaugeNotFound: it is not plugged in, or several answer.
            GaugeUnavailable: it is in use or not permitted, or is a keyboard on a system
                that keeps keyboards to itself.
        """
        self.close()
        driver = _driver()
        info = find(self._target, [i for i in describe(driver.enumerate()) if self._is_same(i)])
        refuse_keyboard(info, sys.platform)
        device = driver.device()
        try:
            device.open_path(info.path)
        except (OSError, ValueError) as exc:
            raise not_opened(info, _error_text(device), sys.platform) from exc
        self._device = device
        # Without one (hidapi 0.14 has no such call) a decoder that needs it will say so.
        with suppress(OSError, ValueError, AttributeError):
            self._descriptor = frame_descriptor(bytes(device.get_report_descriptor()))

    def read(self, max_bytes: int, timeout_s: float) -> bytes:
        """Wait at most ``timeout_s`` for a report; return it framed, or the next part of it.

        Raises:
            GaugeDisconnected: the device has gone, or is not open.
        """
        device = self._opened()
        if not self._pending:
            with self._loss():
                # hidapi takes 0 ms for no limit at all.
                timeout_ms = max(1, math.ceil(timeout_s * 1000))
                report = frame_report(bytes(device.read(MAX_REPORT_BYTES, timeout_ms)))
            if report:
                self._pending, self._descriptor = self._descriptor + report, b""
        data, self._pending = self._pending[:max_bytes], self._pending[max_bytes:]
        return data

    def write(self, data: bytes) -> None:
        """Send ``data`` as an output report; its first byte is the report ID, or 0.

        Raises:
            GaugeDisconnected: the device has gone, or is not open.
        """
        device = self._opened()
        with self._loss():
            if device.write(data) < 0:
                raise OSError("write error")

    def close(self) -> None:
        """Close the device; safe to call twice and after a loss."""
        device, self._device = self._device, None
        self._pending = self._descriptor = b""
        if device is not None:
            # A device that has gone cannot be closed properly; it is given up either way.
            with suppress(OSError, ValueError):
                device.close()

    def _is_same(self, info: HidInfo) -> bool:
        """Hold on to the serial number that was found first, though the address names none."""
        return info.identity == self._identity or self._identity == self._target.identity

    def _opened(self) -> Any:
        if self._device is None:
            raise GaugeDisconnected(
                f"{self._identity} is not open.",
                address=self._address,
                hint="Open the gauge first.",
            )
        return self._device

    @contextmanager
    def _loss(self) -> Iterator[None]:
        try:
            yield
        except (OSError, ValueError) as exc:
            raise gone(self._identity) from exc


def _driver() -> ModuleType:
    """Import hidapi: ``hidraw`` on Linux where the wheel has it, else ``hid``."""
    try:
        if sys.platform.startswith("linux"):
            with suppress(ImportError):
                import hidraw

                return hidraw  # type: ignore[no-any-return]
        import hid

        return hid  # type: ignore[no-any-return]
    except ImportError as exc:
        raise no_driver(exc) from exc


def _identity_of(target: HidTarget) -> str:
    """Return the identity of the device if it is plugged in, else what the address tells."""
    try:
        return find(target, describe(_driver().enumerate())).identity
    except DeviceError:
        return target.identity


def _error_text(device: Any) -> str:
    """Return what the backend says of its last failure; libusb's says nothing."""
    with suppress(OSError, ValueError, AttributeError):
        return str(device.error())
    return ""
