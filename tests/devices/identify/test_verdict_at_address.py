"""Identification at real addresses: kernel ports, sockets, bridges, HID; and who is there."""

from __future__ import annotations

import os
import socket
import sys
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from hid_bench import BOOT_DESCRIPTOR, KEYS
from hid_stand_in import StandIn
from identify_bench import SAMPLES, asked, best, bridged, vectors
from pty_port import PtyPort

from gaugelink.devices.address import parse_address
from gaugelink.devices.identify.prober import Patience, identify_at
from gaugelink.devices.identify.verdict import Ask, FormatVerdict, Identification, parse_shown
from gaugelink.devices.ports import hid_port, identity
from gaugelink.devices.ports.identity import PortInfo, gauge_identity, is_plugged_in
from gaugelink.errors import GaugeNotFound, InputError

on_posix = pytest.mark.skipif(sys.platform == "win32", reason="needs a pseudo-terminal")
BRIEF = Patience(first_s=0.3, hear_s=0.4, quiet_s=0.2, rounds=1)
A2 = next(v for v in vectors("bits.json") if v["id"] == "A2")
PARITY = bytes.fromhex("2bb1b22e33b48d")  # +12.34 CR as 7E, read with eight bits; constructed
ODD_PARITY = bytes(byte ^ 0x80 for byte in PARITY)
PORT = PortInfo(
    device="/dev/ttyUSB7",
    identity="usb-1234:5678-A1",
    description="an invented adapter",
    manufacturer="nobody",
    serial_number="A1",
    location="1-2",
    vid=0x1234,
    pid=0x5678,
)


@pytest.fixture(name="port")
def port_fixture(tmp_path: Path) -> Iterator[PtyPort]:
    port = PtyPort(tmp_path / "ttyGAUGE")
    yield port
    port.unplug()


def at(
    address: str, says: Callable[[], None], shows: str = "", patience: Patience = BRIEF
) -> Identification:
    """Identify; ``says`` is called each time the port has been opened."""
    return identify_at(
        parse_address(address),
        shown=parse_shown(shows) if shows else None,
        patience=patience,
        tell=lambda text: says(),
    )


@on_posix
@pytest.mark.parametrize("name", sorted(SAMPLES))
def test_a_gauge_on_a_kernel_port_is_identified_at_once(name: str, port: PtyPort) -> None:
    found = at(f"serial:{port.link}", lambda: port.send(SAMPLES[name] * 2))
    assert best(found).format == name
    assert not {"baud", "parity", "check_parity"} & best(found).options.keys()


@on_posix
def test_parity_on_a_port_without_settings_is_left_to_the_format(port: PtyPort) -> None:
    found = at(f"serial:{port.link}", lambda: port.send(PARITY * 2), "12.34 mm")
    assert found.verdict is FormatVerdict.CLEAR
    assert best(found).format == "line-4800-7E2-plain"
    assert best(found).options == {"unit": "mm"}  # the format has that parity itself


@on_posix
def test_what_the_address_says_is_not_asked(port: PtyPort) -> None:
    line = SAMPLES["line-4800-7E2-plain"] * 2
    assert asked(at(f"serial:{port.link}", lambda: port.send(line))) is Ask.UNIT
    found = at(f"serial:{port.link}?unit=in", lambda: port.send(line))
    assert (found.verdict, best(found).options["unit"]) == (FormatVerdict.CLEAR, "in")
    only = at(f"serial:{port.link}?format=text-input&unit=mm", lambda: port.send(line))
    assert (only.verdict, best(only).format, only.runners_up) == (
        FormatVerdict.CLEAR,
        "text-input",
        (),
    )


@pytest.mark.campaign  # waits five seconds in silence, which the prober's own tests do not
@on_posix
def test_a_silent_port_is_asked_and_the_answer_counts(port: PtyPort) -> None:
    requests: list[bytes] = []

    def answer() -> None:
        while data := os.read(port.master, 100):
            requests.append(data)
            if data == b"GA01\r\n":
                port.send(SAMPLES["line-id-comma"])
                return

    gauge = threading.Thread(target=answer)
    gauge.start()
    found = at(f"serial:{port.link}", lambda: None, "16.2345 mm")
    gauge.join(5.0)
    assert (found.verdict, best(found).format) == (FormatVerdict.CLEAR, "line-id-comma")
    assert set(requests) <= {b"?\r", b"R\r", b"R\r\n", b"GA01\r\n", b"?0\r"}


@on_posix
def test_a_bridge_on_a_serial_port_and_at_its_own_address(port: PtyPort) -> None:
    for scheme in ("serial", "bridge"):
        found = at(f"{scheme}:{port.link}", lambda: port.send(bridged(A2)))
        assert (found.verdict, best(found).format, best(found).scheme) == (
            FormatVerdict.CLEAR,
            "bcd52",
            "bridge",
        )
    named = at(f"bridge:{port.link}?port=3", lambda: port.send(bridged(A2, port=3)))
    assert named.verdict is FormatVerdict.CLEAR
    other = at(f"bridge:{port.link}?port=3", lambda: port.send(bridged(A2, port=0)))
    assert other.verdict is FormatVerdict.NOTHING_HEARD


