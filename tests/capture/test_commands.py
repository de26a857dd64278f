"""The few keys of a running job, and what a display asks for."""

from __future__ import annotations

import pytest

from gaugelink.capture.commands import Command, DisplayKeys, KeyOrder, order_of


@pytest.mark.parametrize(
    ("typed", "command"),
    [
        (b"u\n", Command.UNDO),
        (b"U\r\n", Command.UNDO),
        (b" s ", Command.SKIP),
        (b"q", Command.STOP),
        (b"", None),
        (b"uu", None),
        (b"11.02", None),
        (b"\xf5", None),
    ],
)
def test_typed_line_is_a_command_or_nothing(typed, command):
    assert order_of(typed) == (command and KeyOrder(command=command))


@pytest.mark.parametrize(
    ("typed", "order"),
    [
        (b"u@41", KeyOrder(command=Command.UNDO, about=41)),
        (b"S@0", KeyOrder(command=Command.SKIP, about=0)),
        (b"u@", None),
        (b"u@-1", None),
        (b"u@4 1", None),
        ("u@\N{ARABIC-INDIC DIGIT ONE}".encode(), None),
        (b"u@" + b"9" * 400, None),
    ],
)
def test_an_order_may_say_what_it_is_about(typed, order):
    assert order_of(typed) == order


def test_what_a_display_asks_for_comes_as_an_event_and_reads_back():
    keys = DisplayKeys()
    for command in Command:
        keys.put(command, 7)
        (event,) = keys.poll(0.0)
        assert event.gauge_id == keys.gauge_id
        assert order_of(event.body.raw) == KeyOrder(command=command, about=7)
    keys.put(Command.STOP)
    assert [order_of(event.body.raw).about for event in keys.poll(0.0)] == [None]
    assert keys.poll(0.0) == ()
    assert not keys.ended
