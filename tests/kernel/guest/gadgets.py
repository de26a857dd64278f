"""USB devices that the kernel plays on one end of a cable and finds on the other.

``dummy_hcd`` is a host controller whose sockets lead to device controllers of the same kernel;
configfs describes what is plugged into one. Runs inside the virtual machine, with python alone.
"""

from __future__ import annotations

import os
import termios
import time
import tty
from collections.abc import Callable
from pathlib import Path

CONFIG = Path("/sys/kernel/config/usb_gadget")
# A keyboard of the boot protocol without lamps: HID 1.11, appendices B.1 and E.6.
KEYBOARD = bytes.fromhex(
    "05 01 09 06 a1 01 05 07 19 e0 29 e7 15 00 25 01 75 01 95 08 81 02 95 01 75 08 81 03"
    "95 06 75 08 15 00 25 65 05 07 19 00 29 65 81 00 c0"
)
# HID usage tables, page 0x07.
KEYS = {**{str(n): 0x1D + n for n in range(1, 10)}, "0": 0x27, "-": 0x2D, ".": 0x37, "\n": 0x28}
RELEASED = bytes(8)
PATIENCE_S = 60.0  # time in the machine is slow, and the host is busy at times


class LabError(Exception):
    """The bench itself went wrong, not what it holds."""


def wait_until(what: str, seen: Callable[[], bool], patience_s: float = PATIENCE_S) -> None:
    """Wait for something that the kernel is to do."""
    until_s = time.monotonic() + patience_s
    while not seen():
        if time.monotonic() > until_s:
            raise LabError(f"waited in vain until {what}")
        time.sleep(0.05)


class Gadget:
    """One device of USB.

    Args:
        socket: number of the socket of ``dummy_hcd``.
        product_id: with the Linux Foundation's vendor 1d6b.
        serial: its serial number.
        function: ``acm.NAME`` or ``hid.NAME``, of configfs.
    """

    def __init__(self, *, socket: int, product_id: int, serial: str, function: str) -> None:
        self._socket = socket
        self._root = CONFIG / function
        english = self._root / "strings" / "0x409"
        self._function = self._root / "functions" / function
        for folder in (self._root, english, self._root / "configs" / "c.1", self._function):
            folder.mkdir()
        self._write("idVendor", "0x1d6b")
        self._write("idProduct", f"{product_id:#06x}")
        for name, text in (("serialnumber", serial), ("manufacturer", "lab"), ("product", "gauge")):
            (english / name).write_text(text, encoding="ascii")
        if function.startswith("hid."):
            for name, number in (("protocol", 1), ("subclass", 1), ("report_length", 8)):
                (self._function / name).write_text(str(number), encoding="ascii")
            (self._function / "report_desc").write_bytes(KEYBOARD)
        (self._root / "configs" / "c.1" / function).symlink_to(self._function)

    def plug(self) -> None:
        """Put the plug in."""
        self._write("UDC", f"dummy_udc.{self._socket}")

    def unplug(self) -> None:
        """Pull the plug out."""
        self._write("UDC", "\n")

    def send_line(self, text: str) -> None:
        """Send bytes through the serial line of this device, and wait until they are out."""
        number = (self._function / "port_num").read_text(encoding="ascii").strip()
        # Anew each time: pulling the plug hangs it up.
        port = os.open(f"/dev/ttyGS{number}", os.O_RDWR | os.O_NOCTTY)
        try:
            tty.setraw(port, termios.TCSANOW)
            os.write(port, text.encode("ascii"))
            termios.tcdrain(port)
        finally:
            os.close(port)

    def type_keys(self, text: str) -> None:
        """Press and release keys."""
        node = os.open("/dev/hidg0", os.O_RDWR)
        try:
            for character in text:
                os.write(node, bytes((0, 0, KEYS[character], 0, 0, 0, 0, 0)))
                os.write(node, RELEASED)
        finally:
            os.close(node)

    def _write(self, name: str, text: str) -> None:
        (self._root / name).write_text(text, encoding="ascii")
