"""The page in a real browser, against a made-up job: seen, heard, spoken, and never stale.

No voice is heard here: what is tested is what is said, and when. Angles are those of ISO 9241-303,
5.5.4: at least 16 minutes of arc, 20 to 22 preferred; a capital is 0.71 of the size of its font.
"""

from __future__ import annotations

import math
import os
import signal
import time
from collections.abc import Iterator
from itertools import accumulate, pairwise
from typing import Any

import pytest
from display_bench import RUN, Shown, shown, snapshot
from display_look import ACTS, CAUTIONS, act, answer, states
from look import find_browser
from test_page_html_browser import axe
from viewers import SCREENS, TABLET, Viewers, Window, eventually, viewing

from gaugelink.cli.bell import RHYTHMS
from gaugelink.cli.display import page_files
from gaugelink.model import DepthReference

pytestmark = pytest.mark.skipif(find_browser() is None, reason="no browser is installed")

CAPITAL = 0.71
# Shorter side in mm: a 10.1 inch tablet, a 24 inch screen, a 6.1 inch telephone.
SHORTER_MM = {"tablet": 136.0, "upright": 136.0, "desk": 299.0, "phone": 65.0, "phone_across": 65.0}
FLASHED = """(() => { window.flashed = []; const flashes = flash;
    flash = (act) => { flashed.push([act.seq, act.kind]); flashes(act); }; })()"""
SPEECH = """(() => {
    const said = [];
    const fake = {said, cancelled: 0, getVoices: () => %s, addEventListener() {},
        cancel() { this.cancelled += 1; }, speak(u) { said.push(u.text); }};
    Object.defineProperty(window, "speechSynthesis", {value: fake});
    window.SpeechSynthesisUtterance = function (text) { this.text = text; };
})()"""
DISABLED = "['undo', 'skip', 'stop'].map(id => document.getElementById(id).disabled)"
_AXE = """axe.run(document).then(r => r.violations.map(
    v => [v.impact, v.id, v.nodes.map(n => n.target.join(" ")).slice(0, 3)]))"""
_SIZES = """(() => {
    const shown = e => e && e.getClientRects().length && e.textContent.trim();
    const of = {};
    for (const id of ["word", "count", "digits", "cue", "others", "next", "caution-text", "said"])
        if (shown(document.getElementById(id)))
            of[id] = parseFloat(getComputedStyle(document.getElementById(id)).fontSize);
    return of; })()"""
_OVERFLOW = """(() => {
    const wide = innerWidth, tall = innerHeight, found = [];
    const all = "header > button, #task *:not(svg, svg *), #cautions *, footer *";
    for (const e of document.querySelectorAll(all)) {
        if (!e.getClientRects().length || !e.textContent.trim()) continue;
        const r = document.createRange(); r.selectNodeContents(e);
        const b = r.getBoundingClientRect();
        if (b.right > wide + 1 || b.bottom > tall + 1 || b.left < -1)
            found.push([e.id || e.tagName, b.right, b.bottom]);
    }
    return found; })()"""
_MEET = """(() => {
    const boxes = ["word", "count", "digits", "cue", "others", "next"].map(id => {
        const e = document.getElementById(id);
        if (!e.getClientRects().length || !e.textContent.trim()) return null;
        const r = document.createRange(); r.selectNodeContents(e);
        const b = r.getBoundingClientRect(), size = parseFloat(getComputedStyle(e).fontSize);
        const trim = Math.max(0, (b.height - size * 0.9) / 2) * (e.id === "cue" ? 0.2 : 1);
        return [id, b.left, b.right, b.top + trim, b.bottom - trim];
    }).filter(Boolean);
    const met = [];
    for (const [i, a] of boxes.entries()) for (const b of boxes.slice(i + 1))
        if (a[1] < b[2] && b[1] < a[2] && a[3] < b[4] && b[3] < a[4]) met.push([a, b]);
    return met; })()"""


@pytest.fixture(scope="module")
def viewers() -> Iterator[Viewers]:
    with viewing() as opened:
        yield opened


@pytest.fixture(name="display")
def display_fixture() -> Iterator[Shown]:
    with shown(page_files(DepthReference.RIM, CAUTIONS)) as up:
        yield up


def on(viewers: Viewers, display: Shown, **how: Any) -> Window:
    """Open the display in a window of its own, and wait for the first snapshot."""
    window = viewers.open(display.server.url, **how)
    window.wait_for("document.body.dataset.link === 'ok'")
    return window


