"""The gauge class over a script: readings, units, broken lines, lost links."""

from __future__ import annotations

import logging
from dataclasses import replace

import pytest
from gauge_rig import INFO, bodies_of, events_of, scripted_gauge
from hid_bench import down, keys_decoder, stream, text_input

from gaugelink.devices.contract import Port, VirtualClock
from gaugelink.devices.decoders import make_decoder
from gaugelink.devices.gauge import Gauge
from gaugelink.devices.profiles.profile import find_profile
from gaugelink.devices.recordings.recording import EntryKind, RecordedEntry
from gaugelink.devices.recordings.replay import ReplayTransport
from gaugelink.errors import (
    DeviceError,
    GaugeDisconnected,
    GaugeNotFound,
    GaugeUnavailable,
    SeveralGaugesFit,
    Unavailable,
)
from gaugelink.model import (
    Fault,
    FaultKind,
    Flag,
    GaugeEvent,
    LinkChange,
    Reading,
    UnitSwitch,
    WireEvent,
)
from gaugelink.units import LengthUnit

MM, INCH = LengthUnit.MM, LengthUnit.INCH
LINE = b"+   11.52, MM\r\n"
INCH_LINE = b"+  0.4535, IN\r\n"


def test_a_line_becomes_a_stamped_reading_in_mm() -> None:
    gauge, script = scripted_gauge([(None, b""), (None, LINE)])
    with script, gauge:
        assert gauge.poll(0.25) == ()
        (event,) = gauge.poll(0.25)
    assert (event.gauge_id, event.elapsed_s) == ("gauge-1", 0.25)
    assert event.body == Reading(
        value_mm=11.52, resolution_mm=0.01, displayed="11.52", unit=MM, raw=LINE[:-1]
    )


def test_inches_are_converted_with_their_step() -> None:
    gauge, script = scripted_gauge([(None, INCH_LINE)])
    with script, gauge:
        (reading,) = bodies_of(gauge, 1)
    assert isinstance(reading, Reading)
    assert reading.value_mm == 11.5189  # 0.4535 x 25.4, exact
    assert reading.resolution_mm == 0.0127  # inch displays mostly count in 0.0005
    assert (reading.displayed, reading.unit) == ("0.4535", INCH)


def test_a_negative_zero_is_zero_with_a_flag() -> None:
    gauge, script = scripted_gauge([(None, b"-    0.00, MM\r\n")])
    with script, gauge:
        (reading,) = bodies_of(gauge, 1)
    assert isinstance(reading, Reading)
    assert str(reading.value_mm) == "0.0"
    assert Flag.NEGATIVE_ZERO in reading.flags


def test_a_line_that_dribbles_in_is_one_reading() -> None:
    bytes_apart = [(None, LINE[at : at + 1]) for at in range(len(LINE))]
    pauses = [(None, b"")] * 3  # 0.375 s of quiet after each byte, still under the limit
    steps = [step for byte in bytes_apart for step in (byte, *pauses)]
    gauge, script = scripted_gauge(steps)
    with script, gauge:
        bodies = bodies_of(gauge, len(steps))
    assert [type(body) for body in bodies] == [Reading]


def test_a_line_that_stops_is_incomplete_and_the_next_is_whole() -> None:
    gauge, script = scripted_gauge([(None, b"+   11."), *[(None, b"")] * 4, (None, LINE)])
    with script, gauge:
        events = events_of(gauge, 6)
    fault, reading = (event.body for event in events)
    assert isinstance(fault, Fault)
    assert (fault.kind, fault.raw) == (FaultKind.INCOMPLETE, b"+   11.")
    assert events[0].elapsed_s == 0.5
    assert isinstance(reading, Reading)


@pytest.mark.parametrize("timeout_s", [0.125, 0.3, 10.0])
def test_half_a_line_is_not_joined_to_one_that_comes_much_later(timeout_s: float) -> None:
    entries = [
        RecordedEntry(t_s=0.0, kind=EntryKind.RECEIVED, data=b"+   11."),
        RecordedEntry(t_s=3.0, kind=EntryKind.RECEIVED, data=LINE),
    ]
    clock = VirtualClock()
    port = Port(transport=ReplayTransport(entries, address="replay:x", clock=clock), clock=clock)
    decoder = make_decoder(find_profile("line-9600-8N1-unit"))
    events: list[GaugeEvent] = []
    with Gauge(port=port, decoder=decoder, info=INFO) as gauge:
        while not gauge.ended:
            events += gauge.poll(timeout_s)
    assert [(event.elapsed_s, type(event.body)) for event in events] == [
        (0.5, Fault),
        (3.0, Reading),
    ]


