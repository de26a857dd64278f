"""The tables of each kind of decoder: every key counts, a bad one is named, each is decoded."""

from __future__ import annotations

from dataclasses import fields, replace
from decimal import Decimal
from enum import StrEnum
from pathlib import Path
from typing import Any, get_args, get_type_hints

import pytest
from bit_encoders import signmag24
from bridge_lines import line

from gaugelink.devices.decoders import make_decoder
from gaugelink.devices.decoders.bcd import Bcd7Format, Bcd52Format, UnitDigit
from gaugelink.devices.decoders.bits import BitFormat, Complement
from gaugelink.devices.decoders.bridge_line import BridgeDecoder
from gaugelink.devices.decoders.counted import (
    AbsRel48Format,
    HostClocked21Format,
    SignMag24Format,
    Word,
)
from gaugelink.devices.decoders.formats import (
    BIT_KINDS,
    WireFormat,
    bit_kind,
    default_unit,
    with_default_unit,
)
from gaugelink.devices.decoders.hid_field import HidFieldDecoder, HidFieldFormat
from gaugelink.devices.decoders.hid_keys import (
    HidKeysDecoder,
    HidKeysFormat,
    KeyboardLayout,
    KeyLineEnd,
)
from gaugelink.devices.decoders.line import LineDecoder
from gaugelink.devices.profiles.profile import Profile, find_profile, load_profiles
from gaugelink.devices.profiles.toml_fields import schema_of
from gaugelink.devices.profiles.wire_kinds import (
    FIELD_SCHEMA,
    KEYS_SCHEMA,
    WIRE_KINDS,
)
from gaugelink.errors import ProfileError
from gaugelink.model import Frame
from gaugelink.units import LengthUnit

MM, INCH = LengthUnit.MM, LengthUnit.INCH
LINE = "[line]\npattern = '(?P<value>\\d+)'\nline_end = \"\\r\"\n"


def profile_of(folder: Path, decoder: str, tables: str) -> Profile:
    head = 'title = "A gauge"\nsummary = "For a test."\nsource = "invented"\n'
    (folder / "mine.toml").write_text(f'{head}decoder = "{decoder}"\n{tables}', encoding="utf-8")
    return find_profile("mine", [folder])


EVERY_KEY: dict[str, tuple[str, WireFormat]] = {
    "bcd52": (
        "[bits]\ndigits = 7\nunit_digit = 'inch 8'",
        Bcd52Format(digits=7, unit_digit=UnitDigit.INCH_8),
    ),
    "signmag24": (
        "[bits]\ninvert = true\nstart_bit = true\nstep_mm = 0.1\nstep_inch = 0.005\n"
        "unit_bit = false\nunit_default = 'in'",
        SignMag24Format(
            invert=True,
            start_bit=True,
            step_mm=Decimal("0.1"),
            step_inch=Decimal("0.005"),
            unit_bit=False,
            unit_default=INCH,
        ),
    ),
    "abs-rel-2x24": (
        "[bits]\nfirst_word = 'relative'\nword = 'absolute'\ncomplement = 'one'\n"
        "invert = true\nunit_default = 'in'",
        AbsRel48Format(
            first_word=Word.RELATIVE,
            word=Word.ABSOLUTE,
            complement=Complement.ONE,
            invert=True,
            unit_default=INCH,
        ),
    ),
    "bcd7": ("[bits]\ninvert = true", Bcd7Format(invert=True)),
    "host-clocked-21": (
        "[bits]\ninvert = true\nunit_default = 'in'",
        HostClocked21Format(invert=True, unit_default=INCH),
    ),
    "hid-field": (
        "[hid_field]\nreport_id = 1\nusage = 0xFF000010\nbit_offset = 8\nbit_size = 24\n"
        "signed = false\nstep = 0.01\nunit_default = 'mm'",
        HidFieldFormat(
            report_id=1,
            usage=0xFF000010,
            bit_offset=8,
            bit_size=24,
            signed=False,
            step=Decimal("0.01"),
            unit_default=MM,
        ),
    ),
}


