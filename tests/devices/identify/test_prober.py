"""The prober hears every format at its own settings, asks only if it must, and sends no harm."""

from __future__ import annotations

from dataclasses import replace

import pytest
from bridge_lines import line as bridge_line
from identify_bench import ON_SERIAL, PROFILES, SAMPLES, asked, best, bridged, vectors
from scripted import ScriptedTransport, Step
from uart_bench import UartGauge, heard_bytes, sent_bits

from gaugelink.devices.contract import Port
from gaugelink.devices.identify.prober import HARMLESS_REQUESTS, Patience, plan_visits, probe
from gaugelink.devices.identify.verdict import (
    NOTHING,
    Ask,
    FormatVerdict,
    Identification,
    Said,
    parse_shown,
)
from gaugelink.devices.profiles.profile import PortSettings, Profile, as_opened
from gaugelink.errors import GaugeDisconnected, GaugeTimeout, GaugeUnavailable, Unavailable
from gaugelink.units import LengthUnit

# Of a gauge of seven data bits the request carries its parity.
SENT = HARMLESS_REQUESTS - {b"?\r"} | {b"?\x8d"}
NAMES = sorted(SAMPLES)
ASKED = [name for name in NAMES if PROFILES[name].request]


def gauge_of(name: str, **changes: object) -> UartGauge:
    profile = PROFILES[name]
    return UartGauge(port=profile.port, says=lambda n: SAMPLES[name], **changes)  # type: ignore[arg-type]


def test_the_line_of_a_uart_bench_is_heard_only_as_it_is_sent() -> None:
    """Checked by hand: 0x55 at 8N1 is a square wave; an even parity bit, then two stop bits."""
    assert sent_bits(b"\x55", PortSettings()) == [0, 1, 0, 1, 0, 1, 0, 1, 0, 1]
    assert sent_bits(b"+", PROFILES["line-4800-7E2-plain"].port)[8:] == [0, 1, 1]
    levels = sent_bits(b"+1", PROFILES["line-4800-7E2-plain"].port)
    assert heard_bytes(levels, 4800, PROFILES["line-4800-7E2-plain"].port) == b"+1"
    assert heard_bytes(levels, 4800, PortSettings(baud=4800)) == b"+\xb1"
    assert heard_bytes(levels, 4800, PortSettings(baud=9600)) not in (b"+1", b"+\xb1")


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("every_s", [0.25, 1.3], ids=["stream", "button"])
def test_a_gauge_that_sends_by_itself_is_identified_and_never_asked(
    name: str, every_s: float
) -> None:
    gauge = gauge_of(name, every_s=every_s)
    found = probe(gauge.plug, ON_SERIAL)
    assert best(found).format == name
    assert (found.verdict is FormatVerdict.CLEAR) is ("unit" not in best(found).options)
    assert not {"baud", "check_parity"} & best(found).options.keys()
    assert gauge.received == []
    assert gauge.open_now == 0
    is_stream = every_s < 1.0 and str(PROFILES[name].sends) != "stream"
    assert (best(found).options.get("sends") == "stream") is is_stream


@pytest.mark.parametrize("name", ASKED)
@pytest.mark.parametrize("echoes", [False, True])
def test_a_silent_gauge_is_asked_and_answers(name: str, echoes: bool) -> None:
    profile = PROFILES[name]
    gauge = gauge_of(name, request=profile.request, echoes=echoes)
    found = probe(gauge.plug, ON_SERIAL)
    assert best(found).format == name
    assert gauge.received[-1] == as_opened(profile).request
    assert any(f"answers the read request {profile.request!r}" in s for s in best(found).evidence)
    assert set(gauge.received) <= SENT


