"""From keys to lines: what a keyboard-type gauge types, and what a person does."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gaugelink.capture.commands import KEYS
from gaugelink.devices.typed_keys import COMMANDS, MAX_LINE_BYTES, KeyEditor, PipedLines


@pytest.mark.parametrize(
    ("keys", "lines"),
    [
        (b"11.52\r", b"11.52\n"),
        (b"11,52\n", b"11,52\n"),
        (b"-0.01\t", b"-0.01\n"),
        (b"+11.52 mm\r", b"+11.52 mm\n"),
        (b"11.52\r\n11.53\r\n", b"11.52\n11.53\n"),
        (b"\r\n\t", b""),
        (b"u", b"u\n"),
        (b"uq", b"u\nq\n"),
        (b"1u\r", b"1u\n"),
        (b"?u", b""),
        (b"11.53\x7f2\r", b"11.52\n"),
        (b"11.53\x082\r", b"11.52\n"),
        (b"\x7f\x7f1\r", b"1\n"),
        (b"99\x1511.52\r", b"11.52\n"),
        (b"1\x7fu", b"u\n"),
        # Only a command is a command: other letters spoil what follows, unless they are rubbed out.
        (b"S11.03\r", b"S11.03\n"),
        (b"x11.03\r", b"x11.03\n"),
        (b"x\x7f11.03\r", b"11.03\n"),
        # Arrow, function and delete keys are no commands and cost no digit.
        (b"\x1b[A\x1b[B", b""),
        (b"1\x1b[D1\r", b"11\n"),
        (b"\x1bOP1\r", b"1\n"),
        (b"\x1b[3~1\r", b"1\n"),
        (b"\x1b[1;5C1\r", b"1\n"),
        (b"\x1b11\r", b"11\n"),
        (b"\x1b\x1b[A1\r", b"1\n"),
        (b"1\x1b\r", b"1\n"),
        # Not an ASCII letter: no command, and the format will refuse the line.
        ("é\r".encode(), "é\n".encode()),
    ],
)
def test_keys_become_lines(keys: bytes, lines: bytes) -> None:
    assert KeyEditor().feed(keys) == lines
    editor = KeyEditor()
    assert b"".join(editor.feed(keys[at : at + 1]) for at in range(len(keys))) == lines


def test_what_is_typed_is_echoed() -> None:
    editor = KeyEditor()
    echoes = []
    for key in b"12\x7f3\r":
        editor.feed(bytes([key]))
        echoes.append(editor.echo)
    assert echoes == [b"1", b"2", b"\x08 \x08", b"3", b"\r\n"]
    editor.feed(b"u")
    assert editor.echo == b""


def test_the_end_of_input_key_ends_the_line_too() -> None:
    editor = KeyEditor()
    assert not editor.ended
    assert editor.feed(b"1.5\x04") == b"1.5\n"
    assert editor.ended


def test_a_key_held_down_does_not_fill_the_memory() -> None:
    line = KeyEditor().feed(b"1" * 10_000 + b"\r")
    assert line == b"1" * MAX_LINE_BYTES + b"\n"


def test_a_number_half_typed_when_the_terminal_closes_is_no_reading() -> None:
    editor = KeyEditor()
    editor.feed(b"11.5")
    assert editor.finish() == b""


@given(st.lists(st.binary(max_size=8), max_size=20))
def test_piped_lines_are_whole_in_any_split(pieces: list[bytes]) -> None:
    piped = PipedLines()
    fed = [piped.feed(piece) for piece in pieces]
    assert all(not lines or lines[-1:] in (b"\n", b"\r") for lines in fed)
    whole = b"".join(pieces)
    rest = whole[len(b"".join(fed)) :]
    assert b"".join(fed) + rest == whole
    assert not {0x0A, 0x0D} & set(rest)
    assert piped.finish() == (rest + b"\n" if rest else b"")
    assert piped.finish() == b""


def test_piped_bytes_without_line_ends_do_not_fill_the_memory() -> None:
    piped = PipedLines()
    passed_on = b"".join(piped.feed(b"1" * 50) for _ in range(100))
    assert len(passed_on) > 4000


def test_the_letters_that_are_commands_are_those_of_the_session() -> None:
    assert {chr(key) for key in COMMANDS} == KEYS.keys()
