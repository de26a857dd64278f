"""The serial transport on real kernel ports: pseudo-terminals under a link, as udev makes."""

from __future__ import annotations

import errno
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
import serial
from pty_port import PtyPort

from gaugelink.devices.contract import SystemClock
from gaugelink.devices.decoders.line import Parity
from gaugelink.devices.gauge import Gauge
from gaugelink.devices.ports import serial_port
from gaugelink.devices.ports.holders import Holder
from gaugelink.devices.ports.serial_port import SerialTransport
from gaugelink.devices.profiles.profile import PortSettings
from gaugelink.devices.registry import open_gauge
from gaugelink.errors import (
    GaugeDisconnected,
    GaugeNotFound,
    GaugeUnavailable,
    Unavailable,
)
from gaugelink.model import Fault, GaugeEventBody, LinkChange, Reading

pytestmark = pytest.mark.skipif(
    sys.platform == "win32", reason="Windows has no pseudo-terminals to open."
)

SECOND = """
import os, sys
port = os.open(sys.argv[1], os.O_RDWR | os.O_NOCTTY)
print(flush=True)
input()
"""
LINE = b"+   11.52, MM\r\n"


@pytest.fixture
def pty(tmp_path: Path) -> Iterator[PtyPort]:
    port = PtyPort(tmp_path / "ttyGAUGE")
    yield port
    if port.link.exists():
        port.unplug()