def test_the_first_unit_seen_holds_for_the_job() -> None:
    gauge, script = scripted_gauge([(None, LINE), (None, INCH_LINE * 2), (None, LINE)])
    with script, gauge:
        bodies = bodies_of(gauge, 3)
        assert gauge.job_unit is MM
    switch = UnitSwitch(before=MM, now=INCH, raw=INCH_LINE[:-1])
    assert [type(body) for body in bodies] == [Reading, UnitSwitch, UnitSwitch, Reading]
    assert bodies[1:3] == [switch, switch]


def test_a_given_unit_holds_from_the_first_frame() -> None:
    gauge, script = scripted_gauge([(None, LINE), (None, INCH_LINE)], job_unit=INCH)
    with script, gauge:
        bodies = bodies_of(gauge, 2)
    assert [type(body) for body in bodies] == [UnitSwitch, Reading]


def test_a_number_without_any_unit_is_a_fault() -> None:
    gauge, script = scripted_gauge([(None, b"+11.52\r")], format="line-4800-7E2-plain")
    with script, gauge:
        (fault,) = bodies_of(gauge, 1)
        assert gauge.job_unit is None
    assert isinstance(fault, Fault)
    assert (fault.kind, fault.raw) == (FaultKind.NO_UNIT, b"+11.52\r")


def lost() -> GaugeDisconnected:
    return GaugeDisconnected("gauge-1 was unplugged.")


def test_a_lost_link_is_an_event_and_is_looked_for_twice_a_second() -> None:
    away = GaugeNotFound("Nothing is connected.")
    gauge, script = scripted_gauge(
        [(None, b"+   11."), (None, lost()), (None, LINE)], opens=[None, away, away, None]
    )
    with script, gauge:
        events = events_of(gauge, 18)
    kinds = [type(event.body) for event in events]
    assert kinds == [Fault, LinkChange, LinkChange, Reading]
    assert [event.body.connected for event in events if isinstance(event.body, LinkChange)] == [
        False,
        True,
    ]
    assert events[0].body == Fault(
        kind=FaultKind.INCOMPLETE,
        reason="the line stopped before its end: b'+   11.'",
        raw=b"+   11.",
    )
    assert [event.elapsed_s for event in events] == [0.0, 0.0, 1.5, 1.5]


def test_what_was_begun_before_a_loss_is_not_joined_to_what_comes_after() -> None:
    gauge, script = scripted_gauge([(None, b"+   11."), (None, lost()), (None, b"52, MM\r\n")])
    with script, gauge:
        bodies = bodies_of(gauge, 12)
    assert [type(body) for body in bodies] == [Fault, LinkChange, LinkChange, Fault]


class ForgetfulDecoder:
    """Counts how often it was told to forget."""

    def __init__(self) -> None:
        self.resets = 0

    def feed(self, data: bytes) -> list[WireEvent]:
        return []

    def flush(self) -> list[WireEvent]:
        return []

    def reset(self) -> None:
        self.resets += 1


def test_the_decoder_forgets_whenever_a_link_begins() -> None:
    _, script = scripted_gauge([(None, lost()), (None, LINE)])
    decoder = ForgetfulDecoder()
    gauge = Gauge(port=script.port, decoder=decoder, info=INFO)
    with script, gauge:
        assert decoder.resets == 1
        bodies_of(gauge, 8)
        assert decoder.resets == 2


def test_a_gauge_that_is_back_but_may_not_be_opened_yet_stays_lost() -> None:
    busy = GaugeUnavailable("in use", reason=Unavailable.BUSY)
    gauge, script = scripted_gauge([(None, lost())], opens=[None, busy, None])
    with script, gauge:
        bodies = bodies_of(gauge, 12)
    assert [body.connected for body in bodies if isinstance(body, LinkChange)] == [False, True]


AWAY = GaugeNotFound("usb-A is not plugged in.", hint="Plug it in.")
TWO = SeveralGaugesFit("2 ports answer to usb-A.", hint="Leave one.")
BUSY = GaugeUnavailable("usb-A is in use.", reason=Unavailable.BUSY, hint="Close the other.")