def lay(display: Shown, window: Window, **changed: Any) -> None:
    """Lay a snapshot, and wait until the window shows it."""
    seq = int(time.monotonic() * 1000)
    display.board.lay(snapshot(seq=seq, **changed), urgent=True)
    window.wait_for(f"newest.seq === {seq}")


def minutes_of_arc(font_px: float, screen: str, away_m: float) -> float:
    height_mm = CAPITAL * font_px * SHORTER_MM[screen] / min(SCREENS[screen])
    return 2 * math.degrees(math.atan(height_mm / 2000 / away_m)) * 60


@pytest.mark.parametrize("screen", SCREENS)
def test_it_is_read_from_where_it_has_to_be(viewers: Viewers, display: Shown, screen: str) -> None:
    """Word, count and figures at 2 m, what to do at 1 m, with the longest of each."""
    window = on(viewers, display, size=SCREENS[screen])
    small, narrow = [], screen.startswith("phone")
    for name, changed in states().items():
        lay(display, window, **changed)
        # Nine letters are wider than a telephone upright: its word is for 1 m where it is long.
        word_m = 1.0 if screen == "phone" else 2.0
        wanted = {"word": (20, word_m), "count": (20, 2.0), "digits": (17 if narrow else 20, 2.0)}
        sizes = window.ask(_SIZES)
        assert {"word"} < {*sizes}
        for name_of, px in sizes.items():
            least, away_m = wanted.get(name_of, (22, 1.0))
            if minutes_of_arc(px, screen, away_m) < least - 0.05:
                small.append((name, name_of, px, minutes_of_arc(px, screen, away_m)))
        assert window.ask(_OVERFLOW) == [], name
        assert window.ask(_MEET) == [], name
    assert small == []
    window.close()


def test_a_word_that_is_too_small_or_too_long_is_noticed(viewers: Viewers, display: Shown) -> None:
    window = on(viewers, display)
    window.ask("document.getElementById('word').textContent = 'W'.repeat(30), 1")
    assert "word" in [name for name, *_ in window.ask(_OVERFLOW)]
    assert minutes_of_arc(40, "tablet", 2.0) < 20
    window.close()


def test_it_shows_where_to_measure(viewers: Viewers, display: Shown) -> None:
    window = on(viewers, display)
    seen = (
        "[...document.querySelectorAll('#place .on')].map(e => e.dataset.place || e.dataset.part)"
    )
    for place, parts in [
        ("bore", ["barrel", "bore"]),
        ("lid", ["lid", "lid"]),
        ("found_height", ["spring", "found_height"]),
        ("length_5_mm", ["block"]),
        ("", []),
    ]:
        lay(display, window, place=place)
        assert window.ask(seen) == parts
    window.close()


def test_cautions_are_all_there_during_the_opening(viewers: Viewers, display: Shown) -> None:
    for size in (TABLET, SCREENS["phone"]):
        window = on(viewers, display, size=size)
        lay(display, window, **states()["opening"])
        pages = window.wait_for("cautionPages.length && cautionPages")
        told = " ".join(words for _, words in pages)
        assert {head for head, _ in pages} == {
            "BEFORE YOU OPEN THE BARREL",
            "BEFORE THE OLD SPRING COMES OUT",
        }
        for word in ("eye protection", "radium", "no flame", "coil by coil"):
            assert word in told
        for _ in pages:
            fits = "(e => e.scrollHeight <= e.clientHeight + 1)"
            box = "document.getElementById('caution-text')"
            assert window.ask(f"{fits}({box})"), window.text("caution-text")
            window.tap("caution-more")
        lay(display, window)
        assert window.text("cautions") == ""
        window.close()


def test_nothing_flashes_on_a_page_that_was_just_opened(viewers: Viewers, display: Shown) -> None:
    acts = [act(1, *ACTS[0])]
    display.board.lay(snapshot(acts=acts))
    window = on(viewers, display)
    window.ask(FLASHED)
    lay(display, window, acts=acts)
    lay(display, window, acts=[*acts, act(2, *ACTS[2])])
    assert window.wait_for("flashed.length && flashed") == [[2, "done"]]
    window.close()


