"""``gaugelink listen`` without a format: found out over a kernel port, told, and remembered."""

from __future__ import annotations

import os
import signal
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

import pytest
from cli_gauges import FORMAT, GaugeOnPty, gauge_on_pty, line_of, without
from cli_runs import PATIENCE_S, Bench, Outcome, call, is_clear

from gaugelink.devices.identify import prober
from gaugelink.devices.identify.prober import Patience
from gaugelink.devices.ports import identity
from gaugelink.devices.ports.identity import PortInfo
from gaugelink.devices.ports.serial_port import SerialTransport
from gaugelink.jobbook.gauge_book import GaugeBook, KnownGauge
from gaugelink.model import GaugeKind, Sends
from gaugelink.units import LengthUnit

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="needs a pseudo-terminal")

UNITLESS = b"+012.3456\r"
PLAN = (*without("bore"), "--depth-from", "rim", "--quiet")
USB = "usb-1234:5678-A1"
KEYS = {
    *("schema", "address", "verdict", "n_bytes", "sample_hex", "best", "alike"),
    *("runners_up", "question"),
}
FINDING_KEYS = {
    *("address", "format", "title", "options", "n_readings", "share", "examples", "evidence"),
}


@pytest.fixture(name="gauge")
def gauge_fixture(tmp_path: Path) -> Iterator[GaugeOnPty]:
    with gauge_on_pty(tmp_path) as gauge:
        yield gauge


@contextmanager
def pressed(
    monkeypatch: pytest.MonkeyPatch, gauge: GaugeOnPty, *lines: bytes
) -> Iterator[list[str]]:
    """Send the lines, one a press, as soon as somebody opens a port; yield what was opened."""
    opened: list[str] = []
    is_heard = threading.Semaphore(0)  # once for the opening, and once for each line
    real_open, real_read = SerialTransport.open, SerialTransport.read

    def open_and_say(transport: SerialTransport) -> None:
        real_open(transport)
        opened.append(transport.address)
        is_heard.release()

    def read_and_say(transport: SerialTransport, max_bytes: int, timeout_s: float) -> bytes:
        data = real_read(transport, max_bytes, timeout_s)
        if data:
            is_heard.release()
        return data

    def press() -> None:
        for number, line in enumerate(lines):
            is_heard.acquire(timeout=PATIENCE_S)
            if number:
                time.sleep(0.35)  # two that are read within 0.3 s count as one
            gauge.send(line)

    monkeypatch.setattr(SerialTransport, "open", open_and_say)
    monkeypatch.setattr(SerialTransport, "read", read_and_say)
    thread = threading.Thread(target=press)
    thread.start()
    yield opened
    thread.join(PATIENCE_S)


def listened(
    home: Path, gauge: GaugeOnPty, data: bytes, *options: str, address: str = ""
) -> Outcome:
    """Listen with little patience; the gauge sends ``data`` once the port is open."""
    with pytest.MonkeyPatch.context() as patches, pressed(patches, gauge, data):
        patches.setattr(prober, "Patience", partial(Patience, hear_s=0.6, quiet_s=0.2))
        return call(home, "listen", address or f"serial:{gauge.link}", *options)


def known(home: Path) -> list[KnownGauge]:
    with GaugeBook(home / "journal.sqlite") as book:
        return list(book.gauges())


def remember(home: Path, **changes: Any) -> None:
    gauge = {
        "gauge_id": USB,
        "address": f"serial:{USB}",
        "format": FORMAT,
        "kind": GaugeKind.CALIPER,
        "sends": Sends.BUTTON,
        **changes,
    }
    with GaugeBook(home / "journal.sqlite") as book:
        book.remember(KnownGauge(**gauge))


