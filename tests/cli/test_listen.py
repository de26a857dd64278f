"""``gaugelink listen``: what a gauge sends, what it means, and a recording of it."""

from __future__ import annotations

import signal
import sys
from pathlib import Path
from typing import Any

import pytest
from cli_gauges import FORMAT, gauge_on_pty, line_of, presses
from cli_runs import Bench, call, is_clear, spawn

KEYS = {"gauge", "elapsed_s", "kind", "raw_hex", "text"}
READING_KEYS = KEYS | {"value_mm", "resolution_mm", "displayed", "unit"}
on_posix = pytest.mark.skipif(sys.platform == "win32", reason="needs a pseudo-terminal")


def events(home: Path, address: str, *options: str) -> list[dict[str, Any]]:
    done = call(home, "listen", address, "--json", *options)
    assert done.code == 0
    return done.lines


def essence(event: dict[str, Any]) -> dict[str, Any]:
    """An event without the name of its gauge, which a replay has not."""
    text = event["text"].replace(event["gauge"], "GAUGE")
    return {**event, "gauge": "GAUGE", "text": text}


def test_a_simulated_gauge_is_shown_line_by_line(tmp_path: Path) -> None:
    done = call(tmp_path, "listen", "sim:still?pace=0&duration_s=1&size_mm=11.52")
    assert done.err == (
        f"listening to sim:still?pace=0&duration_s=1&size_mm=11.52 as {FORMAT}; Ctrl-C stops\n"
    )
    first, *rest = done.out.splitlines()
    assert len(rest) == 9
    assert first.split() == ["0.000", "s", "11.52", "mm", "b'+", "11.52,", "MM\\r'"]


def test_json_holds_bytes_and_meaning(tmp_path: Path) -> None:
    first, *_ = events(tmp_path, "sim:still?pace=0&duration_s=1&size_mm=11.52")
    assert first.keys() == READING_KEYS
    assert (first["gauge"], first["kind"], first["unit"]) == ("sim:still", "reading", "mm")
    assert (first["value_mm"], first["resolution_mm"]) == (11.52, 0.01)
    assert (first["displayed"], first["text"]) == ("11.52", "11.52 mm")
    assert bytes.fromhex(first["raw_hex"]).strip() == line_of(11.52).strip()


def test_what_is_no_reading_is_shown_too(tmp_path: Path) -> None:
    address = "sim:still?pace=0&duration_s=60&glitches=0.1&dropouts=0.1&seed=3"
    heard = events(tmp_path, address)
    kinds = {event["kind"] for event in heard}
    assert kinds == {"reading", "fault", "link"}
    assert all(event.keys() == KEYS for event in heard if event["kind"] != "reading")
    fault = next(event for event in heard if event["kind"] == "fault")
    assert fault["text"].startswith("not a reading: ")
    assert fault["raw_hex"]
    links = [event for event in heard if event["kind"] == "link"]
    assert [link["raw_hex"] for link in links] == [""] * len(links)
    assert {link["text"].split()[0] for link in links} == {"link", "sim:still-3"}


def test_a_switched_unit_is_shown(tmp_path: Path) -> None:
    address = presses(tmp_path / "both.jsonl", 1.0)
    with (tmp_path / "both.jsonl").open("a", encoding="utf-8") as file:
        inch = b"+  0.5000, IN\r\n"
        file.write(f'{{"t_s": 9.0, "received_hex": "{inch.hex()}"}}\n')
    *_, switch = events(tmp_path, address)
    assert (switch["kind"], switch["text"]) == ("unit switch", "unit changed from mm to in")


def test_time_may_be_limited(tmp_path: Path) -> None:
    done = call(tmp_path, "listen", "sim:still?pace=0.01&duration_s=3600", "--seconds", "0.2")
    assert done.code == 0
    assert 0 < len(done.out.splitlines()) < 36_000


@pytest.mark.parametrize("seconds", ["0", "-1", "nan", "inf"])
def test_a_time_that_is_none_is_refused(seconds: str, tmp_path: Path) -> None:
    done = call(tmp_path, "listen", "sim:caliper", "--seconds", seconds)
    assert (done.code, done.out) == (2, "")
    assert is_clear(done.err, "--seconds must be above zero.")