def test_each_signal_has_sign_word_and_look_of_its_own(viewers: Viewers, display: Shown) -> None:
    window, seen = on(viewers, display), []
    for seq, row in enumerate(ACTS, start=1):
        lay(display, window, acts=[act(seq, *row)])
        window.wait_for(f"document.getElementById('flash').dataset.seq === '{seq}'")
        look = "(e => [getComputedStyle(e).backgroundColor, getComputedStyle(e).color])"
        back, ink = window.ask(f"{look}(document.getElementById('flash'))")
        assert contrast(back, ink) > 7.0, row
        assert saturated_red(back) < 0.8 and saturated_red(ink) < 0.8
        seen.append(
            (
                window.ask("document.getElementById('flash-word').textContent"),
                window.ask("document.getElementById('flash-sign').getAttribute('href')"),
            )
        )
    words, signs = zip(*seen, strict=True)
    assert len({*words}) == len({*signs}) == len(ACTS)
    assert max(map(len, words)) <= 9
    window.close()


def rgb(colour: str) -> list[float]:
    return [int(part) / 255 for part in colour[colour.index("(") + 1 : -1].split(",")[:3]]


def contrast(one: str, other: str) -> float:
    """WCAG 2.2, relative luminance: what is left of the colours where none is seen."""

    def luminance(colour: str) -> float:
        linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in rgb(colour)]
        return sum(w * c for w, c in zip((0.2126, 0.7152, 0.0722), linear, strict=True))

    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def saturated_red(colour: str) -> float:
    """WCAG 2.2, general flash and red flash thresholds: the share of red."""
    parts = rgb(colour)
    return parts[0] / sum(parts) if sum(parts) > 0 else 0.0


def test_flashes_are_fewer_than_three_in_a_second_and_the_gravest_is_shown(
    viewers: Viewers, display: Shown
) -> None:
    window = on(viewers, display)
    window.ask(
        "(window.times = [], new MutationObserver(() => times.push(performance.now()))"
        ".observe(document.getElementById('flash'), {attributeFilter: ['data-seq']}), 1)"
    )
    for seq in range(1, 21):
        kind = ACTS[6] if seq == 10 else ACTS[0]
        display.board.lay(snapshot(acts=[act(seq, *kind)]), urgent=True)
        time.sleep(0.06)
    time.sleep(0.6)
    times = window.ask("times")
    assert len(times) >= 2
    assert min(b - a for a, b in pairwise(times)) >= 390
    window.close()


def test_what_is_older_than_a_moment_is_not_flashed(viewers: Viewers, display: Shown) -> None:
    window = on(viewers, display)
    window.ask(FLASHED)
    old = {**act(1, *ACTS[0]), "at_ms": 1000 * (time.monotonic() - 2.0)}
    lay(display, window, acts=[old])
    lay(display, window, acts=[old, act(2, *ACTS[0])])
    assert window.wait_for("flashed.length && flashed") == [[2, "taken"]]
    window.close()


@pytest.mark.parametrize("slept_s", [3.0, pytest.param(15.0, marks=pytest.mark.campaign)])
def test_nothing_old_flashes_after_a_sleep(
    viewers: Viewers, display: Shown, slept_s: float
) -> None:
    """The process that draws is stopped, as a tablet that sleeps, while readings are taken."""
    window = on(viewers, display)
    window.ask(FLASHED)
    drawing = window.drawing_processes()
    begun_s, seq = time.monotonic(), 0
    for pid in drawing:
        os.kill(pid, signal.SIGSTOP)
    try:
        while time.monotonic() - begun_s < slept_s:
            seq += 1
            display.board.lay(snapshot(seq=seq, acts=[act(seq, *ACTS[seq % 3])]), urgent=True)
            time.sleep(0.1)
        time.sleep(1.7)  # all of these are old by now
        (last,) = display.board.newest["acts"]
        display.board.lay(snapshot(seq=seq + 1, acts=[last]))
    finally:
        for pid in drawing:
            os.kill(pid, signal.SIGCONT)
    woke_s = time.monotonic()
    window.wait_for(f"newest.seq >= {seq}")
    assert time.monotonic() - woke_s < 5.0
    assert window.ask("flashed") == []
    lay(display, window, acts=[act(seq + 5, *ACTS[2])])
    assert window.wait_for("flashed.length && flashed") == [[seq + 5, "done"]]
    window.close()