def test_a_format_is_found_and_told_with_its_reasons(gauge: GaugeOnPty, tmp_path: Path) -> None:
    with Bench(tmp_path, "listen", f"serial:{gauge.link}") as bench:
        bench.wait_for("press the data button")
        gauge.send(line_of(11.52) * 2)
        done = bench.finish()
    assert done.code == 0
    head, *reasons = done.out.splitlines()
    assert head.startswith(f"{FORMAT}: ")
    assert "  2 readings, 100 % of the bytes explained" in reasons
    assert "  lines end with CR LF" in reasons
    assert "  such as 11.52 mm" in reasons
    assert f"  address serial:{gauge.link}?format={FORMAT}" in reasons
    assert "Say once that it is a caliper, or kind=micrometer" in done.err
    assert "where it sends unasked, add sends=stream" in done.err


def test_json_holds_the_verdict_and_all_that_speaks_for_it(
    gauge: GaugeOnPty, tmp_path: Path
) -> None:
    done = listened(tmp_path, gauge, line_of(11.52) * 2, "--json")
    data = done.data
    assert (done.code, data.keys(), data["schema"]) == (0, KEYS, 1)
    assert (data["verdict"], data["alike"], data["question"]) == ("clear", [], None)
    assert data["best"].keys() == FINDING_KEYS
    assert data["best"]["address"] == f"serial:{gauge.link}?format={FORMAT}"
    assert (data["best"]["n_readings"], data["best"]["share"]) == (2, 1.0)
    assert bytes.fromhex(data["sample_hex"]) == line_of(11.52) * 2
    assert data["n_bytes"] == 30


def test_a_question_is_asked_and_its_answer_taken(gauge: GaugeOnPty, tmp_path: Path) -> None:
    done = listened(tmp_path, gauge, UNITLESS * 2)
    assert done.code == 3
    assert done.out.startswith("perhaps line-4800-7E2-plain: ")
    assert is_clear(done.err, "is not certain yet")
    assert '--shows "12.3456 mm"' in done.err
    assert not (tmp_path / "journal.sqlite").exists()

    asked = listened(tmp_path, gauge, UNITLESS * 2, "--json").data
    assert (asked["verdict"], asked["question"]["ask"]) == ("ambiguous", "unit")
    assert all(each.keys() == FINDING_KEYS for each in asked["runners_up"])
    units = {each["options"]["unit"] for each in (asked["best"], *asked["runners_up"])}
    assert units == {"mm", "in"}

    answered = listened(tmp_path, gauge, UNITLESS * 2, "--shows", "12.3456 in", "--json")
    assert (answered.code, answered.data["best"]["options"]) == (0, {"unit": "in"})
    (gauge_known,) = known(tmp_path)
    assert (gauge_known.unit, gauge_known.kind) == (LengthUnit.INCH, None)


def test_where_nothing_is_heard_the_causes_are_named(gauge: GaugeOnPty, tmp_path: Path) -> None:
    done = call(tmp_path, "listen", f"serial:{gauge.link}", "--seconds", "0.2")
    assert (done.code, done.out) == (3, "")
    assert is_clear(done.err, f"Nothing was heard at serial:{gauge.link}")
    for word in ("battery", "button", "cable", "baud"):
        assert word in done.err.splitlines()[-1]
    data = call(tmp_path, "listen", f"serial:{gauge.link}", "--seconds", "0.2", "--json").data
    assert (data["verdict"], data["n_bytes"], data["best"]) == ("nothing heard", 0, None)
    assert not (tmp_path / "journal.sqlite").exists()


def test_bytes_that_nothing_explains_are_shown(gauge: GaugeOnPty, tmp_path: Path) -> None:
    done = listened(tmp_path, gauge, b"\xffhello\r" * 3, "--seconds", "1")
    assert (done.code, done.out) == (3, "")
    assert is_clear(done.err, "No known format fits the 21 bytes")
    assert r"b'\xffhello\r" in done.err


@pytest.mark.campaign
def test_what_nothing_explains_is_recorded_all_the_same(gauge: GaugeOnPty, tmp_path: Path) -> None:
    data, recording = b"\xffhello\r", tmp_path / "trouble.jsonl"
    found_out = listened(tmp_path, gauge, data * 3, "--seconds", "1")
    assert "?format=text-input and --record FILE" in found_out.err
    named = f"serial:{gauge.link}?format=text-input"
    with Bench(tmp_path, "listen", named, "--record", str(recording), "--seconds", "1") as bench:
        bench.wait_for("listening to")
        gauge.send(data)
        bench.finish()
    (event,) = call(tmp_path, "listen", f"replay:{recording}", "--json").lines
    assert (event["kind"], bytes.fromhex(event["raw_hex"])) == ("fault", data)