@pytest.mark.parametrize("decoder", EVERY_KEY)
def test_every_key_reaches_the_format(decoder: str, tmp_path: Path) -> None:
    tables, fmt = EVERY_KEY[decoder]
    profile = profile_of(tmp_path, decoder, tables)
    assert (profile.wire, profile.decoder) == (fmt, decoder)
    assert (profile.line, profile.bits, profile.hid).count(None) == 2
    defaults = type(fmt)()
    assert all(getattr(fmt, f.name) != getattr(defaults, f.name) for f in fields(fmt))


def test_every_key_of_a_keyboard_reaches_its_format(tmp_path: Path) -> None:
    tables = (
        "[hid_keys]\nlayout = 'de'\nline_ends = ['tab', 'enter']\nends_on_silence = true\n"
        "in_array_order = true\n"
    )
    fmt = profile_of(tmp_path, "hid-keys", LINE + tables).hid
    assert isinstance(fmt, HidKeysFormat)
    assert (fmt.layout, fmt.ends_on_silence, fmt.in_array_order) == (KeyboardLayout.DE, True, True)
    assert fmt.line_ends == {KeyLineEnd.TAB, KeyLineEnd.ENTER}
    assert fmt.line.pattern.pattern == r"(?P<value>\d+)"


@pytest.mark.parametrize("decoder", EVERY_KEY)
def test_a_table_that_is_left_out_is_all_defaults(decoder: str, tmp_path: Path) -> None:
    assert profile_of(tmp_path, decoder, "").wire == type(EVERY_KEY[decoder][1])()


def test_a_keyboard_without_its_own_table_is_all_defaults(tmp_path: Path) -> None:
    fmt = profile_of(tmp_path, "hid-keys", LINE).hid
    assert isinstance(fmt, HidKeysFormat)
    assert fmt == HidKeysFormat(line=fmt.line)


def test_the_keys_of_the_tables_are_the_fields_of_the_formats() -> None:
    for kind in BIT_KINDS.values():
        assert set(schema_of(kind.settings)) == {f.name for f in fields(kind.settings)}
    assert set(FIELD_SCHEMA) == {f.name for f in fields(HidFieldFormat)}
    assert set(KEYS_SCHEMA) == {f.name for f in fields(HidKeysFormat)} - {"line"}
    assert set(EVERY_KEY) <= set(WIRE_KINDS) - {"line", "hid-keys"}


def toml_of(value: object) -> str:
    return str(value).lower() if isinstance(value, bool | int | Decimal) else f"'{value}'"


def other_than(value: object, hint: Any) -> object:
    """Return a setting of the same type that is not ``value``."""
    kind = next((each for each in get_args(hint) if each is not type(None)), hint)
    if issubclass(kind, StrEnum):
        return next(member for member in kind if member is not value)
    return {bool: not value, Decimal: Decimal("0.125"), int: 7}[kind]


@pytest.mark.parametrize("name", BIT_KINDS)
def test_each_key_of_a_format_of_bits_reaches_it(name: str, tmp_path: Path) -> None:
    """One key at a time, made from the types, so that a new format is checked as well."""
    kind = BIT_KINDS[name].settings
    hints = get_type_hints(kind)
    for each in fields(kind):
        other = other_than(getattr(kind(), each.name), hints[each.name])
        changed = kind(**{each.name: other})
        tables = f"[bits]\n{each.name} = {toml_of(other)}"
        if changed.contradiction():
            with pytest.raises(ProfileError, match=each.name):
                profile_of(tmp_path, name, tables)
        else:
            assert profile_of(tmp_path, name, tables).bits == changed


