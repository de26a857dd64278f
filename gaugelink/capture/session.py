"""A job with one or two gauges: gives each its lane and keeps the order of what happened.

``MovingHand`` tells which gauge is in hand.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Iterable, Mapping, Sequence

from gaugelink.capture.acts import Act, Skipped, Superseded, Taken, Undone
from gaugelink.capture.lane import Lane
from gaugelink.capture.plan import Plan, assign
from gaugelink.capture.progress import Progress, Reviewer, Stage, no_review
from gaugelink.capture.stream import moved_mm
from gaugelink.errors import InputError
from gaugelink.model import GaugeEvent, GaugeInfo, Reading

REST_S = 1.5  # the gauge in hand has been laid down when it rests so long and another moves
_STALE = "That came too late: something else was taken or taken back since."


class CaptureSession:
    """Routes events to the lanes of their gauges; pure, times come with the events.

    Args:
        plan: what is to be measured.
        gauges: one caliper, one micrometer, or one of each.
        review: looks at each completed series and may ask for more readings.

    Raises:
        InputError: the gauges do not make a job, or have nothing to measure.
    """

    n_zeros = 1  # closings wanted before the first measurand

    def __init__(
        self, plan: Plan, gauges: Sequence[GaugeInfo], review: Reviewer = no_review
    ) -> None:
        self.plan = plan
        self.unserved: tuple[str, ...] = ()
        self.lanes: dict[str, Lane] = {}
        self._gauges = tuple(gauges)
        self._review = review
        self._order: list[str] = []  # the gauge of each standing reading or skip
        self._hand = MovingHand()
        self._n_acts = 0
        self.about = 0  # the number of the last act that took, took back or left out something
        self._absent: dict[str, Progress] = {}  # gauges of earlier sittings that are not here
        self._assign({})

    def restore(self, acts: Iterable[Act]) -> None:
        """Stand where earlier sittings left the job; a fresh zero is due on each gauge.

        Acts of gauges that are not here now are passed over. A measurand that was begun
        stays with its gauge, even if a better one has joined since.
        """
        known = []
        for act in acts:
            if act.gauge_id in self.lanes:
                known.append(act)
            else:
                self._absent.setdefault(act.gauge_id, Progress(())).apply(act)
        self._assign(self._owners(known))
        for act in known:
            self.lanes[act.gauge_id].restore(act)
            self._remember(act)
        for lane in self.lanes.values():
            lane.progress.reopen()

    def hear(self, event: GaugeEvent) -> list[Act]:
        """Take an event of a gauge; return the acts it leads to, in order."""
        acts = self.lanes[event.gauge_id].hear(event)
        return self._note(acts) if acts else acts

    def tick(self, gauge_id: str, elapsed_s: float) -> list[Act]:
        """Let time pass for a silent gauge; infinity when it will never be heard again."""
        return self._note(self.lanes[gauge_id].tick(elapsed_s))

    def undo(self) -> list[Act]:
        """Take back the last standing reading or skip, whichever gauge it was on."""
        open_ids = [id_ for id_, lane in self.lanes.items() if not _is_done(lane)]
        newest_first = [id_ for id_ in reversed(self._order) if id_ in open_ids]
        gauge_id = next(iter([*newest_first, *open_ids, *self.lanes]))
        return self._note(self.lanes[gauge_id].undo())

    def skip(self) -> list[Act]:
        """Leave out the current measurand of the gauge in hand, else of the first that measures."""
        ids = sorted(self.lanes, key=lambda gauge_id: gauge_id != self.in_hand)
        lanes = [self.lanes[gauge_id] for gauge_id in ids]
        measuring = [lane for lane in lanes if lane.progress.stage is Stage.MEASURING]
        return self._note((measuring or lanes)[0].skip())

    def refuse_stale(self) -> list[Act]:
        """Refuse a command that was meant for what another command has changed since."""
        return self._note(self.lanes[self.in_hand].refuse(_STALE))

    def follow(self, event: GaugeEvent, now_s: float) -> None:
        """Look which gauge moves; ``now_s`` is one clock for all gauges."""
        if isinstance(event.body, Reading):
            self._hand.see(event.gauge_id, event.body, now_s)

    @property
    def in_hand(self) -> str:
        """The gauge that was measured with last, or that moves while that one rests.

        One that is finished gives way to one that is not.
        """
        ids = self.lanes
        return min(ids, key=lambda id_: (_is_done(ids[id_]), id_ != self._hand.gauge_id))

    @property
    def is_closed(self) -> bool:
        """True once every gauge has given its closing zero."""
        return all(_is_done(lane) for lane in self.lanes.values())

    def _assign(self, owners: Mapping[str, str]) -> None:
        assignment = assign(self.plan, self._gauges, owners)
        if not any(assignment.steps):
            raise InputError(
                "There is nothing to measure with this gauge.",
                hint="Add another gauge, or leave fewer measurands out.",
            )
        self.unserved = assignment.unserved
        self.lanes = {
            info.gauge_id: Lane(
                info, assignment.steps_of(info.gauge_id), self._review, self._known_mm
            )
            for info in self._gauges
        }

    def _known_mm(self, measurand: str) -> float | None:
        """Return about what a measurand came to so far, with whichever gauge; None when unknown."""
        taken_with = [*(lane.progress for lane in self.lanes.values()), *self._absent.values()]
        values_mm = [r.value_mm for each in taken_with for r in each.standing(measurand)]
        return statistics.median(values_mm) if values_mm else None

    def _owners(self, acts: Sequence[Act]) -> dict[str, str]:
        """Return the gauge of each measurand that was begun or skipped."""
        progress = {gauge_id: Progress(self.plan.steps) for gauge_id in self.lanes}
        for act in acts:
            progress[act.gauge_id].apply(act)
        return {
            step.measurand: gauge_id
            for gauge_id, so_far in progress.items()
            for step in self.plan.steps
            if so_far.standing(step.measurand) or so_far.is_skipped(step.measurand)
        }

    def _note(self, acts: list[Act]) -> list[Act]:
        for act in acts:
            self._remember(act)
        return acts

    def _remember(self, act: Act) -> None:
        self._n_acts += 1
        if isinstance(act, Taken) and act.is_zero:
            self._hand.take(act.gauge_id)
            return
        if isinstance(act, Skipped | Taken):
            self._order.append(act.gauge_id)
        elif isinstance(act, Undone):
            last = len(self._order) - 1 - self._order[::-1].index(act.gauge_id)
            del self._order[last]
        elif isinstance(act, Superseded):  # settles all that was measured with this gauge
            self._order = [gauge_id for gauge_id in self._order if gauge_id != act.gauge_id]
            self.about = self._n_acts
            return
        else:
            return
        self.about = self._n_acts
        self._hand.take(act.gauge_id)


def _is_done(lane: Lane) -> bool:
    return lane.progress.stage is Stage.DONE


class MovingHand:
    """Follows the hand from gauge to gauge, and does not flap when two of them move.

    What is done with a gauge brings the hand to it. Else another gauge must have moved while
    the one in hand rested for ``REST_S``. A gauge has moved when two indications running lie
    off the place where it was: a single wrong one moves nothing.
    """

    def __init__(self) -> None:
        self.gauge_id = ""
        self._at_mm: dict[str, float] = {}
        self._is_off: dict[str, bool] = {}
        self._moved_s: dict[str, float] = {}
        self._now_s = 0.0

    def take(self, gauge_id: str) -> None:
        """Note that something was done with a gauge just now."""
        self.gauge_id = gauge_id
        self._moved_s[gauge_id] = self._now_s

    def see(self, gauge_id: str, shown: Reading, now_s: float) -> None:
        """Take what a gauge shows."""
        self._now_s = now_s
        at_mm = self._at_mm.setdefault(gauge_id, shown.value_mm)
        is_off = abs(shown.value_mm - at_mm) > moved_mm(shown.resolution_mm)
        was_off, self._is_off[gauge_id] = self._is_off.get(gauge_id, False), is_off
        if not (is_off and was_off):
            return
        self._at_mm[gauge_id], self._is_off[gauge_id] = shown.value_mm, False
        self._moved_s[gauge_id] = now_s
        if now_s - self._moved_s.get(self.gauge_id, -math.inf) >= REST_S:
            self.gauge_id = gauge_id
