"""Format profiles are found by name, shipped ones work, and a bad file says what is wrong."""

from __future__ import annotations

import json
import re
import time
from decimal import Decimal
from pathlib import Path

import pytest

from gaugelink.devices.decoders.line import DecimalMark, LineFormat, Parity
from gaugelink.devices.profiles.profile import (
    _PROFILE,
    PORT_SCHEMA,
    PortSettings,
    Profile,
    find_profile,
    load_profiles,
)
from gaugelink.devices.profiles.wire_kinds import LINE_SCHEMA, WIRE_KINDS, ways_of
from gaugelink.errors import InputError, ProfileError
from gaugelink.model import Flag, Sends
from gaugelink.units import LengthUnit

FIXTURES = Path(__file__).parents[3] / "fixtures" / "wire"
DATA = {path.stem: json.loads(path.read_text(encoding="utf-8")) for path in FIXTURES.glob("*.json")}
HID = {"hid-keyboard": DATA["hid"]["keys"], "hid-field": DATA["hid"]["fields"]}
WITH_VECTORS = {vector["profile"] for name in ("lines", "bits") for vector in DATA[name]["vectors"]}
WITH_VECTORS |= {name for name, vectors in HID.items() if vectors}
SHIPPED = load_profiles().names
LEAST = r"""
title = "A gauge"
summary = "For a test."
source = "invented"
[line]
pattern = '(?P<value>\d+\.\d+)'
line_end = "\r"
"""
MOST = r"""
title = "A gauge"
summary = '''
Two
lines.'''
source = "invented"
experimental = true
sends = "stream"
request = "\u0002?\r"
reply_timeout_s = 0.35
decoder = "line"
[port]
baud = 300
data_bits = 8
parity = "O"
stop_bits = 2
dtr = false
rts = false
[line]
pattern = '(?P<channel>[AB])(?P<value>\d+,\d+)(?P<unit>[MZ]?)(?P<judge>[<]?) ?'
line_end = ["\r", "\n"]
readings_per_line = "many"
unit_default = "in"
units = { M = "mm", Z = "in" }
decimal = "comma"
judge = { "<" = "below tolerance" }
step = { mm = 0.01, in = 0.0005 }
channel = "A"
error_patterns = { 'E\d+' = "an error" }
ident_pattern = "ID.*"
echo = "?"
check_parity = "O"
max_line_bytes = 33
"""


def write(folder: Path, text: str, name: str = "mine") -> Path:
    folder.mkdir(exist_ok=True)
    path = folder / f"{name}.toml"
    path.write_text(text, encoding="utf-8")
    return path


def changed(old: str, new: str, text: str = LEAST) -> str:
    assert old in text
    return text.replace(old, new)


@pytest.mark.parametrize("name", SHIPPED)
def test_a_shipped_profile_is_complete_and_has_a_vector(name: str) -> None:
    profile = find_profile(name)
    assert profile.name == name
    assert profile.title
    assert profile.summary
    assert name in WITH_VECTORS
    maker = profile.source.split()[0]
    assert maker not in f"{name} {profile.title} {profile.summary}"


@pytest.mark.parametrize("name", [name for name in SHIPPED if name.startswith("line-")])
def test_a_shipped_serial_profile_is_named_after_its_port(name: str) -> None:
    port = find_profile(name).port
    settings = f"{port.baud}-{port.data_bits}{port.parity}{port.stop_bits}"
    has_speed = name.split("-")[1].isdigit()
    assert not has_speed or name.startswith(f"line-{settings}-")
    assert has_speed or settings == "9600-8N1"


def test_no_shipped_profile_supposes_a_unit() -> None:
    counts = {"abs-rel-2x24", "host-clocked-21"}  # the same length in either unit
    assert {find_profile(name).unit_default for name in SHIPPED if name not in counts} == {None}
    assert {find_profile(name).unit_default for name in counts} == {LengthUnit.MM}


