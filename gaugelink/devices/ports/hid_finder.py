"""Which HID devices there are, which of them an address means, and who may open them.

One device may show several interfaces, and one interface several top-level
collections, each with a usage that says what it is for. The path by which one is
opened changes on replugging; vendor, product and serial number stay. On Linux a rule file
(``udev_rules``) lets the person at the bench open a HID gauge.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import PurePosixPath
from typing import TYPE_CHECKING, Any

from gaugelink.errors import GaugeNotFound, InputError, SeveralGaugesFit

if TYPE_CHECKING:
    from gaugelink.devices.address import Address
    from gaugelink.devices.ports.identity import PortInfo
_DESKTOP, _CONSUMER = 0x01, 0x0C
_KEYBOARDS = {(_DESKTOP, 0x06), (_DESKTOP, 0x07)}
# Pointer, mouse, joystick, game pad, system control: what a gauge that also is one of
# these is not read from. HID Usage Tables, page 0x01, from memory.
_NO_GAUGE = {(_DESKTOP, usage) for usage in (0x01, 0x02, 0x04, 0x05, 0x80)}
# Rules with uaccess must come before 73-seat-late.rules, which acts on that tag.
RULES_FILE = PurePosixPath("/etc/udev/rules.d/70-gaugelink.rules")
LATE_FILE = PurePosixPath("/etc/udev/rules.d/99-gaugelink.rules")
RELOAD = "sudo udevadm control --reload-rules && sudo udevadm trigger"
_HEAD = f"""\
# Lets whoever sits at this computer read the HID gauges below with gaugelink, and the members
# of the group plugdev also over ssh or without a screen: sudo usermod -aG plugdev $USER.
# Leave only the gauges in: a rule for the keyboard that you type on would let every
# program of yours read along. Save as {RULES_FILE}, then:
#   {RELOAD}
"""
_GRANT = 'TAG+="uaccess", GROUP="plugdev", MODE="0660"'
_NONE = "# No HID device plugged in could be a gauge.\n"


@dataclass(frozen=True, slots=True, kw_only=True)
class HidInfo:
    """One collection of a HID device that could be a gauge.

    ``path`` is what the driver opens. ``usage_page`` and ``usage`` are 0, and
    ``interface`` is -1, where the driver does not tell.
    """

    vendor_id: int
    product_id: int
    serial_number: str
    manufacturer: str
    product: str
    usage_page: int
    usage: int
    interface: int
    path: bytes

    @property
    def identity(self) -> str:
        """A name that stays when the device is plugged in elsewhere."""
        return _join("hid-", "-", self.vendor_id, self.product_id, self.serial_number)

    @property
    def address(self) -> str:
        """The address to type, without a format."""
        return _join("hid:", ":", self.vendor_id, self.product_id, self.serial_number)

    @property
    def is_keyboard(self) -> bool:
        """True for what the system itself reads as a keyboard or keypad."""
        return (self.usage_page, self.usage) in _KEYBOARDS


@dataclass(frozen=True, slots=True, kw_only=True)
class HidTarget:
    """What an address says of a device; None where it says nothing."""

    vendor_id: int
    product_id: int
    serial_number: str | None = None
    usage_page: int | None = None
    usage: int | None = None
    interface: int | None = None

    @property
    def identity(self) -> str:
        """The identity as far as the address tells it."""
        return _join("hid-", "-", self.vendor_id, self.product_id, self.serial_number)

    def fits(self, info: HidInfo) -> bool:
        """Tell whether ``info`` is all that was asked for."""
        wanted = (self.serial_number, self.usage_page, self.usage, self.interface)
        given = (info.serial_number, info.usage_page, info.usage, info.interface)
        return (self.vendor_id, self.product_id) == (info.vendor_id, info.product_id) and all(
            want in (None, have) for want, have in zip(wanted, given, strict=True)
        )


def parse_target(address: Address) -> HidTarget:
    """Read ``VID:PID[:SERIAL]`` and the options of a ``hid:`` address.

    Raises:
        InputError: a number that is missing or wrong.
    """
    vendor, _, rest = address.target.partition(":")
    product, _, serial = rest.partition(":")
    return HidTarget(
        vendor_id=_number(address, "the vendor", vendor, 16),
        product_id=_number(address, "the product", product, 16),
        serial_number=serial or None,
        usage_page=_option(address, "usage_page", 16),
        usage=_option(address, "usage", 16),
        interface=_option(address, "interface", 10),
    )


def describe(entries: Iterable[Mapping[str, Any]]) -> tuple[HidInfo, ...]:
    """Turn what the driver lists into infos; mice and the like are left out."""
    found = [
        HidInfo(
            vendor_id=entry["vendor_id"],
            product_id=entry["product_id"],
            serial_number=_printable(entry.get("serial_number")),
            manufacturer=_printable(entry.get("manufacturer_string")),
            product=_printable(entry.get("product_string")),
            usage_page=entry.get("usage_page") or 0,
            usage=entry.get("usage") or 0,
            interface=entry.get("interface_number", -1),
            path=entry["path"],
        )
        for entry in entries
    ]
    gauges = (i for i in found if (i.usage_page, i.usage) not in _NO_GAUGE)
    kept = (info for info in gauges if info.usage_page != _CONSUMER)
    return tuple(sorted(kept, key=lambda info: (info.identity, info.path)))


def find(target: HidTarget, infos: Sequence[HidInfo]) -> HidInfo:
    """Return the one device that ``target`` means.

    Raises:
        GaugeNotFound: none fits.
        SeveralGaugesFit: several do.
    """
    found = [info for info in infos if target.fits(info)]
    if len({info.path for info in found}) == 1:
        # One path can have several collections; a keyboard among them decides who may open it.
        return next((info for info in found if info.is_keyboard), found[0])
    if not found:
        raise GaugeNotFound(
            f"{target.identity} is not plugged in.",
            address=target.identity,
            hint="Plug the gauge in; 'gaugelink gauges' lists what is connected.",
        )
    choices = " or ".join(
        f"{i.address}?usage_page={i.usage_page:x}&usage={i.usage:x}&interface={i.interface}"
        for i in found
    )
    raise SeveralGaugesFit(
        f"{len(found)} HID interfaces answer to {target.identity}.",
        address=target.identity,
        hint=f"Leave only the gauge plugged in, or name one of them: {choices}.",
    )


def _option(address: Address, name: str, base: int) -> int | None:
    text = address.options.get(name)
    return None if text is None else _number(address, name, text, base)


def _number(address: Address, name: str, text: str, base: int) -> int:
    try:
        number = int(text, base)
    except ValueError:
        number = -1
    if not 0 <= number <= 0xFFFF:
        raise InputError(
            f"{name} in {address.text!r} cannot be {text!r}.",
            hint="Addresses are like hid:1a2b:00ff?usage_page=ff00&interface=0, with vendor, "
            "product and usages in hexadecimal.",
        )
    return number


def _join(prefix: str, mark: str, vendor_id: int, product_id: int, serial: str | None) -> str:
    name = f"{prefix}{vendor_id:04x}:{product_id:04x}"
    return f"{name}{mark}{serial}" if serial else name


def _printable(text: str | None) -> str:
    """Return a text of the device's own; it could hold a line feed or an escape sequence."""
    return "".join(c if c.isprintable() else "?" for c in text or "").strip()


