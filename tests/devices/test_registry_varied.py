"""Options of an address that change a key of its format."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest
from bit_encoders import inverted, signmag24
from bridge_lines import line
from identify_bench import BITS, HID, LINES, PROFILES

from gaugelink.devices.address import parse_address
from gaugelink.devices.decoders.bcd import UnitDigit
from gaugelink.devices.decoders.counted import Word
from gaugelink.devices.decoders.hid_keys import KeyboardLayout
from gaugelink.devices.decoders.line import Parity
from gaugelink.devices.identify.weighed import all_trials
from gaugelink.devices.profiles.profile import Profile
from gaugelink.devices.registry import open_gauge, varied
from gaugelink.errors import InputError
from gaugelink.model import Frame
from gaugelink.units import LengthUnit

B1 = signmag24(150)  # 1.50 mm


def changed(name: str, options: str) -> Profile:
    return varied(PROFILES[name], parse_address(f"serial:/dev/ttyX?{options}"))


def test_without_such_options_the_profile_is_the_same() -> None:
    for profile in PROFILES.values():
        assert changed(profile.name, f"format={profile.name}&unit=mm&kind=caliper") is profile


@pytest.mark.parametrize(
    ("name", "options", "part", "changes"),
    [
        ("line-two-channel", "baud=4800", "port", {"baud": 4800}),
        (
            "line-two-channel",
            "baud=1200&data_bits=7&parity=E&stop_bits=2",
            "port",
            {"baud": 1200, "data_bits": 7, "parity": Parity.EVEN, "stop_bits": 2},
        ),
        ("text-input", "check_parity=O", "wire", {"check_parity": Parity.ODD}),
        ("text-input", "strip_high_bit=true", "wire", {"strip_high_bit": True}),
        (
            "signmag24",
            "invert=true&start_bit=true&unit_bit=false&step_mm=0.1",
            "wire",
            {"invert": True, "start_bit": True, "unit_bit": False, "step_mm": Decimal("0.1")},
        ),
        ("abs-rel-2x24", "first_word=relative", "wire", {"first_word": Word.RELATIVE}),
        ("bcd52", "digits=7", "wire", {"digits": 7}),
        ("bcd52", "unit_digit=inch 8", "wire", {"unit_digit": UnitDigit.INCH_8}),
        ("hid-keyboard", "layout=de", "wire", {"layout": KeyboardLayout.DE}),
    ],
)
def test_an_option_changes_its_key_and_nothing_else(
    name: str, options: str, part: str, changes: dict[str, object]
) -> None:
    profile = PROFILES[name]
    expected = replace(profile, **{part: replace(getattr(profile, part), **changes)})
    assert changed(name, options) == expected


@pytest.mark.parametrize(
    ("name", "options", "says"),
    [
        ("text-input", "baud=1", "baud: 1 is not from 50"),
        ("text-input", "baud=fast", "baud: 'fast' is not a whole number"),
        ("text-input", "parity=even", "parity: 'even' is not one of: N, E, O"),
        ("text-input", "data_bits=8.5", "data_bits: Decimal('8.5') is not a whole number"),
        ("text-input", "invert=true", "The format text-input has no 'invert'"),
        ("bcd52", "invert=true", "The format bcd52 has no 'invert'"),
        ("signmag24", "invert=1", "invert: 1 is not true or false"),
        ("signmag24", "check_parity=E", "The format signmag24 has no 'check_parity'"),
        ("hid-field", "layout=de", "The format hid-field has no 'layout'"),
    ],
)
def test_a_value_that_cannot_be_is_refused(name: str, options: str, says: str) -> None:
    with pytest.raises(InputError) as caught:
        changed(name, options)
    assert says in str(caught.value)
    assert caught.value.hint


def test_every_variant_that_is_tried_can_be_typed() -> None:
    """The options of a finding give the very format that explained the bytes."""
    for trial in all_trials([*LINES, *BITS, *HID]):
        typed = "&".join(f"{key}={value}" for key, value in trial.options.items())
        assert changed(trial.profile.name, typed).wire == trial.profile.wire


def test_an_opened_gauge_is_read_with_its_options() -> None:
    gauge = open_gauge("serial:/dev/ttyX?format=line-two-channel&baud=4800&unit=mm")
    assert gauge._transport._settings.baud == 4800  # type: ignore[attr-defined]
    bits = open_gauge("bridge:/dev/ttyX?format=signmag24&invert=true")
    events = [e for n in range(2) for e in bits._decoder.feed(line(n, "B24", bits=inverted(B1)))]
    assert [(e.value, e.unit) for e in events if isinstance(e, Frame)] == [
        (Decimal("1.50"), LengthUnit.MM)
    ]
    assert len(events) == 1
