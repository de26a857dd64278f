"""Every error class of the serial driver, and every error it leaks, becomes one of ours."""

from __future__ import annotations

import errno
import inspect
import socket
import sys

import pytest
import serial.rfc2217
import serial.serialutil

from gaugelink.devices.ports.serial_port import (
    _read_by_driver,
    driver_errors,
    permission_hint,
    translate,
)
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

SerialException = serial.serialutil.SerialException

DRIVER_CLASSES: set[type[BaseException]] = {
    found
    for module in (serial, serial.serialutil, serial.rfc2217)
    for _, found in inspect.getmembers(module, inspect.isclass)
    if issubclass(found, BaseException) and found.__module__.startswith("serial")
}

WANTED_BY_CLASS = {
    "SerialException": GaugeDisconnected,
    "SerialTimeoutException": GaugeTimeout,
    "PortNotOpenError": GaugeDisconnected,
}

SET = "Cannot configure port, something went wrong. Original message: "
# Texts as pyserial 3.5 writes them; (text or number and text, our class).
WANTED_BY_TEXT = [
    ((errno.ENOENT, "could not open port /dev/ttyUSB7: ..."), GaugeNotFound),
    ((errno.EACCES, "could not open port /dev/ttyUSB0: ..."), Unavailable.PERMISSION),
    ((errno.EBUSY, "could not open port /dev/ttyUSB0: ..."), Unavailable.BUSY),
    ((errno.EAGAIN, "Could not exclusively lock port /dev/ttyUSB0: ..."), Unavailable.BUSY),
    ((errno.ENXIO, "read failed"), GaugeDisconnected),
    ((errno.EIO, "Input/output error"), GaugeDisconnected),
    (("could not open port 'COM9': FileNotFoundError(2, '...', None, 2)",), GaugeNotFound),
    (("could not open port 'COM3': PermissionError(13, '...', None, 5)",), Unavailable.BUSY),
    (("ClearCommError failed (OSError(22, '...', None, 22))",), GaugeDisconnected),
    (("GetOverlappedResult failed (OSError(22, '...', None, 995))",), GaugeDisconnected),
    # Of an open port (serialwin32.py, read, write and in_waiting): the adapter was pulled.
    (("ClearCommError failed (PermissionError(13, '...', None, 5))",), GaugeDisconnected),
    (("GetOverlappedResult failed (PermissionError(13, '...', None, 5))",), GaugeDisconnected),
    (("ReadFile failed (PermissionError(13, '...', None, 5))",), GaugeDisconnected),
    (("WriteFile failed (PermissionError(13, '...', None, 5))",), GaugeDisconnected),
    (("WriteFile failed (OSError(22, '...', None, 433))",), GaugeDisconnected),
    # While opening (serialwin32.py, open and _reconfigure_port).
    (("could not open port 'COM4': OSError(22, '...', None, 121)",), GaugeNotFound),
    (("could not open port 'COM4': OSError(22, '...', None, 1167)",), GaugeNotFound),
    ((f"{SET}OSError(22, '...', None, 31)",), GaugeNotFound),
    ((f"{SET}OSError(22, '...', None, 87)",), Unavailable.PLATFORM),
    (("device reports readiness to read but returned no data",), GaugeDisconnected),
    (("read failed: socket disconnected",), GaugeDisconnected),
    (("Could not open port socket://h:1: timed out",), GaugeNotFound),
    (("no ports found matching regexp 'x'",), GaugeNotFound),
    (("Write timeout",), GaugeTimeout),
]


def kind_of(error: GaugelinkError) -> object:
    return error.reason if isinstance(error, GaugeUnavailable) else type(error)


def make(found: type[BaseException]) -> Exception:
    try:
        error = found("Write timeout" if found.__name__ == "SerialTimeoutException" else "?")
    except TypeError:
        error = found()
    assert isinstance(error, Exception)
    return error


def test_the_driver_has_no_error_class_that_is_not_tried_here() -> None:
    assert {found.__name__ for found in DRIVER_CLASSES} == WANTED_BY_CLASS.keys()


