"""The port of a bridge: its heartbeat, its address, and what it takes to be back."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path

import pytest
from bridge_lines import ident_line, line
from contract_checks import PAYLOAD, Rig, check_transport
from gauge_rig import INFO
from pty_port import PtyPort
from scripted import ScriptedTransport, Step

from gaugelink.devices.contract import Port, SystemClock
from gaugelink.devices.decoders import make_decoder
from gaugelink.devices.gauge import Gauge
from gaugelink.devices.ports.bridge_port import LINK_QUIET_S, SETTINGS, BridgeTransport
from gaugelink.devices.ports.serial_port import SerialTransport
from gaugelink.devices.profiles.profile import find_profile
from gaugelink.devices.registry import open_gauge
from gaugelink.errors import DeviceError, GaugeDisconnected, GaugeNotFound, InputError
from gaugelink.model import Fault, Ident, LinkChange, Reading

POLL_S = 0.125  # a power of two, so that times on the virtual clock add up exactly
QUIET_POLLS = int(LINK_QUIET_S / POLL_S)
SILENT: Step = (None, b"")
A2 = [bit == "1" for bit in "1111111111111111000100001000010011000010101011000000"]
FRAME = line(1, "N52", bits=A2)  # -12.345 mm, measuring projector manual 99MBA043A, p. 6-12


def bridge_on(
    steps: Sequence[Step], opens: Sequence[DeviceError | None] = ()
) -> tuple[BridgeTransport, ScriptedTransport]:
    wire = ScriptedTransport(steps, opens=opens)
    return BridgeTransport(wire, clock=wire.clock), wire


def gauge_on(
    steps: Sequence[Step], opens: Sequence[DeviceError | None] = ()
) -> tuple[Gauge, ScriptedTransport]:
    bridge, wire = bridge_on(steps, opens)
    decoder = make_decoder(find_profile("bcd52"))
    port = Port(transport=bridge, clock=wire.clock)
    return Gauge(port=port, decoder=decoder, info=INFO), wire


def beat(number: int) -> bytes:
    return line(number, "HB")


def test_a_quiet_bridge_with_its_heartbeat_stays_linked() -> None:
    steps = [step for n in range(20) for step in [SILENT] * (QUIET_POLLS - 1) + [(None, beat(n))]]
    gauge, _ = gauge_on(steps)
    with gauge:
        assert [gauge.poll(POLL_S) for _ in steps] == [()] * len(steps)


def test_a_bridge_without_a_heartbeat_is_a_lost_link_until_it_is_heard() -> None:
    steps: list[Step] = [(None, beat(5)), *[SILENT] * QUIET_POLLS, *[SILENT] * 3]
    gauge, wire = gauge_on([*steps, (None, ident_line(0, "me") + FRAME)])
    with gauge, wire:
        events = [event for _ in range(60) for event in gauge.poll(POLL_S)]
    bodies = [event.body for event in events]
    assert [type(body) for body in bodies] == [LinkChange, LinkChange, Ident, Reading]
    lost, back, _, reading = bodies
    assert isinstance(lost, LinkChange)
    assert "has been silent for 3 s" in lost.text
    assert not lost.connected
    assert isinstance(back, LinkChange)
    assert back.connected
    assert isinstance(reading, Reading)
    assert reading.displayed == "-12.345"
    # Looked for every half second, heard at the fourth look.
    assert events[1].elapsed_s - events[0].elapsed_s == 2.0


def test_the_port_is_opened_once_for_all_looks_since_opening_restarts_the_board() -> None:
    steps: list[Step] = [*[SILENT] * (QUIET_POLLS + 2), (None, b"#")]
    bridge, wire = bridge_on(steps, opens=[None, None, GaugeNotFound("a third time")])
    bridge.open()
    with pytest.raises(GaugeDisconnected):
        for _ in range(QUIET_POLLS):
            bridge.read(64, POLL_S)
    bridge.close()
    for _ in range(2):
        with pytest.raises(GaugeNotFound, match="still silent"):
            bridge.open()
    bridge.open()
    assert bridge.read(64, POLL_S) == b"#"
    assert len(wire._opens) == 1


def test_a_bridge_that_was_back_is_opened_like_any_port_the_next_time() -> None:
    bridge, _ = bridge_on([*[SILENT] * QUIET_POLLS, (None, b"#")])
    bridge.open()
    with pytest.raises(GaugeDisconnected):
        for _ in range(QUIET_POLLS):
            bridge.read(64, POLL_S)
    bridge.close()
    bridge.open()
    bridge.close()
    bridge.open()
    assert bridge.read(64, POLL_S) == b"", "what came before it was closed is gone"


def test_a_port_that_is_pulled_while_the_bridge_is_silent_is_opened_again_later() -> None:
    gone = GaugeDisconnected("pulled")
    steps: list[Step] = [*[SILENT] * QUIET_POLLS, SILENT, (None, gone), (None, FRAME)]
    bridge, _ = bridge_on(steps, opens=[None, None, GaugeNotFound("nothing there"), None])
    bridge.open()
    with pytest.raises(GaugeDisconnected):
        for _ in range(QUIET_POLLS):
            bridge.read(64, POLL_S)
    bridge.close()
    for _ in range(3):
        with pytest.raises(GaugeNotFound):
            bridge.open()
    bridge.open()
    assert bridge.read(10, POLL_S) + bridge.read(64, POLL_S) == FRAME
    with pytest.raises(GaugeDisconnected, match="silent for 3 s"):
        for _ in range(QUIET_POLLS):
            bridge.read(64, POLL_S)


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no pseudo-terminals to open.")
def test_the_bridge_does_what_every_transport_must_do(tmp_path: Path) -> None:
    ports: list[PtyPort] = []

    def make() -> Rig:
        pty = PtyPort(tmp_path / f"ttyBRIDGE{len(ports)}")
        ports.append(pty)
        name = str(pty.link)
        wire = SerialTransport(address=f"bridge:{name}", target=name, settings=SETTINGS)
        transport = BridgeTransport(wire, clock=SystemClock())
        return Rig(transport=transport, deliver=lambda: pty.send(PAYLOAD))

    try:
        check_transport(make)
    finally:
        for pty in ports:
            pty.unplug()


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no pseudo-terminals to open.")
@pytest.mark.parametrize(
    ("options", "request_bytes"), [("", b"?0\r"), ("&port=0", b"?0\r"), ("&port=7", b"?7\r")]
)
def test_an_address_opens_a_gauge_that_asks_its_port_of_the_bridge(
    options: str, request_bytes: bytes, tmp_path: Path
) -> None:
    pty = PtyPort(tmp_path / "ttyBRIDGE")
    try:
        with open_gauge(f"bridge:{pty.link}?format=bcd52{options}") as gauge:
            assert gauge.ask()
            assert pty.take() == request_bytes
            port = int(request_bytes[1:2])
            pty.send(line(0, "N52", bits=A2, port=9 - port) + line(1, "N52", bits=A2, port=port))
            bodies = [event.body for _ in range(3) for event in gauge.poll(0.1)]
    finally:
        pty.unplug()
    # Without port= the first that is heard is the gauge, and the second is a fault.
    assert [type(body) for body in bodies] == ([Reading] if options else [Reading, Fault])


def test_gauges_on_one_bridge_are_told_apart() -> None:
    names = {open_gauge(f"bridge:/dev/ttyB?format=bcd52&port={n}").gauge_id for n in range(10)}
    assert len(names) == 10
    assert open_gauge("bridge:/dev/ttyB?format=bcd52").gauge_id == "/dev/ttyB"


@pytest.mark.parametrize("port", ["10", "-1", "x", "1.0", "", "٣"])
def test_a_port_that_a_bridge_does_not_have_is_refused(port: str) -> None:
    with pytest.raises(InputError, match="port="):
        open_gauge(f"bridge:/dev/ttyB?format=bcd52&port={port}")


def test_a_format_of_lines_does_not_come_through_a_bridge() -> None:
    with pytest.raises(InputError, match="line-9600-8N1-unit"):
        open_gauge("bridge:/dev/ttyB?format=line-9600-8N1-unit")


def test_a_bridge_may_stand_behind_a_url() -> None:
    gauge = open_gauge("bridge:socket://127.0.0.1:7?format=signmag24&port=1")
    assert gauge.gauge_id == "socket://127.0.0.1:7#1"