def test_a_gauge_that_says_nothing_is_tried_with_every_setting_and_only_harmless_requests() -> None:
    gauge = UartGauge(port=PortSettings(), says=lambda n: b"")
    told: list[str] = []
    found = probe(gauge.plug, ON_SERIAL, tell=told.append)
    assert (found.verdict, asked(found)) == (FormatVerdict.NOTHING_HEARD, Ask.GAUGE)
    tried = [(s.baud, s.data_bits, str(s.parity)) for s in gauge.opened]
    assert tried == 2 * [
        (9600, 8, "N"),
        (1200, 8, "N"),
        (2400, 8, "N"),
        (4800, 8, "N"),
        (115200, 8, "N"),
        (19200, 8, "N"),
        (38400, 8, "N"),
    ]
    assert set(gauge.received) == SENT
    assert gauge.open_now == 0
    assert told[0] == "listening at 9600 baud 8N1; press the data button of the gauge now and then"


def test_every_shipped_request_is_harmless_and_no_other_is_sent() -> None:
    shipped = {profile.request for profile in PROFILES.values()} - {None}
    assert shipped == HARMLESS_REQUESTS
    zeroing = replace(PROFILES["line-9600-8N1-unit"], name="mine", request=b"C\r")
    (visit,) = plan_visits([zeroing], settings_matter=True)
    assert visit.requests == ()


def test_settings_that_hear_the_same_are_one_visit() -> None:
    twice = [
        replace(PROFILES["line-9600-8N1-unit"], port=PortSettings(stop_bits=n)) for n in (1, 2)
    ]
    assert len(plan_visits(twice, settings_matter=True)) == 1
    (visit,) = plan_visits(ON_SERIAL, settings_matter=False)
    assert visit.settings is None
    assert {request.data for request in visit.requests} == HARMLESS_REQUESTS


def test_the_port_of_a_bridge_that_was_named_is_the_one_that_is_asked() -> None:
    (visit,) = plan_visits([PROFILES["bcd52"]], settings_matter=True, bridge_port=3)
    assert [request.data for request in visit.requests] == [b"?3\r"]
    assert visit.requests[0].answer_s >= 2.2  # that long a bridge waits for its gauge


SLOW = Patience(first_s=1.0, hear_s=1.0, quiet_s=0.5, rounds=1)
UNIT = [PROFILES["line-9600-8N1-unit"]]


def run(
    transport: ScriptedTransport,
    profiles: list[Profile],
    patience: Patience = SLOW,
    said: Said = NOTHING,
) -> Identification:
    with transport:
        return probe(
            lambda profile: transport.port,
            profiles,
            settings_matter=False,
            patience=patience,
            said=said,
        )


def test_what_comes_in_pieces_is_joined() -> None:
    steps: list[Step] = [(None, b"+  2.1"), (None, b"380, "), (None, b"MM\r"), (None, b"\n")]
    found = run(ScriptedTransport(steps), UNIT)
    assert (found.verdict, found.n_bytes, found.sample) == (
        FormatVerdict.CLEAR,
        15,
        b"+  2.1380, MM\r\n",
    )


def test_an_echo_is_no_answer() -> None:
    found = run(ScriptedTransport([(None, b""), (b"R\r", b"R\r")]), UNIT)
    assert (found.verdict, found.n_bytes) == (FormatVerdict.NOTHING_HEARD, 0)


def test_after_garbage_the_gauge_is_not_asked() -> None:
    transport = ScriptedTransport([(None, b"\xff\x00\xff")])
    assert run(transport, UNIT).verdict is FormatVerdict.UNKNOWN
    assert transport.written == []


def test_a_short_line_is_not_enough_and_listening_goes_on() -> None:
    steps: list[Step] = [(None, b"1.5 mm\r"), (None, b""), (None, b"1.6 mm\r")]
    found = run(ScriptedTransport(steps), [PROFILES["text-input"]], replace(SLOW, rounds=5))
    assert found.verdict is FormatVerdict.CLEAR
    assert best(found).examples == ("1.5 mm", "1.6 mm")


