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
# What holds a known length: how it is sought, and what the person does.
HELD_BY = {
    "length": (
        Seek.SETTLED,
        "The block or pin of {}, wiped, between the faces. Open and close on it again for each "
        "reading.",
    ),
    "ring": (
        Seek.MAXIMUM,
        "The ring of {}, wiped, over the inside jaws. Rock for the largest; again for each "
        "reading.",
    ),
    "gap": (
        Seek.SETTLED,
        "The inside jaws in the gap of {} between pins or blocks held apart. Close and open them "
        "again for each reading.",
    ),
    "step": (
        Seek.SETTLED,
        "The depth rod down the step of {}, the beam flat on its upper side. Lift it again for "
        "each reading.",
    ),
}


def make_check_plan(lengths: Sequence[tuple[str, float]], n_wanted: int) -> Plan:
    """Return the plan that reads each known length ``n_wanted`` times, in the order given.

    Args:
        lengths: what holds each, as ``HELD_BY`` names it, and its size in mm, above zero; no two
            of one name.
        n_wanted: readings of each, 2 to 100.

    Raises:
        InputError: no length, one length twice, or a number of readings out of range.
    """
    _require_number("readings", n_wanted, FEWEST)
    names = [length_name(held_by, each_mm) for held_by, each_mm in lengths]
    if not names or len(set(names)) < len(names):
        raise InputError(
            "A check needs one or more known lengths, each once.",
            hint='Give it as --length "5.000 +- 0.0002 mm".',
        )
    return Plan(steps=tuple(_step(held_by, each_mm, n_wanted) for held_by, each_mm in lengths))


def length_name(held_by: str, length_mm: float) -> str:
    """Return the name of a known length among the measurands: ``length_5_mm``, ``ring_11_mm``."""
    return f"{held_by}_{length_mm:.7g}_mm"


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


def _step(held_by: str, length_mm: float, n_wanted: int) -> Step:
    window_mm = min(WINDOW_MM, length_mm / 2.0)
    seek, instruction = HELD_BY[held_by]
    return Step(
        measurand=length_name(held_by, length_mm),
        kinds=(CALIPER, MICROMETER),
        seek=seek,
        n_wanted=n_wanted,
        low_mm=length_mm - window_mm,
        high_mm=length_mm + window_mm,
        instruction=instruction.format(f"{length_mm:.7g} mm"),
    )


def _require_number(what: str, number: int, fewest: int) -> None:
    if not fewest <= number <= MOST:
        raise InputError(f"{number} {what} are not possible.", hint=f"Ask for {fewest} to {MOST}.")
