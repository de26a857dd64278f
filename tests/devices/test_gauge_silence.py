"""Asking a gauge, and what its silence means; over a script, on a virtual clock."""

from __future__ import annotations

from gauge_rig import bodies_of, events_of, scripted_gauge

from gaugelink.devices.gauge import STREAM_QUIET_S, Requests
from gaugelink.errors import GaugeDisconnected, GaugeTimeout
from gaugelink.model import Fault, GaugeEventBody, LinkChange, Reading, Sends

LINE = b"+   11.52, MM\r\n"
QUIET = (None, b"")


def requests(sends: Sends, request: bytes | None = b"R\r") -> Requests:
    return Requests(request=request, sends=sends, reply_timeout_s=1.0, every_s=0.25)


def is_no_answer(body: GaugeEventBody) -> bool:
    return isinstance(body, Fault) and body.raw == b"" and "no answer" in body.reason


def test_a_button_gauge_may_be_silent_for_ever() -> None:
    gauge, script = scripted_gauge([QUIET] * 200, requests=requests(Sends.BUTTON))
    with script, gauge:
        assert bodies_of(gauge, 200) == []
        assert script.written == []


def test_a_button_gauge_is_asked_when_somebody_says_so() -> None:
    gauge, script = scripted_gauge([(b"R\r", LINE)], requests=requests(Sends.BUTTON))
    with script, gauge:
        assert gauge.ask()
        assert [type(body) for body in bodies_of(gauge, 1)] == [Reading]


def test_a_request_that_is_not_answered_is_one_event() -> None:
    steps = [(b"R\r", b""), *[QUIET] * 40]
    gauge, script = scripted_gauge(steps, requests=requests(Sends.BUTTON))
    with script, gauge:
        gauge.ask()
        events = events_of(gauge, 41)
    assert [is_no_answer(event.body) for event in events] == [True]
    assert events[0].elapsed_s == 1.0


def test_a_gauge_without_request_is_not_asked() -> None:
    gauge, script = scripted_gauge([], requests=requests(Sends.BUTTON, request=None))
    with script, gauge:
        assert not gauge.ask()


def test_a_polled_gauge_is_asked_again_and_again_but_not_too_fast() -> None:
    gauge, script = scripted_gauge([(b"R\r", LINE)] * 4, requests=requests(Sends.STREAM))
    with script, gauge:
        events = events_of(gauge, 7, timeout_s=5.0)
    assert len(script.written) == 4
    assert [event.elapsed_s for event in events] == [0.0, 0.25, 0.5, 0.75]


def test_a_polled_gauge_that_falls_silent_is_asked_on_and_reported_once() -> None:
    silent = [(b"R\r", b""), *[QUIET] * 7]
    steps = [*silent, *silent, *silent, (b"R\r", LINE), QUIET, QUIET, *silent]
    gauge, script = scripted_gauge(steps, requests=requests(Sends.STREAM))
    with script, gauge:
        bodies = bodies_of(gauge, len(steps))
    assert [is_no_answer(body) for body in bodies] == [True, False, True]
    assert isinstance(bodies[1], Reading)
    assert len(script.written) == 5


def test_a_free_running_gauge_that_falls_silent_is_reported_once() -> None:
    gauge, script = scripted_gauge(
        [(None, LINE), *[QUIET] * 60], requests=requests(Sends.STREAM, request=None)
    )
    with script, gauge:
        events = events_of(gauge, 61)
    assert isinstance(events[0].body, Reading)
    assert [is_no_answer(event.body) for event in events[1:]] == [True]
    assert events[1].elapsed_s == STREAM_QUIET_S


def test_a_port_that_takes_no_request_is_a_gauge_without_answer() -> None:
    class Blocked:
        def write(self, data: bytes) -> None:
            raise GaugeTimeout("does not take requests", timeout_s=1.0)

    asked = requests(Sends.BUTTON)
    assert not asked.send(Blocked(), 0.0)  # type: ignore[arg-type]
    assert not asked.is_late(0.9)
    assert asked.is_late(1.0)


def test_nothing_is_owed_over_a_lost_link() -> None:
    gone = GaugeDisconnected("gauge-1 was unplugged.")
    gauge, script = scripted_gauge(
        [(b"R\r", b""), (None, gone), *[QUIET] * 30], requests=requests(Sends.BUTTON)
    )
    with script, gauge:
        gauge.ask()
        bodies = bodies_of(gauge, 40)
        assert [type(body) for body in bodies] == [LinkChange, LinkChange]


def test_a_gauge_that_is_away_is_not_asked() -> None:
    gone = GaugeDisconnected("gauge-1 was unplugged.")
    gauge, script = scripted_gauge([(None, gone)], requests=requests(Sends.BUTTON))
    with script, gauge:
        gauge.poll(0.1)
        assert not gauge.ask()


def test_a_gauge_that_rests_while_nothing_moves_may_be_silent_as_long_as_its_profile_says() -> None:
    patient = Requests(sends=Sends.STREAM, idle_s=3.0)
    gauge, script = scripted_gauge([(None, LINE), *[QUIET] * 60], requests=patient)
    with script, gauge:
        reading, silence = events_of(gauge, 61)
    assert silence.elapsed_s - reading.elapsed_s >= 3.0 > STREAM_QUIET_S