BAD: dict[str, tuple[str, str, str, str]] = {
    "unknown key": ("bcd52", "[bits]\ndigit = 6", "bits.digit", "unknown key"),
    "key of another format": ("bcd52", "[bits]\ninvert = true", "bits.invert", "unknown key"),
    "no table": ("bcd7", "bits = 7", "bits", "not a table"),
    "too many digits": ("bcd52", "[bits]\ndigits = 9", "bits.digits", "from 6 to 8"),
    "digits in text": ("bcd52", "[bits]\ndigits = '6'", "bits.digits", "not a whole number"),
    "unit digit": ("bcd52", "[bits]\nunit_digit = 'x'", "bits.unit_digit", "plain, judged, inch 8"),
    "number for a flag": ("signmag24", "[bits]\ninvert = 1", "bits.invert", "true or false"),
    "step of nothing": ("signmag24", "[bits]\nstep_mm = 0", "bits.step_mm", "not a positive"),
    "unit twice": ("signmag24", "[bits]\nunit_default = 'mm'", "bits.unit_default", "unit_bit"),
    "unknown word": ("abs-rel-2x24", "[bits]\nword = 'third'", "bits.word", "absolute, relative"),
    "complement": ("abs-rel-2x24", "[bits]\ncomplement = '2'", "bits.complement", "two, one"),
    "unknown unit": ("host-clocked-21", "[bits]\nunit_default = 'cm'", "bits.unit_default", "mm"),
    "lines for bits": ("bcd52", LINE, "line", "unknown key"),
    "bits for lines": ("line", LINE + "[bits]\n", "bits", "unknown key"),
    "bits alone for lines": ("line", "[bits]\ndigits = 6", "bits", "unknown key"),
    "nothing typed": ("hid-keys", "[hid_keys]\nlayout = 'us'", "line", "missing"),
    "unknown layout": ("hid-keys", LINE + "[hid_keys]\nlayout = 'x'", "hid_keys.layout", "us, de"),
    "no line ends": (
        "hid-keys",
        LINE + "[hid_keys]\nline_ends = []",
        "hid_keys.line_ends",
        "empty",
    ),
    "line end": ("hid-keys", LINE + "[hid_keys]\nline_ends = ['x']", "hid_keys.line_ends", "enter"),
    "ends no list": (
        "hid-keys",
        LINE + "[hid_keys]\nline_ends = 1",
        "hid_keys.line_ends",
        "a list",
    ),
    "report": ("hid-field", "[hid_field]\nreport_id = 256", "hid_field.report_id", "from 0 to 255"),
    "usage": ("hid-field", "[hid_field]\nusage = 0", "hid_field.usage", "from 1 to"),
    "far bit": ("hid-field", "[hid_field]\nbit_offset = 2040", "hid_field.bit_offset", "2039"),
    "no bits": (
        "hid-field",
        "[hid_field]\nbit_offset = 0\nbit_size = 0",
        "hid_field.bit_size",
        "from 1 to 32",
    ),
    "size of what": ("hid-field", "[hid_field]\nbit_size = 8", "hid_field.bit_size", "bit_offset"),
    "sign of what": ("hid-field", "[hid_field]\nsigned = true", "hid_field.signed", "needs step"),
}


@pytest.mark.parametrize(("decoder", "tables", "key", "says"), BAD.values(), ids=BAD)
def test_a_bad_table_names_file_key_and_fault(
    decoder: str, tables: str, key: str, says: str, tmp_path: Path
) -> None:
    with pytest.raises(ProfileError) as caught:
        profile_of(tmp_path, decoder, tables)
    assert (caught.value.path, caught.value.where) == (str(tmp_path / "mine.toml"), key)
    assert says in str(caught.value)


def test_a_profile_has_one_wire_format() -> None:
    for name in load_profiles().names:
        profile = find_profile(name)
        (only,) = [each for each in (profile.line, profile.bits, profile.hid) if each is not None]
        assert only is profile.wire


SHIPPED_BITS = {
    "bcd52": ("N52", Bcd52Format()),
    "bcd52-judged": ("N52", Bcd52Format(unit_digit=UnitDigit.JUDGED)),
    "bcd52-7digit": ("N52", Bcd52Format(digits=7)),
    "bcd52-8digit": ("N52", Bcd52Format(digits=8)),
    "signmag24": ("B24", SignMag24Format()),
    "abs-rel-2x24": ("B48", AbsRel48Format()),
    "bcd7-flags": ("B7N", Bcd7Format()),
    "host-clocked-21": ("B21", HostClocked21Format()),
}


@pytest.mark.parametrize("name", SHIPPED_BITS)
def test_a_shipped_profile_of_bits_is_what_its_name_says(name: str) -> None:
    profile = find_profile(name)
    kind, fmt = SHIPPED_BITS[name]
    assert profile.bits == fmt
    assert bit_kind(profile.bits).bridge == kind
    assert profile.port.baud == 115200
    assert (profile.request is not None) == (kind == "N52")
    assert profile.experimental == (kind in ("B7N", "B21"))


