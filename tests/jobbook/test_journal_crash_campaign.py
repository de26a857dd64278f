"""A few trials of each kind of work in the crash campaign."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

if not hasattr(os, "fork"):
    pytest.skip("this system cannot fork", allow_module_level=True)

from crash_campaign import run
from crash_work import KINDS, Bench, Capture, Say

pytestmark = pytest.mark.campaign

N, SEED = 6, 7


@pytest.mark.filterwarnings("ignore:This process .* is multi-threaded:DeprecationWarning")
@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.__name__)
def test_a_kill_at_any_moment_loses_nothing_that_was_said(
    kind: type[Bench], tmp_path: Path
) -> None:
    tally = run(kind, N, SEED, tmp_path)
    assert tally.trials == N
    assert tally.said + tally.killed > 0


class Forgetful(Capture):
    """Says what it has not done."""

    def work(self, say: Say) -> None:
        say("begun")
        say("12.34")


@pytest.mark.filterwarnings("ignore:This process .* is multi-threaded:DeprecationWarning")
def test_the_campaign_notices_what_was_said_and_not_kept(tmp_path: Path) -> None:
    with pytest.raises(AssertionError):
        run(Forgetful, 3, SEED, tmp_path)