def test_a_button_says_what_was_seen(viewers: Viewers, display: Shown) -> None:
    window = on(viewers, display)
    window.tap("undo")
    (event,) = eventually(lambda: display.keys.poll(0.1))
    assert event.body.raw == b"u@41"
    window.ask("(newest.about = 40, 1)")  # a page that lagged
    window.tap("undo")
    window.wait_for("document.getElementById('said').textContent.startsWith('That was not')")
    assert display.keys.poll(0.1) == ()
    lay(display, window, can=["stop"])
    assert window.ask(DISABLED) == [True, True, False]
    window.close()


def test_stop_asks_first(viewers: Viewers, display: Shown) -> None:
    window = on(viewers, display)
    window.tap("stop")
    assert window.wait_for("document.getElementById('sure').open")
    assert window.ask("document.activeElement.id") == "sure-no"
    for kind in ("keyDown", "keyUp"):
        window.call("Input.dispatchKeyEvent", type=kind, key="Escape", windowsVirtualKeyCode=27)
    window.wait_for("!document.getElementById('sure').open")
    assert display.keys.poll(0.1) == ()
    window.tap("stop")
    window.wait_for("document.getElementById('sure').open")
    window.tap("sure-yes")
    (event,) = eventually(lambda: display.keys.poll(0.1))
    assert event.body.raw == b"q"
    window.close()


def test_a_bench_that_is_gone_looks_gone(viewers: Viewers) -> None:
    with shown(page_files(DepthReference.RIM, CAUTIONS)) as display:
        window = on(viewers, display)
        assert window.text("digits") == "11.43"
    window.wait_for("document.body.dataset.link === 'lost'", patience_s=10)
    assert window.text("digits") == "–"
    assert window.ask(DISABLED) == [True] * 3
    assert "Nothing comes from the bench" in window.text("lost")
    window.close()


def test_silence_looks_like_silence(viewers: Viewers, display: Shown) -> None:
    """Heartbeats come, but the job says nothing: its thread hangs."""
    window = on(viewers, display)
    window.wait_for("document.body.dataset.link === 'lost'", patience_s=15)
    assert window.text("digits") == "–"
    lay(display, window)
    assert window.text("digits") == "11.43"
    window.close()


def test_it_comes_back_by_itself_and_a_new_run_is_told_apart(viewers: Viewers) -> None:
    files = page_files(DepthReference.RIM, CAUTIONS)
    with shown(files) as display:
        window = on(viewers, display)
        address, token = display.server.host, display.token
    window.wait_for("document.body.dataset.link === 'lost'", patience_s=10)
    with shown(files) as again:
        if again.server.host != address:
            pytest.skip("another program took the port meanwhile")
        begun_s = time.monotonic()
        window.wait_for("document.body.dataset.link === 'foreign'", patience_s=10)
        assert time.monotonic() - begun_s < 5.0
        assert "earlier run" in window.text("lost")
        assert token != again.token
    window.close()


def test_the_token_is_taken_out_of_the_address_and_outlives_a_reload(
    viewers: Viewers, display: Shown
) -> None:
    window = on(viewers, display)
    assert window.ask("location.href") == f"http://{display.server.host}/"
    window.call("Page.reload")
    time.sleep(0.3)
    window.wait_for("document.body.dataset.link === 'ok'")
    stranger = viewers.open(f"http://{display.server.host}/")
    stranger.wait_for("document.body.dataset.link === 'foreign'")
    assert "whole address" in stranger.text("lost")
    for each in (window, stranger):
        each.close()


def test_seven_tabs_of_one_browser(viewers: Viewers, display: Shown) -> None:
    """A browser opens six connections to a host: hidden tabs must let theirs go."""
    first = on(viewers, display)
    tabs = [first]
    for _ in range(6):
        tabs.append(viewers.open(display.server.url, beside=first))
        tabs[-1].show()
        tabs[-1].wait_for("newest !== null", patience_s=15)
    eventually(lambda: display.board.n_viewers <= 2)
    first.show()
    lay(display, first, place="depth")
    first.tap("undo")
    assert eventually(lambda: display.keys.poll(0.1))
    for tab in tabs:
        tab.close()


