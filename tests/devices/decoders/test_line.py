"""Lines of text become the events they should, however the bytes are cut."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from gaugelink.devices.contract import Decoder
from gaugelink.devices.decoders import make_decoder
from gaugelink.devices.decoders.line import (
    REMEMBERED,
    DecimalMark,
    ErrorPattern,
    LineDecoder,
    LineFormat,
    Parity,
    ReadingsPerLine,
)
from gaugelink.devices.profiles.profile import find_profile
from gaugelink.model import Fault, FaultKind, Flag, Frame, Ident, WireEvent
from gaugelink.units import LengthUnit

FIXTURE = Path(__file__).parents[3] / "fixtures" / "wire" / "lines.json"
DATA = json.loads(FIXTURE.read_text(encoding="utf-8"))
VECTORS: list[dict[str, Any]] = DATA["vectors"]
ENDED = [v for v in VECTORS if bytes.fromhex(v["raw"]).endswith((b"\r", b"\n"))]
SIMPLE = LineFormat(pattern=re.compile(r"(?P<sign>[-+]?)(?P<value>[\d.,]+)"), line_end=(b"\r",))

every_vector = pytest.mark.parametrize("vector", VECTORS, ids=lambda v: v["id"])


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A user's folder with the profiles that only tests need."""
    path = tmp_path_factory.mktemp("formats")
    for name, lines in DATA["test_profiles"].items():
        (path / f"{name}.toml").write_text("\n".join(lines), encoding="utf-8")
    return path


def decoder_for(vector: dict[str, Any], folder: Path) -> Decoder:
    profile = find_profile(vector["profile"], [folder])
    changes = dict(vector.get("line", {}))
    if "check_parity" in changes:
        changes["check_parity"] = Parity(changes["check_parity"])
    unit = LengthUnit(vector["unit"]) if "unit" in vector else None
    return make_decoder(replace(profile, wire=replace(profile.line, **changes)), unit=unit)


def play(decoder: Decoder, chunks: Iterable[bytes]) -> list[WireEvent]:
    events = [event for chunk in chunks for event in decoder.feed(chunk)]
    return events + decoder.flush()


def in_short(event: WireEvent) -> dict[str, Any]:
    """Write an event as the fixture does; the text of a fault is compared apart."""
    if isinstance(event, Frame):
        flags = sorted(flag.value for flag in event.flags)
        unit = event.unit.value if event.unit else None
        value = {"value": str(event.value), "unit": unit}
        return {"event": "frame", **value, "channel": event.channel, "flags": flags}
    if isinstance(event, Ident):
        return {"event": "ident", "text": event.text}
    return {"event": "fault", "kind": event.kind.value}


@every_vector
def test_a_vector_fed_whole_gives_its_events(vector: dict[str, Any], folder: Path) -> None:
    raw = bytes.fromhex(vector["raw"])
    assert repr(raw) in (f"b'{vector['text']}'", f'b"{vector["text"]}"')
    events = play(decoder_for(vector, folder), [raw])
    expected = [dict(event) for event in vector["events"]]
    says = [one.pop("says", "") for one in expected]
    for one in expected:
        one.get("flags", []).sort()
    assert [in_short(event) for event in events] == expected
    for event, text in zip(events, says, strict=True):
        if isinstance(event, Fault):
            assert text in event.reason


@every_vector
def test_a_vector_cut_anywhere_gives_the_same_events(vector: dict[str, Any], folder: Path) -> None:
    raw = bytes.fromhex(vector["raw"])
    whole = play(decoder_for(vector, folder), [raw])
    assert play(decoder_for(vector, folder), [bytes([byte]) for byte in raw]) == whole
    for cut in range(1, len(raw)):
        assert play(decoder_for(vector, folder), [raw[:cut], raw[cut:]]) == whole, cut


@pytest.mark.parametrize("vector", ENDED, ids=lambda v: v["id"])
def test_garbage_between_lines_is_one_fault_and_hurts_no_neighbour(
    vector: dict[str, Any], folder: Path
) -> None:
    raw = bytes.fromhex(vector["raw"])
    garbage = b"#~\x00 1.2.3" + (b"\r\n" if raw.endswith(b"\r\n") else raw[-1:])
    decoder = decoder_for(vector, folder)
    alone = decoder.feed(raw)
    before, fault, *after = decoder.feed(b""), *decoder.feed(garbage), *decoder.feed(raw)
    assert before == []
    assert isinstance(fault, Fault)
    assert fault.kind in (FaultKind.UNPARSED, FaultKind.PARITY)
    assert garbage.startswith(fault.raw)
    assert after == alone


