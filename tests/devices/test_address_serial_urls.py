"""The serial transport on the driver's URLs: a socket server, RFC 2217, a spied port."""

from __future__ import annotations

import socket
import sys
import threading
from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
import serial.rfc2217
from pty_port import PtyPort

from gaugelink.devices.address import parse_address
from gaugelink.devices.gauge import Gauge
from gaugelink.devices.ports.serial_port import SerialTransport
from gaugelink.devices.profiles.profile import PortSettings
from gaugelink.devices.registry import open_gauge
from gaugelink.errors import GaugeDisconnected, GaugeNotFound, InputError
from gaugelink.model import LinkChange, Reading

LINE = b"+   11.52, MM\r\n"


@pytest.fixture
def server() -> Iterator[socket.socket]:
    with socket.create_server(("127.0.0.1", 0)) as listening:
        listening.settimeout(5.0)
        yield listening


def url_of(server: socket.socket) -> str:
    return f"socket://127.0.0.1:{server.getsockname()[1]}"


def transport_at(url: str) -> SerialTransport:
    return SerialTransport(address=url, target=url, settings=PortSettings(), is_url=True)


def test_a_socket_delivers_whole_bursts_and_then_its_end(server: socket.socket) -> None:
    port = transport_at(url_of(server))
    port.open()
    peer, _ = server.accept()
    peer.sendall(LINE)
    peer.close()
    received = port.read(4096, 2.0)
    while len(received) < len(LINE):
        received += port.read(4096, 2.0)
    assert received == LINE
    for _ in range(2):
        with pytest.raises(GaugeDisconnected):
            port.read(4096, 0.01)
    port.close()


def test_a_socket_that_closes_and_comes_back_is_one_gauge(server: socket.socket) -> None:
    gauge = open_gauge(f"{url_of(server)}?format=line-9600-8N1-unit")
    with gauge:
        peer, _ = server.accept()
        peer.sendall(LINE + b"+   11.5")
        assert [type(body) for body in take(gauge, 1)] == [Reading]
        peer.close()
        partial, lost = take(gauge, 2)
        (back,) = take(gauge, 1)
        second, _ = server.accept()
        second.sendall(LINE)
        (reading,) = take(gauge, 1)
        second.close()
    assert [getattr(body, "raw", b"") for body in (partial,)] == [b"+   11.5"]
    assert [body.connected for body in (lost, back) if isinstance(body, LinkChange)] == [
        False,
        True,
    ]
    assert isinstance(reading, Reading)


def take(gauge: Gauge, count: int) -> list[object]:
    bodies: list[object] = []
    for _ in range(100):
        bodies += [event.body for event in gauge.poll(timeout_s=0.05)]
        if len(bodies) >= count:
            break
    return bodies


def test_nobody_listening_is_not_found(server: socket.socket) -> None:
    url = url_of(server)
    server.close()
    with pytest.raises(GaugeNotFound):
        transport_at(url).open()


def test_an_echo_comes_back_on_loop() -> None:
    port = transport_at("loop://")
    port.open()
    port.write(b"R\r")
    assert port.read(64, 1.0) == b"R\r"
    port.close()


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no pseudo-terminals to open.")
@pytest.mark.filterwarnings(
    "ignore::pytest.PytestUnraisableExceptionWarning"
)  # it leaves its log open
def test_a_spied_port_writes_down_what_passes(tmp_path: Path) -> None:
    pty, log = PtyPort(tmp_path / "ttyGAUGE"), tmp_path / "spy.txt"
    with open_gauge(f"spy://{pty.link}?file={log}&format=line-9600-8N1-unit") as gauge:
        pty.send(LINE)
        assert [type(body) for body in take(gauge, 1)] == [Reading]
    pty.unplug()
    assert "11.52, MM" in log.read_text()


@pytest.mark.filterwarnings("ignore:set:DeprecationWarning")  # the driver's own
def test_a_port_behind_rfc_2217_is_opened_and_read(server: socket.socket) -> None:
    serving = threading.Thread(target=serve_rfc2217, args=(server,))
    serving.start()
    url = f"rfc2217://127.0.0.1:{server.getsockname()[1]}"
    with open_gauge(f"{url}?format=line-9600-8N1-unit") as gauge:
        assert gauge.ask()
        assert [type(body) for body in take(gauge, 1)] == [Reading]
    serving.join()


def serve_rfc2217(server: socket.socket) -> None:
    """Answer one client's port settings, and its first request with a reading."""
    peer, _ = server.accept()
    with peer, serial.serial_for_url("loop://", timeout=0) as port:
        far_end = SimpleNamespace(write=peer.sendall)
        manager: Any = serial.rfc2217.PortManager(port, far_end)  # type: ignore[arg-type]
        while received := peer.recv(1024):
            if b"R" in b"".join(manager.filter(received)):
                peer.sendall(b"".join(manager.escape(LINE)))


@pytest.mark.parametrize(
    "url",
    [
        "socket://127.0.0.1:99999",
        "socket://127.0.0.1:5000?speed=9",
        "loop://?nothing=1",
        "hwgrep://x&n=0",
    ],
)
def test_a_url_that_the_driver_refuses_is_an_input_error(url: str) -> None:
    address = parse_address(url)
    with pytest.raises(InputError):
        transport_at(address.target).open()