def test_a_format_of_ones_own_is_found(gauge: GaugeOnPty, tmp_path: Path) -> None:
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "hello.toml").write_text(
        'title = "Invented"\nsummary = "Nothing sends this."\nsource = "invented"\n'
        "[line]\npattern = 'hello (?P<value>\\d+) (?P<unit>mm)'\nline_end = \"\\r\"\n",
        encoding="utf-8",
    )
    done = listened(
        tmp_path, gauge, b"hello 12 mm\r" * 2, "--formats", str(tmp_path / "mine"), "--json"
    )
    assert (done.code, done.data["best"]["format"]) == (0, "hello")
    assert known(tmp_path)[0].format == "hello"


def test_an_identified_gauge_needs_no_options_any_more(gauge: GaugeOnPty, tmp_path: Path) -> None:
    plain = f"serial:{gauge.link}"
    listened(tmp_path, gauge, line_of(11.52) * 2, address=f"{plain}?kind=micrometer&mpe_mm=0.005")
    (before,) = known(tmp_path)
    assert (before.format, before.kind, before.unit) == (FORMAT, GaugeKind.MICROMETER, None)
    assert before.options == {"mpe_mm": "0.005"}
    for address in (plain, str(gauge.link)):
        with Bench(tmp_path, "listen", address, "--json") as bench:
            bench.wait_for(f"as {FORMAT}")
            gauge.press(11.53)
            bench.wait_for_data("11.53")
            bench.signal(signal.SIGINT)
            heard = bench.finish()
        assert [event.get("displayed") for event in heard.lines] == ["11.53"]
    (after,) = known(tmp_path)
    assert after.first_used_utc == before.first_used_utc
    assert after.last_used_utc > before.last_used_utc

    again = listened(tmp_path, gauge, UNITLESS * 2, "--identify", "--shows", "12.3456 mm")
    assert again.code == 0
    (changed,) = known(tmp_path)
    assert (changed.format, changed.unit) == ("line-4800-7E2-plain", LengthUnit.MM)
    assert (changed.kind, changed.options) == (GaugeKind.MICROMETER, {"mpe_mm": "0.005"})


def test_a_gauge_that_gave_no_reading_is_not_remembered(gauge: GaugeOnPty, tmp_path: Path) -> None:
    with Bench(tmp_path, "listen", gauge.address, "--json") as bench:
        bench.wait_for("listening to")
        gauge.send(b"noise\r\n")
        bench.wait_for_data("fault")
        bench.signal(signal.SIGINT)
        assert [event["kind"] for event in bench.finish().lines] == ["fault"]
    assert not (tmp_path / "journal.sqlite").exists()


def test_measuring_makes_a_gauge_known_at_its_first_reading(
    gauge: GaugeOnPty, tmp_path: Path
) -> None:
    with Bench(tmp_path, "measure", gauge.address, *PLAN) as bench:
        bench.wait_for("Close the jaws")
        assert known(tmp_path) == []
        gauge.press(0.0)
        bench.wait_for("taken ")
        bench.signal(signal.SIGKILL)
        bench.finish()
    (found,) = known(tmp_path)
    assert (found.gauge_id, found.format) == (str(gauge.link), FORMAT)
    assert (found.kind, found.sends, found.unit) == (GaugeKind.CALIPER, Sends.BUTTON, None)

    # Nothing but the command: the gauge is there, and what it sends is known.
    with Bench(tmp_path, "measure", *PLAN, "--json") as bench:
        bench.wait_for("Close the jaws")
        gauge.press(0.0)
        bench.wait_for("taken ")
        bench.signal(signal.SIGINT)
        job = bench.finish().data
    assert job["gauges"][0]["format"] == FORMAT