def udev_rules(devices: Iterable[HidInfo]) -> str:
    """Return the text of a udev rule file that grants access to ``devices``.

    Each vendor and product gets a rule for the hidraw node and one for the USB node, and a
    keyboard one for its event nodes, so that its keys can be grabbed. They are in lower-case
    hexadecimal, as udev compares them. What is not a rule is a comment, so the text can be
    saved as it is.
    """
    names: dict[str, str] = {}
    typing: set[str] = set()
    for device in devices:
        match = (
            f'ATTRS{{idVendor}}=="{device.vendor_id:04x}", '
            f'ATTRS{{idProduct}}=="{device.product_id:04x}", {_GRANT}'
        )
        names.setdefault(match, f"{device.manufacturer} {device.product}".strip())
        if device.is_keyboard:
            typing.add(match)
    if not names:
        return _HEAD + _NONE
    return _HEAD + "".join(
        _rules(match, name, types=match in typing) for match, name in names.items()
    )


def serial_rules(ports: Iterable[PortInfo]) -> str:
    """Return the udev rules that keep the modem and the braille daemon off serial adapters.

    ``ID_MM_DEVICE_IGNORE`` is ModemManager's own word (its documentation, "Ignoring devices");
    what brltty's rules want started is named in its 90-brltty file, from memory, so the second
    rule has to come after them.
    """
    adapters = {(p.vid, p.pid): p for p in ports if p.vid is not None and p.pid is not None}
    texts = []
    for (vid, pid), port in sorted(adapters.items()):
        match = f'ATTRS{{idVendor}}=="{vid:04x}", ATTRS{{idProduct}}=="{pid:04x}"'
        usb = match.replace("ATTRS", "ATTR")
        texts.append(
            f"\n# {_printable(port.description) or 'no name'}: a serial adapter\n"
            f'SUBSYSTEM=="tty", {match}, ENV{{ID_MM_DEVICE_IGNORE}}="1", TAG+="uaccess"\n'
            f"# If the braille daemon takes it away: this line, without #, as {LATE_FILE}\n"
            f'#SUBSYSTEM=="usb", {usb}, ENV{{BRLTTY_BRAILLE_DRIVER}}="", ENV{{SYSTEMD_WANTS}}=""\n'
        )
    return "".join(texts)


def _rules(match: str, name: str, *, types: bool) -> str:
    text = f'\n# {name or "no name"}\nKERNEL=="hidraw*", {match}\nSUBSYSTEMS=="usb", {match}\n'
    return text + (f'KERNEL=="event*", {match}\n' if types else "")
