"""Why a HID device could not be opened, or has gone, in our errors.

hidapi raises one and the same error for every failure to open. The hidraw backend
keeps the system's words for it, so those are looked at; for the others, the rights on
the device's path tell what can be told.
"""

from __future__ import annotations

import os

from gaugelink.devices.ports.hid_finder import HidInfo
from gaugelink.errors import (
    DeviceError,
    GaugeDisconnected,
    GaugeNotFound,
    GaugeUnavailable,
    Unavailable,
)

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
_KEYS_HINT = "Let it type into gaugelink instead: use the address keys:."
_ASK_MACOS = (
    "Allow the terminal under System Settings, Privacy and Security, Input Monitoring, "
    "and close other programs that read the gauge."
)


def refuse_keyboard(info: HidInfo, platform: str) -> None:
    """Raise if ``platform`` keeps keyboards to itself, as Windows and macOS do.

    Raises:
        GaugeUnavailable: with the reason PLATFORM.
    """
    if info.is_keyboard and platform in ("win32", "darwin"):
        raise GaugeUnavailable(
            f"{info.identity} is a keyboard, and this system lets no program open keyboards.",
            reason=Unavailable.PLATFORM,
            address=info.address,
            hint=_KEYS_HINT,
        )


def not_opened(info: HidInfo, text: str, platform: str) -> DeviceError:
    """Return the error for a device that is listed but would not open.

    Args:
        info: the device.
        text: what the backend says of the failure; may be empty.
        platform: as ``sys.platform``.
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
