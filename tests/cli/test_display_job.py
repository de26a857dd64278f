"""A whole job on three displays in a real browser: taken, taken back, stopped, answered."""

from __future__ import annotations

import signal
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from cli_gauges import GaugeOnPty, gauge_on_pty, without
from cli_runs import Bench
from look import find_browser
from viewers import DESK, PHONE, TABLET, Viewers, Window, viewing

pytestmark = [
    pytest.mark.skipif(find_browser() is None, reason="no browser is installed"),
    pytest.mark.skipif(sys.platform == "win32", reason="needs a pseudo-terminal"),
]

BORE_ONLY = (*without("bore"), "--depth-from", "rim", "--quiet", "--display")
# Notes every signal that is flashed, when it was taken and when it is painted, by one clock.
FLASHED = """(() => { window.flashed = []; const flashes = flash;
    flash = (act) => { flashed.push([act.seq, act.kind, act.text]); flashes(act); }; })()"""
SEEN = "window.flashed && flashed.length"


@pytest.fixture(scope="module")
def viewers() -> Iterator[Viewers]:
    with viewing() as opened:
        yield opened


@pytest.fixture(name="gauge")
def gauge_fixture(tmp_path: Path) -> Iterator[GaugeOnPty]:
    with gauge_on_pty(tmp_path) as gauge:
        yield gauge


def three(viewers: Viewers, bench: Bench) -> list[Window]:
    url = bench.wait_for("Display: ").split()[-1]
    windows = [viewers.open(url, size) for size in (TABLET, PHONE, DESK)]
    for window in windows:
        window.wait_for("document.body.dataset.link === 'ok'")
        window.ask(FLASHED)
    return windows


def test_a_job_with_a_button_on_three_displays(
    viewers: Viewers, gauge: GaugeOnPty, tmp_path: Path
) -> None:
    """Taken back on one is seen on all; the answer is that of the terminal."""
    with Bench(tmp_path, "measure", gauge.address, *BORE_ONLY) as bench:
        windows = three(viewers, bench)
        assert windows[0].text("word") == "CLOSE"
        assert "eye protection" in windows[0].ask("cautionPages.flat().join(' ')")
        for value_mm in (0.00, 11.52, 11.53):
            gauge.press(value_mm)
            bench.wait_for("taken ")
        for window in windows:
            window.wait_for("document.getElementById('count').textContent === '3 of 5'")
            assert window.text("word") == "BORE"
        windows[1].tap("undo")
        bench.wait_for("undone ")
        for window in windows:
            window.wait_for("flashed.some(each => each[1] === 'undone')")
            window.wait_for("document.getElementById('count').textContent === '2 of 5'")
        gauge.send(b"\xff\x00~\r\n")
        gauge.press(254.00)
        bench.wait_for("refused ")
        for window in windows:
            window.wait_for("flashed.some(each => each[1] === 'refused')")
            window.wait_for("document.getElementById('said').textContent.startsWith('Refused')")
        for value_mm in (11.53, 11.52, 11.53, 11.52):
            gauge.press(value_mm)
            bench.wait_for("taken ")
        gauge.press(0.00)
        for window in windows:
            window.wait_for("document.body.dataset.phase === 'ended'")
        done = bench.finish()
    assert done.code == 0
    told = [window.ask("flashed") for window in windows]
    assert told[0] == told[1] == told[2]
    assert [kind for _, kind, _ in told[0]] == [
        *("taken", "taken", "taken", "undone", "refused"),
        *("taken", "taken", "taken", "done", "doubtful", "done"),
    ]
    (order,) = {
        window.ask("document.querySelector('#answer .order').textContent") for window in windows
    }
    assert f"\n{order}\n" in done.err
    for window in windows:
        assert window.complaints() == []
        assert window.ask("document.querySelectorAll('#answer svg').length") == 1
        window.close()