def test_endless_garbage_is_one_fault_and_memory_stays_bounded() -> None:
    decoder = LineDecoder(replace(SIMPLE, line_end=(b"\r\n",), max_line_bytes=20))
    events: list[WireEvent] = []
    for _ in range(2000):
        events += decoder.feed(b"\x7fgarbage")
        assert len(decoder._pending) <= 21
    (fault,) = events
    assert isinstance(fault, Fault)
    assert fault.kind is FaultKind.OVERLONG
    assert fault.raw == b"\x7fgarbage\x7fgarbage\x7fgar"
    assert decoder.feed(b"\r") == []
    (frame,) = decoder.feed(b"\n1.25\r\n")
    assert isinstance(frame, Frame)
    assert frame.value == Decimal("1.25")


def test_a_line_that_comes_again_says_the_same_again() -> None:
    decoder = LineDecoder(SIMPLE)
    raw = b"1.25\rnoise\r"
    first = decoder.feed(raw)
    assert [type(event) for event in first] == [Frame, Fault]
    kept = list(first)
    first.clear()
    assert decoder.feed(raw) == kept
    assert decoder.feed(b"1.26\r1.25\r")[1] == kept[0]


def test_bytes_that_come_again_leave_the_same_rest_again() -> None:
    decoder = LineDecoder(SIMPLE)
    for tail in (b"6\r", b"7\r"):
        assert [event.value for event in decoder.feed(b"1.25\r1.2")] == [Decimal("1.25")]
        (second,) = decoder.feed(tail)
        assert second.raw == b"1.2" + tail
    overlong = b"1" * (SIMPLE.max_line_bytes + 5)
    for _ in range(2):
        assert [event.kind for event in decoder.feed(overlong)] == [FaultKind.OVERLONG]
        assert decoder.feed(b"1.25\r") == []  # the tail of that line


def test_memory_stays_bounded_however_many_lines_come() -> None:
    decoder = LineDecoder(SIMPLE)
    (first,) = decoder.feed(b"0\r")
    for n in range(1, REMEMBERED):
        decoder.feed(b"%d\r" % n)
    (again,) = decoder.feed(b"0\r")
    assert again is first  # not judged twice
    for n in range(1, REMEMBERED + 1):
        decoder.feed(b"%d\r" % n)
    (afresh,) = decoder.feed(b"0\r")
    assert afresh == first
    assert afresh is not first


@pytest.mark.parametrize("length", range(17, 25))
def test_a_line_at_the_limit_is_judged_alike_in_every_split(length: int) -> None:
    fmt = replace(SIMPLE, line_end=(b"\r\n",), max_line_bytes=20)
    raw = b"1" * length + b"\r\n2.5\r\n"
    whole = play(LineDecoder(fmt), [raw])
    assert [isinstance(event, Frame) for event in whole] == [length <= 20, True]
    for cut in range(1, len(raw)):
        assert play(LineDecoder(fmt), [raw[:cut], raw[cut:]]) == whole
    assert play(LineDecoder(fmt), [raw[i : i + 1] for i in range(len(raw))]) == whole


def test_silence_ends_an_overlong_line_too() -> None:
    decoder = LineDecoder(replace(SIMPLE, max_line_bytes=4))
    assert len(decoder.feed(b"123456789")) == 1
    assert decoder.flush() == []
    (frame,) = decoder.feed(b"1.5\r")
    assert isinstance(frame, Frame)


def test_half_a_line_end_is_reported_when_the_line_falls_silent() -> None:
    decoder = LineDecoder(replace(SIMPLE, line_end=(b"\r\n",)))
    assert decoder.feed(b"1.5\r") == []
    (fault,) = decoder.flush()
    assert fault == Fault(
        kind=FaultKind.INCOMPLETE,
        reason=r"the line stopped before its end: b'1.5\r'",
        raw=b"1.5\r",
    )
    assert decoder.flush() == []


def test_reset_forgets_a_partial_line() -> None:
    decoder = LineDecoder(SIMPLE)
    decoder.feed(b"12")
    decoder.reset()
    (frame,) = decoder.feed(b"3.5\r")
    assert isinstance(frame, Frame)
    assert frame.raw == b"3.5\r"


def test_cr_lf_cut_in_two_makes_no_empty_line() -> None:
    decoder = make_decoder(find_profile("text-input"))
    assert len(decoder.feed(b"1.5\r")) == 1
    assert decoder.feed(b"\n") == []
    assert decoder.feed(b"\r\n\r\n") == []
    assert decoder.flush() == []


