"""The transport for HID gauges, on hidapi: whole reports, framed, with their descriptor.

On Linux the ``hidraw`` backend is preferred. It leaves a keyboard to the desktop, so that
what the gauge types would also go to the window in front: its keys are grabbed, where the
system permits that (``grab_keys``). The other backend takes the keyboard away while it is
open. Elsewhere hidapi has one backend only. Milliseconds and
lists of numbers stay in here; seconds, bytes and our errors come out.

hidapi raises one and the same error for every failure to open. The hidraw backend
keeps the system's words for it, so those are looked at; for the others, the rights on
the device's path tell what can be told.
"""

from __future__ import annotations

import logging
import math
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from types import ModuleType
from typing import TYPE_CHECKING, Any, final

from gaugelink.devices.contract import Port, SystemClock
from gaugelink.devices.decoders.hid_descriptor import (
    MAX_REPORT_BYTES,
    frame_descriptor,
    frame_report,
)
from gaugelink.devices.ports import hid_finder
from gaugelink.errors import (
    DeviceError,
    GaugeDisconnected,
    GaugeNotFound,
    GaugeUnavailable,
    InputError,
    Unavailable,
)

if TYPE_CHECKING:
    from gaugelink.devices.address import Address
    from gaugelink.devices.profiles.profile import Profile

wire_log = logging.getLogger("gaugelink.wire")
# In lower case, the texts of strerror and of Windows; the first that occurs counts.
BY_WORDS = (
    ("permission denied", Unavailable.PERMISSION),
    ("not permitted", Unavailable.PERMISSION),
    ("resource busy", Unavailable.BUSY),
    ("access is denied", Unavailable.BUSY),  # Windows, when another program holds it
    ("being used by another process", Unavailable.BUSY),
    ("exclusive access", Unavailable.BUSY),
)
_NOT_THERE = ("no such file", "no such device", "cannot find")
_SENTENCES = {
    Unavailable.PERMISSION: (
        "may not be opened by you",
        "'gaugelink gauges --udev' prints the rule that permits it.",
    ),
    Unavailable.BUSY: (
        "is in use by another program",
        "Close the other program that reads the gauge.",
    ),
    Unavailable.UNKNOWN: (
        "cannot be opened",
        "Unplug the gauge, plug it in again and retry.",
    ),
}
SYSFS, INPUT = Path("/sys/class/hidraw"), Path("/dev/input")
_EVIOCGRAB = 0x40044590  # _IOW('E', 0x90, int), linux/input.h
_KEYS_HINT = "Let it type into gaugelink instead: use the address keys:."
_ASK_MACOS = (
    "Allow the terminal under System Settings, Privacy and Security, Input Monitoring, "
    "and close other programs that read the gauge."
)


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
    transport = HidTransport(address=address.text, target=hid_finder.parse_target(address))
    return Port(transport=transport, clock=SystemClock())


def list_hid_gauges() -> tuple[hid_finder.HidInfo, ...]:
    """List the HID devices that could be gauges, keyboards among them.

    Raises:
        GaugeUnavailable: hidapi cannot be loaded on this system.
    """
    return hid_finder.describe(_driver().enumerate())


@final
class HidTransport:
    """Reports from a HID device, found again by vendor, product and serial number."""

    def __init__(self, *, address: str, target: hid_finder.HidTarget) -> None:
        self.address = address
        self._target = target
        self.identity = _identity_of(target)
        self._device: Any = None
        self._grabbed: list[int] = []
        self._pending = b""
        self._descriptor = b""

    def open(self) -> None:
        """Open the device wherever it is plugged in now.

        Raises:
            GaugeNotFound: it is not plugged in, or several answer.
            GaugeUnavailable: it is in use or not permitted, or is a keyboard on a system
                that keeps keyboards to itself.
        """
        self.close()
        driver = _driver()
        info = hid_finder.find(
            self._target, [i for i in hid_finder.describe(driver.enumerate()) if self._is_same(i)]
        )
        refuse_keyboard(info, sys.platform)
        device = driver.device()
        try:
            device.open_path(info.path)
        except (OSError, ValueError) as exc:
            raise not_opened(info, _error_text(device), sys.platform) from exc
        self._device = device
        self._grabbed = grab_keys(info.path) if info.is_keyboard else []
        # Without one (hidapi 0.14 has no such call) a decoder that needs it will say so.
        with suppress(OSError, ValueError, AttributeError):
            self._descriptor = frame_descriptor(bytes(device.get_report_descriptor()))

    def read(self, max_bytes: int, timeout_s: float) -> bytes:
        """Wait at most ``timeout_s`` for a report; return it framed, or the next part of it."""
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
        """Send ``data`` as an output report; its first byte is the report ID, or 0."""
        device = self._opened()
        with self._loss():
            if device.write(data) < 0:
                raise OSError("write error")

    def close(self) -> None:
        """Close the device; safe to call twice and after a loss."""
        device, self._device = self._device, None
        while self._grabbed:
            os.close(self._grabbed.pop())
        self._pending = self._descriptor = b""
        if device is not None:
            # A device that has gone cannot be closed properly; it is given up either way.
            with suppress(OSError, ValueError):
                device.close()

    def _is_same(self, info: hid_finder.HidInfo) -> bool:
        """Hold on to the serial number that was found first, though the address names none."""
        return info.identity == self.identity or self.identity == self._target.identity

    def _opened(self) -> Any:
        if self._device is None:
            raise GaugeDisconnected(
                f"{self.identity} is not open.",
                address=self.address,
                hint="Open the gauge first.",
            )
        return self._device

    @contextmanager
    def _loss(self) -> Iterator[None]:
        try:
            yield
        except (OSError, ValueError) as exc:
            raise gone(self.identity) from exc


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


