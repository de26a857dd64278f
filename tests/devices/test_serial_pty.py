"""The serial transport on real kernel ports: pseudo-terminals under a link, as udev makes."""

from __future__ import annotations

import errno
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from pty_port import PtyPort

from gaugelink.devices.gauge import Gauge
from gaugelink.devices.ports.serial_port import SerialTransport
from gaugelink.devices.profiles import PortSettings
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

LINE = b"+   11.52, MM\r\n"


@pytest.fixture
def pty(tmp_path: Path) -> Iterator[PtyPort]:
    port = PtyPort(tmp_path / "ttyGAUGE")
    yield port
    if port.link.exists():
        port.unplug()


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


def test_what_has_come_is_read_at_once(pty: PtyPort) -> None:
    port = transport_on(pty)
    port.open()
    pty.send(LINE)
    assert port.read(4096, 2.0) == LINE
    port.close()


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
