"""The parts of an identification, each alone: evidence, bit 7, breadth, displays, variants."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest
from bridge_lines import ident_line, line, sealed
from identify_bench import BITS, HID, LINES, PROFILES, SAMPLES, vectors

from gaugelink.devices.decoders import make_decoder
from gaugelink.devices.identify.breadth import breadth
from gaugelink.devices.identify.judge import finding_of
from gaugelink.devices.identify.verdict import Said, Shown, parse_shown
from gaugelink.devices.identify.weighed import (
    Bit7,
    Evidence,
    Heard,
    Trial,
    all_trials,
    bit7_of,
    burst_ports,
    is_idle_bridge,
    weigh,
    weigh_all,
)
from gaugelink.devices.profiles.profile import PortSettings
from gaugelink.errors import InputError
from gaugelink.model import Frame
from gaugelink.units import LengthUnit

MM, INCH = LengthUnit.MM, LengthUnit.INCH
UNIT = "line-9600-8N1-unit"
LINE = b"+  2.1380, MM\r"


def weighed(data: bytes, name: str = UNIT) -> Evidence:
    return weigh(make_decoder(PROFILES[name]), data)


def counts(evidence: Evidence) -> tuple[int, int, int]:
    return (len(evidence.frames), evidence.n_explained, evidence.n_unexplained)


@pytest.mark.parametrize(
    ("data", "expected"),
    [
        (b"", (0, 0, 0)),
        (LINE, (1, 14, 0)),
        (LINE * 3, (3, 42, 0)),
        (LINE[5:] + LINE, (1, 14, 0)),  # a piece before the first line is no evidence
        (LINE + LINE[:9], (1, 14, 0)),  # nor is one after the last
        (b"x" * 20 + b"\r" + LINE, (1, 14, 21)),  # too long to be a piece of a line
        (LINE + b"x" * 20, (1, 14, 20)),
        (b"x" * 13 + b"\r" + LINE, (1, 14, 0)),  # as long as a line
        (b"x" * 14 + b"\r" + LINE, (1, 14, 15)),
        (b"x" * 9 + b"\r" + b"x" * 9 + b"\r" + LINE, (1, 14, 10)),  # one piece, not two
        (LINE + b"?!\r" + LINE, (2, 28, 3)),
        (LINE[5:], (0, 0, 9)),  # no line at all: nothing is a piece of one
        (b"SUCCESS\rNOT FOUND\r", (0, 18, 0)),  # in form, and no reading
        (LINE[:-1] + b"\xff\r" + LINE * 2, (2, 28, 15)),
    ],
)
def test_bytes_count_for_and_against_a_format(data: bytes, expected: tuple[int, int, int]) -> None:
    assert counts(weighed(data)) == expected


def test_a_share_is_of_what_counts() -> None:
    assert weighed(b"").share == 0.0
    assert weighed(LINE + b"?!\r" + LINE).share == pytest.approx(28 / 31)
    both = weighed(LINE) + weighed(b"x" * 13 + b"\r")
    assert (counts(both), both.share) == ((1, 14, 14), 0.5)
    assert both.faults and both.n_reading_bytes == 14


def test_a_reading_without_a_unit_wants_one() -> None:
    assert not weighed(LINE).wants_unit
    assert weighed(b"+012.3456\r", "line-4800-7E2-plain").wants_unit
    b1 = next(v for v in vectors("bits.json") if v["id"] == "B1")
    no_unit_bit = replace(PROFILES["signmag24"].bits, unit_bit=False)
    profile = replace(PROFILES["signmag24"], wire=no_unit_bit)
    from identify_bench import bridged

    assert weigh(make_decoder(profile), bridged(b1)).wants_unit


def test_a_line_of_two_channels_is_one_line_long() -> None:
    """A stream cut in the middle of such a line loses a piece longer than either reading."""
    data = SAMPLES["line-9600-7E2-multi"] * 3
    assert counts(weighed(data[3:-3], "line-9600-7E2-multi"))[2] == 0


@pytest.mark.parametrize(
    ("data", "expected"),
    [
        (b"", Bit7.DATA),
        (b"plain text", Bit7.DATA),
        (bytes.fromhex("2bb1b22e33b48d"), Bit7.EVEN),
        (bytes(b ^ 0x80 for b in bytes.fromhex("2bb1b22e33b48d")), Bit7.ODD),
        (bytes(b | 0x80 for b in b"n- 0.4850I\n"), Bit7.STOP),
        (bytes.fromhex("2bb1b32e33b48d"), Bit7.DATA),  # one byte of seven breaks the parity
        (bytes.fromhex("2bb1b22e33b48d") * 9 + b"\x01\x80\x13", Bit7.EVEN),  # a little noise
        (bytes(range(256)), Bit7.DATA),
    ],
)
def test_bit_7_is_told_apart(data: bytes, expected: Bit7) -> None:
    assert bit7_of(data) is expected


def test_a_bridge_without_a_gauge_is_idle() -> None:
    alive = ident_line(0, "bridge") + line(1, "HB") + line(2, "KEY") + line(3, "N52")
    burst = line(4, "N52", bits=[1] * 52, port=2)
    assert burst_ports(b"no bridge\r\n") is None
    assert not is_idle_bridge(b"no bridge\r\n")
    assert burst_ports(alive) == frozenset()
    assert is_idle_bridge(alive[7:])  # begun in the middle of a line
    assert burst_ports(alive + burst) == {2}
    assert not is_idle_bridge(alive + burst)
    assert is_idle_bridge(alive + burst, port=1)
    assert not is_idle_bridge(alive + burst, port=2)
    assert burst_ports(sealed("005,0,B24,24,960000,0").replace(b"96", b"97")) is None


@pytest.mark.parametrize(
    ("narrow", "broad", "raw"),
    [
        ("line-4800-7E2-plain", "text-input", b"+012.3456\r"),
        ("line-4800-7E2-plain", "text-input", b" 12.34\r"),
        ("line-1200-8N2-padded", "text-input", SAMPLES["line-1200-8N2-padded"]),
    ],
)
def test_the_format_that_accepts_less_is_narrower(narrow: str, broad: str, raw: bytes) -> None:
    few, many = (breadth(Trial(profile=PROFILES[name]), raw) for name in (narrow, broad))
    assert 0 < few < many


def test_a_burst_format_that_accepts_less_is_narrower() -> None:
    raw = line(0, "HB") + line(1, "N52", bits=[1] * 16 + [0] * 36)
    names = ("bcd52", "bcd52-judged", "bcd52-7digit")
    narrow, *others = (breadth(Trial(profile=PROFILES[name]), raw) for name in names)
    assert 0 < narrow < min(others)
    assert breadth(Trial(profile=PROFILES["bcd52"]), b"no bridge line") == 0
    # Takes nothing that does not come twice, and still is measured.
    twice = line(1, "B24", bits=[0, 1] * 5 + [0] * 14)
    assert breadth(Trial(profile=PROFILES["signmag24"]), twice) > 100
    assert breadth(Trial(profile=HID[0]), b"\x01\x00") == 0


@pytest.mark.parametrize(
    ("text", "value", "unit"),
    [
        ("12.34 mm", "12.34", MM),
        ("12,34mm", "12.34", MM),
        ("-0.4860 in", "-0.4860", INCH),
        (" + .5 INCH ", "0.5", INCH),
        ('0.4860"', "0.4860", INCH),
        ("10 MM", "10", MM),
    ],
)
def test_a_display_is_read_as_it_is_typed(text: str, value: str, unit: LengthUnit) -> None:
    shown = parse_shown(text)
    assert (shown.value, shown.unit) == (Decimal(value), unit)
    assert parse_shown(str(shown)) == shown


@pytest.mark.parametrize("text", ["", "12.34", "mm", "12.3.4 mm", "1,234.5 mm", "12.34 cm", "E mm"])
def test_what_is_no_display_is_refused(text: str) -> None:
    with pytest.raises(InputError) as caught:
        parse_shown(text)
    assert repr(text) in str(caught.value)
    assert "0.4860 in" in caught.value.hint


def frame(value: str, unit: LengthUnit | None, step: str | None = None) -> Frame:
    return Frame(
        value=Decimal(value), unit=unit, raw=b"", step=None if step is None else Decimal(step)
    )


@pytest.mark.parametrize(
    ("shown", "sent", "agree"),
    [
        ("12.34 mm", frame("12.34", MM), True),
        ("12.34 mm", frame("12.3456", MM), True),  # the display cuts or rounds
        ("12.35 mm", frame("12.3456", MM), True),
        ("12.36 mm", frame("12.3456", MM), False),
        ("12.345 mm", frame("12.35", MM), True),  # the line carries fewer digits
        ("0.5000 in", frame("12.70", MM), True),  # counts do not follow the display
        ("0.5000 in", frame("12.72", MM), False),
        ("12.34 mm", frame("12.34", INCH), False),
        ("12.34 mm", frame("12.34", None), False),
        ("10.00 mm", frame("10.000009765625", MM, "0.001240234375"), True),
        ("1.5 mm", frame("15.0", MM, "0.1"), False),
    ],
)
def test_a_display_agrees_within_a_digital_step(shown: str, sent: Frame, agree: bool) -> None:
    assert parse_shown(shown).agrees_with(sent) is agree


def test_a_unit_may_be_supposed_unless_something_else_was_said() -> None:
    shown = Shown(value=Decimal(1), unit=INCH)
    assert [Said().admits(unit) for unit in (None, MM, INCH)] == [True, True, True]
    assert [Said(unit=MM).admits(unit) for unit in (None, MM, INCH)] == [True, True, False]
    assert [Said(shown=shown).admits(unit) for unit in (None, MM, INCH)] == [True, False, True]
    assert [Said(shown=shown, unit=MM).admits(u) for u in (None, MM, INCH)] == [True, False, False]


def test_every_variant_is_tried_once() -> None:
    trials = all_trials([*LINES, *BITS, *HID])
    assert len({repr(trial.profile.wire) for trial in trials if trial.options}) == sum(
        bool(trial.options) for trial in trials
    )
    plain = [trial.profile.name for trial in trials if not trial.options]
    assert sorted(plain) == sorted(PROFILES)
    keys = {key for trial in trials for key in trial.options}
    assert keys == {
        *("unit_digit", "invert", "start_bit", "unit_bit", "step_mm", "first_word", "layout"),
    }


def test_port_options_say_how_the_gauge_was_heard() -> None:
    heard = Heard(data=LINE * 2, settings=PortSettings(baud=4800, stop_bits=2))
    (found,) = (w for w in weigh_all([heard], LINES) if w.evidence.frames)
    assert not found.is_own
    wanted = {"baud": "4800", "data_bits": "8", "parity": "N", "stop_bits": "2"}
    assert found.trial.options == wanted
    own = Heard(data=LINE * 2, settings=PortSettings(stop_bits=2))
    (found,) = (w for w in weigh_all([own], LINES) if w.evidence.frames)
    assert (found.is_own, dict(found.trial.options)) == (True, {})


@pytest.mark.parametrize(
    ("heard", "answered", "streams"),
    [
        (Heard(data=LINE * 6, duration_s=1.0), False, True),
        (Heard(data=LINE * 6, duration_s=3.0), False, False),  # as fast as a hand presses
        (Heard(data=LINE * 4, duration_s=0.5), False, False),
        (Heard(data=LINE * 6), False, False),  # all at once: a buffer was full
        (Heard(data=LINE * 6, duration_s=1.0, request=b"R\r"), True, False),
        (Heard(data=LINE * 6, duration_s=1.0, request=b"?\r"), False, False),
        (Heard(data=b"??\r", request=b"R\r"), False, False),
    ],
)
def test_how_a_gauge_came_to_speak_is_noted(heard: Heard, answered: bool, streams: bool) -> None:
    (found,) = weigh_all([heard], [PROFILES[UNIT]])
    assert (found.has_answered, found.streams) == (answered, streams)


@pytest.mark.parametrize(
    ("data", "name", "end"),
    [
        (LINE * 2, UNIT, "CR"),
        ((LINE + b"\n") * 2, UNIT, "CR LF"),
        (LINE + b"\n", UNIT, "CR LF"),
        (LINE[:-1] + b"\n", UNIT, "LF"),
        (SAMPLES["line-two-channel"] * 2, "line-two-channel", "CR LF"),
        (bytes.fromhex("2bb1b22e33b48d") * 2, "line-4800-7E2-plain", "CR"),
    ],
)
def test_the_line_end_is_told(data: bytes, name: str, end: str) -> None:
    (found, *_) = weigh_all([Heard(data=data)], [PROFILES[name]])
    assert f"lines end with {end}" in finding_of(found).evidence
