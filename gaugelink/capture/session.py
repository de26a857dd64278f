"""A job with one or two gauges: gives each its lane and keeps the order of what happened."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from gaugelink.capture.acts import Act, Skipped, Taken, Undone
from gaugelink.capture.lane import Lane, Review, Reviewer
from gaugelink.capture.plan import Plan, assign
from gaugelink.capture.progress import Stage
from gaugelink.model import GaugeEvent, GaugeInfo, Series


def no_review(series: Series) -> Review | None:
    """Ask for nothing more, whatever the series shows."""
    return None


class CaptureSession:
    """Routes events to the lanes of their gauges; pure, times come with the events.

    Args:
        plan: what is to be measured.
        gauges: one caliper, one micrometer, or one of each.
        review: looks at each completed series and may ask for more readings.

    Raises:
        InputError: the gauges do not make a job.
    """

    def __init__(
        self, plan: Plan, gauges: Sequence[GaugeInfo], review: Reviewer = no_review
    ) -> None:
        assignment = assign(plan, gauges)
        self.plan = plan
        self.unserved = assignment.unserved
        self.lanes = {
            info.gauge_id: Lane(info, assignment.steps_of(info.gauge_id), review) for info in gauges
        }
        self._order: list[str] = []  # the gauge of each standing reading or skip

    def restore(self, acts: Iterable[Act]) -> None:
        """Stand where earlier sittings left the job; a fresh zero is due on each gauge."""
        for act in acts:
            if lane := self.lanes.get(act.gauge_id):
                lane.restore(act)
                self._remember(act)
        for lane in self.lanes.values():
            lane.progress.reopen()

    def hear(self, event: GaugeEvent) -> list[Act]:
        """Take an event of a gauge; return the acts it leads to, in order."""
        return self._note(lambda: self.lanes[event.gauge_id].hear(event))

    def tick(self, gauge_id: str, elapsed_s: float) -> list[Act]:
        """Let time pass for a silent gauge."""
        return self._note(lambda: self.lanes[gauge_id].tick(elapsed_s))

    def undo(self, elapsed_s: float) -> list[Act]:
        """Take back the last standing reading or skip, whichever gauge it was on."""
        gauge_id = self._order[-1] if self._order else next(iter(self.lanes))
        return self._note(lambda: self.lanes[gauge_id].undo(elapsed_s))

    def skip(self) -> list[Act]:
        """Leave out the current measurand of the first gauge that still measures."""
        for lane in self.lanes.values():
            if acts := self._note(lane.skip):
                return acts
        return []

    @property
    def is_closed(self) -> bool:
        """True once every gauge has given its closing zero."""
        return all(lane.progress.stage is Stage.DONE for lane in self.lanes.values())

    def _note(self, source: Callable[[], list[Act]]) -> list[Act]:
        acts = source()
        for act in acts:
            self._remember(act)
        return acts

    def _remember(self, act: Act) -> None:
        if isinstance(act, Skipped) or (isinstance(act, Taken) and not act.is_zero):
            self._order.append(act.gauge_id)
        elif isinstance(act, Undone):
            last = len(self._order) - 1 - self._order[::-1].index(act.gauge_id)
            del self._order[last]