def test_two_who_tap_at_once_take_back_one_reading(
    viewers: Viewers, gauge: GaugeOnPty, tmp_path: Path
) -> None:
    with Bench(tmp_path, "measure", gauge.address, *BORE_ONLY) as bench:
        windows = three(viewers, bench)
        for value_mm in (0.00, 11.52, 11.53, 11.54):
            gauge.press(value_mm)
            bench.wait_for("taken ")
        for window in windows:
            window.wait_for("document.getElementById('count').textContent === '4 of 5'")
        for window in windows:  # nobody sees what the others do before all have tapped
            window.ask("(window.takes = take, take = () => {}, 1)")
        for window in windows:
            window.tap("undo")
        bench.wait_for("undone ")
        for window in windows:
            window.ask("(take = takes, 1)")
        for window in windows:
            window.wait_for("document.getElementById('count').textContent === '3 of 5'")
        time.sleep(0.5)
        assert {window.text("count") for window in windows} == {"3 of 5"}
        bench.signal(signal.SIGINT)
        done = bench.finish()
    assert done.err.count("undone ") == 1
    for window in windows:
        window.close()


def test_ctrl_c_ends_at_once_and_the_displays_say_how_it_goes_on(
    viewers: Viewers, gauge: GaugeOnPty, tmp_path: Path
) -> None:
    with Bench(tmp_path, "measure", gauge.address, *BORE_ONLY) as bench:
        windows = three(viewers, bench)
        for value_mm in (0.00, 11.52):
            gauge.press(value_mm)
            bench.wait_for("taken ")
        begun_s = time.monotonic()
        bench.signal(signal.SIGINT)
        assert bench.finish().code == 130
        assert time.monotonic() - begun_s < 5.0
    for window in windows:
        window.wait_for("document.body.dataset.phase === 'ended'")
        assert "measure ADDRESS --resume 1" in window.text("answer").replace("\u2011", "-")
        assert window.text("undo") == ""
        window.close()


def test_a_job_that_was_killed_looks_dead(
    viewers: Viewers, gauge: GaugeOnPty, tmp_path: Path
) -> None:
    with Bench(tmp_path, "measure", gauge.address, *BORE_ONLY) as bench:
        (window, *others) = three(viewers, bench)
        bench.signal(signal.SIGKILL)
        bench.finish()
    window.wait_for("document.body.dataset.link === 'lost'", patience_s=10)
    assert window.ask("document.getElementById('digits').textContent") == "–"
    assert "Nothing comes from the bench" in window.text("lost")
    for each in (window, *others):
        each.close()


@pytest.mark.campaign
def test_a_whole_job_of_two_simulated_gauges(viewers: Viewers, tmp_path: Path) -> None:
    """Two gauges stream; every reading and every finished measurand is flashed on each of three."""
    simulated = [f"sim:{kind}?pace=0.5&start_s=24" for kind in ("caliper", "micrometer")]
    with Bench(
        tmp_path, "measure", *simulated, "--depth-from", "rim", "--quiet", "--display"
    ) as bench:
        windows = three(viewers, bench)
        for window in windows:
            window.wait_for("document.body.dataset.phase === 'ended'", patience_s=180)
        done = bench.finish()
    told = [window.ask("flashed") for window in windows]
    assert told[0] == told[1] == told[2]
    seqs = [seq for seq, *_ in told[0]]  # what came before a page was open is silent
    assert seqs == [*range(seqs[0], seqs[0] + len(seqs))]
    kinds = [kind for _, kind, _ in told[0]]
    taken = sum(
        line.split(": ")[1].startswith("taken ") for line in done.err.splitlines() if ": " in line
    )
    assert sum(kinds.count(kind) for kind in ("taken", "doubtful", "more", "done")) >= taken
    assert kinds.count("done") == 8  # six measurands and two gauges
    (order,) = {
        window.ask("document.querySelector('#answer .order').textContent") for window in windows
    }
    assert f"\n{order}\n" in done.err
    for window in windows:
        assert window.complaints() == []
        window.close()