@on_posix
def test_an_unknown_bridge_answers_no_question_of_lines(port: PtyPort) -> None:
    found = at(f"bridge:{port.link}", lambda: port.send(SAMPLES["line-9600-8N1-unit"] * 2))
    assert (found.verdict, found.best) == (FormatVerdict.UNKNOWN, None)


class Server:
    """A serial server on this machine; ``send`` goes to the one that has connected."""

    def __init__(self, listening: socket.socket) -> None:
        self._listening = listening
        self.url = f"socket://127.0.0.1:{listening.getsockname()[1]}"
        self.peers: list[socket.socket] = []

    def send(self, data: bytes) -> None:
        peer, _ = self._listening.accept()
        self.peers.append(peer)
        peer.sendall(data)


@pytest.fixture(name="server")
def server_fixture() -> Iterator[Server]:
    with socket.create_server(("127.0.0.1", 0)) as listening:
        listening.settimeout(5.0)
        server = Server(listening)
        yield server
        for peer in server.peers:
            peer.close()


def test_a_gauge_behind_a_socket_is_identified(server: Server) -> None:
    found = at(server.url, lambda: server.send(SAMPLES["line-9600-8N1-unit"] * 2))
    assert (found.verdict, best(found).format) == (FormatVerdict.CLEAR, "line-9600-8N1-unit")
    found = at(f"bridge:{server.url}", lambda: server.send(bridged(A2)))
    assert (found.verdict, best(found).format) == (FormatVerdict.CLEAR, "bcd52")


def test_what_a_url_cannot_say_is_left_to_the_person(server: Server) -> None:
    found = at(f"{server.url}?unit=mm", lambda: server.send(ODD_PARITY * 2))
    assert (found.verdict, asked(found)) == (FormatVerdict.AMBIGUOUS, Ask.FORMAT)
    assert best(found).format == "line-4800-7E2-plain"
    assert found.question is not None
    assert "cannot set check_parity=O" in found.question.text


def test_a_gauge_that_types_is_identified_by_its_reports(monkeypatch: pytest.MonkeyPatch) -> None:
    module = StandIn(descriptor=BOOT_DESCRIPTOR)
    monkeypatch.setattr(hid_port, "_driver", lambda: module)
    keys = next(k for k in KEYS if k["id"] == "F11-fr-units")

    def press() -> None:
        for report in keys["reports"]:
            module.reports.put(bytes.fromhex(report))

    found = at("hid:fff0:00a1", press)
    assert (found.verdict, best(found).format) == (FormatVerdict.CLEAR, "hid-keyboard")
    assert best(found).options == {"layout": "fr"}
    assert module.written == []
    assert module.n_open == 0


def test_a_port_that_is_not_there_is_said_to_be_missing(tmp_path: Path) -> None:
    with pytest.raises(GaugeNotFound):
        at(f"serial:{tmp_path / 'ttyX'}", lambda: None)


@pytest.mark.parametrize("address", ["keys:", "sim:caliper", "replay:x.jsonl"])
def test_where_the_format_is_known_there_is_nothing_to_find_out(address: str) -> None:
    with pytest.raises(InputError, match="nothing to identify"):
        at(address, lambda: None)


@pytest.mark.parametrize(
    ("address", "expected"),
    [
        ("serial:/dev/ttyUSB7", "usb-1234:5678-A1"),
        ("serial:usb-1234:5678-A1", "usb-1234:5678-A1"),
        ("serial:/dev/ttyS9", "/dev/ttyS9"),
        ("bridge:/dev/ttyUSB7", "usb-1234:5678-A1"),
        ("bridge:/dev/ttyUSB7?port=2", "usb-1234:5678-A1#2"),
        ("bridge:socket://host:5?port=2", "socket://host:5#2"),
        ("socket://host:5?format=text-input", "socket://host:5"),
        ("hid:fff0:00a1", "hid-fff0:00a1-A1B2C3"),
        ("hid:fff0:00a2", "hid-fff0:00a2"),
        ("sim:caliper", "sim:caliper"),
    ],
)
def test_a_gauge_has_its_identity_before_it_is_opened(
    address: str, expected: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(identity, "list_serial_ports", lambda: (PORT,))
    monkeypatch.setattr(hid_port, "_driver", StandIn)
    assert gauge_identity(parse_address(address)) == expected


@pytest.mark.parametrize(
    ("address", "expected"),
    [
        ("serial:usb-1234:5678-A1", True),
        ("serial:usb-1234:5678-B2", False),
        ("serial:/dev/ttyUSB7", True),
        ("bridge:usb-1234:5678-A1?port=1", True),
        ("serial:/dev/null", True),  # not every port is listed
        ("serial:/dev/no-such-port", False),
        ("bridge:socket://host:5", False),
        ("socket://host:5", False),
        ("hid:fff0:00a1:A1B2C3", True),
        ("hid:fff0:00a1:other", False),
        ("sim:caliper", False),
    ],
)
def test_a_gauge_is_plugged_in_or_not(
    address: str, expected: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(identity, "list_serial_ports", lambda: (PORT,))
    monkeypatch.setattr(hid_port, "_driver", StandIn)
    assert is_plugged_in(parse_address(address)) is expected
