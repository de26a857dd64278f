"""At a terminal: keys work, and the terminal is given back as it was, whatever ends the job."""

from __future__ import annotations

import signal
import sys
from pathlib import Path

import pytest
from cli_gauges import without
from cli_runs import call

from gaugelink.jobbook.journal import Journal
from gaugelink.model import GaugeEvent, LinkChange

if sys.platform == "win32":
    pytest.skip("Windows has no pseudo-terminals.", allow_module_level=True)

from cli_terminal import FIRST_SCREEN, HIDE_CURSOR, OTHER_SCREEN, SHOW_CURSOR, Terminal

STILL = "sim:still?pace=0.2&size_mm=0"  # jaws closed: the opening zero, and then nothing more
MEASURE = ("measure", STILL, "--depth-from", "rim", "--winding", "hand", *without("bore"))
CTRL_C, CTRL_D = b"\x03", b"\x04"
ZERO_TAKEN = b"taken   zero 0.00 mm"


def is_given_back(terminal: Terminal) -> bool:
    shown = terminal.shown
    return (
        terminal.attributes == terminal.attributes_before
        and shown.rfind(SHOW_CURSOR) > shown.rfind(HIDE_CURSOR) >= 0
        and shown.rfind(FIRST_SCREEN) > shown.rfind(OTHER_SCREEN) >= 0
    )


@pytest.mark.parametrize(("options", "strokes"), [((), 1), (("--quiet",), 0)])
def test_the_bell_sounds_beside_the_screen(
    options: tuple[str, ...], strokes: int, tmp_path: Path
) -> None:
    with Terminal(tmp_path, *MEASURE, *options) as terminal:
        terminal.wait_for(ZERO_TAKEN)
        terminal.type(b"q")
        terminal.finish()
        assert terminal.shown.count(b"\a") == strokes


@pytest.mark.parametrize(("key", "code"), [(b"q", 0), (CTRL_C, 130)], ids=["q", "Ctrl-C"])
def test_a_key_ends_the_sitting_and_gives_the_terminal_back(
    key: bytes, code: int, tmp_path: Path
) -> None:
    with Terminal(tmp_path, *MEASURE) as terminal:
        terminal.wait_for(ZERO_TAKEN)
        assert terminal.attributes != terminal.attributes_before
        terminal.type(key)
        assert terminal.finish() == code
        assert is_given_back(terminal)
        assert b"Job 1 is saved as far as it got" in terminal.shown.rpartition(FIRST_SCREEN)[2]
        assert b"Traceback" not in terminal.shown
    (line,) = call(tmp_path, "jobs", "--json").data["jobs"]
    assert (line["closed"], line["n_taken"]) == (False, 1)


def test_a_hang_up_gives_the_terminal_back(tmp_path: Path) -> None:
    with Terminal(tmp_path, *MEASURE) as terminal:
        terminal.wait_for(ZERO_TAKEN)
        terminal.signal(signal.SIGHUP)
        assert terminal.finish() == 130
        assert is_given_back(terminal)
        assert b"Traceback" not in terminal.shown
    (line,) = call(tmp_path, "jobs", "--json").data["jobs"]
    assert line["n_taken"] == 1


def test_a_terminal_without_cursor_is_talked_to_in_lines(tmp_path: Path) -> None:
    with Terminal(tmp_path, *MEASURE, term="dumb") as terminal:
        terminal.wait_for(b"caliper> Close the jaws for the zero reading.")
        terminal.wait_for(b"caliper: " + ZERO_TAKEN)
        terminal.type(b"q")
        assert terminal.finish() == 0
        assert b"\x1b[" not in terminal.shown


def test_an_error_gives_the_terminal_back_before_it_is_said(tmp_path: Path) -> None:
    with Terminal(tmp_path, *MEASURE) as terminal:
        terminal.wait_for(ZERO_TAKEN)
        with Journal.open(tmp_path / "journal.sqlite") as second:
            # Another program writes the same job: the first one has to give up.
            second.load(1)
            body = LinkChange(connected=True, text="somebody else")
            second.write(1, [GaugeEvent(gauge_id="other", elapsed_s=0.0, body=body)])
        assert terminal.finish() == 7
        assert is_given_back(terminal)
        said = terminal.shown.rpartition(FIRST_SCREEN)[2]
        assert b"gaugelink: Another gaugelink is writing job 1" in said
        assert b"Traceback" not in said


def test_single_keys_skip_and_take_back(tmp_path: Path) -> None:
    with Terminal(tmp_path, *MEASURE) as terminal:
        terminal.wait_for(ZERO_TAKEN)
        terminal.type(b"s")
        terminal.wait_for(b"bore skipped")
        terminal.type(b"u")
        terminal.wait_for(b"undone  bore")
        terminal.type(b"q")
        assert terminal.finish() == 0
    acts = [e["kind"] for e in call(tmp_path, "jobs", "1", "--events").lines]
    assert [kind for kind in acts if kind in ("skipped", "undone")] == ["skipped", "undone"]


def test_readings_are_typed_at_the_terminal(tmp_path: Path) -> None:
    address = "keys:?unit=mm&kind=caliper"
    with Terminal(tmp_path, "measure", address, *MEASURE[2:]) as typist:
        typist.wait_for(b"waiting for the gauge")
        typist.type(b"0.00\r")
        typist.wait_for(b"taken   zero 0.00 mm")
        typist.type(b"11.5x\x7f2\t")  # a slip, rubbed out; Tab ends a line as well
        typist.wait_for(b"taken   bore 11.52 mm")
        typist.type(b"q")
        assert typist.finish() == 0
        assert is_given_back(typist)


def test_what_nobody_said_is_asked_and_may_be_skipped(tmp_path: Path) -> None:
    with Terminal(tmp_path, "measure", STILL) as terminal:
        terminal.wait_for(b"Wound by hand or automatic? (Enter to skip)")
        terminal.type(b"\n")
        terminal.wait_for(b"Outer end: hole, hook,")
        terminal.type(b"\n")
        terminal.wait_for(b"Do you measure the depth to the seat of the lid?")
        terminal.type(b"y\n")
        terminal.wait_for(ZERO_TAKEN)
        terminal.type(b"q")
        assert terminal.finish() == 0
    assert call(tmp_path, "jobs", "1", "--json").data["depth_reference"] == "seat"


def test_listening_leaves_the_terminal_alone(tmp_path: Path) -> None:
    with Terminal(tmp_path, "listen", STILL) as terminal:
        terminal.wait_for(b"0.00 mm")
        terminal.type(CTRL_C)
        assert terminal.finish() == 0
        assert terminal.attributes == terminal.attributes_before
        assert HIDE_CURSOR not in terminal.shown
        assert b"Traceback" not in terminal.shown


def test_listening_to_keys_ends_with_ctrl_d(tmp_path: Path) -> None:
    with Terminal(tmp_path, "listen", "keys:?unit=mm") as terminal:
        terminal.wait_for(b"listening to keys:")
        terminal.type(b"11.52\r" + CTRL_D)
        assert terminal.finish() == 0
        assert terminal.attributes == terminal.attributes_before
        assert b"11.52 mm" in terminal.shown