def test_the_shipped_profiles_of_hid_gauges_are_what_their_names_say() -> None:
    assert find_profile("hid-field").hid == HidFieldFormat()
    keyboard, typed = find_profile("hid-keyboard").hid, find_profile("text-input").line
    assert typed is not None
    assert isinstance(keyboard, HidKeysFormat)
    line = replace(keyboard.line, line_end=typed.line_end)  # keys end the line here
    assert keyboard == HidKeysFormat(line=keyboard.line)
    assert line == typed


def test_every_shipped_profile_of_bits_is_in_the_table() -> None:
    profiles = [find_profile(name) for name in load_profiles().names]
    of_bits = {profile.name: profile.decoder for profile in profiles if profile.bits}
    assert set(SHIPPED_BITS) <= set(of_bits)
    assert set(of_bits.values()) == set(BIT_KINDS), "a format of bits is in no profile"


@pytest.mark.parametrize(
    ("decoder", "tables", "made"),
    [
        ("line", LINE, LineDecoder),
        ("hid-keys", LINE, HidKeysDecoder),
        ("hid-field", "", HidFieldDecoder),
        *((name, "", BridgeDecoder) for name in BIT_KINDS),
    ],
)
def test_each_kind_has_its_decoder(
    decoder: str, tables: str, made: type[Any], tmp_path: Path
) -> None:
    assert type(make_decoder(profile_of(tmp_path, decoder, tables))) is made


def known_bit_formats() -> set[type[BitFormat]]:
    return {kind.settings for kind in BIT_KINDS.values()}


def test_every_format_of_the_union_can_be_written_in_a_file(tmp_path: Path) -> None:
    profiles = (
        profile_of(tmp_path, k, LINE * ("line" in WIRE_KINDS[k].tables)) for k in WIRE_KINDS
    )
    union = {each for each in get_args(WireFormat) if each is not BitFormat}
    assert {type(profile.wire) for profile in profiles} == union | known_bit_formats()
    assert {each.__name__ for each in BitFormat.__subclasses__()} == {
        each.__name__ for each in known_bit_formats()
    }


@pytest.mark.parametrize("decoder", WIRE_KINDS)
def test_the_unit_of_the_user_fills_what_the_format_leaves_open(
    decoder: str, tmp_path: Path
) -> None:
    profile = profile_of(tmp_path, decoder, LINE * ("line" in WIRE_KINDS[decoder].tables))
    always_says = decoder != "hid-keys" and not hasattr(profile.wire, "unit_default")
    if decoder in EVERY_KEY:
        assert always_says == (decoder in ("bcd52", "bcd7"))
    assert default_unit(with_default_unit(profile.wire, INCH)) == (None if always_says else INCH)
    assert profile.unit_default == default_unit(profile.wire)


def test_the_unit_of_the_user_reaches_a_gauge_without_a_unit_bit(tmp_path: Path) -> None:
    profile = profile_of(tmp_path, "signmag24", "[bits]\nunit_bit = false")
    wire = [line(n, "B24", bits=signmag24(2000)) for n in range(2)]
    decoder = make_decoder(profile, unit=INCH)
    (event,) = [e for each in wire for e in decoder.feed(each)]
    assert isinstance(event, Frame)
    assert (str(event.value), event.unit) == ("1.0000", INCH)


def test_the_port_of_the_bridge_chooses_the_gauge() -> None:
    wire = [line(n, "B24", bits=signmag24(100 * (n % 2)), port=n % 2) for n in range(4)]
    decoder = make_decoder(find_profile("signmag24"), bridge_port=1)
    (event,) = [e for each in wire for e in decoder.feed(each)]
    assert isinstance(event, Frame)
    assert str(event.value) == "1.00"


def test_a_gauge_on_a_lost_line_starts_over() -> None:
    decoder = make_decoder(find_profile("signmag24"))
    first, third = (line(n, "B24", bits=signmag24(100)) for n in (1, 3))
    events = [*decoder.feed(first), *decoder.feed(third)]
    assert not any(isinstance(event, Frame) for event in events)
