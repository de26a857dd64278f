"""Takes a picture of every state of the display: ``python tests/display/display_look.py FOLDER``.

Each state is made up, in light and in dark, on a tablet, upright, on a desk and on a telephone.
"""

from __future__ import annotations

import json
import sys
import time
from pathlib import Path
from typing import Any

sys.path[:0] = [str(Path(__file__).parents[1] / folder) for folder in ("", "report", "display")]

from display_bench import shown, snapshot  # noqa: E402
from viewers import SCREENS, viewing  # noqa: E402

from gaugelink.cli.display import job_answer, page_files  # noqa: E402
from gaugelink.cli.size import sized  # noqa: E402
from gaugelink.model import DepthReference  # noqa: E402
from gaugelink.report.table import OPENING_CAUTIONS, TAKING_OUT  # noqa: E402
from gaugelink.statistics.outlier_method import OutlierMethod  # noqa: E402

CAUTIONS = f"{OPENING_CAUTIONS}\n{TAKING_OUT}"
ASK = snapshot()["ask"]
GAUGE = snapshot()["gauge"]


def asks(word: str, n: int | None, m: int | None, cue: str, below: str = "") -> dict[str, Any]:
    return {
        "id": f"{word}-{n}",
        "word": word,
        "below": below,
        "n": n,
        "m": m,
        "cue": cue,
        "spoken": cue,
    }


def act(seq: int, kind: str, sign: str, text: str, said: str) -> dict[str, Any]:
    at_ms = 1000 * time.monotonic()
    return {"seq": seq, "at_ms": at_ms, "kind": kind, "sign": sign, "text": text, "said": said}


ACTS = [
    ("taken", "check", "11.43", "taken, bore 11.43"),
    ("doubtful", "question", "11.62", "doubtful, bore 11.62"),
    ("done", "double-check", "11.44", "bore done"),
    ("more", "plus", "11.44", "bore, more readings wanted"),
    ("undone", "back", "11.43", "taken back, bore 11.43"),
    ("skipped", "skip", "", "recess skipped"),
    ("refused", "cross", "254.00", "refused. 254.00 mm is beyond any bore: look at the unit."),
    ("unplugged", "plug", "unplugged", "gauge unplugged"),
]  # fmt: skip
CLOSE = asks("CLOSE", None, None, "close the jaws, hold", "zero")
LONGEST = {
    "ask": asks(
        "THICKNESS", 10, 12, "wiped dry, at a fresh place, then hold it quietly", "found spring"
    ),
    "gauge": {**GAUGE, "live": "-00.000", "do": "unplugged"},
    "next": "found thickness",
    "unserved": ["recess"],
    "others": [{"kind": "micrometer", "live": "-00.000", "line": "found thickness 12 of 12"}],
    "job": {"id": 12345, "title": "a title as long as the person wants, and then more of it"},
}


def doing(task: str, live: str = "11.43") -> dict[str, Any]:
    """A gauge where nothing is held still."""
    return {**GAUGE, "live": live, "do": task, "still": None, "full_in_ms": None}


def states() -> dict[str, dict[str, Any]]:
    """What is changed in the snapshot for each state."""
    all_measured = asks("CLOSE", None, None, "all measured: close the jaws, hold", "last zero")
    found: dict[str, dict[str, Any]] = {
        "opening": {
            "phase": "opening",
            "ask": CLOSE,
            "place": "zero",
            "gauge": doing("close", "5.00"),
        },
        "measuring": {},
        "rock": {"gauge": doing("rock")},
        "lift": {
            "ask": asks("LIFT", 3, 5, "lift off, turn the barrel a little"),
            "gauge": doing("lift"),
        },
        "press": {"gauge": doing("press")},
        "lid": {
            "ask": asks("LID", 1, 3, "near its edge, clear of rim and dents, hold"),
            "place": "lid",
        },
        "height": {
            "ask": asks("HEIGHT", 1, 3, "on a flat part of a coil, hold", "found spring"),
            "place": "found_height",
        },
        "unplugged": {
            "ask": asks("UNPLUGGED", 2, 5, "plug it in again and it goes on"),
            "gauge": doing("unplugged", ""),
        },
        "closing": {"phase": "closing", "place": "zero", "ask": all_measured},
        "longest": LONGEST,
        "done": {
            "phase": "done",
            "ask": asks("DONE", None, None, "this gauge is finished"),
            "place": "",
            "gauge": doing("done"),
            "can": [],
        },
    }
    return found


def answer(**typed: str) -> dict[str, Any]:
    inputs, result = sized(
        {"bore": "11.00", "depth": "1.64", "lid": "0.31", "arbor": "3.70", **typed},
        None,
        OutlierMethod.GRUBBS,
        draws=2000,
    )
    return job_answer(inputs, result)


def take(folder: Path) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    files = page_files(DepthReference.RIM, CAUTIONS)
    with shown(files) as display, viewing() as viewers:
        window = viewers.open(display.server.url)
        window.wait_for("document.body.dataset.link === 'ok'")
        for name, changed in states().items():
            display.board.lay(snapshot(**changed), urgent=True)
            for screen, size in SCREENS.items():
                for dark in (False, True):
                    if dark and screen not in ("tablet", "phone"):
                        continue
                    window.size(size)
                    window.like(dark=dark)
                    time.sleep(0.25)
                    window.picture(folder / f"{name}-{screen}{'-dark' if dark else ''}.png")
        window.size(SCREENS["tablet"])
        window.like()
        for seq, (kind, sign, text, said) in enumerate(ACTS, start=1):
            display.board.lay(snapshot(acts=[act(seq, kind, sign, text, said)]), urgent=True)
            flash = "document.getElementById('flash')"
            window.wait_for(f"!{flash}.hidden && {flash}.dataset.seq == {seq}")
            window.picture(folder / f"flash-{kind}.png")
            window.wait_for("document.getElementById('flash').hidden")
            window.picture(folder / f"after-{kind}.png")
        window.tap("stop")
        time.sleep(0.2)
        window.picture(folder / "stop.png")
        window.tap("sure-no")
        window.wait_for("document.body.dataset.link === 'lost'")
        window.picture(folder / "lost.png")
        display.board.lay(snapshot(phase="ended", can=[], answer=answer()), urgent=True)
        window.wait_for("document.body.dataset.phase === 'ended'")
        for screen, size in SCREENS.items():
            window.size(size)
            time.sleep(0.2)
            window.picture(folder / f"answer-{screen}.png")
        window.size((1280, 4200))
        time.sleep(0.3)
        window.picture(folder / "answer-whole.png")
        window.size(SCREENS["tablet"])
        for seen in ("deuteranopia", "protanopia", "tritanopia", "achromatopsia"):
            window.call("Emulation.setEmulatedVisionDeficiency", type=seen)
            for seq, row in enumerate(ACTS, start=100):
                window.ask(f"flash({json.dumps(act(seq, *row))})")
                window.wait_for(f"document.getElementById('flash').dataset.seq == {seq}")
                window.ask("clearTimeout(clearTimer)")
                window.picture(folder / f"{seen}-{row[0]}.png")
        window.call("Emulation.setEmulatedVisionDeficiency", type="none")
        for complaint in window.complaints():
            sys.stdout.write(f"{complaint}\n")
        stranger = viewers.open(display.server.url[:-4] + "none")
        stranger.wait_for("document.body.dataset.link === 'foreign'")
        stranger.picture(folder / "foreign.png")


if __name__ == "__main__":
    take(Path(sys.argv[1]))
