"""The firmware in a simulated chip, from the pins of the gauge to the readings of the product."""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Sequence
from decimal import Decimal
from pathlib import Path

import pytest
from firmware_build import build_firmware, build_host, missing_simulator
from simulated_bridge import Lines, simulated_bridge

from gaugelink.devices.gauge import Gauge
from gaugelink.devices.registry import open_gauge
from gaugelink.model import Fault, GaugeEventBody, Ident, Reading

pytestmark = [
    pytest.mark.campaign,
    pytest.mark.skipif(bool(missing_simulator()), reason=missing_simulator()),
]

PATIENT_S = 30.0  # ends a test that hangs; what is waited for comes much sooner
SLOW_52 = Lines(low_us=124, high_us=304)  # Mahr Maxum III manual 2239028, section 8.4
SLOW_24 = Lines(low_us=225, high_us=225)
Build = Callable[..., Path]


def word(number: int, n_bits: int) -> list[int]:
    return [number >> place & 1 for place in range(n_bits)]


def nibbles(digits: str) -> list[int]:
    return [bit for digit in digits for bit in word(int(digit, 16), 4)]


A1 = nibbles("FFFF021076540")  # +21.0765 mm, Mitutoyo LSM-6200 manual 99MBC095A, p. 6-28
A2 = nibbles("FFFF801234530")  # -12.345 mm, measuring projector manual 99MBA043A, p. 6-12
B1 = word(150, 24)  # 1.50 mm, marthalprojects, "Arduino reads digital caliper"
B7 = word(0x8003E8, 24)  # 0.5000 inch, by the rule of eadf/esp8266_bitseq


