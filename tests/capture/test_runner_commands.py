"""The few keys of a running job."""

from __future__ import annotations

import pytest

from gaugelink.capture.runner import Command, command_of


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
    assert command_of(typed) is command