def test_what_a_person_typed_stays_text(viewers: Viewers, display: Shown) -> None:
    window = on(viewers, display)
    evil = "<img src=x onerror=alert(1)><script>document.body.dataset.link='evil'</script>"
    lay(
        display,
        window,
        job={"id": 7, "title": evil},
        next=evil,
        acts=[act(1, "refused", "cross", evil, evil)],
    )
    assert evil in window.ask("document.getElementById('title').textContent")
    lay(
        display,
        window,
        phase="ended",
        answer={
            "order": evil,
            "parts": [
                {
                    "head": evil,
                    "lines": [evil, evil],
                    "drawing": "<svg xmlns='http://www.w3.org/2000/svg'><script>alert(1)</script></svg>",
                }
            ],
        },
    )
    assert window.ask("document.querySelectorAll('img, main script, #answer svg').length") == 0
    assert window.ask("document.body.dataset.link") == "ok"
    window.close()


def test_it_asks_no_other_host_and_has_nothing_to_complain_about(
    viewers: Viewers, display: Shown
) -> None:
    window = on(viewers, display)
    for changed in states().values():
        lay(display, window, **changed)
    lay(display, window, phase="ended", can=[], answer=answer())
    window.wait_for("document.querySelector('#answer svg')")
    here = (f"http://{display.server.host}/", "data:")
    assert window.requests()
    assert [each for each in window.requests() if not each.startswith(here)] == []
    assert not any(display.token in each for each in window.requests())
    assert window.complaints() == []
    window.close()


def test_a_foreign_request_would_be_noticed(viewers: Viewers, display: Shown) -> None:
    window = on(viewers, display)
    window.ask("fetch('http://192.0.2.1/').catch(() => 1)")
    assert window.complaints()  # by the policy of the page
    window.close()


def test_it_ends_with_the_answer(viewers: Viewers, display: Shown) -> None:
    window = on(viewers, display)
    lay(display, window, phase="ended", can=[], answer=answer(end="hook"))
    said = window.wait_for("document.getElementById('answer').innerText")
    assert said.index("Order 1.20 x 0.125 x 370 mm") < said.index("Outer end: hook")
    assert "Chance that its height goes in: over 99 %" in said
    assert said.index("Before you fit it") > said.index("What will do")
    assert "wear eye protection" in said
    assert window.ask("document.querySelector('#answer svg').getBoundingClientRect().width") > 600
    least = """Math.min(...[...document.querySelectorAll('#answer :is(p, li)')]
        .map(e => parseFloat(getComputedStyle(e).fontSize)))"""
    assert minutes_of_arc(window.ask(least), "tablet", 1.0) >= 22
    assert window.text("undo") == ""
    time.sleep(1.2)
    assert window.ask("document.body.dataset.link") == "ok"
    window.close()


def test_sound_and_voice_after_one_tap(viewers: Viewers, display: Shown) -> None:
    """No voice is heard here: it is noted what is said, and when."""
    window = on(viewers, display, before=SPEECH % "[{name: 'a voice'}]")
    assert window.text("badge").startswith("silent")
    lay(display, window, acts=[act(1, *ACTS[0])])
    time.sleep(0.3)
    assert window.ask("speechSynthesis.said") == []
    window.tap("sound")
    window.wait_for("audio && audio.state === 'running'")
    assert window.text("badge").startswith("sound on")
    assert "no voice" not in window.text("badge")
    lay(display, window, acts=[act(2, *ACTS[0])])
    window.wait_for("speechSynthesis.said.length === 1")
    ask = {**snapshot()["ask"], "id": "bore-3", "spoken": "bore, three of five"}
    lay(display, window, ask=ask)
    lay(display, window, ask=ask)
    window.wait_for("speechSynthesis.said.length === 2")
    old = {**act(3, *ACTS[6]), "at_ms": 1000 * (time.monotonic() - 3.0)}
    lay(display, window, ask=ask, acts=[old])
    time.sleep(0.3)
    assert window.ask("speechSynthesis.said") == ["taken, bore 11.43", "bore, three of five"]
    assert window.ask("speechSynthesis.cancelled") == 2  # each cuts off what was said before
    window.close()


def test_a_device_without_a_voice_says_so_and_sounds_on(viewers: Viewers, display: Shown) -> None:
    window = on(viewers, display, before=SPEECH % "[]")
    assert window.ask("audio") is None
    window.tap("sound")
    window.wait_for(
        "document.getElementById('badge').textContent.includes('no voice on this device')"
    )
    assert window.ask("audio.state") == "running"
    before = window.ask("soundUntil")
    lay(display, window, acts=[act(1, *ACTS[6]), act(2, *ACTS[0])])
    window.wait_for(f"soundUntil > {before}")
    assert window.ask("speechSynthesis.said") == []
    assert window.ask("soundUntil") - before > 0.44 + 0.16 + 0.12  # one after the other
    window.close()


