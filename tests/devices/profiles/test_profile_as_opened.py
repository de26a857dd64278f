"""A gauge of seven data bits, heard as bits on a line by a port of eight."""

from __future__ import annotations

from dataclasses import replace

import pytest
from uart_bench import heard_bytes, sent_bits

from gaugelink.devices.address import Address
from gaugelink.devices.contract import Port
from gaugelink.devices.decoders import make_decoder
from gaugelink.devices.decoders.line import Parity
from gaugelink.devices.ports import serial_port
from gaugelink.devices.profiles.profile import (
    PortSettings,
    Profile,
    as_opened,
    find_profile,
    load_profiles,
)
from gaugelink.devices.registry import open_gauge
from gaugelink.model import Fault, FaultKind, Frame, WireEvent
from gaugelink.units import LengthUnit

SAID = {
    "line-4800-7E2-plain": b"-012.34\r",
    "line-9600-7E2-multi": b"1 +012.34 mm ;2 -000.50 mm\r",
    "line-2400-7N2-modes": b"n+ 12.340M \n",
}
EVEN = [name for name in SAID if "7E" in name]


def decoded(name: str, levels: list[int]) -> list[WireEvent]:
    """What a gauge's levels become at a port that is opened as its profile asks for."""
    profile = find_profile(name)
    opened = as_opened(profile)
    heard = heard_bytes(levels, profile.port.baud, opened.port)
    decoder = make_decoder(opened, unit=LengthUnit.MM)
    return [*decoder.feed(heard), *decoder.flush()]


@pytest.mark.parametrize("name", SAID)
def test_whole_lines_are_read_with_eight_data_bits(name: str) -> None:
    profile = find_profile(name)
    assert as_opened(profile).port.data_bits == 8
    frames = decoded(name, sent_bits(SAID[name], profile.port))
    assert frames
    assert all(isinstance(each, Frame) for each in frames)


@pytest.mark.parametrize("name", EVEN)
def test_no_flipped_bit_of_any_byte_gives_another_number(name: str) -> None:
    port = find_profile(name).port
    levels = sent_bits(SAID[name], port)
    right = {e.value for e in decoded(name, levels) if isinstance(e, Frame)}
    seen_as_parity = 0
    for at in range(len(levels)):
        in_char = at % (1 + 7 + 1 + port.stop_bits)
        if not 1 <= in_char <= 8:
            continue  # start and stop bits: the UART loses its step, which the next test has
        flipped = [*levels[:at], 1 - levels[at], *levels[at + 1 :]]
        events = decoded(name, flipped)
        assert {e.value for e in events if isinstance(e, Frame)} <= right
        seen_as_parity += any(isinstance(e, Fault) and e.kind is FaultKind.PARITY for e in events)
    assert seen_as_parity > len(levels) / 2


@pytest.mark.parametrize("name", EVEN)
def test_no_flipped_start_or_stop_bit_gives_another_number(name: str) -> None:
    levels = sent_bits(SAID[name], find_profile(name).port)
    right = {e.value for e in decoded(name, levels) if isinstance(e, Frame)}
    for at in range(len(levels)):
        flipped = [*levels[:at], 1 - levels[at], *levels[at + 1 :]]
        assert {e.value for e in decoded(name, flipped) if isinstance(e, Frame)} <= right


def test_bit_of_a_7n_line_that_is_a_stop_bit_is_cleared() -> None:
    name = "line-2400-7N2-modes"
    opened = as_opened(find_profile(name))
    heard = heard_bytes(sent_bits(SAID[name], find_profile(name).port), 2400, opened.port)
    assert all(byte >= 0x80 for byte in heard)
    assert isinstance(decoded(name, sent_bits(SAID[name], find_profile(name).port))[0], Frame)


def test_request_reaches_a_gauge_of_seven_bits_with_its_parity() -> None:
    profile = find_profile("line-4800-7E2-plain")
    opened = as_opened(profile)
    assert opened.request == b"?\x8d"
    # Of the levels that we send, a 7E gauge hears the request and no parity error.
    levels = sent_bits(opened.request, opened.port)
    assert levels == sent_bits(b"?\r", profile.port)


def test_line_without_any_eighth_bit_came_through_something_that_took_it_away() -> None:
    decoder = make_decoder(as_opened(find_profile("line-4800-7E2-plain")), unit=LengthUnit.MM)
    (event,) = decoder.feed(b"+012.34\r")
    assert isinstance(event, Frame)


@pytest.mark.parametrize("name", load_profiles().names)
def test_no_shipped_format_has_a_parity_that_is_not_checked(name: str) -> None:
    opened = as_opened(find_profile(name))
    assert opened.port.parity is Parity.NONE
    assert opened.port.data_bits == 8


@pytest.fixture
def asked_for(monkeypatch: pytest.MonkeyPatch) -> list[PortSettings]:
    """Note the settings that ports are built with: a pseudo-terminal forgets data bits."""
    seen: list[PortSettings] = []
    build = serial_port.build_port

    def build_port(address: Address, profile: Profile) -> Port:
        seen.append(profile.port)
        return build(address, profile)

    monkeypatch.setattr(serial_port, "build_port", build_port)
    return seen


def test_port_of_a_gauge_is_opened_with_eight_data_bits(asked_for: list[PortSettings]) -> None:
    open_gauge("serial:/dev/none?format=line-4800-7E2-plain&unit=mm")
    assert asked_for == [PortSettings(baud=4800, stop_bits=2)]


def test_one_stop_bit_leaves_no_eighth_bit_to_read(asked_for: list[PortSettings]) -> None:
    open_gauge("serial:/dev/none?format=line-2400-7N2-modes&stop_bits=1")
    assert asked_for == [PortSettings(baud=2400, data_bits=7)]


def test_parity_that_an_address_names_is_checked_too(asked_for: list[PortSettings]) -> None:
    open_gauge("serial:/dev/none?format=text-input&data_bits=7&parity=O")
    opened = as_opened(
        replace(find_profile("text-input"), port=PortSettings(data_bits=7, parity=Parity.ODD))
    )
    assert asked_for == [PortSettings()] == [opened.port]
    assert opened.line is not None
    assert opened.line.check_parity is Parity.ODD
