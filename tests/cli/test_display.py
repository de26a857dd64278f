"""``--display``: what is asked, said and refused, and a job seen over its stream."""

from __future__ import annotations

import signal
import subprocess
import sys
import threading
import types
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from cli_gauges import GaugeOnPty, gauge_on_pty, without
from cli_runs import Bench, Outcome, call
from display_bench import following
from viewers import eventually

from gaugelink.cli.display import open_browser, page_files, qr_text
from gaugelink.display import board
from gaugelink.model import DepthReference

BORE_ONLY = (*without("bore"), "--depth-from", "rim", "--quiet")
needs_pty = pytest.mark.skipif(sys.platform == "win32", reason="needs a pseudo-terminal")


@pytest.fixture(name="gauge")
def gauge_fixture(tmp_path: Path) -> Iterator[GaugeOnPty]:
    with gauge_on_pty(tmp_path) as gauge:
        yield gauge


class Following:
    """Follows a display from another thread, and keeps every snapshot."""

    def __init__(self, bench: Bench) -> None:
        self.url = bench.wait_for("Display: ").split()[-1]
        self.seen: list[dict[str, Any]] = []
        self._thread = threading.Thread(target=self._follow, daemon=True)
        self._thread.start()
        eventually(lambda: self.seen)

    def _follow(self) -> None:
        for each in following(self.url):
            self.seen.append(each)

    def to_the_end(self) -> list[dict[str, Any]]:
        self._thread.join(60)
        assert not self._thread.is_alive()
        return self.seen

    @property
    def acts(self) -> list[tuple[str, str]]:
        by_seq = {a["seq"]: (a["kind"], a["text"]) for each in self.seen for a in each["acts"]}
        return [by_seq[seq] for seq in sorted(by_seq)]


@needs_pty
def test_a_job_is_seen_from_its_opening_to_its_answer(gauge: GaugeOnPty, tmp_path: Path) -> None:
    with Bench(tmp_path, "measure", gauge.address, *BORE_ONLY, "--display") as bench:
        display = Following(bench)
        for value_mm in (0.00, 11.52, 11.53, 11.52, 11.53, 11.52):
            gauge.press(value_mm)
            bench.wait_for("taken ")
        gauge.press(0.00)
        seen = display.to_the_end()
        done = bench.finish()
    assert done.code == 0
    assert seen[0]["phase"] == "opening"
    # Five bores of two figures only: more would not help, and that is said as a doubt.
    assert [kind for kind, _ in display.acts] == [*["taken"] * 5, "done", "doubtful", "done"]
    last = seen[-1]
    assert last["phase"] == "ended"
    assert last["can"] == []
    said = last["answer"]
    assert f"\n{said['order']}\n" in done.err
    assert said["order"].startswith("Order ")
    heads = [part["head"] for part in said["parts"]]
    assert heads[0] == "What will do"
    assert heads[-2:] == ["Barrel and spring, to scale", "Before you fit it"]
    assert said["parts"][-2]["drawing"].startswith("<svg")
    for line in (line for part in said["parts"][:-2] for line in part["lines"]):
        assert " ".join(line.split())[:20] in " ".join(done.err.split()) or ": " in line


@needs_pty
def test_a_snapshot_is_whole_and_small(gauge: GaugeOnPty, tmp_path: Path) -> None:
    with Bench(tmp_path, "measure", gauge.address, *BORE_ONLY, "--display") as bench:
        display = Following(bench)
        for value_mm in (0.00, 11.52, 11.53):
            gauge.press(value_mm)
            bench.wait_for("taken ")
        bench.signal(signal.SIGINT)
        display.to_the_end()
        bench.finish()
    wanted = {
        *("v", "run", "seq", "sent_ms", "job", "phase", "ask", "place", "gauge", "others"),
        *("next", "unserved", "acts", "about", "can", "answer", "bytes"),
    }
    assert all({*each} == wanted for each in display.seen)
    assert len({each["run"] for each in display.seen}) == 1
    seqs = [each["seq"] for each in display.seen]
    assert seqs == sorted(seqs)
    assert max(each["bytes"] for each in display.seen) < 1500
    assert display.seen[-1]["phase"] == "ended"
    assert "resume" in display.seen[-1]["answer"]["note"]


