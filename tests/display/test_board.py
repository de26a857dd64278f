"""The board: one slot, viewers that are slow, and a job laid on it."""

from __future__ import annotations

import json
import threading
import time

import pytest
from display_bench import snapshot
from runner_bench import event, one_depth

from gaugelink.display import board as under_test
from gaugelink.display.board import MOST_VIEWERS, Board, BoardWatcher, Pressed, press


class NotedKeys:
    """Keys that note what was put."""

    def __init__(self) -> None:
        self.put_in: list[tuple[str, int | None]] = []

    def put(self, command: str, about: int | None = None) -> None:
        self.put_in.append((str(command), about))


def test_a_viewer_has_the_newest_and_is_told_once() -> None:
    board = Board()
    board.lay({"seq": 1})
    board.lay({"seq": 2})
    viewing = board.join()
    assert viewing is not None
    with viewing:
        assert json.loads(viewing.take(0.0))["seq"] == 2
        board.lay({"seq": 2})
        before_ms = 1000 * time.monotonic()
        assert json.loads(viewing.take(1.0))["sent_ms"] >= before_ms - 1
        assert viewing.take(0.01) == b"\n"
        assert board.n_viewers == 1
    assert board.n_viewers == 0


def test_figures_are_kept_apart_and_an_act_is_not() -> None:
    board = Board()
    board.lay({"seq": 1})
    viewing = board.join()
    assert viewing is not None
    viewing.take(0.0)
    begun_s = time.monotonic()
    board.lay({"seq": 2})
    assert json.loads(viewing.take(5.0))["seq"] == 2
    assert time.monotonic() - begun_s > 0.8 * under_test.APART_S
    board.lay({"seq": 3}, urgent=True)
    begun_s = time.monotonic()
    assert json.loads(viewing.take(5.0))["seq"] == 3
    assert time.monotonic() - begun_s < 0.8 * under_test.APART_S


def test_a_closed_board_gives_its_last_and_lets_go() -> None:
    board = Board()
    board.lay({"seq": 1})
    viewing = board.join()
    assert viewing is not None
    viewing.take(0.0)
    threading.Timer(0.05, board.close).start()
    assert viewing.take(10.0) == b""
    assert viewing.is_over
    viewing.__exit__()
    assert board.wait_until_empty(0.0)


def test_there_is_a_limit_to_viewers() -> None:
    board = Board()
    assert all(board.join() for _ in range(MOST_VIEWERS))
    assert board.join() is None
    board.leave()
    assert board.join() is not None


@pytest.mark.parametrize(
    ("said", "asked"),
    [
        ({"command": "undo", "run": "9f3c11aa", "about": 41}, Pressed.ACCEPTED),
        ({"command": "undo", "run": "9f3c11aa", "about": 40}, Pressed.STALE),
        ({"command": "stop", "run": "9f3c11aa", "about": 40}, Pressed.ACCEPTED),
        ({"command": "stop", "run": "other", "about": 41}, Pressed.STALE),
        ({"command": "undo", "run": "9f3c11aa"}, Pressed.NOT_A_COMMAND),
        ({"command": "u", "run": "9f3c11aa", "about": 41}, Pressed.NOT_A_COMMAND),
        ({"command": ["undo"], "run": "9f3c11aa", "about": 41}, Pressed.NOT_A_COMMAND),
        ("undo", Pressed.NOT_A_COMMAND),
        (None, Pressed.NOT_A_COMMAND),
    ],
)
def test_a_button_holds_while_what_was_seen_does(said: object, asked: Pressed) -> None:
    keys = NotedKeys()
    assert press(said, snapshot(), keys) is asked  # type: ignore[arg-type]
    assert len(keys.put_in) == (asked is Pressed.ACCEPTED)


def test_nothing_is_pressed_before_there_is_a_job() -> None:
    said = {"command": "stop", "run": "", "about": 0}
    assert press(said, {}, NotedKeys()) is Pressed.STALE  # type: ignore[arg-type]


def test_a_job_is_laid_as_often_as_it_is_read_and_acts_at_once() -> None:
    board, session = Board(), one_depth()
    watcher = BoardWatcher(board, session, job_id=7, title="bag 112")
    assert board.newest["job"] == {"id": 7, "title": "bag 112"}
    assert board.newest["phase"] == "opening"
    first = board.newest["seq"]
    for n in range(50):
        watcher.heard(event(n * 0.001, "5.00"))
    assert board.newest["seq"] <= first + 2
    acts = session.hear(event(1.0, "0.00"))
    watcher.acted(acts)
    (told,) = board.newest["acts"]
    assert (told["kind"], told["sign"]) == ("taken", "check")
    assert board.newest["phase"] == "measuring"


def test_a_job_where_nothing_comes_is_alive_and_old_acts_are_left_out(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    board, session = Board(), one_depth()
    watcher = BoardWatcher(board, session, job_id=7, title="")
    watcher.acted(session.hear(event(1.0, "0.00")))
    watcher.idle()
    seq = board.newest["seq"]
    watcher.idle()
    assert board.newest["seq"] == seq
    now_s = time.monotonic()
    monkeypatch.setattr(under_test.time, "monotonic", lambda: now_s + 6.0)
    watcher.idle()
    assert board.newest["seq"] == seq + 1
    assert board.newest["acts"] == []


def test_the_end_carries_the_answer() -> None:
    board = Board()
    watcher = BoardWatcher(board, one_depth(), job_id=7, title="")
    watcher.end({"order": "Order 1.20 x 0.125 x 370 mm"})
    assert board.newest["phase"] == "ended"
    assert board.newest["answer"]["order"].startswith("Order")
    assert board.newest["can"] == []