def port_at(link: Path) -> PortInfo:
    return PortInfo(
        device=os.path.realpath(link),
        identity=USB,
        description="an invented adapter",
        manufacturer="nobody",
        serial_number="A1",
        location="1-2",
        vid=0x1234,
        pid=0x5678,
    )


@pytest.fixture(name="plugged")
def plugged_fixture(gauge: GaugeOnPty, monkeypatch: pytest.MonkeyPatch) -> GaugeOnPty:
    """The gauge, on a port that the system lists with a USB identity."""
    monkeypatch.setattr(identity, "list_serial_ports", lambda: (port_at(gauge.link),))
    return gauge


@pytest.mark.campaign  # waits ten seconds: to be told, and for two last zeros
def test_plug_in_identify_and_measure(
    plugged: GaugeOnPty, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The whole way of a new gauge: its identity stays, whatever the port is called."""
    with pressed(monkeypatch, plugged, line_of(11.52) * 2):
        found = call(tmp_path, "listen", f"serial:{USB}?kind=caliper")
    assert found.code == 0
    assert f"type only: gaugelink measure serial:{USB}\n" in found.err
    (gauge,) = known(tmp_path)
    assert (gauge.gauge_id, gauge.address) == (USB, f"serial:{USB}")

    device = os.path.realpath(plugged.link)
    for typed in ([], [f"serial:{device}"]):
        lid = [0.0, 0.41, 0.42, 0.41, 0.0]
        with pressed(monkeypatch, plugged, *map(line_of, lid)) as opened:
            done = call(tmp_path, "measure", *typed, *without("lid"), "--quiet", "--json")
        assert done.code == 0, done.err
        assert done.data["closed"]
        assert [each["gauge"] for each in done.data["gauges"]] == [USB]
        assert all(f"format={FORMAT}" in address for address in opened)


def test_what_is_typed_wins_and_is_remembered(
    plugged: GaugeOnPty, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    remember(tmp_path, format="line-4800-7E2-plain", unit=LengthUnit.INCH, options={"mpe_mm": "1"})
    with pressed(monkeypatch, plugged, line_of(11.52)):
        call(tmp_path, "listen", f"serial:{USB}?format={FORMAT}", "--seconds", "1")
    (gauge,) = known(tmp_path)
    # The unit belonged to the other format; kind and error limit belong to the gauge.
    assert (gauge.format, gauge.unit) == (FORMAT, None)
    assert (gauge.kind, gauge.options) == (GaugeKind.CALIPER, {"mpe_mm": "1"})


def test_ports_are_listed_with_what_is_remembered_of_them(
    plugged: GaugeOnPty, tmp_path: Path
) -> None:
    remember(tmp_path)
    remember(tmp_path, gauge_id="usb-9:9-Z", address="serial:usb-9:9-Z", kind=None)
    remember(tmp_path, gauge_id=f"{USB}#2", address=f"bridge:{USB}", format="bcd52")
    when = {gauge.gauge_id: gauge.last_used_utc[:10] for gauge in known(tmp_path)}
    out = call(tmp_path, "gauges").out
    (line,) = (line for line in out.splitlines() if f"serial:{USB} " in line)
    for cell in (FORMAT, "bcd52", "caliper", when[USB], "an invented adapter"):
        assert cell in line
    absent = out.partition("ALSO REMEMBERED")[2].partition("WITHOUT A PORT")[0]
    assert "usb-9:9-Z" in absent
    assert USB not in absent
    assert absent.splitlines()[2].split()[:4] == ["usb-9:9-Z", "no", FORMAT, "?"]

    data = call(tmp_path, "gauges", "--json").data
    assert data["ports"][0]["remembered"] == [f"{USB}#2", USB]
    entry = next(each for each in data["remembered"] if each["identity"] == USB)
    assert (entry["plugged_in"], entry["format"], entry["kind"]) == (True, FORMAT, "caliper")
    assert (entry["sends"], entry["unit"], entry["options"]) == ("button", None, {})
    assert entry["first_used_utc"] <= entry["last_used_utc"]
    assert {e["identity"]: e["plugged_in"] for e in data["remembered"]}["usb-9:9-Z"] is False


def test_a_gauge_is_forgotten_and_nothing_else_is(tmp_path: Path) -> None:
    remember(tmp_path)
    remember(tmp_path, gauge_id="other", address="serial:other")
    assert call(tmp_path, "gauges", "--forget", USB).code == 0
    assert [gauge.gauge_id for gauge in known(tmp_path)] == ["other"]
    again = call(tmp_path, "gauges", "--forget", USB)
    assert again.code == 2
    assert is_clear(again.err, f"No gauge {USB!r} is remembered")
    assert "other" in again.err


def test_looking_makes_no_journal(tmp_path: Path) -> None:
    assert call(tmp_path, "gauges").code == 0
    assert call(tmp_path, "measure").code == 3
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("second", "code", "sentence"),
    [
        ({"gauge_id": f"{USB}#2", "address": f"bridge:{USB}"}, 2, "2 calipers are plugged in"),
        ({"kind": None}, 2, f"Say whether {USB} is a caliper or a micrometer."),
        ({"gauge_id": "a", "address": "serial:usb-9:9-Z"}, 2, "2 calipers are plugged in"),
    ],
)
def test_what_is_not_clear_is_asked_and_not_guessed(
    second: dict[str, Any],
    code: int,
    sentence: str,
    plugged: GaugeOnPty,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    port = port_at(plugged.link)
    other = replace(port, identity="usb-9:9-Z", device="/x", vid=9, pid=9, serial_number="Z")
    ports = (port, other)
    monkeypatch.setattr(identity, "list_serial_ports", lambda: ports)
    remember(tmp_path)
    remember(tmp_path, **second)
    done = call(tmp_path, "measure", *PLAN)
    assert (done.code, done.out) == (code, "")
    assert is_clear(done.err, sentence)
    assert call(tmp_path, "jobs", "--json").data["jobs"] == []


def test_a_caliper_and_a_micrometer_are_measured_with_together(
    plugged: GaugeOnPty, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    opened: list[str] = []
    real_open = SerialTransport.open

    def open_both(transport: SerialTransport) -> None:
        real_open(transport)
        opened.append(transport.identity)
        if len(opened) == 2:
            raise KeyboardInterrupt

    monkeypatch.setattr(SerialTransport, "open", open_both)
    (tmp_path / "second").mkdir()
    with gauge_on_pty(tmp_path / "second") as second:
        remember(tmp_path)
        micrometer = {"gauge_id": str(second.link), "address": f"serial:{second.link}"}
        remember(tmp_path, kind=GaugeKind.MICROMETER, **micrometer)
        assert call(tmp_path, "measure", "--depth-from", "rim", "--quiet").code != 0
        assert sorted(opened) == sorted([USB, str(second.link)])


def test_a_book_that_cannot_be_read_costs_only_convenience(
    gauge: GaugeOnPty, tmp_path: Path
) -> None:
    (tmp_path / "journal.sqlite").write_bytes(b"no database at all, whatever its name" * 40)
    done = listened(tmp_path, gauge, line_of(11.52) * 2)
    assert done.code == 0
    assert "No gauge is remembered: " in done.err
    assert "The gauge is not remembered: " in done.err
    assert "Remembered. " not in done.err
    assert f'gaugelink measure "serial:{gauge.link}?format={FORMAT}"' in done.err
    assert call(tmp_path, "gauges").code == 0


@pytest.mark.parametrize("named", [True, False])
def test_the_book_lies_in_the_journal_that_is_named(
    named: bool, gauge: GaugeOnPty, tmp_path: Path
) -> None:
    elsewhere = tmp_path / "elsewhere.sqlite"
    options = ["--journal", str(elsewhere)] if named else []
    listened(tmp_path, gauge, line_of(11.52) * 2, *options)
    assert elsewhere.exists() is named
    assert (tmp_path / "journal.sqlite").exists() is not named
    found = call(tmp_path, "gauges", "--json", *options).data["remembered"]
    assert [each["identity"] for each in found] == [str(gauge.link)]