def test_this_browser_has_no_voice_and_the_page_finds_out(viewers: Viewers, display: Shown) -> None:
    window = on(viewers, display)
    if window.ask("speechSynthesis.getVoices().length"):
        pytest.skip("this browser has a voice")
    window.tap("sound")
    window.wait_for(
        "document.getElementById('badge').textContent.includes('no voice on this device')"
    )
    window.close()


_HEARD = """(async () => {
    const rate = 8000, context = new OfflineAudioContext(1, rate * 2, rate), found = [];
    play(context, %r, 0);
    const data = (await context.startRendering()).getChannelData(0);
    for (let i = 0, from = -1, last = -1; i < data.length; i++) {
        if (Math.abs(data[i]) > 0.05) { if (from < 0) from = i; last = i; }
        if (from >= 0 && (i - last > rate * 0.02 || i === data.length - 1)) {
            let turns = 0, peak = 0;
            for (let k = from + 1; k <= last; k++) {
                if (data[k - 1] < 0 && data[k] >= 0) turns++;
                peak = Math.max(peak, Math.abs(data[k]));
            }
            found.push([from / rate, (last - from) / rate, turns * rate / (last - from), peak]);
            from = -1;
        }
    }
    return found; })()"""


def test_tones_have_the_rhythms_of_the_bell(viewers: Viewers, display: Shown) -> None:
    window = on(viewers, display)
    for each, gaps in RHYTHMS.items():
        kind = str(each)
        notes = window.ask(_HEARD % kind)
        assert [at for at, *_ in notes] == pytest.approx([*accumulate(gaps, initial=0.0)], abs=0.02)
        wanted = window.ask(f"TONES[{kind!r}]")
        for (at, lasts, pitch, peak), (at_s, length_s, hz) in zip(notes, wanted, strict=True):
            assert at == pytest.approx(at_s, abs=0.02)
            assert lasts == pytest.approx(length_s, abs=0.03)
            assert pitch == pytest.approx(hz, rel=0.12)
            assert 0.3 < peak <= 0.51
    window.close()


def test_less_motion_leaves_the_flash_and_stills_the_bar(viewers: Viewers, display: Shown) -> None:
    filled = "document.getElementById('fill').style.transform"
    for seq, (calm, moves) in enumerate(((False, True), (True, False)), start=1):
        window = on(viewers, display)
        window.like(calm=calm)
        gauge = {**snapshot()["gauge"], "still": 0.2, "full_in_ms": 900}
        lay(display, window, gauge=gauge, acts=[act(seq, *ACTS[0])])
        window.wait_for(f"document.getElementById('flash').dataset.seq === '{seq}'")
        first = window.ask(filled)
        time.sleep(0.3)
        assert (window.ask(filled) != first) is moves
        time.sleep(1.0)
        assert window.ask(filled) == ("scaleX(0.95)" if moves else "scaleX(0.2)")
        window.close()


@pytest.mark.parametrize("dark", [False, pytest.param(True, marks=pytest.mark.campaign)])
def test_axe_finds_nothing(viewers: Viewers, display: Shown, dark: bool) -> None:
    library = axe()
    if library is None:
        pytest.skip("axe-core is not installed")
    window = on(viewers, display)
    window.like(dark=dark)
    for name, changed in [*states().items(), ("ended", {"phase": "ended", "answer": answer()})]:
        if name in ("opening", "measuring", "ended"):
            lay(display, window, **changed)
            window.ask(f"{library};1")
            assert window.ask(_AXE) == [], name
    window.close()


def test_what_is_read_aloud_is_told_once_and_figures_are_not(
    viewers: Viewers, display: Shown
) -> None:
    window = on(viewers, display)
    live = "[...document.querySelectorAll('[aria-live], [role=alert]')].map(e => e.id)"
    assert window.ask(live) == ["polite", "alarm"]
    lay(display, window, acts=[act(1, *ACTS[0])])
    window.wait_for("document.getElementById('polite').textContent === 'taken, bore 11.43'")
    lay(display, window, acts=[act(2, *ACTS[6])])
    window.wait_for("document.getElementById('alarm').textContent.startsWith('refused. 254')")
    window.close()


def test_run_is_in_every_command(viewers: Viewers, display: Shown) -> None:
    window = on(viewers, display)
    assert window.ask("newest.run") == RUN
    window.close()
