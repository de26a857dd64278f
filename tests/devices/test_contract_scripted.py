"""The test double holds its user to the script, or tests that use it prove nothing."""

from __future__ import annotations

import pytest
from scripted import ScriptedTransport

from gaugelink.errors import GaugeNotFound


def test_unused_steps_are_an_assertion() -> None:
    with pytest.raises(AssertionError, match="left over"), ScriptedTransport([(None, b"x")]):
        pass


def test_unread_bytes_are_an_assertion() -> None:
    script = ScriptedTransport([(None, b"xy")])
    with pytest.raises(AssertionError, match="left over"), script:
        script.open()
        script.read(1, 0.1)


def test_an_error_on_its_way_out_is_not_hidden() -> None:
    with pytest.raises(KeyError), ScriptedTransport([(None, b"x")]):
        raise KeyError("the real reason")


@pytest.mark.parametrize("steps", [[], [(None, b"x")], [(b"?\r", b"x")]])
def test_unexpected_bytes_are_an_assertion(steps: list[tuple[bytes | None, bytes]]) -> None:
    script = ScriptedTransport(steps)
    script.open()
    with pytest.raises(AssertionError, match="expects"):
        script.write(b"R\r")


def test_an_answer_waits_for_its_request() -> None:
    with ScriptedTransport([(b"R\r", b"+1\r")]) as script:
        script.open()
        assert script.read(64, 0.5) == b""
        assert script.clock.now_s() == 0.5
        script.write(b"R\r")
        assert script.read(64, 0.5) == b"+1\r"
        assert script.clock.now_s() == 0.5
        assert script.written == [b"R\r"]


def test_openings_fail_as_the_script_says() -> None:
    script = ScriptedTransport([], opens=[GaugeNotFound("away"), None])
    with pytest.raises(GaugeNotFound):
        script.open()
    script.open()
    assert script.read(64, 0.1) == b""