def test_what_was_said_before_the_link_was_lost_counts() -> None:
    lost = GaugeDisconnected("gone")
    found = run(ScriptedTransport([(None, SAMPLES["line-9600-8N1-unit"]), (None, lost)]), UNIT)
    assert found.verdict is FormatVerdict.CLEAR
    with pytest.raises(GaugeDisconnected):
        run(ScriptedTransport([(None, lost)]), UNIT)


def test_an_open_question_ends_the_listening_and_its_answer_too() -> None:
    profiles = [PROFILES["line-4800-7E2-plain"]]
    more = replace(SLOW, rounds=9)
    found = run(ScriptedTransport([(None, b"+012.3456\r")]), profiles, more)
    assert asked(found) is Ask.UNIT
    said = Said(shown=parse_shown("12.3456 in"))
    found = run(ScriptedTransport([(None, b"+012.3456\r")]), profiles, more, said=said)
    assert (found.verdict, best(found).options) == (FormatVerdict.CLEAR, {"unit": "in"})


def test_patience_has_an_end() -> None:
    gauge = UartGauge(port=PortSettings(), says=lambda n: b"")
    probe(
        gauge.plug,
        [PROFILES["text-input"]],
        patience=Patience(first_s=1.0, rounds=100, total_s=7.5),
    )
    assert gauge.clock.now_s() == pytest.approx(7.5)
    assert len(gauge.opened) == 8


def test_a_gauge_is_not_asked_when_time_is_over() -> None:
    gauge = UartGauge(port=PortSettings(), says=lambda n: b"")
    probe(gauge.plug, ON_SERIAL, settings_matter=False, patience=Patience(total_s=3.5))
    assert gauge.clock.now_s() == pytest.approx(3.5)
    assert len(gauge.received) == 2


def test_a_stream_is_not_listened_to_for_ever() -> None:
    gauge = UartGauge(port=PortSettings(), says=lambda n: b"?" * 30, every_s=0.1)
    found = probe(gauge.plug, UNIT, patience=Patience(rounds=1, hear_s=3.0))
    assert found.verdict is FormatVerdict.UNKNOWN
    assert gauge.clock.now_s() < 3.5


def test_a_setting_that_the_port_refuses_is_passed_over() -> None:
    refused = GaugeUnavailable("cannot", reason=Unavailable.PLATFORM)
    transport = ScriptedTransport([(None, SAMPLES["line-9600-7E2-multi"])], opens=[refused])
    profiles = [PROFILES["line-2400-7N2-modes"], PROFILES["line-9600-7E2-multi"]]
    found = probe(lambda profile: transport.port, profiles, patience=SLOW)
    assert best(found).format == "line-9600-7E2-multi"


@pytest.mark.parametrize("reason", [Unavailable.BUSY, Unavailable.PERMISSION])
def test_a_port_that_cannot_be_opened_is_an_error(reason: Unavailable) -> None:
    transport = ScriptedTransport([], opens=[GaugeUnavailable("no", reason=reason)])
    with pytest.raises(GaugeUnavailable):
        probe(lambda profile: transport.port, UNIT, patience=SLOW)


def test_a_port_that_takes_no_request_is_a_gauge_without_an_answer() -> None:
    class Deaf(UartGauge):
        def plug(self, profile: Profile) -> Port:
            port = super().plug(profile)
            port.transport.write = deaf  # type: ignore[method-assign]
            return port

    def deaf(data: bytes) -> None:
        raise GaugeTimeout("takes nothing", timeout_s=1.0)

    gauge = Deaf(port=PortSettings(), says=lambda n: b"")
    assert probe(gauge.plug, UNIT, patience=SLOW).verdict is FormatVerdict.NOTHING_HEARD
    assert gauge.open_now == 0