@pytest.fixture(params=["system", "driver"])
def waits_by(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> str:
    """Who waits for bytes: the system, or the driver as where a port has no descriptor."""
    if request.param == "driver":
        monkeypatch.setattr(serial_port, "_descriptor_of", lambda port: None)
    return str(request.param)


def transport_on(pty: PtyPort, *, level: bool = True) -> SerialTransport:
    name = str(pty.link)
    settings = PortSettings(dtr=level, rts=level)
    return SerialTransport(address=f"serial:{name}", target=name, settings=settings)


def gauge_on(pty: PtyPort) -> Gauge:
    return open_gauge(f"serial:{pty.link}?format=line-9600-8N1-unit")


def poll_for(gauge: Gauge, count: int, polls: int = 100) -> list[GaugeEventBody]:
    """Poll until ``count`` events have come, at most ``polls`` times."""
    bodies: list[GaugeEventBody] = []
    for _ in range(polls):
        bodies += [event.body for event in gauge.poll(timeout_s=0.05)]
        if len(bodies) >= count:
            break
    return bodies


@pytest.mark.usefixtures("waits_by")
def test_what_has_come_is_read_at_once(pty: PtyPort) -> None:
    port = transport_on(pty)
    port.open()
    pty.send(LINE)
    assert port.read(4096, 2.0) == LINE
    pty.send(LINE)
    assert port.read(5, 2.0) == LINE[:5]
    assert port.read(4096, 2.0) == LINE[5:]
    port.close()


@pytest.mark.usefixtures("waits_by")
def test_lines_that_come_together_keep_their_order_and_the_time_they_came(pty: PtyPort) -> None:
    clock = SystemClock()
    with gauge_on(pty) as gauge:
        before_s = clock.now_s()
        pty.send(LINE + LINE.replace(b"52", b"53"))
        first, second = gauge.poll(timeout_s=2.0)
        between_s = clock.now_s()
        pty.send(LINE.replace(b"52", b"54"))
        (third,) = gauge.poll(timeout_s=2.0)
    events = (first, second, third)
    assert [e.body.value_mm for e in events if isinstance(e.body, Reading)] == [11.52, 11.53, 11.54]
    assert before_s <= first.elapsed_s == second.elapsed_s <= between_s <= third.elapsed_s


def test_a_port_that_was_not_ready_after_all_is_silent(
    pty: PtyPort, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object) -> bytes:
        raise BlockingIOError(errno.EAGAIN, "Resource temporarily unavailable")

    port = transport_on(pty)
    port.open()
    pty.send(LINE)
    with monkeypatch.context() as patch:
        patch.setattr("os.read", refuse)
        assert port.read(64, 2.0) == b""
    assert port.read(64, 2.0) == LINE
    port.close()


def test_the_end_of_a_port_is_a_disconnection(
    pty: PtyPort, monkeypatch: pytest.MonkeyPatch
) -> None:
    port = transport_on(pty)
    port.open()
    pty.send(LINE)
    with monkeypatch.context() as patch:
        patch.setattr("os.read", lambda descriptor, max_bytes: b"")
        with pytest.raises(GaugeDisconnected):
            port.read(64, 2.0)
    port.close()


def test_windows_waits_for_a_port_in_its_own_way(monkeypatch: pytest.MonkeyPatch) -> None:
    with serial.serial_for_url("loop://") as port, monkeypatch.context() as patch:
        patch.setattr("os.name", "nt")
        assert serial_port._descriptor_of(port) is None


@pytest.mark.parametrize("level", [True, False])
def test_control_lines_that_the_port_does_not_have_are_no_error(pty: PtyPort, level: bool) -> None:
    port = transport_on(pty, level=level)
    port.open()
    assert port.read(1, 0.01) == b""
    port.close()


def test_a_request_reaches_the_gauge(pty: PtyPort) -> None:
    with gauge_on(pty) as gauge:
        assert gauge.ask()
        assert pty.take() == b"R\r"
        pty.send(LINE)
        assert [type(body) for body in poll_for(gauge, 1)] == [Reading]


def test_garbage_between_lines_costs_no_reading(pty: PtyPort) -> None:
    with gauge_on(pty) as gauge:
        pty.send(b"\xff\x00~\r\n" + LINE + b"+ 1.5\r\n" + LINE)
        bodies = poll_for(gauge, 4)
    assert [type(body) for body in bodies] == [Fault, Reading, Fault, Reading]


def test_bytes_from_before_opening_are_not_read(pty: PtyPort) -> None:
    port = transport_on(pty)
    port.open()
    port.close()
    pty.send(b"+    9.99, MM\r\n")
    port.open()
    assert port.read(64, 0.01) == b""
    port.close()


@pytest.mark.usefixtures("waits_by")
def test_hang_up_is_a_disconnection(pty: PtyPort) -> None:
    port = transport_on(pty)
    port.open()
    pty.unplug()
    for _ in range(2):
        with pytest.raises(GaugeDisconnected) as caught:
            port.read(64, 0.01)
    assert caught.value.__cause__ is not None
    with pytest.raises(GaugeDisconnected):
        port.write(b"R\r")
    port.close()


def test_a_second_opening_is_refused_as_busy(pty: PtyPort) -> None:
    first, second = transport_on(pty), transport_on(pty)
    first.open()
    with pytest.raises(GaugeUnavailable) as caught:
        second.open()
    assert caught.value.reason is Unavailable.BUSY
    first.close()
    second.open()
    second.close()


def test_a_missing_port_is_not_found(tmp_path: Path) -> None:
    gauge = open_gauge(f"serial:{tmp_path}/ttyNONE?format=line-9600-8N1-unit")
    with pytest.raises(GaugeNotFound, match="ttyNONE") as caught:
        gauge.open()
    assert "gaugelink gauges" in caught.value.hint


def test_a_port_without_rights_is_a_matter_of_permission(
    pty: PtyPort, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object) -> int:  # the system refuses nobody who tests as superuser
        raise PermissionError(errno.EACCES, "Permission denied")

    monkeypatch.setattr("serial.serialposix.os.open", refuse)
    with pytest.raises(GaugeUnavailable) as caught:
        transport_on(pty).open()
    assert caught.value.reason is Unavailable.PERMISSION


@pytest.mark.parametrize("make", [Path.mkdir, Path.touch])
def test_a_file_or_folder_is_no_serial_port(tmp_path: Path, make: object) -> None:
    assert callable(make)
    path = tmp_path / "thing"
    make(path)
    port = SerialTransport(address=f"serial:{path}", target=str(path), settings=PortSettings())
    with pytest.raises(GaugeUnavailable, match="is not a serial port"):
        port.open()


@pytest.mark.usefixtures("waits_by")
def test_a_gauge_that_comes_back_under_its_link_is_picked_up_again(tmp_path: Path) -> None:
    pty = PtyPort(tmp_path / "ttyGAUGE")
    with gauge_on(pty) as gauge:
        pty.send(LINE + b"+   11.")
        assert [type(body) for body in poll_for(gauge, 1)] == [Reading]
        pty.unplug()
        lost = poll_for(gauge, 2)
        assert gauge.poll(timeout_s=0.01) == ()
        again = PtyPort(tmp_path / "ttyGAUGE")
        (back,) = poll_for(gauge, 1)
        again.send(LINE)
        (reading,) = poll_for(gauge, 1)
        again.unplug()
    # Linux throws away what a hung-up terminal still held, so the partial line may be gone.
    assert [body.connected for body in lost if isinstance(body, LinkChange)] == [False]
    assert isinstance(back, LinkChange)
    assert back.connected
    assert isinstance(reading, Reading)
    assert reading.value_mm == 11.52


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="Only Linux tells who it is.")
def test_a_port_that_another_program_has_open_is_not_opened_and_the_program_named(
    pty: PtyPort,
) -> None:
    name = str(pty.link)
    other = subprocess.Popen(
        [sys.executable, "-c", SECOND, name], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    )
    assert other.stdout is not None
    other.stdout.readline()
    transport = SerialTransport(address=f"serial:{name}", target=name, settings=PortSettings())
    with pytest.raises(GaugeUnavailable, match=rf"in use by \S+ \(process {other.pid}\)") as caught:
        transport.open()
    assert caught.value.reason is Unavailable.BUSY
    other.communicate(b"\n")
    transport.open()
    transport.close()


def test_bytes_that_another_reader_took_are_no_unplugged_cable(
    pty: PtyPort, monkeypatch: pytest.MonkeyPatch
) -> None:
    name = str(pty.link)
    transport = SerialTransport(address=f"serial:{name}", target=name, settings=PortSettings())
    transport.open()
    other = [Holder(pid=77, name="minicom")]
    monkeypatch.setattr(serial_port, "holders", lambda device: other)
    monkeypatch.setattr(serial_port.os, "read", lambda descriptor, size: b"")
    pty.send(LINE)
    with pytest.raises(GaugeDisconnected) as caught:
        transport.read(100, 1.0)
    assert "is read by minicom (process 77) too, which takes bytes away" in str(caught.value)
    transport.close()


@pytest.mark.parametrize("parity", list(Parity))
def test_a_parity_beside_eight_data_bits_is_checked_by_the_system(
    pty: PtyPort, parity: Parity
) -> None:
    import termios

    name = str(pty.link)
    settings = PortSettings(parity=parity)
    transport = SerialTransport(address=f"serial:{name}", target=name, settings=settings)
    transport.open()
    checked = bool(termios.tcgetattr(pty.master)[0] & termios.INPCK)
    transport.close()
    assert checked is (parity is not Parity.NONE)