def test_what_a_profile_leaves_out_has_the_default(tmp_path: Path) -> None:
    write(tmp_path, LEAST)
    profile = find_profile("mine", [tmp_path])
    assert profile.line is not None
    line = LineFormat(pattern=profile.line.pattern, line_end=(b"\r",))
    assert profile == Profile(
        name="mine", title="A gauge", summary="For a test.", source="invented", wire=line
    )


def test_every_key_reaches_the_profile(tmp_path: Path) -> None:
    write(tmp_path, MOST)
    profile = find_profile("mine", [tmp_path])
    assert profile.summary == "Two lines."
    assert (profile.sends, profile.request, profile.experimental) == (
        Sends.STREAM,
        b"\x02?\r",
        True,
    )
    assert profile.reply_timeout_s == 0.35
    assert profile.port == PortSettings(
        baud=300, data_bits=8, parity=Parity.ODD, stop_bits=2, dtr=False, rts=False
    )
    line = profile.line
    assert line is not None
    assert line is profile.wire
    assert line.line_end == (b"\r", b"\n")
    assert (line.unit_default, line.units["M"]) == (LengthUnit.INCH, LengthUnit.MM)
    assert (line.decimal, line.judge) == (DecimalMark.COMMA, {"<": Flag.BELOW_TOLERANCE})
    assert line.step == {LengthUnit.MM: Decimal("0.01"), LengthUnit.INCH: Decimal("0.0005")}
    assert (line.channel, line.echo, line.check_parity) == ("A", b"?", Parity.ODD)
    assert [(error.pattern.pattern, error.text) for error in line.error_patterns] == [
        (r"E\d+", "an error")
    ]
    assert line.ident_pattern is not None
    assert (line.ident_pattern.pattern, line.max_line_bytes) == ("ID.*", 33)


def test_the_keys_of_a_file_are_the_fields_of_the_types() -> None:
    assert set(LINE_SCHEMA) == set(LineFormat.__slots__)
    assert set(PORT_SCHEMA) == set(PortSettings.__slots__)
    assert set(_PROFILE) | {"wire"} == set(Profile.__slots__) - {"name"} | {"replaces"}
    tables = {name for kind in WIRE_KINDS.values() for name in kind.tables}
    assert tables == {"line", "bits", "hid_keys", "hid_field"}


def test_a_name_that_no_file_has_is_answered_with_those_that_are_there(tmp_path: Path) -> None:
    write(tmp_path, LEAST)
    for name in ("nobody", "", "../mine", "mine.toml"):
        with pytest.raises(InputError) as caught:
            find_profile(name, [tmp_path])
        assert repr(name) in str(caught.value)
        assert "line-two-channel, mine, " in caught.value.hint


def test_only_the_file_that_is_asked_for_is_opened(tmp_path: Path) -> None:
    write(tmp_path, "not = [toml", "broken")
    write(tmp_path, LEAST)
    profiles = load_profiles([tmp_path, tmp_path / "not there"])
    assert {"broken", "mine", *SHIPPED} == set(profiles.names)
    assert profiles.find("mine").title == "A gauge"
    with pytest.raises(ProfileError):
        profiles.find("broken")


@pytest.mark.parametrize("name", ["text-input", "mine"])
def test_a_profile_replaces_another_only_when_it_says_so(tmp_path: Path, name: str) -> None:
    first, second = tmp_path / "first", tmp_path / "second"
    write(first, LEAST, "mine")
    path = write(second, LEAST, name)
    with pytest.raises(ProfileError, match="exists already") as caught:
        find_profile(name, [first, second])
    assert (caught.value.path, caught.value.where) == (str(path), "replaces")
    write(second, "replaces = true\n" + changed("A gauge", "Another"), name)
    assert find_profile(name, [first, second]).title == "Another"


