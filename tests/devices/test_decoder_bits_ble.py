"""The two Bluetooth lengths, as published and at the ends of their ranges."""

from __future__ import annotations

import json
import struct
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gaugelink.devices.decoders.ble_length import length_event, linear_position_event
from gaugelink.model import Fault, FaultKind, Frame
from gaugelink.units import LengthUnit

FIXTURE = Path(__file__).parents[2] / "fixtures" / "wire" / "bits.json"
VECTORS = json.loads(FIXTURE.read_text(encoding="utf-8"))["characteristics"]
EVENT_OF = {"0x2C0A": length_event, "0x2C08": linear_position_event}


@pytest.mark.parametrize("vector", VECTORS, ids=lambda v: v["id"])
def test_a_vector_gives_its_event(vector: dict[str, Any]) -> None:
    data, expected = bytes.fromhex(vector["data"]), vector["event"]
    event = EVENT_OF[vector["characteristic"]](data)
    assert event.raw == data
    if isinstance(event, Frame):
        assert (str(event.value), event.unit) == (expected["value"], expected["unit"])
        assert str(event.step) == expected["step"]
    else:
        assert (event.kind, expected["event"]) == (expected["kind"], "fault")
        assert expected["says"] in event.reason


def test_all_four_vectors_are_there() -> None:
    assert [vector["id"] for vector in VECTORS] == ["H1", "H2", "H3", "H4"]


@pytest.mark.parametrize(
    ("characteristic", "data", "value"),
    [
        ("0x2C0A", "FEFFFFFF", "429496.7294"),
        ("0x2C0A", "FFFFFF7F", "214748.3647"),  # unknown only as a position
        ("0x2C0A", "00000000", "0.0000"),
        ("0x2C08", "FEFFFF7F", "214748.3646"),
        ("0x2C08", "00000080", "-214748.3648"),
        ("0x2C08", "FFFFFFFF", "-0.0001"),  # unknown only as a length
    ],
)
def test_the_ends_of_the_ranges(characteristic: str, data: str, value: str) -> None:
    event = EVENT_OF[characteristic](bytes.fromhex(data))
    assert isinstance(event, Frame)
    assert (str(event.value), event.unit) == (value, LengthUnit.MM)


@pytest.mark.parametrize("characteristic", EVENT_OF)
@pytest.mark.parametrize("n_bytes", [0, 1, 2, 3, 5, 8])
def test_a_value_of_another_length_is_refused(characteristic: str, n_bytes: int) -> None:
    event = EVENT_OF[characteristic](bytes(n_bytes))
    assert isinstance(event, Fault)
    assert event.kind is (FaultKind.INCOMPLETE if n_bytes < 4 else FaultKind.OVERLONG)
    assert event.reason == f"the value has {n_bytes} bytes instead of 4"


@given(steps=st.integers(-(2**31), 2**31 - 2))
def test_a_position_comes_back_to_the_step(steps: int) -> None:
    event = linear_position_event(struct.pack("<i", steps))
    assert isinstance(event, Frame)
    assert event.value == Decimal(steps).scaleb(-4)


@given(steps=st.integers(0, 2**32 - 2))
def test_a_length_comes_back_to_the_step(steps: int) -> None:
    event = length_event(struct.pack("<I", steps))
    assert isinstance(event, Frame)
    assert event.value == Decimal(steps).scaleb(-4)
