"""Streams that begin anywhere, garbage, parity, wrong speeds: named rightly or not at all."""

from __future__ import annotations

import random

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from identify_bench import (
    BITS,
    HID,
    LINES,
    ON_SERIAL,
    PROFILES,
    SAMPLES,
    best,
    bridged,
    told,
    vectors,
)
from uart_bench import heard_bytes, sent_bits

from gaugelink.devices.decoders.line import Parity
from gaugelink.devices.identify.judge import identify
from gaugelink.devices.identify.verdict import FormatVerdict
from gaugelink.devices.identify.weighed import Heard
from gaugelink.devices.profiles.profile import PortSettings

NAMES = sorted(SAMPLES)
B4 = next(vector for vector in vectors("bits.json") if vector["id"] == "B4")


@pytest.mark.campaign
@pytest.mark.parametrize("name", NAMES)
def test_a_stream_is_identified_wherever_listening_begins_and_ends(name: str) -> None:
    line = SAMPLES[name]
    whole = best(told(line * 6))
    for start in range(0, len(line), 2):
        for end in (0, 1, len(line) // 2):
            found = told((line * 6)[start : len(line) * 6 - end])
            assert best(found).format == name, (start, end)
            assert found.verdict is told(line * 6).verdict
            assert best(found).options == whole.options


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("seed", range(5))
def test_noise_between_lines_changes_no_verdict(name: str, seed: int) -> None:
    line, chance = SAMPLES[name], random.Random(seed)
    end = line[len(line.rstrip()) :]
    noise = [chance.randbytes(chance.randrange(4)) + end for _ in range(6)]
    found = told(b"".join(line * 2 + junk for junk in noise))
    assert best(found).format == name
    assert found.verdict is told(line * 2).verdict
    assert best(found).share < 1.0 or not any(junk != end for junk in noise)


def test_a_bridge_is_identified_in_spite_of_damaged_lines() -> None:
    wire = b"".join(bridged(B4, first=2 * n) for n in range(4))
    for start in range(0, 40, 7):
        damaged = wire[start : len(wire) // 2] + b"\xff#00\r\n" + wire[len(wire) // 2 :]
        found = told(damaged)
        assert (found.verdict, best(found).format) == (FormatVerdict.CLEAR, "signmag24")


SEVEN_BITS = [name for name in NAMES if PROFILES[name].port.data_bits == 7]


@pytest.mark.parametrize("name", SEVEN_BITS)
def test_seven_bits_read_as_eight_are_told_by_their_parity(name: str) -> None:
    own = PROFILES[name].port
    as_8 = PortSettings(baud=own.baud)
    data = heard_bytes(sent_bits(SAMPLES[name] * 4, own), own.baud, as_8)
    assert any(byte > 0x7F for byte in data)
    found = identify([Heard(data=data, settings=as_8)], ON_SERIAL)
    assert best(found).format == name
    # The port is to be opened as the format has it: nothing need be said.
    assert {"baud", "data_bits", "parity"} & best(found).options.keys() == set()
    assert any(line.startswith("bit 7 of the bytes is") for line in best(found).evidence)
    # Where settings have no effect, the format takes care of bit 7 as it is known to be sent.
    keyed = best(identify([Heard(data=data)], ON_SERIAL))
    assert keyed.format == name
    assert not {"check_parity", "strip_high_bit"} & keyed.options.keys()


@pytest.mark.parametrize("baud", [4800, 9600])  # another speed; that of the format
@pytest.mark.parametrize("parity", [Parity.EVEN, Parity.ODD])
def test_a_known_line_with_another_parity_names_the_settings(parity: Parity, baud: int) -> None:
    sent = PortSettings(baud=baud, data_bits=7, parity=parity)
    as_8 = PortSettings(baud=baud)
    data = heard_bytes(sent_bits(SAMPLES["line-9600-8N1-unit"] * 3, sent), baud, as_8)
    found = identify([Heard(data=data, settings=as_8)], ON_SERIAL)
    assert (found.verdict, best(found).format) == (FormatVerdict.CLEAR, "line-9600-8N1-unit")
    wanted = {"baud": str(baud), "data_bits": "7", "parity": str(parity), "stop_bits": "1"}
    assert best(found).options == wanted


BAUDS = (1200, 2400, 4800, 9600, 19200, 115200)


@pytest.mark.parametrize("name", NAMES)
def test_at_a_wrong_speed_nothing_is_identified(name: str) -> None:
    own = PROFILES[name].port
    levels = sent_bits(SAMPLES[name] * 8, own)
    heard = 0
    for baud in BAUDS:
        if baud == own.baud:
            continue
        as_8 = PortSettings(baud=baud)
        data = heard_bytes(levels, own.baud, as_8)
        found = identify([Heard(data=data, settings=as_8)], ON_SERIAL)
        heard += len(data)
        assert found.verdict is FormatVerdict.UNKNOWN, (baud, data)
        assert found.best is None
    assert heard > 100


noise = st.one_of(
    st.lists(st.integers(0, 255), max_size=400).map(bytes),
    st.builds(
        lambda seed, n: random.Random(seed).randbytes(n), st.integers(0), st.integers(1, 900)
    ),
    # Noise with the bytes that lines and bridges are made of, but too few of them for a line.
    st.lists(st.sampled_from(b"\r\n\x00\xff#*,+-. "), max_size=200).map(bytes),
)


@pytest.mark.campaign
@settings(max_examples=300, deadline=None)
@given(data=noise, split=st.integers(0, 900))
@example(data=b"", split=0)
@example(data=b"#*\r\n" * 9, split=2)
def test_random_bytes_are_never_certain(data: bytes, split: int) -> None:
    for profiles in (LINES, BITS, HID):
        found = told(data[:split], data[split:], profiles=profiles)
        assert found.verdict in (
            FormatVerdict.NOTHING_HEARD,
            FormatVerdict.UNKNOWN,
            FormatVerdict.AMBIGUOUS,
        )
        assert (found.verdict is FormatVerdict.NOTHING_HEARD) is (data == b"")
        assert found.n_bytes == len(data)


@pytest.mark.campaign
@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0), share=st.floats(0.5, 0.95))
def test_lines_lost_in_noise_are_not_certain(seed: int, share: float) -> None:
    """A few whole lines in a flood of others are another format, or luck."""
    chance = random.Random(seed)
    lines = [
        bytes(chance.choices(b"0123456789ABCXYZ#", k=chance.randrange(8, 14))) + b"\r"
        if chance.random() < share
        else SAMPLES["line-9600-8N1-unit"][:-1]
        for _ in range(40)
    ]
    found = told(b"".join(lines))
    n_whole = lines.count(SAMPLES["line-9600-8N1-unit"][:-1])
    explained = sum(map(len, lines)) and n_whole * 14 / sum(map(len, lines))
    assert (found.verdict is FormatVerdict.CLEAR) <= (explained > 0.65)
