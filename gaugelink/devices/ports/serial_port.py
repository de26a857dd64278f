"""The transport for everything the serial driver opens: device names and its URLs.

Seconds, bytes and our errors come out; framing is the decoder's work, never a
gap between bytes, since the driver rounds such gaps to tenths of a second.

The driver has one class for nearly everything that can go wrong, so ``translate`` looks
at the error number, of the error itself or of the one it was raised from, and then at
words that the driver uses where it lost the number.
"""

from __future__ import annotations

import errno
import os
import select
import sys
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from enum import Enum, auto
from typing import TYPE_CHECKING, final

from gaugelink import errors
from gaugelink.devices.contract import Port, SystemClock
from gaugelink.devices.ports.holders import KEEP_OFF, Holder, holders, named
from gaugelink.devices.ports.identity import identity_of, is_pseudo, locate, same_port

if TYPE_CHECKING:
    from serial import Serial

    from gaugelink.devices.address import Address
    from gaugelink.devices.profiles.profile import PortSettings, Profile

# A request is a few bytes: a port that cannot take them in a second is blocked.
WRITE_TIMEOUT_S = 1.0
READ_TIMEOUT_S = 0.02  # how long the driver waits for a byte where we cannot wait ourselves
NETWORK_HINT = "Check host and port, and that the program at the other end is running."


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
        self.address = address
        self._target = target
        self._typed = target if is_url else address.partition("?")[0]  # no options
        self._name = self._typed  # for messages
        self._settings = settings
        self._is_url = is_url
        self.identity = target if is_url else identity_of(target)
        self._port: Serial | None = None
        self._descriptor: int | None = None  # of an open port that the system can wait for

    def open(self) -> None:
        """Open the port wherever the gauge is plugged in now."""
        self.close()
        device = self.identity if self._is_url else locate(self.identity)
        self._name = self._named(device)
        try:
            with driver_errors(self._name, opening=True):
                port = self._configured(device)
                port.open()
                self._port = port
                self._descriptor = None if self._is_url else _descriptor_of(port)
                _prefer_low_latency(port)
                _check_parity(self._descriptor, self._settings)
        except errors.GaugeUnavailable as refused:
            if refused.reason is not errors.Unavailable.BUSY:
                raise
            raise in_use(self._name, holders(device)) from refused
        if not self._is_url:
            self._claim(device)

    def _named(self, device: str) -> str:
        """Name the port as it was typed, unless the gauge came back on another."""
        if self._is_url or self._target.startswith("usb-") or same_port(self._target, device):
            return self._typed
        return f"{self._typed.partition(':')[0]}:{device}"

    def _claim(self, device: str) -> None:
        """Hold the port alone: two readers would share its bytes out between them.

        Raises:
            GaugeUnavailable: another program had it open before, names it.
        """
        if others := holders(device):
            self.close()
            raise in_use(self._name, others)
        if sys.platform != "win32" and self._descriptor is not None and not is_pseudo(device):
            import fcntl
            import termios

            # From now on nobody but root can open it; the last closing ends that.
            with suppress(OSError):
                fcntl.ioctl(self._descriptor, termios.TIOCEXCL)

    def read(self, max_bytes: int, timeout_s: float) -> bytes:
        """Wait at most ``timeout_s`` for a byte, then take what has come with it."""
        if self._descriptor is None:
            port = self._opened()
            with driver_errors(self._name):
                return _read_by_driver(port, max_bytes, timeout_s)
        try:
            return _read_ready(self._descriptor, max_bytes, timeout_s)
        except _StolenError as stolen:
            others = holders(self.identity if self._is_url else locate(self.identity))
            text = f"{self._name} is read by {named(others)} too, which takes bytes away."
            hint = in_use(self._name, others).hint
            raise errors.GaugeDisconnected(text, address=self._name, hint=hint) from stolen
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
            timeout=READ_TIMEOUT_S,
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
            raise errors.GaugeDisconnected(
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


def _check_parity(descriptor: int | None, settings: PortSettings) -> None:
    """Have the system check a parity that goes with eight data bits: it gives zeros then.

    The driver sets such a parity and leaves the check off. With seven data bits the decoder does
    it (``profile.as_opened``).
    """
    if sys.platform == "win32" or descriptor is None or settings.parity == "N":
        return
    import termios

    with suppress(termios.error):
        attributes = termios.tcgetattr(descriptor)
        attributes[0] |= termios.INPCK
        termios.tcsetattr(descriptor, termios.TCSANOW, attributes)


def _descriptor_of(port: Serial) -> int | None:
    """Return what ``select`` can wait for; on Windows that is not a serial port."""
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
    if not data and _has_hung_up(descriptor):
        raise OSError(errno.EIO, "ready to read, but at its end: the port has hung up")
    if not data:
        raise _StolenError("ready to read, and nothing there: another reader was quicker")
    return data


def _has_hung_up(descriptor: int) -> bool:
    """Tell whether the other end has gone; where the system cannot tell, it has."""
    if sys.platform == "win32":  # which does not come here
        return True
    poll = select.poll()
    poll.register(descriptor, select.POLLIN)
    return any(events & ~select.POLLIN for _, events in poll.poll(0))


class _StolenError(OSError):
    """Bytes were there, and another reader of the same port took them."""


def in_use(address: str, others: Sequence[Holder]) -> errors.GaugeUnavailable:
    """Return the error for a port that others have open; who, as far as that can be seen."""
    daemon = f" {KEEP_OFF}" if any(other.is_daemon for other in others) else ""
    return errors.GaugeUnavailable(
        f"{address} is in use by {named(others)}.",
        reason=errors.Unavailable.BUSY,
        address=address,
        hint=f"{HINTS[Cause.BUSY]}{daemon}",
    )


def _read_by_driver(port: Serial, max_bytes: int, timeout_s: float) -> bytes:
    """Read a URL, or a port of Windows: the first byte, then what has come with it.

    The driver's own timeout stays as it is: whenever it is changed, the driver sets the whole
    port anew, on Windows and over RFC 2217, where each setting is asked for and answered.
    """
    until_s = time.monotonic() + timeout_s
    while True:
        data: bytes = port.read(min(max(1, port.in_waiting), max_bytes))
        if data:
            return data + _drain(port, max_bytes - len(data))
        if time.monotonic() >= until_s:
            return b""


def _drain(port: Serial, room: int) -> bytes:
    """Take what is waiting; a socket says only that something is, so it is asked again."""
    taken = b""
    # An error here is met again by the next read, after these bytes were delivered.
    with suppress(OSError):
        while room > len(taken) and (waiting := port.in_waiting):
            taken += port.read(min(waiting, room - len(taken)))
    return taken


class Cause(Enum):
    """What a driver error comes down to."""

    NOT_FOUND = auto()
    PERMISSION = auto()
    BUSY = auto()
    NOT_A_PORT = auto()
    PLATFORM = auto()
    BAD_ADDRESS = auto()
    WRITE_TIMEOUT = auto()
    DISCONNECTED = auto()
    UNKNOWN = auto()


# Calls of Windows that fail on an open port when its adapter has gone.
WINDOWS_CALLS = ("clearcommerror", "getoverlappedresult", "readfile", "writefile")
BY_NUMBER = {
    errno.ENOENT: Cause.NOT_FOUND,
    errno.ENODEV: Cause.NOT_FOUND,
    errno.ENOTDIR: Cause.NOT_FOUND,
    errno.ECONNREFUSED: Cause.NOT_FOUND,
    errno.EHOSTUNREACH: Cause.NOT_FOUND,
    errno.ENETUNREACH: Cause.NOT_FOUND,
    errno.ETIMEDOUT: Cause.NOT_FOUND,
    errno.EACCES: Cause.PERMISSION,
    errno.EPERM: Cause.PERMISSION,
    errno.EBUSY: Cause.BUSY,
    errno.EAGAIN: Cause.BUSY,
    errno.ENOTTY: Cause.NOT_A_PORT,
    errno.EISDIR: Cause.NOT_A_PORT,
    errno.ENXIO: Cause.DISCONNECTED,
    errno.EIO: Cause.DISCONNECTED,
    errno.EBADF: Cause.DISCONNECTED,
    errno.EPIPE: Cause.DISCONNECTED,
    errno.ECONNRESET: Cause.DISCONNECTED,
    errno.ECONNABORTED: Cause.DISCONNECTED,
}
# In lower case; the first that occurs in the error's text counts. On Windows the driver
# prints the system's error class and, last, its number (winerror.h). "Denied", 5, is what a
# port says that another program holds, and just so an open one whose adapter was pulled.
BY_WORDS = (
    *((f"{call} failed", Cause.DISCONNECTED) for call in WINDOWS_CALLS),
    (", none, 87)", Cause.PLATFORM),  # a parameter is incorrect: these settings
    *((f", none, {number})", Cause.NOT_FOUND) for number in (31, 121, 433, 1167)),
    # The driver means to say which options a URL may have, and trips over its own braces.
    ("debug|info|warning|error", Cause.BAD_ADDRESS),
    ("write timeout", Cause.WRITE_TIMEOUT),
    ("filenotfounderror", Cause.NOT_FOUND),
    ("permissionerror", Cause.BUSY),
    ("open port socket:", Cause.NOT_FOUND),
    ("open port rfc2217:", Cause.NOT_FOUND),
    ("no ports found", Cause.NOT_FOUND),
    ("expected a string in the form", Cause.BAD_ADDRESS),
    ("disconnected", Cause.DISCONNECTED),
    ("port that is not open", Cause.DISCONNECTED),
    ("connection failed", Cause.DISCONNECTED),
    ("failed", Cause.DISCONNECTED),
)
HINTS = {
    Cause.NOT_FOUND: "Plug the gauge in; 'gaugelink gauges' lists what is connected.",
    Cause.BUSY: "Close the other program that uses the port.",
    Cause.NOT_A_PORT: "'gaugelink gauges' lists the serial ports.",
    Cause.PLATFORM: "Choose settings that this system's serial driver knows.",
    Cause.BAD_ADDRESS: "Addresses look like serial:PORT or socket://HOST:PORT.",
    Cause.WRITE_TIMEOUT: "Check the cable and that the gauge is switched on.",
    Cause.DISCONNECTED: "Check the cable; the gauge is picked up again when it is back.",
    Cause.UNKNOWN: "Unplug the gauge, plug it in again and retry.",
}


def permission_hint(platform: str) -> str:
    """Return what to do about a port that may not be opened on ``platform``."""
    if platform.startswith("linux"):
        return (
            "Join the group that owns the port (dialout, on some systems uucp): "
            "'sudo usermod -aG dialout $USER', then log out and in."
        )
    return "Run gaugelink as a user who may use the port."


@contextmanager
def driver_errors(address: str, *, opening: bool = False) -> Iterator[None]:
    """Raise our error for whatever the driver raises inside the block.

    An error that the table does not know means, while ``opening``, that the port cannot be
    opened, later that it has gone.
    """
    try:
        yield
    except errors.GaugelinkError:
        raise
    except Exception as exc:  # the driver leaks OSError, termios.error, ValueError and more
        raise translate(exc, address, opening=opening) from exc


def translate(exc: Exception, address: str, *, opening: bool = False) -> errors.GaugelinkError:
    """Return our error for the driver's ``exc``."""
    cause = find_cause(exc)
    if cause is Cause.UNKNOWN and not opening:
        cause = Cause.DISCONNECTED
    hint = _hint(cause, address)
    if cause is Cause.BAD_ADDRESS:
        return errors.InputError(f"{address!r} cannot be used: {exc}.", hint=hint)
    return _device_error(cause, exc, address, hint)


def find_cause(exc: BaseException) -> Cause:
    """Tell what the driver's ``exc`` comes down to, by class, number, then words."""
    if isinstance(exc, NotImplementedError):
        return Cause.PLATFORM
    if isinstance(exc, ValueError):
        return Cause.BAD_ADDRESS
    number = _error_number(exc)
    if number in BY_NUMBER:
        return BY_NUMBER[number]
    text = str(exc).lower()
    return next((cause for words, cause in BY_WORDS if words in text), Cause.UNKNOWN)


def _hint(cause: Cause, address: str) -> str:
    if cause is Cause.PERMISSION:
        return permission_hint(sys.platform)
    if cause is Cause.NOT_FOUND and address.startswith(("socket:", "rfc2217:")):
        return NETWORK_HINT
    return HINTS[cause]


def _error_number(exc: BaseException) -> int:
    """Find the system's error number in ``exc`` or in what it was raised from."""
    link: BaseException | None = exc
    while link is not None:
        # termios.error is not an OSError and has no errno, but the same first argument.
        first = link.args[0] if link.args else None
        if isinstance(first, int) and first > 0:
            return first
        link = link.__cause__ or link.__context__
    return 0


def _device_error(cause: Cause, exc: Exception, address: str, hint: str) -> errors.DeviceError:
    match cause:
        case Cause.NOT_FOUND:
            return errors.GaugeNotFound(
                f"Nothing is connected at {address}.", address=address, hint=hint
            )
        case Cause.DISCONNECTED:
            text = f"{address} was unplugged or switched off."
            return errors.GaugeDisconnected(text, address=address, hint=hint)
        case Cause.WRITE_TIMEOUT:
            text = f"{address} does not take requests."
            return errors.GaugeTimeout(text, timeout_s=WRITE_TIMEOUT_S, address=address, hint=hint)
    text, reason = {
        Cause.PERMISSION: ("may not be opened by you", errors.Unavailable.PERMISSION),
        Cause.BUSY: ("is in use by another program", errors.Unavailable.BUSY),
        Cause.NOT_A_PORT: ("is not a serial port", errors.Unavailable.UNKNOWN),
        Cause.PLATFORM: (f"cannot be opened here: {exc}", errors.Unavailable.PLATFORM),
    }.get(cause, (f"cannot be opened: {exc}", errors.Unavailable.UNKNOWN))
    return errors.GaugeUnavailable(f"{address} {text}.", reason=reason, address=address, hint=hint)
