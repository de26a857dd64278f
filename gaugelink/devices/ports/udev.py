"""Linux: the rule file that lets the person at the bench open a HID gauge."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import PurePosixPath

from gaugelink.devices.ports.hid_finder import HidInfo

# Rules with uaccess must come before 73-seat-late.rules, which acts on that tag.
RULES_FILE = PurePosixPath("/etc/udev/rules.d/70-gaugelink.rules")
RELOAD = "sudo udevadm control --reload-rules && sudo udevadm trigger"

_HEAD = f"""\
# Lets whoever sits at this computer read the HID gauges below with gaugelink.
# Leave only the gauges in: a rule for the keyboard that you type on would let every
# program of yours read along. Save as {RULES_FILE}, then:
#   {RELOAD}
"""
_NONE = "# No HID device that could be a gauge is plugged in.\n"


def udev_rules(devices: Iterable[HidInfo]) -> str:
    """Return the text of a udev rule file that grants access to ``devices``.

    Each vendor and product gets two rules, one for the hidraw node and one for the USB
    node, in lower-case hexadecimal as udev compares them. What is not a rule is a
    comment, so the text can be saved as it is.
    """
    names: dict[str, str] = {}
    for device in devices:
        match = (
            f'ATTRS{{idVendor}}=="{device.vendor_id:04x}", '
            f'ATTRS{{idProduct}}=="{device.product_id:04x}", TAG+="uaccess"'
        )
        names.setdefault(match, f"{device.manufacturer} {device.product}".strip())
    if not names:
        return _HEAD + _NONE
    return _HEAD + "".join(_rules(match, name) for match, name in names.items())


def _rules(match: str, name: str) -> str:
    return f'\n# {name or "no name"}\nKERNEL=="hidraw*", {match}\nSUBSYSTEMS=="usb", {match}\n'