@pytest.mark.parametrize(
    ("looks", "told"),
    [
        ([AWAY, TWO, TWO, TWO, TWO], ["2 ports answer to usb-A. Leave one."]),
        ([BUSY, BUSY, BUSY], ["usb-A is in use. Close the other."]),
        ([TWO, TWO, AWAY, BUSY, BUSY], [f"{TWO} {TWO.hint}", f"{BUSY} {BUSY.hint}"]),
        ([AWAY, TWO, AWAY, BUSY, AWAY], []),  # gone before a second look
        ([AWAY, AWAY, AWAY], []),  # was told when it went
    ],
)
def test_what_keeps_a_gauge_from_being_taken_up_again_is_told_once(
    looks: list[DeviceError], told: list[str]
) -> None:
    gauge, script = scripted_gauge([(None, lost()), (None, LINE)], opens=[None, *looks, None])
    with script, gauge:
        bodies = bodies_of(gauge, 4 * len(looks) + 10)
    links = [body for body in bodies if isinstance(body, LinkChange)]
    assert [link.text for link in links] == [str(lost()), *told, "gauge-1 is back."]
    assert [link.connected for link in links] == [*[False] * (1 + len(told)), True]


def test_the_first_opening_raises() -> None:
    gauge, _ = scripted_gauge([], opens=[GaugeNotFound("Nothing is connected.")])
    with pytest.raises(GaugeNotFound):
        gauge.open()
    with pytest.raises(RuntimeError):
        gauge.poll(0.1)


def test_polling_a_closed_gauge_is_a_mistake_of_the_program() -> None:
    gauge, script = scripted_gauge([(None, LINE)])
    with gauge:
        gauge.poll(0.1)
    with pytest.raises(RuntimeError, match="open"):
        gauge.poll(0.1)
    assert script.ended
    gauge.close()


def test_the_end_comes_after_what_was_left_over() -> None:
    gauge, script = scripted_gauge([(None, LINE + b"+   1")])
    with script, gauge:
        assert [type(body) for body in bodies_of(gauge, 1)] == [Reading]
        assert not gauge.ended
        assert [type(body) for body in bodies_of(gauge, 1)] == [Fault]
        assert gauge.ended


def test_what_is_not_whole_when_nobody_listens_any_more_is_a_fault() -> None:
    gauge, script = scripted_gauge([(None, LINE + b"+   1"), (None, b"1.53, MM\r\n")])
    with script, gauge:
        assert [type(body) for body in bodies_of(gauge, 1)] == [Reading]
        (event,) = gauge.unfinished()
        assert isinstance(event.body, Fault)
        assert (event.body.kind, event.body.raw) == (FaultKind.INCOMPLETE, b"+   1")
        assert gauge.unfinished() == ()
        gauge.poll(0.1)


def test_a_number_that_only_silence_ends_is_none_when_it_was_not_waited_for() -> None:
    wire = stream([down(0x1E), down(), down(0x37), down(), down(0x22), down()])  # 1.5

    def typing() -> Gauge:
        entries = [RecordedEntry(t_s=0.0, kind=EntryKind.RECEIVED, data=wire)]
        clock = VirtualClock()
        port = Port(transport=ReplayTransport(entries, address="x", clock=clock), clock=clock)
        decoder = keys_decoder(replace(text_input(), unit_default=MM), ends_on_silence=True)
        return Gauge(port=port, decoder=decoder, info=INFO, job_unit=MM)

    with typing() as gauge:
        assert gauge.poll(0.1) == ()
        (event,) = gauge.unfinished()
    assert event.body == Fault(
        kind=FaultKind.INCOMPLETE,
        reason="stopped before 1.5 was certainly complete",
        raw=wire,
    )
    with typing() as gauge:
        assert [getattr(body, "displayed", "") for body in bodies_of(gauge, 2, 1.0)] == ["1.5"]


def test_raw_bytes_go_to_the_wire_log(caplog: pytest.LogCaptureFixture) -> None:
    gauge, script = scripted_gauge([(None, b"\xff\r\n")])
    with caplog.at_level(logging.DEBUG, logger="gaugelink.wire"), script, gauge:
        gauge.poll(0.1)
    assert r"gauge-1 received b'\xff\r\n'" in caplog.text