@pytest.mark.parametrize("found", sorted(DRIVER_CLASSES, key=str))
def test_each_class_of_the_driver_becomes_one_of_ours(found: type[BaseException]) -> None:
    error = make(found)
    with pytest.raises(DeviceError) as caught, driver_errors("serial:X"):
        raise error
    assert type(caught.value) is WANTED_BY_CLASS[found.__name__]
    assert caught.value.__cause__ is error
    assert caught.value.address == "serial:X"
    assert caught.value.hint


@pytest.mark.parametrize(("arguments", "wanted"), WANTED_BY_TEXT)
def test_each_known_failure_becomes_what_it_is(
    arguments: tuple[object, ...], wanted: object
) -> None:
    assert kind_of(translate(SerialException(*arguments), "serial:X")) == wanted


def test_the_number_is_found_in_the_error_behind() -> None:
    try:
        try:
            raise ConnectionRefusedError(errno.ECONNREFUSED, "Connection refused")
        except OSError as behind:
            raise SerialException(f"Could not open port: {behind}")  # noqa: B904 - as the driver does
    except SerialException as error:
        assert isinstance(translate(error, "socket://h:1"), GaugeNotFound)


@pytest.mark.parametrize(
    ("address", "word"),
    [("socket://h:1", "host"), ("rfc2217://h:1", "host"), ("serial:X", "gaugelink gauges")],
)
def test_what_to_do_about_nothing_there_fits_the_address(address: str, word: str) -> None:
    error = translate(ConnectionRefusedError(errno.ECONNREFUSED, "refused"), address)
    assert isinstance(error, GaugeNotFound)
    assert word in error.hint
    assert ("Plug" in error.hint) is address.startswith("serial:")


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no termios.")
def test_a_terminal_error_counts_though_it_is_no_os_error() -> None:
    import termios

    error = termios.error(errno.ENOTTY, "Inappropriate ioctl for device")
    assert kind_of(translate(error, "serial:X", opening=True)) is Unavailable.UNKNOWN
    assert isinstance(translate(termios.error(errno.EIO, "x"), "serial:X"), GaugeDisconnected)


@pytest.mark.parametrize(
    ("error", "wanted"),
    [
        (NotImplementedError("non-standard baudrates"), Unavailable.PLATFORM),
        (ValueError("invalid URL, protocol 'x' not known"), InputError),
        (socket.gaierror(socket.EAI_NONAME, "Name or service not known"), Unavailable.UNKNOWN),
        (RuntimeError("something new"), Unavailable.UNKNOWN),
    ],
)
def test_other_errors_while_opening(error: Exception, wanted: object) -> None:
    assert kind_of(translate(error, "serial:X", opening=True)) == wanted


def test_an_unknown_error_of_an_open_port_means_that_it_has_gone() -> None:
    assert isinstance(translate(RuntimeError("something new"), "serial:X"), GaugeDisconnected)


def test_our_own_errors_pass_through_unchanged() -> None:
    ours = GaugeNotFound("Nothing is connected.")
    with pytest.raises(GaugeNotFound) as caught, driver_errors("serial:X"):
        raise ours
    assert caught.value is ours


def test_the_hint_about_rights_names_the_group_on_linux_only() -> None:
    assert "dialout" in permission_hint("linux")
    assert "dialout" not in permission_hint("darwin")


def test_interrupting_is_no_driver_error() -> None:
    with pytest.raises(KeyboardInterrupt), driver_errors("serial:X"):
        raise KeyboardInterrupt


class CountingPort:
    """A driver's port as Windows has it: changing its timeout sets the whole port anew."""

    def __init__(self, *bytes_by_read: bytes) -> None:
        self.reads = list(bytes_by_read)
        self.n_set = 0

    def __setattr__(self, name: str, value: object) -> None:
        if name == "timeout":
            self.n_set += 1
        super().__setattr__(name, value)

    @property
    def in_waiting(self) -> int:
        return 0

    def read(self, size: int) -> bytes:
        return self.reads.pop(0) if self.reads else b""


def test_the_drivers_timeout_is_not_changed_from_poll_to_poll() -> None:
    port = CountingPort(b"", b"", b"1")
    assert _read_by_driver(port, 100, 5.0) == b"1"  # type: ignore[arg-type]
    assert _read_by_driver(port, 100, 0.0) == b""  # type: ignore[arg-type]
    assert _read_by_driver(port, 100, 0.01) == b""  # type: ignore[arg-type]
    assert port.n_set == 0