@needs_pty
def test_a_job_that_is_stopped_says_how_it_goes_on(gauge: GaugeOnPty, tmp_path: Path) -> None:
    with Bench(tmp_path, "measure", gauge.address, *BORE_ONLY, "--display-stay") as bench:
        display = Following(bench)
        gauge.press(0.00)
        bench.wait_for("taken ")
        bench.signal(signal.SIGINT)  # also ends the staying
        done = bench.finish()
    assert done.code == 130
    assert "Traceback" not in done.err
    assert display.to_the_end()[-1]["phase"] == "ended"


@needs_pty
def test_it_stays_until_ctrl_c_and_shows_the_answer_to_who_comes_late(
    gauge: GaugeOnPty, tmp_path: Path
) -> None:
    with Bench(tmp_path, "measure", gauge.address, *BORE_ONLY, "--display-stay") as bench:
        url = bench.wait_for("Display: ").split()[-1]
        for value_mm in (0.00, 11.52, 11.53, 11.52, 11.53, 11.52):
            gauge.press(value_mm)
            bench.wait_for("taken ")
        gauge.press(0.00)
        bench.wait_for("The display stays at")
        late = next(following(url))
        assert late["answer"]["order"].startswith("Order ")
        bench.signal(signal.SIGINT)
        assert bench.finish().code == 0


def test_a_check_ends_with_its_verdict(tmp_path: Path) -> None:
    arguments = [
        "check",
        "sim:block?size_mm=5&pace=0.02&start_s=100",
        "--length",
        "5.000 +- 0.0002 mm",
    ]
    with Bench(tmp_path, *arguments, "--display", "--quiet") as bench:
        seen = Following(bench).to_the_end()
        done = bench.finish()
    assert done.code == 0
    assert seen[-1]["answer"]["order"] in ("PASS", "UNDECIDED")
    assert any(each["place"].startswith("length_") for each in seen)


MEASURED = ("measure", "sim:caliper?pace=0", *BORE_ONLY)