@on_posix
def test_silence_is_said_and_is_no_success(tmp_path: Path) -> None:
    with gauge_on_pty(tmp_path) as gauge:
        done = call(tmp_path, "listen", gauge.address, "--seconds", "0.3")
    assert (done.code, done.out) == (3, "")
    assert is_clear(done.err, f"Nothing was heard at {gauge.address}.")
    assert "battery" in done.err


@on_posix
def test_lines_of_another_format_lead_to_finding_it_out(tmp_path: Path) -> None:
    with (
        gauge_on_pty(tmp_path) as gauge,
        Bench(tmp_path, "listen", gauge.address, "--seconds", "1") as bench,
    ):
        bench.wait_for("listening to")
        gauge.send(b"11.52\r\n")
        done = bench.finish()
    bare = gauge.address.partition("?")[0]
    assert done.code == 0
    assert done.err.endswith(
        f"No {FORMAT} reading came. What it is: gaugelink listen {bare} --identify\n"
    )


@pytest.mark.parametrize(
    "address",
    [
        "sim:caliper?pace=0",
        "sim:caliper?pace=0&unit=in&seed=4",
        "sim:micrometer?pace=0&sends=button",
        "sim:caliper?pace=0&glitches=0.05&dropouts=0.02&seed=2",
        "sim:still?pace=0&duration_s=30&format=line-4800-7E2-plain&unit=mm&glitches=0.2",
    ],
)
def test_a_recording_replays_the_same_events(address: str, tmp_path: Path) -> None:
    recording = tmp_path / "heard.jsonl"
    heard = events(tmp_path, address, "--record", str(recording))
    said = "&".join(o for o in address.split("?")[1].split("&") if o.startswith(("unit", "sends")))
    replayed = events(tmp_path, f"replay:{recording}?{said}")
    assert len(heard) > 5
    assert list(map(essence, replayed)) == list(map(essence, heard))


def test_a_recording_is_never_overwritten(tmp_path: Path) -> None:
    kept = tmp_path / "kept.jsonl"
    kept.write_text("precious", encoding="utf-8")
    done = call(tmp_path, "listen", "sim:still?pace=0", "--record", str(kept))
    assert done.code == 2
    assert is_clear(done.err, "Cannot record to")
    assert kept.read_text(encoding="utf-8") == "precious"


def test_typed_keys_are_heard_to_the_end_of_their_input(tmp_path: Path) -> None:
    done = spawn(tmp_path, "listen", "keys:?unit=mm", "--json", stdin=b"11.52\n0,5 in\nx1\n7.1")
    assert done.code == 0
    assert [event["kind"] for event in done.lines] == ["reading", "unit switch", "fault", "reading"]
    assert [event.get("displayed") for event in done.lines] == ["11.52", None, None, "7.1"]


@on_posix
def test_a_port_is_heard_recorded_and_replayed(tmp_path: Path) -> None:
    recording = tmp_path / "port.jsonl"
    with gauge_on_pty(tmp_path) as gauge:
        arguments = (gauge.address, "--json", "--record", str(recording))
        with Bench(tmp_path, "listen", *arguments) as bench:
            bench.wait_for("listening to")
            for data in (line_of(11.52), b"noise\r\n", line_of(11.53)):
                gauge.send(data)
            bench.wait_until(lambda: recording.read_text(encoding="utf-8").count("11.53") > 0)
            bench.signal(signal.SIGINT)
            done = bench.finish()
    assert done.code == 0
    assert "Traceback" not in done.err
    heard, replayed = done.lines, events(tmp_path, f"replay:{recording}")
    assert [event["kind"] for event in heard] == ["reading", "fault", "reading"]
    for one, other in zip(heard, replayed, strict=True):
        # Both count from the opening of the port, and not from when the machine was started.
        assert one.pop("elapsed_s") == pytest.approx(other.pop("elapsed_s"), abs=2.0)
        assert essence(one) == essence(other)