@pytest.mark.parametrize(
    ("wire", "raws"),
    [
        (b"?\r1.5\r", [b"1.5\r"]),  # the echo is a line of its own
        (b"?\r?\r1.5\r", [b"1.5\r"]),
        (b"?\r", []),  # asked, and no answer
        (b"??\r", [b"??\r"]),  # no exact echo
    ],
)
def test_an_exact_echo_of_the_request_is_no_event(wire: bytes, raws: list[bytes]) -> None:
    events = play(LineDecoder(replace(SIMPLE, echo=b"?\r")), [wire])
    assert [event.raw for event in events] == raws


def test_an_echo_before_the_value_stays_in_the_raw_bytes() -> None:
    fmt = replace(SIMPLE, line_end=(b"\r\n",), echo=b"R\r")
    (frame,) = LineDecoder(fmt).feed(b"R\r1.5\r\n")
    assert isinstance(frame, Frame)
    assert (frame.value, frame.raw) == (Decimal("1.5"), b"R\r1.5\r\n")
    decoder = LineDecoder(fmt)
    decoder.feed(b"R\r")
    assert decoder.flush() == []


def test_over_range_is_an_error_only_where_the_format_says_so() -> None:
    line = b"999999.99\r"
    (frame,) = LineDecoder(SIMPLE).feed(line)
    assert isinstance(frame, Frame)
    over = ErrorPattern(pattern=re.compile(r"9+\.9+"), text="over range")
    (fault,) = LineDecoder(replace(SIMPLE, error_patterns=(over,))).feed(line)
    assert fault == Fault(kind=FaultKind.GAUGE_ERROR, reason="over range", raw=line)


def test_a_stated_step_goes_with_its_unit_only() -> None:
    steps = {LengthUnit.INCH: Decimal("0.0005")}
    fmt = replace(SIMPLE, unit_default=LengthUnit.INCH, step=steps)
    (inch,) = LineDecoder(fmt).feed(b"0.4850\r")
    (mm,) = LineDecoder(replace(fmt, unit_default=LengthUnit.MM)).feed(b"12.32\r")
    assert isinstance(inch, Frame)
    assert isinstance(mm, Frame)
    assert (inch.step, mm.step) == (Decimal("0.0005"), None)


@pytest.mark.parametrize(
    ("mark", "line", "value"),
    [
        (DecimalMark.POINT, b"1.50\r", "1.50"),
        (DecimalMark.POINT, b"1,50\r", None),
        (DecimalMark.COMMA, b"1,50\r", "1.50"),
        (DecimalMark.COMMA, b"1.50\r", None),
        (DecimalMark.BOTH, b"1,50\r", "1.50"),
        (DecimalMark.BOTH, b"1,234.5\r", "1234.5"),
        (DecimalMark.BOTH, b"1.2.3\r", None),
        (DecimalMark.POINT, b"12.\r", None),
        (DecimalMark.POINT, b".\r", None),
        (DecimalMark.POINT, b".05\r", "0.05"),
    ],
)
def test_a_number_has_one_mark_and_the_right_one(
    mark: DecimalMark, line: bytes, value: str | None
) -> None:
    (event,) = LineDecoder(replace(SIMPLE, decimal=mark)).feed(line)
    assert event.raw == line
    if isinstance(event, Frame):
        assert str(event.value) == value
    else:
        assert (value, getattr(event, "kind", None)) == (None, FaultKind.UNPARSED)


@pytest.mark.parametrize(
    ("line", "says"),
    [(b"1.5cm\r", "unknown unit 'cm'"), (b"1.5mm!\r", "unknown tolerance mark '!'")],
)
def test_a_text_that_the_format_does_not_list_is_a_fault(line: bytes, says: str) -> None:
    pattern = re.compile(r"(?P<value>[\d.]+)(?P<unit>[a-z]*)(?P<judge>[!<]?)")
    fmt = replace(SIMPLE, pattern=pattern, judge={"<": Flag.BELOW_TOLERANCE})
    (fault,) = LineDecoder(fmt).feed(line)
    assert isinstance(fault, Fault)
    assert fault.kind is FaultKind.UNPARSED
    assert says in fault.reason


def test_the_unit_in_the_line_wins_over_the_users() -> None:
    decoder = make_decoder(find_profile("text-input"), unit=LengthUnit.MM)
    units = [frame.unit for frame in decoder.feed(b"1.5\n1.5 in\n") if isinstance(frame, Frame)]
    assert units == [LengthUnit.MM, LengthUnit.INCH]


def test_two_readings_on_a_line_share_its_bytes() -> None:
    fmt = replace(find_profile("line-two-channel").line, echo=b"R\r")
    events = LineDecoder(fmt).feed(b"R\rA-12.345 B+67.891\r\n")
    assert [event.raw for event in events] == [b"R\rA-12.345 ", b"B+67.891\r\n"]


