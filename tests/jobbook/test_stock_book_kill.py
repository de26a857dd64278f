"""A kill at any moment loses no spring that was said to be taken, and takes none in silence."""

from __future__ import annotations

import random
import sqlite3
import subprocess
import sys
import time
from contextlib import closing
from pathlib import Path

import pytest
from jobbook_samples import stock_uses

from gaugelink.jobbook.stock_book import StockBook
from gaugelink.stock.stock_spring import StockSpring

pytestmark = pytest.mark.campaign

CHILD = Path(__file__).with_name("stock_child.py")
N_KILLS = 8
N_SPRINGS = 1_000_000
SPRING = StockSpring(
    item="A1", height_mm=1.2, thickness_mm=0.12, length_mm=360.0, on_hand=N_SPRINGS
)


def take_until_killed(path: Path, dice: random.Random) -> list[int]:
    """Let a child take springs; return how many it said were left, each time."""
    command = [sys.executable, str(CHILD), str(path), SPRING.item]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as child:
        assert child.stdout is not None
        said = [child.stdout.readline() for _ in range(dice.randrange(1, 12))]
        time.sleep(dice.uniform(0, 0.006))  # lands anywhere in the child's cycle
        child.kill()
        said += child.stdout.readlines()
    assert child.returncode != 0
    return [int(text) for text in said if text.endswith("\n")]


@pytest.mark.skipif(sys.platform == "win32", reason="a kill is another thing on Windows")
def test_what_was_acknowledged_is_taken_and_nothing_is_invented(tmp_path: Path) -> None:
    path, dice = tmp_path / "journal.sqlite", random.Random(8)
    with StockBook(path) as book:
        book.replace([SPRING])
    acknowledged: list[int] = []
    for kills in range(1, N_KILLS + 1):
        acknowledged += take_until_killed(path, dice)
        with StockBook(path) as book:
            left = book.springs()[0].on_hand
        uses = stock_uses(path)
        # the count and the list of uses are of one transaction
        assert left == N_SPRINGS - len(uses)
        assert all(count == 1 for _, _, count in uses)
        # each answer was given once; at most one taking a kill was not answered
        assert len(set(acknowledged)) == len(acknowledged)
        assert left <= min(acknowledged)
        assert len(acknowledged) <= len(uses) <= len(acknowledged) + kills
        with closing(sqlite3.connect(path)) as connection:
            assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    assert len(acknowledged) >= 3 * N_KILLS
