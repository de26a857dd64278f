"""Where formats explain the bytes equally well, one fact is asked for, and then decides."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from identify_bench import (
    LINES,
    ON_SERIAL,
    PROFILES,
    SAMPLES,
    asked,
    best,
    bridged,
    told,
    vectors,
)

from gaugelink.devices.identify.judge import identify
from gaugelink.devices.identify.verdict import Ask, FormatVerdict, Said, parse_shown
from gaugelink.devices.identify.weighed import Heard
from gaugelink.units import LengthUnit

BITS = {vector["id"]: bridged(vector) for vector in vectors("bits.json")}
PLAIN = SAMPLES["line-4800-7E2-plain"] * 3
UNITLESS = ["line-4800-7E2-plain", "line-9600-8N1-tagged", "line-id-comma", "line-two-channel"]


@pytest.mark.parametrize("name", UNITLESS)
@pytest.mark.parametrize("unit", list(LengthUnit))
def test_a_line_without_a_unit_asks_for_it_and_takes_what_is_shown(
    name: str, unit: LengthUnit
) -> None:
    data = SAMPLES[name] * 2
    found = told(data)
    assert (found.verdict, asked(found)) == (FormatVerdict.AMBIGUOUS, Ask.UNIT)
    assert found.question is not None
    (number,) = {each.examples[-1].split()[0] for each in (best(found), *found.runners_up)}
    assert f"{number} mm" in found.question.text
    assert f"{number} in" in found.question.text
    assert {each.options["unit"] for each in (best(found), *found.runners_up)} == {"mm", "in"}

    answered = told(data, shows=f"{number} {unit}")
    assert (answered.verdict, answered.question) == (FormatVerdict.CLEAR, None)
    assert (best(answered).format, best(answered).options["unit"]) == (name, unit)
    assert best(answered).examples == (f"{number} {unit}",)


def test_zeros_alone_settle_nothing_whatever_is_shown() -> None:
    for shows in ("", "0.000 mm", "0.000 in"):
        found = told(b"+000.000\r" * 3, shows=shows)
        assert (found.verdict, asked(found)) == (FormatVerdict.AMBIGUOUS, Ask.MORE)
        assert found.question is not None
        assert "Open the jaws" in found.question.text
    moved = told(b"+000.000\r" * 3 + b"+010.020\r", shows="10.020 mm")
    assert moved.verdict is FormatVerdict.CLEAR


def test_readings_of_one_moment_are_compared() -> None:
    plain = PROFILES["text-input"]
    assert plain.line is not None
    every = replace(plain, name="every", wire=replace(plain.line, unit_default=LengthUnit.MM))
    narrow = replace(every.wire, pattern=re.compile(r"1(?P<value>\d\.\d\d)"))
    data = b"11.75\r" * 30 + b"0.00\r"  # of which the narrow one does not read the last
    found = told(data, profiles=[every, replace(every, name="narrow", wire=narrow)])
    assert asked(found) is Ask.VALUE
    assert found.question is not None
    assert "may be 11.75 mm or 1.75 mm." in found.question.text


def test_a_unit_that_was_typed_is_not_asked_for() -> None:
    for unit in LengthUnit:
        found = told(PLAIN, said=Said(unit=unit))
        assert (found.verdict, best(found).options) == (FormatVerdict.CLEAR, {"unit": str(unit)})


def test_a_display_that_contradicts_a_typed_unit_decides_nothing() -> None:
    both = Said(shown=parse_shown("12.3456 mm"), unit=LengthUnit.INCH)
    assert told(PLAIN, said=both).verdict is FormatVerdict.UNKNOWN


@pytest.mark.parametrize("shows", ["12.3456 mm", "12.346 mm", "12.35 mm", "12,34 mm", "12.3 mm"])
def test_a_display_may_show_fewer_digits_than_are_sent(shows: str) -> None:
    assert told(PLAIN, shows=shows).verdict is FormatVerdict.CLEAR


@pytest.mark.parametrize("shows", ["12.3476 mm", "12.50 mm", "-12.3456 mm", "0.4860 in", "123 mm"])
def test_a_display_that_nothing_agrees_with_is_asked_for_again(shows: str) -> None:
    found = told(PLAIN, shows=shows)
    assert (found.verdict, asked(found), found.best) == (FormatVerdict.UNKNOWN, Ask.SHOWN, None)
    assert found.question is not None
    assert f"No format reads {shows}" in found.question.text
    assert f"12.3456 {shows[-2:]}" in found.question.text


def test_the_latest_reading_is_the_one_that_is_shown() -> None:
    moved = b"+010.0000\r+020.0000\r+030.0000\r"
    assert told(moved, shows="30.0000 mm").verdict is FormatVerdict.CLEAR
    assert told(moved, shows="20.0000 mm").verdict is FormatVerdict.UNKNOWN


def test_of_two_channels_either_may_be_the_one_that_is_shown() -> None:
    data = b"A-12.345 B+67.891\r\n" * 2
    for shows in ("-12.345 mm", "67.891 mm"):
        assert told(data, shows=shows).verdict is FormatVerdict.CLEAR


def test_what_a_display_shows_stands_for_a_second_reading() -> None:
    short = b"1.50 mm\r"[:-4] + b"\r"
    assert asked(told(short)) is Ask.UNIT
    assert told(short, shows="1.50 mm").verdict is FormatVerdict.CLEAR


def test_a_line_too_short_to_be_more_than_chance_asks_for_another() -> None:
    assert (told(b"1.5 mm\r").verdict, asked(told(b"1.5 mm\r"))) == (
        FormatVerdict.AMBIGUOUS,
        Ask.MORE,
    )
    assert told(b"1.5 mm\r1.5 mm\r").verdict is FormatVerdict.CLEAR


def test_an_error_is_named_and_a_reading_asked_for() -> None:
    found = told(b"ERR3\r" * 3)
    assert (found.verdict, asked(found)) == (FormatVerdict.AMBIGUOUS, Ask.MORE)
    assert best(found).format == "line-4800-7E2-plain"
    assert found.question is not None
    assert "outside its measuring range" in found.question.text


def test_silence_asks_for_battery_button_cable_and_speed() -> None:
    found = told(b"")
    assert (found.verdict, asked(found), found.best) == (
        FormatVerdict.NOTHING_HEARD,
        Ask.GAUGE,
        None,
    )
    assert found.question is not None
    for word in ("switched on", "battery", "button", "cable", "speed"):
        assert word in found.question.text


# The bits of B1 stand for 1.50 mm, or 0.0750 inch without a unit bit; published for 1.50 mm.
@pytest.mark.parametrize(
    ("vector", "shows", "options"),
    [
        ("B1", "0.0750 in", {"unit_bit": "false", "unit": "in"}),
        ("B4", "1.0000 in", {}),
        ("B10", "0.0750 in", {"invert": "true", "unit_bit": "false", "unit": "in"}),
        ("C1", "25.40 mm", {}),
        ("C1", "1.0000 in", {}),
        ("C1-absolute", "5.08 mm", {"first_word": "relative"}),
        ("C1", "-25.40 mm", {"invert": "true"}),
        ("C6", "10.00 mm", {}),
        ("D3", "25.40 mm", {}),
        ("D3", "-25.40 mm", {"invert": "true"}),
    ],
)
def test_what_the_display_shows_picks_the_variant(
    vector: str, shows: str, options: dict[str, str]
) -> None:
    found = told(BITS[vector], shows=shows)
    assert (found.verdict, dict(best(found).options)) == (FormatVerdict.CLEAR, options)


@pytest.mark.parametrize("shows", ["1.50 mm", ""])
def test_only_an_inch_tells_whether_the_unit_is_sent(shows: str) -> None:
    found = told(BITS["B1"], shows=shows)
    assert (found.verdict, asked(found)) == (FormatVerdict.AMBIGUOUS, Ask.UNIT_KEY)
    assert found.question is not None
    assert "press the unit key" in found.question.text
    assert "?format=signmag24" in found.question.text


def test_a_coarser_step_is_taken_only_when_the_display_shows_it() -> None:
    steps = {each.options.get("step_mm", "") for each in told(BITS["B4"]).runners_up}
    assert "0.1" in steps
    assert best(told(BITS["B4"])).options == {}
    assert best(told(BITS["B1"])).options == {}
    assert best(told(BITS["B1"], shows="15.0 mm")).options == {"step_mm": "0.1"}


def test_a_piece_that_only_one_format_reads_makes_no_difference() -> None:
    found = told(b"2.3456\r" + PLAIN, said=Said(unit=LengthUnit.MM))
    assert (found.verdict, best(found).format) == (FormatVerdict.CLEAR, "line-4800-7E2-plain")
    assert found.alike == ("text-input",)


def test_counts_ask_for_a_known_length_and_for_zero() -> None:
    found = told(BITS["C1"])
    assert (found.verdict, asked(found)) == (FormatVerdict.AMBIGUOUS, Ask.VALUE)
    assert found.question is not None
    for words in ("press zero", "10 mm", "25.400 mm", "5.080 mm", "--shows"):
        assert words in found.question.text


def test_gauges_on_two_ports_of_a_bridge_ask_for_the_port() -> None:
    vector = next(v for v in vectors("bits.json") if v["id"] == "B4")
    both = bridged(vector, port=0) + bridged(vector, port=3, first=2)
    found = told(both)
    assert (found.verdict, asked(found)) == (FormatVerdict.AMBIGUOUS, Ask.PORT)
    assert found.question is not None
    assert "port=0 or port=3" in found.question.text
    chosen = told(both, said=Said(bridge_port=3))
    assert (chosen.verdict, best(chosen).format) == (FormatVerdict.CLEAR, "signmag24")
    nobody = told(both, said=Said(bridge_port=7))
    assert nobody.verdict is FormatVerdict.NOTHING_HEARD
    assert nobody.question is not None
    assert "its gauge does not" in nobody.question.text


def test_equal_formats_are_a_choice_for_the_person() -> None:
    twin = replace(PROFILES["line-9600-8N1-unit"], name="twin", title="the same again")
    found = told(SAMPLES["line-9600-8N1-unit"] * 2, profiles=[*ON_SERIAL, twin])
    assert (found.verdict, asked(found)) == (FormatVerdict.AMBIGUOUS, Ask.FORMAT)
    assert {best(found).format, *found.alike} == {"twin", "line-9600-8N1-unit"}
    assert found.question is not None
    assert "twin: the same again" in found.question.text


def test_the_format_whose_request_was_answered_goes_before_its_equal() -> None:
    twin = replace(PROFILES["line-9600-8N1-unit"], name="a-twin", request=b"?\r")
    profiles = [PROFILES["line-9600-8N1-unit"], twin]
    for request, name in ((b"?\r", "a-twin"), (b"R\r", "line-9600-8N1-unit")):
        found = identify([Heard(data=SAMPLES["line-9600-8N1-unit"], request=request)], profiles)
        assert (found.verdict, best(found).format) == (FormatVerdict.CLEAR, name)


def test_a_format_that_is_published_goes_before_one_that_is_inferred() -> None:
    twin = replace(PROFILES["line-9600-8N1-unit"], name="a-twin", experimental=True)
    found = told(SAMPLES["line-9600-8N1-unit"] * 2, profiles=[*LINES, twin])
    assert (found.verdict, best(found).format) == (FormatVerdict.CLEAR, "line-9600-8N1-unit")
    assert found.alike == ("a-twin",)
    assert any("a-twin would" in sentence for sentence in best(found).evidence)


def test_what_lost_is_listed_with_its_reasons() -> None:
    found = told(SAMPLES["line-1200-8N2-padded"] * 2)
    (other,) = found.runners_up
    assert (found.verdict, other.format) == (FormatVerdict.CLEAR, "text-input")
    assert other.evidence[0] == "2 readings, 100 % of the bytes explained"
    assert found.alike == ("text-input",)
    assert "reads all of it as text-input would" in " ".join(best(found).evidence)