def test_a_pattern_that_can_match_nothing_does_not_loop() -> None:
    pattern = re.compile(r"(?P<channel>A?)(?P<value>\d*)")
    fmt = replace(SIMPLE, pattern=pattern, readings_per_line=ReadingsPerLine.MANY)
    (fault,) = LineDecoder(fmt).feed(b"A1x\r")
    assert isinstance(fault, Fault)
    assert fault.kind is FaultKind.UNPARSED


def test_more_digits_than_a_decimal_context_holds_are_kept() -> None:
    digits = "-1." + "1234567890" * 4
    (frame,) = LineDecoder(SIMPLE).feed(digits.encode() + b"\r")
    assert isinstance(frame, Frame)
    assert str(frame.value) == digits


@pytest.mark.parametrize(
    ("parity", "good", "bad"),
    [(Parity.EVEN, b"\xb1\x8d", b"\x31\x8d"), (Parity.ODD, b"1\r", b"1\x8d")],
)
def test_parity_is_checked_to_the_last_byte_of_the_line(
    parity: Parity, good: bytes, bad: bytes
) -> None:
    fmt = replace(SIMPLE, check_parity=parity)
    (frame,) = LineDecoder(fmt).feed(good)
    assert isinstance(frame, Frame)
    assert frame.raw == good
    (fault,) = LineDecoder(fmt).feed(bad)
    assert isinstance(fault, Fault)
    assert fault.kind is FaultKind.PARITY
    assert f"byte {next(i for i in range(2) if good[i] != bad[i])} " in fault.reason


def test_a_line_of_another_length_counts_when_it_comes_again() -> None:
    decoder = LineDecoder(replace(SIMPLE, steady_length=True))

    def said(line: bytes) -> str:
        (event,) = decoder.feed(line)
        decoder.flush()  # a silence between presses forgets nothing
        return str(event.value) if isinstance(event, Frame) else event.reason  # type: ignore[union-attr]

    assert [said(b"+11.47\r"), said(b"+11.48\r")] == ["11.47", "11.48"]
    assert said(b"+1.47\r") == "6 bytes, not 7 as before; the same length once more counts"
    assert [said(b"+11.47\r"), said(b"+9.52\r")][0] == "11.47"
    assert [said(b"+9.52\r"), said(b"+9.53\r")] == ["9.52", "9.53"]


@pytest.mark.parametrize(
    ("name", "whole", "lost"),
    [
        ("line-id-comma", b"GN01,+0016.2345\r\n", b"GN01,+016.2345\r\n"),
        ("line-9600-7E2-multi", b"1 +012.34 mm\r", b"1 +12.34 mm\r"),
    ],
)
def test_a_format_of_fixed_length_takes_no_other(name: str, whole: bytes, lost: bytes) -> None:
    decoder = make_decoder(find_profile(name), unit=LengthUnit.MM)
    assert [type(event) for event in decoder.feed(whole)] == [Frame]
    assert [type(event) for event in decoder.feed(lost)] == [Fault]


@pytest.mark.parametrize(
    ("typed", "value"),
    [
        (b"1.234,5", "1234.5"),
        (b"1,234.5", "1234.5"),
        (b"5,", "5"),
        (b"12.", "12"),
        (b'0.433"', "0.433"),
        (b"1,234", "1.234"),  # one and a bit
        (b"1.23,5", None),
        (b"1.234.567", None),
        (b"5,,", None),
    ],
)
def test_numbers_as_people_type_them(typed: bytes, value: str | None) -> None:
    (event,) = make_decoder(find_profile("text-input"), unit=LengthUnit.MM).feed(typed + b"\n")
    assert (str(event.value) if isinstance(event, Frame) else None) == value


def test_a_mark_of_a_low_battery_is_a_flag_of_the_reading() -> None:
    pattern = re.compile(r"(?P<value>[\d.]+)(?P<battery>B?)")
    decoder = LineDecoder(replace(SIMPLE, pattern=pattern, unit_default=LengthUnit.MM))
    full, low = decoder.feed(b"11.47\r11.47B\r")
    assert isinstance(full, Frame)
    assert isinstance(low, Frame)
    assert (full.flags, low.flags) == (frozenset(), {Flag.LOW_BATTERY})


def test_the_echo_of_a_request_before_a_number_with_its_unit_is_no_event() -> None:
    decoder = make_decoder(find_profile("line-9600-8N1-unit"))
    (event,) = decoder.feed(b"R\r+  2.1380, MM\r\n")
    assert isinstance(event, Frame)
    assert str(event.value) == "2.1380"