@pytest.fixture(scope="module")
def host(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return build_host(tmp_path_factory.mktemp("host"))


@pytest.fixture(scope="module")
def build(tmp_path_factory: pytest.TempPathFactory) -> Build:
    folder = tmp_path_factory.mktemp("bridge")
    return lambda *options, **clock: build_firmware(folder, *options, **clock)


def next_events(gauge: Gauge, count: int) -> list[GaugeEventBody]:
    """Poll until ``count`` events have come."""
    bodies: list[GaugeEventBody] = []
    until_s = time.monotonic() + PATIENT_S
    while len(bodies) < count and time.monotonic() < until_s:
        bodies += [event.body for event in gauge.poll(timeout_s=0.05)]
    return bodies


def in_short(body: GaugeEventBody) -> str:
    """Write an event as one word and what matters of it."""
    match body:
        case Reading():
            return f"reads {body.displayed} {body.unit}"
        case Fault():
            return body.reason
        case Ident():
            return f"ident {body.text}"
    return repr(body)


def test_a_52_bit_gauge_that_is_asked(host: Path, build: Build, tmp_path: Path) -> None:
    lines = SLOW_52
    answers = [
        lines.burst(A2),
        lines.burst(A2[:30] + A2[31:]),
        lines.burst([*A2[:30], A2[30], *A2[30:]]),
        lines.burst(A1, glitch_us=3),
        ["wait 2300000"],  # the gauge is off: nobody answers
        lines.burst(A1),
    ]
    steps = [s for answer in answers for s in ["request", "wait 900", *answer, *lines.idle(9000)]]
    firmware = build("-DGAUGE_N52")
    with simulated_bridge(host, firmware, steps, tmp_path) as bridge:
        with open_gauge(f"bridge:{bridge.pty}?format=bcd52") as gauge:
            bridge.switch_on()
            said = [in_short(body) for body in next_events(gauge, 1)]
            for _ in answers:
                assert gauge.ask()
                said += [in_short(body) for body in next_events(gauge, 1)]
        report = bridge.switch_off()
    assert said == [
        "ident gaugelink-bridge 1 N52",
        "reads -12.345 mm",
        "51 bits instead of 52: it was cut short or a bit was lost",
        "53 bits instead of 52: a bit was read twice or added",
        "reads 21.0765 mm",
        "the bridge asked, but the gauge did not answer; "
        "is the gauge switched on, and its battery good?",
        "reads 21.0765 mm",
    ]
    # REQ is let go after the fourth bit of each answer, and is never driven high.
    assert report == "pulled 6, clocks 20, driven high 0, script done, chip stopped"


# DATA that comes late, a clock far faster than any published (100 us and more), and pulses
# from shorter than an interrupt to just below the limit for a glitch.
@pytest.mark.parametrize(
    ("lines", "glitches_us"),
    [
        (Lines(low_us=120, high_us=300, data_late_us=4), [0]),
        (Lines(low_us=20, high_us=20), [0]),
        (SLOW_52, range(1, 14)),
    ],
    ids=["late data", "fast clock", "glitches"],
)
def test_edges_at_the_limits(
    lines: Lines, glitches_us: Sequence[int], host: Path, build: Build, tmp_path: Path
) -> None:
    answers = [lines.burst(A2, glitch_us=us) for us in glitches_us]
    steps = [s for answer in answers for s in ["request", "wait 900", *answer, *lines.idle(9000)]]
    firmware = build("-DGAUGE_N52")
    with (
        simulated_bridge(host, firmware, steps, tmp_path) as bridge,
        open_gauge(f"bridge:{bridge.pty}?format=bcd52") as gauge,
    ):
        bridge.switch_on()
        bodies = next_events(gauge, 1)
        for _ in answers:
            gauge.ask()
            bodies += next_events(gauge, 1)
    assert [in_short(body) for body in bodies[1:]] == ["reads -12.345 mm"] * len(answers)
    marked = [b"G" in body.raw.split(b",")[5] for body in bodies[1:] if isinstance(body, Reading)]
    assert marked == [us > 0 for us in glitches_us]


def test_a_free_running_24_bit_gauge(host: Path, build: Build, tmp_path: Path) -> None:
    lines = SLOW_24
    bursts = [
        lines.burst(B1[11:]),  # the bridge was switched on in the middle of it
        *[lines.burst(B1)] * 3,
        lines.burst(B1[1:]),  # would be 0.75 mm
        *[lines.burst(B1)] * 2,
        lines.burst([*B1, 0]),
        lines.burst(B1, glitch_us=1),
        lines.burst(B1, glitch_us=15),
        lines.burst(B7),  # switched to inch
        *[lines.burst(B7)] * 1,
    ]
    steps = [step for burst in bursts for step in (*burst, *lines.idle())]
    firmware = build("-DGAUGE_B24")
    with simulated_bridge(host, firmware, steps, tmp_path) as bridge:
        with open_gauge(f"bridge:{bridge.pty}?format=signmag24") as gauge:
            bridge.switch_on()
            bodies = next_events(gauge, 9)
        report = bridge.switch_off()
    said = [in_short(body) for body in bodies]
    assert said[:7] == [
        "ident gaugelink-bridge 1 B24",
        "reads 1.50 mm",
        "reads 1.50 mm",
        "23 bits instead of 24: it was cut short or a bit was lost",
        "reads 1.50 mm",
        "25 bits instead of 24: a bit was read twice or added",
        "reads 1.50 mm",
    ]
    assert said[7].startswith("UnitSwitch(")
    assert "its gauge does not" in said[8], "heartbeats go on, and the gauge is off"
    assert report == "pulled 0, clocks 0, driven high 0, script done, chip stopped"


def test_lines_behind_inverting_transistors(host: Path, build: Build, tmp_path: Path) -> None:
    lines = Lines(low_us=225, high_us=225, inverted=True)
    steps = [*lines.idle(), *lines.burst(B1), *lines.idle(), *lines.burst(B1), *lines.idle()]
    firmware = build("-DGAUGE_B24", "-DLINES_INVERTED=1")
    with (
        simulated_bridge(host, firmware, steps, tmp_path) as bridge,
        open_gauge(f"bridge:{bridge.pty}?format=signmag24") as gauge,
    ):
        bridge.switch_on()
        bodies = next_events(gauge, 2)
    assert [in_short(body) for body in bodies][1:] == ["reads 1.50 mm"]


# Clock periods: model-engineer.co.uk forum, "Oscilloscope kits" (48 bits, 7 + 7 us), and
# robotroom.com, "BCD Digital Caliper Data Format" (28 bits, 13 us).
@pytest.mark.parametrize(
    ("kind", "format", "bits", "mm"),
    [
        ("B48", "abs-rel-2x24", word(0x001000, 24) + word(0x001F7F, 24), "10.000009765625"),
        ("B7N", "bcd7-flags", nibbles("5321005"), "-12.35"),
    ],
)
def test_gauges_with_a_fast_clock(
    kind: str, format: str, bits: list[int], mm: str, host: Path, build: Build, tmp_path: Path
) -> None:
    lines = Lines(low_us=7, high_us=6)
    steps = [step for _ in range(20) for step in (*lines.idle(25_000), *lines.burst(bits))]
    firmware = build(f"-DGAUGE_{kind}")
    with (
        simulated_bridge(host, firmware, steps, tmp_path) as bridge,
        open_gauge(f"bridge:{bridge.pty}?format={format}") as gauge,
    ):
        bridge.switch_on()
        ident, *bodies = next_events(gauge, 20)
    assert isinstance(ident, Ident)
    for body in bodies:
        assert isinstance(body, Reading), body
        assert Decimal(body.displayed) == Decimal(mm)


def test_the_button_of_the_bridge_asks_the_gauge(host: Path, build: Build, tmp_path: Path) -> None:
    bounce = ["button 0", "wait 300", "button 1", "wait 200", "button 0"]
    answer = ["request", "wait 900", *SLOW_52.burst(A2), *SLOW_52.idle(), "button 1"]
    steps = ["wait 100000", *bounce, *answer, "wait 100000", *bounce, *answer]
    firmware = build("-DGAUGE_N52")
    with simulated_bridge(host, firmware, steps, tmp_path) as bridge:
        with open_gauge(f"bridge:{bridge.pty}?format=bcd52") as gauge:
            bridge.switch_on()
            bodies = next_events(gauge, 5)
        report = bridge.switch_off()
    key = "ident button or pedal on port 0 of the bridge"
    assert [in_short(body) for body in bodies][1:] == [key, "reads -12.345 mm"] * 2
    assert b",B*" in next(body.raw for body in bodies if isinstance(body, Reading))
    assert report.startswith("pulled 2, ")
    assert ", driven high 0, " in report


def test_quiet_lets_two_bursts_through_for_each_request(
    host: Path, build: Build, tmp_path: Path
) -> None:
    three = [*SLOW_24.burst(B1), *SLOW_24.idle()] * 3
    steps = [*SLOW_24.idle(), *three]
    for heard in (2, 5, 7, 9):
        steps += [f"computer {heard}", "wait 3000", *three]
    firmware = build("-DGAUGE_B24")
    with simulated_bridge(host, firmware, steps, tmp_path) as bridge:
        port = os.open(bridge.pty, os.O_RDWR | os.O_NOCTTY)
        try:
            bridge.switch_on()
            kinds = [_burst_flags(_read_until(port, sent)) for sent in (b"Q\r", b"?0\r", b"L\r")]
            kinds += [_burst_flags(_read_until(port, b"I\r"))]
            rest = _read_until(port, b"")
        finally:
            os.close(port)
    assert kinds == [["0"] * 3, [], ["R", "R"], ["0"] * 3]
    assert b",ID,176," in rest


def _read_until(port: int, then_send: bytes) -> bytes:
    """Read up to the second heartbeat from now, then send something."""
    taken = b""
    while taken.count(b",HB,") < 2:
        taken += os.read(port, 1)
    while not taken.endswith(b"\n"):
        taken += os.read(port, 1)
    os.write(port, then_send)
    return taken


def _burst_flags(lines: bytes) -> list[str]:
    return [
        line.split(b",")[5].split(b"*")[0].decode()
        for line in lines.splitlines()
        if b",B24," in line
    ]


def test_a_board_of_8_mhz_reads_the_gauge_at_its_own_speed(
    host: Path, build: Build, tmp_path: Path
) -> None:
    answers = [SLOW_52.burst(A2), SLOW_52.burst(A1, glitch_us=3)]
    steps = [s for answer in answers for s in ["request", "wait 900", *answer, *SLOW_52.idle(9000)]]
    firmware = build("-DGAUGE_N52", at_8_mhz=True)
    with (
        simulated_bridge(host, firmware, steps, tmp_path) as bridge,
        open_gauge(f"bridge:{bridge.pty}?format=bcd52&baud=38400") as gauge,
    ):
        bridge.switch_on()
        said = [in_short(body) for body in next_events(gauge, 1)]
        for _ in answers:
            gauge.ask()
            said += [in_short(body) for body in next_events(gauge, 1)]
    assert said == ["ident gaugelink-bridge 1 N52", "reads -12.345 mm", "reads 21.0765 mm"]


def test_what_is_too_fast_for_8_mhz_is_refused_when_it_is_built(build: Build) -> None:
    build("-DGAUGE_B24", at_8_mhz=True)
    for fast in ("-DGAUGE_B48", "-DGAUGE_B7N"):
        with pytest.raises(AssertionError, match="too fast for a board of 8 MHz"):
            build(fast, at_8_mhz=True)
