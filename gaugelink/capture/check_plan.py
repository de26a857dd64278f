"""The small plan of a gauge check: closed jaws several times, then known lengths, then closed.

It runs on the lane of any job, so a gauge is checked by the very rules that take its
readings. Only one thing is new: the zero is wanted more than once before the lengths.
"""

from __future__ import annotations

from collections.abc import Sequence

from gaugelink.capture.acts import ZERO, Act
from gaugelink.capture.plan import CALIPER, MICROMETER, Plan, Step
from gaugelink.capture.progress import Stage
from gaugelink.capture.session import CaptureSession
from gaugelink.errors import InputError
from gaugelink.model import GaugeEvent, GaugeInfo, Seek

WINDOW_MM = 0.2  # farther off, it is another block, not a worse gauge
FEWEST, MOST = 2, 100


def make_check_plan(lengths_mm: Sequence[float], n_wanted: int) -> Plan:
    """Return the plan that reads each known length ``n_wanted`` times, in the order given.

    Args:
        lengths_mm: sizes of the blocks or pins, above zero, no two of one name.
        n_wanted: readings of each, 2 to 100.

    Raises:
        InputError: no length, one length twice, or a number of readings out of range.
    """
    _require_number("readings", n_wanted, FEWEST)
    names = [length_name(each_mm) for each_mm in lengths_mm]
    if not names or len(set(names)) < len(names):
        raise InputError(
            "A check needs one or more known lengths, each once.",
            hint='Give it as --length "5.000 +- 0.0002 mm".',
        )
    steps = zip(names, lengths_mm, strict=True)
    return Plan(steps=tuple(_step(name, each_mm, n_wanted) for name, each_mm in steps))


def length_name(length_mm: float) -> str:
    """Return the name of a known length among the measurands: ``length_5_mm``."""
    return f"length_{length_mm:.7g}_mm"


class CheckSession(CaptureSession):
    """A session with one gauge that takes several zeros before it goes on.

    Between two zeros the jaws must be opened, as between any two readings. Nothing is
    added to the acts: a zero that is wanted again is the fresh zero of a job reopened.

    Args:
        plan: made by ``make_check_plan``.
        gauge: the gauge to check.
        n_zeros: closings wanted before the lengths, 1 to 100; one more ends the check.
    """

    def __init__(self, plan: Plan, gauge: GaugeInfo, n_zeros: int) -> None:
        _require_number("zeros", n_zeros, 1)
        super().__init__(plan, [gauge])
        self.n_zeros = n_zeros

    def hear(self, event: GaugeEvent) -> list[Act]:
        """Take an event of the gauge; return the acts it leads to, in order."""
        acts = super().hear(event)
        progress = self.lanes[event.gauge_id].progress
        if progress.stage is Stage.MEASURING and len(progress.standing(ZERO)) < self.n_zeros:
            progress.reopen()
        return acts


def _step(name: str, length_mm: float, n_wanted: int) -> Step:
    window_mm = min(WINDOW_MM, length_mm / 2.0)
    return Step(
        measurand=name,
        kinds=(CALIPER, MICROMETER),
        seek=Seek.SETTLED,
        n_wanted=n_wanted,
        low_mm=length_mm - window_mm,
        high_mm=length_mm + window_mm,
        instruction=f"The block or pin of {length_mm:.7g} mm, wiped, between the faces. Open and "
        "close on it anew for each reading.",
    )


def _require_number(what: str, number: int, fewest: int) -> None:
    if not fewest <= number <= MOST:
        raise InputError(f"{number} {what} are not possible.", hint=f"Ask for {fewest} to {MOST}.")