BAD = {
    "no title": (changed('title = "A gauge"', ""), "title", "missing"),
    "no line": ('title = "t"\nsummary = "s"\nsource = "x"', "line", "missing"),
    "no pattern": (changed(r"pattern = '(?P<value>\d+\.\d+)'", ""), "line.pattern", "missing"),
    "no line end": (changed(r'line_end = "\r"', ""), "line.line_end", "missing"),
    "unknown key": (changed("[line]", "[line]\npatern = 'x'"), "line.patern", "unknown"),
    "unknown table": (LEAST + "[ports]\n", "ports", "unknown"),
    "text for a table": ("line = 'x'\n" + LEAST.split("[line]")[0], "line", "not a table"),
    "number for text": (changed('"A gauge"', "7"), "title", "not a string"),
    "text for a number": (LEAST + "[port]\nbaud = '9600'", "port.baud", "not a whole number"),
    "true for a number": (LEAST + "[port]\nbaud = true", "port.baud", "not a whole number"),
    "number out of range": (LEAST + "[port]\nstop_bits = 3", "port.stop_bits", "from 1 to 2"),
    "number for a flag": (LEAST + "[port]\nrts = 1", "port.rts", "not true or false"),
    "unknown parity": (LEAST + "[port]\nparity = 'even'", "port.parity", "N, E, O"),
    "unknown unit": (LEAST + "unit_default = 'cm'", "line.unit_default", "mm, in"),
    "unknown unit in a table": (LEAST + "units = { M = 'm' }", "line.units.M", "mm, in"),
    "unknown decoder": ("decoder = 'bits'\n" + LEAST, "decoder", "'bits'; it has: line, bcd52"),
    "decoder a number": ("decoder = 52\n" + LEAST, "decoder", "not a string"),
    "empty request": ("request = ''\n" + LEAST, "request", "empty"),
    "request not bytes": ("request = '€'\n" + LEAST, "request", "bytes"),
    "request a list": ("request = ['?']\n" + LEAST, "request", "not a string"),
    "no timeout": ("reply_timeout_s = 0\n" + LEAST, "reply_timeout_s", "positive"),
    "endless timeout": ("reply_timeout_s = inf\n" + LEAST, "reply_timeout_s", "positive"),
    "text for a timeout": ("reply_timeout_s = '1'\n" + LEAST, "reply_timeout_s", "not a number"),
    "step of nothing": (LEAST + "step = { mm = 0 }", "line.step.mm", "positive"),
    "step in no unit": (LEAST + "step = { um = 1 }", "line.step.um", "unknown"),
    "no regex": (changed(r"\d+)'", "\\d+'"), "line.pattern", "not a regular expression"),
    "no value group": (changed("P<value>", "P<unit>"), "line.pattern", "'value'"),
    "unknown group": (changed("'(", "'(?P<sgn>-?)("), "line.pattern", "'sgn'"),
    "repeated group": (changed(r"\.\d+)'", r"(?:\.\d+)*)'"), "line.pattern", "repeats a group"),
    "counted group": (changed(r"\.\d+)'", r"(?:\.\d+){9})'"), "line.pattern", "repeats a group"),
    "digits twice": (changed(r"\.\d+)'", r"\d*\d*\d*\d*x)'"), "line.pattern", "too many ways"),
    "back reference": (changed(r"\.\d+)'", r"\.\d+)(?P=value)'"), "line.pattern", "refers back"),
    "verbose": (changed("'(?P", "'(?x)(?P"), "line.pattern", "sets a flag"),
    "flag of a group": (changed(r"\.\d+)'", r"(?i:\.)\d+)'"), "line.pattern", "sets a flag"),
    "looks behind": (changed(r"\.\d+)'", r"\.\d+)(?<=7)'"), "line.pattern", "looks behind"),
    "optional again and again": (
        changed(r"\.\d+)'", "\\.\\d+)" + "(?:0?)" * 22 + "'"),
        "line.pattern",
        "too many ways",
    ),
    "alternatives": (
        changed(r"\.\d+)'", "\\.\\d+)" + "(?:0|00|000)" * 14 + "'"),
        "line.pattern",
        "too many ways",
    ),
    "ident in many ways": (LEAST + "ident_pattern = 'I.*.*.*.*D'", "line.ident_pattern", "ways"),
    "bad ident": (LEAST + "ident_pattern = '*'", "line.ident_pattern", "regular expression"),
    "bad error": (LEAST + "error_patterns = { '(' = 'x' }", "line.error_patterns.(", "regular"),
    "wordless error": (LEAST + "error_patterns = { E = 1 }", "line.error_patterns.E", "string"),
    "empty line end": (changed(r'"\r"', '""'), "line.line_end", "empty"),
    "no line ends": (changed(r'"\r"', "[]"), "line.line_end", "empty"),
    "line end in another": (changed(r'"\r"', r'["\n", "\r\n"]'), "line.line_end", "part of"),
    "line end not ASCII": (changed(r'"\r"', r'"\u00ff"'), "line.line_end", "ASCII"),
    "judge not listed": (changed(r"\d+)'", r"\d+)(?P<judge>!?)'"), "line.judge", "missing"),
    "channel not there": (LEAST + "channel = 'A'", "line.channel", "no group"),
    "many of what": (LEAST + "readings_per_line = 'many'", "line.readings_per_line", "channel"),
    "bit 7 twice": (
        LEAST + "check_parity = 'E'\nstrip_high_bit = true",
        "line.strip_high_bit",
        "bit 7",
    ),
    "parity not seen": (
        LEAST + "check_parity = 'E'\n[port]\ndata_bits = 7",
        "line.check_parity",
        "data_bits",
    ),
}