def test_a_port_is_closed_when_it_is_lost() -> None:
    gauge = UartGauge(port=PortSettings(), says=lambda n: 1 // 0, every_s=0.1)  # type: ignore[arg-type, return-value]
    with pytest.raises(ZeroDivisionError):
        probe(gauge.plug, UNIT)
    assert gauge.open_now == 0


def test_a_bridge_whose_gauge_is_silent_is_asked_for_it() -> None:
    answer = next(bridged(v, first=9) for v in vectors("bits.json") if v["id"] == "A2")
    steps: list[Step] = [(None, bridge_line(0, "HB")), (None, b""), (b"?0\r", answer)]
    found = run(ScriptedTransport(steps), [PROFILES["bcd52"]])
    assert (found.verdict, best(found).format, best(found).scheme) == (
        FormatVerdict.CLEAR,
        "bcd52",
        "bridge",
    )
    assert any("answers the read request" in sentence for sentence in best(found).evidence)


def test_a_bridge_without_a_gauge_is_said_to_be_one() -> None:
    steps: list[Step] = [
        (None, bridge_line(0, "HB")),
        (None, b""),
        (b"?0\r", bridge_line(1, "N52")),
    ]
    found = run(ScriptedTransport(steps), [PROFILES["bcd52"]])
    assert (found.verdict, asked(found)) == (FormatVerdict.NOTHING_HEARD, Ask.GAUGE)
    assert found.question is not None
    assert "The bridge answers" in found.question.text


def test_a_bridge_is_found_behind_a_serial_port_at_its_own_speed() -> None:
    b4 = next(v for v in vectors("bits.json") if v["id"] == "B4")
    gauge = UartGauge(
        port=PROFILES["signmag24"].port,
        says=lambda n: bridged(b4, first=2 * n),
        every_s=0.2,
    )
    found = probe(gauge.plug, ON_SERIAL)
    assert (found.verdict, best(found).format, best(found).scheme) == (
        FormatVerdict.CLEAR,
        "signmag24",
        "bridge",
    )
    assert best(found).options == {}
    assert gauge.received == []


@pytest.mark.parametrize("name", ["line-4800-7E2-plain", "line-2400-7N2-modes"])
def test_a_gauge_set_to_8n1_is_not_taken_for_one_of_seven_bits(name: str) -> None:
    gauge = gauge_of(name, every_s=1.3)
    gauge.port = PortSettings(baud=PROFILES[name].port.baud)
    found = probe(gauge.plug, ON_SERIAL, said=Said(unit=LengthUnit.MM))
    assert (found.verdict, best(found).format) == (FormatVerdict.CLEAR, name)
    assert (best(found).options["data_bits"], best(found).options["parity"]) == ("8", "N")


@pytest.mark.parametrize("baud", [19200, 38400])
def test_a_gauge_at_a_usual_speed_that_no_format_has_is_found(baud: int) -> None:
    gauge = gauge_of("line-9600-8N1-unit", every_s=1.3)
    gauge.port = PortSettings(baud=baud)
    found = probe(gauge.plug, ON_SERIAL)
    assert (found.verdict, best(found).format) == (FormatVerdict.CLEAR, "line-9600-8N1-unit")
    assert best(found).options["baud"] == str(baud)


@pytest.mark.parametrize("every_s", [3.5, 5.0])
@pytest.mark.parametrize("name", ["line-1200-8N2-padded", "line-9600-8N1-unit"])
def test_a_gauge_that_is_pressed_slowly_is_found_at_its_speed(name: str, every_s: float) -> None:
    found = probe(gauge_of(name, every_s=every_s).plug, ON_SERIAL)
    assert (found.verdict, best(found).format) == (FormatVerdict.CLEAR, name)


def test_a_low_cost_caliper_behind_a_bridge_on_a_real_port_is_asked_for_its_unit_key() -> None:
    b1 = next(v for v in vectors("bits.json") if v["id"] == "B1")
    gauge = UartGauge(
        port=PROFILES["signmag24"].port, says=lambda n: bridged(b1, first=2 * n), every_s=0.2
    )
    found = probe(gauge.plug, ON_SERIAL)
    assert (best(found).format, asked(found)) == ("signmag24", Ask.UNIT_KEY)
