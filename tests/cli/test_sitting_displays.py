"""A further screen in a sitting: told of everything, heard, and never in the way."""

from __future__ import annotations

import threading
from collections.abc import Sequence
from pathlib import Path

import pytest

from gaugelink.capture.acts import Act, Taken, Undone
from gaugelink.capture.commands import Command, DisplayKeys
from gaugelink.capture.plan import make_plan
from gaugelink.capture.runner import Finish
from gaugelink.capture.session import CaptureSession
from gaugelink.capture.snapshot import Lately, snapshot
from gaugelink.cli.sitting import Display, begin, sit_with
from gaugelink.cli.stop_key import StopKey
from gaugelink.devices.registry import open_gauge
from gaugelink.jobbook.journal import JobKeeper, Journal
from gaugelink.model import GaugeEvent

ALL_BUT_BORE = ("depth", "lid", "arbor", "found_thickness", "found_height")
PATIENCE_S = 30.0


class Tablet:
    """A display that takes the first bore back, once, and stops after the third reading."""

    def __init__(self, session: CaptureSession) -> None:
        self._session = session
        self._lately = Lately()
        self.keys = DisplayKeys()
        self.acts: list[Act] = []
        self.phases: set[str] = set()
        self.error: Exception | None = None

    def heard(self, event: GaugeEvent) -> None:
        """Look at what came."""
        self._lately.heard(event, 0.0)
        self._look()

    def acted(self, acts: Sequence[Act]) -> None:
        """Answer what was done with a command."""
        self.acts += acts
        self._lately.acted(acts, 0.0)
        self._look()
        bores = sum(isinstance(each, Taken) and each.measurand == "bore" for each in self.acts)
        if isinstance(acts[0], Taken) and bores in (1, 3):
            self.keys.put(Command.UNDO if bores == 1 else Command.STOP, self._session.about)
        if self.error:
            raise self.error

    def idle(self) -> None:
        """Do nothing."""

    def _look(self) -> None:
        data = snapshot(self._session, self._lately, job_id=1, title="bag")
        self.phases.add(data["phase"])


def sat(tmp_path: Path, error: Exception | None = None) -> tuple[Finish, Tablet, Journal]:
    tablets: list[Tablet] = []

    def attach(session: CaptureSession) -> Display:
        tablets.append(Tablet(session))
        tablets[0].error = error
        return Display(tablets[0], tablets[0].keys)

    journal = Journal.open(tmp_path / "book.db")
    gauge = open_gauge("sim:caliper?pace=0.02")
    with gauge, StopKey() as stop:
        plan = make_plan(without=ALL_BUT_BORE)
        keeper = JobKeeper(journal=journal, job_id=begin(journal, [gauge], plan).job_id)
        session = CaptureSession(plan, [gauge.info])
        late = threading.Timer(PATIENCE_S, lambda: tablets[0].keys.put(Command.STOP))
        late.start()
        finish = sit_with(session, [gauge], keeper, stop, title="bag", quiet=True, attach=attach)
        late.cancel()
    return finish, tablets[0], journal


def test_a_display_sees_all_and_its_commands_are_kept(tmp_path: Path) -> None:
    finish, tablet, journal = sat(tmp_path)
    with journal:
        record = journal.load(1)
    assert finish is Finish.STOPPED
    assert list(record.acts) == tablet.acts
    assert sum(isinstance(act, Undone) for act in tablet.acts) == 1
    assert {"opening", "measuring"} >= tablet.phases


def test_a_display_that_fails_costs_a_sentence(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    finish, tablet, journal = sat(tmp_path, OSError("the port is gone"))
    with journal:
        record = journal.load(1)
    said = "The display failed and is switched off (OSError: the port is gone); measuring goes on."
    assert capsys.readouterr().err.count(said) == 1
    assert len(tablet.acts) == 1
    assert len(record.acts) > len(tablet.acts)
    assert finish is not Finish.STOPPED
