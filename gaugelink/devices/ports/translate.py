"""From the errors of the serial driver to ours: one table, used around every call.

The driver has one class for nearly everything that can go wrong, so the table looks
at the error number, of the error itself or of the one it was raised from, and then
at words that the driver uses where it lost the number.
"""

from __future__ import annotations

import errno
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from enum import Enum, auto

from gaugelink.errors import (
    DeviceError,
    GaugeDisconnected,
    GaugelinkError,
    GaugeNotFound,
    GaugeTimeout,
    GaugeUnavailable,
    InputError,
    Unavailable,
)

# A request is a few bytes: a port that cannot take them in a second is blocked.
WRITE_TIMEOUT_S = 1.0


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
# prints the system's error class, and a port that another program holds is "denied".
BY_WORDS = (
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
NETWORK_HINT = "Check host and port, and that the program at the other end is running."


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

    Args:
        address: the gauge that is being talked to.
        opening: True while a port is being opened; an error that the table does not
            know then means that it cannot be opened, later that it has gone.
    """
    try:
        yield
    except GaugelinkError:
        raise
    except Exception as exc:  # the driver leaks OSError, termios.error, ValueError and more
        raise translate(exc, address, opening=opening) from exc


def translate(exc: Exception, address: str, *, opening: bool = False) -> GaugelinkError:
    """Return our error for the driver's ``exc``."""
    cause = find_cause(exc)
    if cause is Cause.UNKNOWN and not opening:
        cause = Cause.DISCONNECTED
    hint = _hint(cause, address)
    if cause is Cause.BAD_ADDRESS:
        return InputError(f"{address!r} cannot be used: {exc}.", hint=hint)
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
        # termios.error is no OSError and has no errno, but the same first argument.
        first = link.args[0] if link.args else None
        if isinstance(first, int) and first > 0:
            return first
        link = link.__cause__ or link.__context__
    return 0


def _device_error(cause: Cause, exc: Exception, address: str, hint: str) -> DeviceError:
    match cause:
        case Cause.NOT_FOUND:
            return GaugeNotFound(f"Nothing is connected at {address}.", address=address, hint=hint)
        case Cause.DISCONNECTED:
            text = f"{address} was unplugged or switched off."
            return GaugeDisconnected(text, address=address, hint=hint)
        case Cause.WRITE_TIMEOUT:
            text = f"{address} takes no request."
            return GaugeTimeout(text, timeout_s=WRITE_TIMEOUT_S, address=address, hint=hint)
    text, reason = {
        Cause.PERMISSION: ("may not be opened by you", Unavailable.PERMISSION),
        Cause.BUSY: ("is in use by another program", Unavailable.BUSY),
        Cause.NOT_A_PORT: ("is not a serial port", Unavailable.UNKNOWN),
        Cause.PLATFORM: (f"cannot be opened here: {exc}", Unavailable.PLATFORM),
    }.get(cause, (f"cannot be opened: {exc}", Unavailable.UNKNOWN))
    return GaugeUnavailable(f"{address} {text}.", reason=reason, address=address, hint=hint)