@pytest.mark.parametrize("at", [2, 30])
def test_measuring_goes_on_without_a_display_that_fails(
    at: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    calls, lay = [0], board.Board.lay

    def failing(self: board.Board, snapshot: board.Snapshot, *, urgent: bool = False) -> None:
        calls[0] += 1
        if calls[0] >= at:
            raise OSError("the port is gone")
        lay(self, snapshot, urgent=urgent)

    plain = call(tmp_path / "plain", *MEASURED)
    monkeypatch.setattr(board.Board, "lay", failing)
    done = call(tmp_path, *MEASURED, "--display")
    assert done.code == plain.code == 0
    assert calls[0] == at + 1  # once when it failed, and once more for the end
    assert "The display failed and is switched off (OSError: the port is gone)" in done.err
    assert "The display could not show the end" in done.err
    assert answer_of(done) == answer_of(plain)


def answer_of(done: Outcome) -> str:
    return done.err[done.err.index("\nOrder ") :]


def test_the_answer_is_the_same_with_a_display_that_nobody_looks_at(tmp_path: Path) -> None:
    plain = call(tmp_path / "plain", *MEASURED)
    shown = call(tmp_path / "shown", *MEASURED, "--display")
    assert answer_of(shown) == answer_of(plain)


@pytest.mark.parametrize("address", ["0.0.0.0", "::", "bench.local", "192.0.2.1"])
def test_an_address_that_cannot_be_shown_at_is_said_before_anything_is_measured(
    address: str, tmp_path: Path
) -> None:
    refused = call(tmp_path, *MEASURED, "--display-on", address)
    assert refused.code == 2
    assert "Type the address" in refused.err or "Name an address" in refused.err
    assert call(tmp_path, "jobs", "--json").data["jobs"] == []


def test_what_the_net_means_is_said_with_the_address_and_a_code(tmp_path: Path) -> None:
    done = call(tmp_path, *MEASURED, "--display-on", "127.0.0.2")
    if "cannot be shown" in done.err:
        pytest.skip("this system has one loopback address")
    assert "plain HTTP" not in done.out
    told = done.err.index("plain HTTP")
    assert told < done.err.index("Display: http://127.0.0.2:")
    assert "gaugelink[display]" in done.err or "\u2580" in done.err


DESK = {"DISPLAY": ":0"}


@pytest.mark.parametrize(
    ("environment", "platform", "said"),
    [
        ({}, "linux", "no desktop here"),
        ({**DESK, "SSH_CONNECTION": "192.0.2.1 1 192.0.2.2 22"}, "linux", "far end of a line"),
        ({"SSH_TTY": "/dev/pts/1"}, "darwin", "far end of a line"),
    ],
)
def test_no_browser_is_opened_where_there_is_none(
    environment: dict[str, str], platform: str, said: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(subprocess, "Popen", lambda *a, **k: pytest.fail("it was opened"))
    assert said in open_browser("http://127.0.0.1:1/#k=secret", environment, platform)


@pytest.mark.skipif(sys.platform == "win32", reason="the browser here is a script")
def test_a_browser_gets_the_address_and_no_terminal(tmp_path: Path) -> None:
    told, script = tmp_path / "told", tmp_path / "browser"
    script.write_text(
        f'#!/bin/sh\nexec 3> {told}.part\necho "$1" >&3\n'
        "[ -t 0 ] || [ -t 1 ] || [ -t 2 ] || echo none >&3\n"
        f"mv {told}.part {told}\n"
    )
    script.chmod(0o755)
    url = "http://127.0.0.1:1/#k=secret"
    said = open_browser(url, {**DESK, "BROWSER": f"{script} %s", "PATH": "/usr/bin:/bin"}, "linux")
    assert said == "A browser is asked to open it."
    eventually(told.exists)
    assert told.read_text().split() == [url, "none"]


def test_a_code_is_drawn_black_on_white_two_rows_in_a_line(monkeypatch: pytest.MonkeyPatch) -> None:
    matrix = tuple(bytearray((x * y + x) % 3 == 0 for x in range(21)) for y in range(21))
    made = types.ModuleType("segno")
    made.make = lambda text, error: types.SimpleNamespace(matrix=matrix)  # type: ignore[attr-defined]
    monkeypatch.setitem(sys.modules, "segno", made)
    lines = qr_text("http://192.0.2.1:1/#k=x").split("\n")
    assert all(line.startswith("\x1b[30;107m ") and line.endswith(" \x1b[0m") for line in lines)
    cells = [line.removeprefix("\x1b[30;107m ").removesuffix(" \x1b[0m") for line in lines]
    upper, lower = "\u2580\u2588", "\u2584\u2588"
    rows = [[c in half for c in line] for line in cells for half in (upper, lower)]
    assert [row[1:-1] for row in rows[1:22]] == [[bool(v) for v in row] for row in matrix]
    assert not any(map(any, (rows[0], *rows[22:])))


def test_without_the_extra_a_sentence_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "segno", None)
    assert "gaugelink[display]" in qr_text("http://192.0.2.1:1/")


def test_the_page_needs_nothing_from_elsewhere() -> None:
    files = page_files(DepthReference.SEAT, "HEAD\n  Words & <b>more</b>.\n")
    assert {*files} == {"/", "/display.css", "/display.js", "/display.webmanifest"}
    page = files["/"].data.decode()
    assert "<h2>HEAD</h2><p>Words &amp; &lt;b&gt;more&lt;/b&gt;.</p>" in page
    assert "@" not in page
    assert " style=" not in page and "<style" not in page and "javascript:" not in page
    whole = "".join(file.data.decode() for file in files.values())
    assert {each for each in whole.split('"') if each.startswith("http")} <= {
        "http://www.w3.org/2000/svg"
    }
    assert "url(http" not in whole and "@import" not in whole