@pytest.mark.parametrize(("text", "key", "says"), BAD.values(), ids=BAD)
def test_a_bad_profile_names_file_key_and_fault(
    tmp_path: Path, text: str, key: str, says: str
) -> None:
    path = write(tmp_path, text)
    with pytest.raises(ProfileError) as caught:
        find_profile("mine", [tmp_path])
    assert (caught.value.path, caught.value.where) == (str(path), key)
    message = str(caught.value)
    assert message.startswith(f"{path}: {key}: ")
    assert says in message.removeprefix(f"{path}: {key}: ")


def test_a_file_that_is_not_toml_names_the_line(tmp_path: Path) -> None:
    path = write(tmp_path, "title = 'x'\nsummary = oops\n")
    with pytest.raises(ProfileError, match="line 2") as caught:
        find_profile("mine", [tmp_path])
    assert caught.value.path == str(path)


def test_a_file_that_is_not_text_is_a_profile_error(tmp_path: Path) -> None:
    (tmp_path / "mine.toml").write_bytes(b"title = '\xff'")
    with pytest.raises(ProfileError, match="not a TOML file"):
        find_profile("mine", [tmp_path])


def test_a_file_that_cannot_be_read_is_a_profile_error(tmp_path: Path) -> None:
    (tmp_path / "mine.toml").mkdir()
    with pytest.raises(ProfileError, match="cannot be read"):
        find_profile("mine", [tmp_path])


WORST = [
    r" *a? *b? *(?P<value>\d)",
    r"\d*\d*(?P<value>\d+)x",
    r"(?P<value>\d+)(?:0|00|000)(?:0|00)x",
    r"(?P<value>\d*\d*\d+a|\d*\d*\d+b|\d+\d*\d*x)",
]


@pytest.mark.parametrize("pattern", WORST)
@pytest.mark.parametrize("line", ["1" * 80, "0" * 79 + "x", " " * 79 + "x"])
def test_a_pattern_that_is_let_in_cannot_hang(pattern: str, line: str) -> None:
    compiled = re.compile(pattern, re.ASCII)
    assert ways_of(compiled, 80) <= 1_000_000
    begun_s = time.process_time()
    compiled.fullmatch(line)
    assert time.process_time() - begun_s < 5.0  # a hang, not a budget: it is a tenth of a second


@pytest.mark.parametrize(
    "pattern", [r"\)+(?P<value>\d)", r"[)+](?P<value>\d)", r"[])+](?P<value>\d)"]
)
def test_a_closing_bracket_that_ends_no_group_may_be_repeated(tmp_path: Path, pattern: str) -> None:
    write(tmp_path, changed(r"(?P<value>\d+\.\d+)", pattern))
    line = find_profile("mine", [tmp_path]).line
    assert line is not None
    assert line.pattern.pattern == pattern