def grab_keys(path: bytes, sysfs: Path = SYSFS, input_folder: Path = INPUT) -> list[int]:
    """Keep the keys of a gauge from the windows of the desktop, until its files are closed.

    Linux only, and only where the person may open the event nodes of the gauge.

    Returns:
        The open files that hold the keys; none where nothing could be grabbed.
    """
    grabbed: list[int] = []
    if sys.platform != "linux":
        return grabbed
    import fcntl

    node = sysfs / Path(os.fsdecode(path)).name / "device" / "input"
    for event in sorted(node.glob("input*/event*")):
        try:
            descriptor = os.open(input_folder / event.name, os.O_RDONLY | os.O_NONBLOCK)
        except OSError as refused:
            wire_log.debug("the keys of %s also go to the window in front: %s", path, refused)
            continue
        try:
            fcntl.ioctl(descriptor, _EVIOCGRAB, 1)
            grabbed.append(descriptor)
        except OSError:  # another program has grabbed it
            os.close(descriptor)
    return grabbed


def _identity_of(target: hid_finder.HidTarget) -> str:
    """Return the identity of the device if it is plugged in, else what the address tells."""
    try:
        return hid_finder.find(target, hid_finder.describe(_driver().enumerate())).identity
    except DeviceError:
        return target.identity


def _error_text(device: Any) -> str:
    """Return what the backend says of its last failure; libusb's says nothing."""
    with suppress(OSError, ValueError, AttributeError):
        return str(device.error())
    return ""


def refuse_keyboard(info: hid_finder.HidInfo, platform: str) -> None:
    """Raise if ``platform`` keeps keyboards to itself, as Windows and macOS do.

    Raises:
        GaugeUnavailable: with the reason PLATFORM.
    """
    if info.is_keyboard and platform in ("win32", "darwin"):
        raise GaugeUnavailable(
            f"{info.identity} is a keyboard, and this system does not let programs open keyboards.",
            reason=Unavailable.PLATFORM,
            address=info.address,
            hint=_KEYS_HINT,
        )


def not_opened(info: hid_finder.HidInfo, text: str, platform: str) -> DeviceError:
    """Return the error for a device that is listed but would not open.

    ``text``, which may be empty, is what the backend says of it; ``platform`` is as
    ``sys.platform``.
    """
    words = text.lower()
    if any(each in words for each in _NOT_THERE):
        return GaugeNotFound(
            f"{info.identity} was unplugged.", address=info.address, hint="Plug the gauge in."
        )
    reason = next((why for each, why in BY_WORDS if each in words), _by_path(info.path))
    sentence, hint = _SENTENCES[reason]
    if platform == "darwin" and reason is not Unavailable.BUSY:
        hint = _ASK_MACOS
    return GaugeUnavailable(
        f"{info.identity} {sentence}.", reason=reason, address=info.address, hint=hint
    )


def gone(identity: str) -> GaugeDisconnected:
    """Return the error for a device that no longer answers."""
    return GaugeDisconnected(
        f"{identity} was unplugged or switched off.",
        address=identity,
        hint="Check the cable; the gauge is picked up again when it is back.",
    )


def no_driver(exc: ImportError) -> GaugeUnavailable:
    """Return the error for a system on which hidapi cannot be loaded."""
    return GaugeUnavailable(
        f"HID gauges cannot be read here: {exc}.",
        reason=Unavailable.PLATFORM,
        hint=f"Reinstall hidapi. {_KEYS_HINT}",
    )


def _by_path(path: bytes) -> Unavailable:
    """Judge by the rights on the device node, where the path is one."""
    name = os.fsdecode(path)
    may = os.access(name, os.R_OK | os.W_OK)
    return Unavailable.PERMISSION if os.path.exists(name) and not may else Unavailable.UNKNOWN
