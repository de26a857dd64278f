"""What is measured, with which gauge, how the reading is sought, and how often.

Reading counts, ranges and preferred gauges are common practice; the ranges span
small ladies' movements to large pocket watches and only serve to refuse the
plainly wrong (a bore of 254 mm is a unit mistake).

``JobSetup`` is what a job is set up with, ``JobRecord`` what it is when it is read back.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from gaugelink.capture.acts import Act
from gaugelink.errors import InputError
from gaugelink.model import DepthReference, GaugeInfo, GaugeKind, Seek

CALIPER, MICROMETER = GaugeKind.CALIPER, GaugeKind.MICROMETER


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One measurand of the plan; lengths in mm.

    ``kinds`` are the gauges that can serve it, best first. ``low_mm`` and
    ``high_mm`` bound what is plausible. ``instruction`` is said at the bench.
    """

    measurand: str
    kinds: tuple[GaugeKind, ...]
    seek: Seek
    n_wanted: int
    low_mm: float
    high_mm: float
    instruction: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """The steps of a job, in the order they are offered, and the depth reference."""

    steps: tuple[Step, ...]
    depth_reference: DepthReference = DepthReference.RIM


_STEPS = (
    Step(
        measurand="bore",
        kinds=(CALIPER,),
        seek=Seek.MAXIMUM,
        n_wanted=5,
        low_mm=3.0,
        high_mm=30.0,
        instruction="Inside jaws in the barrel, above the hook. Rock to the largest reading and "
        "hold; turn the barrel about 40 degrees before each reading.",
    ),
    Step(
        measurand="depth",
        kinds=(CALIPER,),
        seek=Seek.SETTLED,
        n_wanted=3,
        low_mm=0.5,
        high_mm=9.0,
        instruction="Depth rod on the barrel floor, beam flat across the {reference}.",
    ),
    Step(
        measurand="lid",
        kinds=(MICROMETER, CALIPER),
        seek=Seek.SETTLED,
        n_wanted=3,
        low_mm=0.1,
        high_mm=2.0,
        instruction="Thickness of the lid near its edge, clear of any rim or dent.",
    ),
    Step(
        measurand="recess",
        kinds=(CALIPER,),
        seek=Seek.SETTLED,
        n_wanted=3,
        low_mm=0.02,
        high_mm=1.0,
        instruction="Depth of the hollow turned into the inside of the lid.",
    ),
    Step(
        measurand="arbor",
        kinds=(CALIPER, MICROMETER),
        seek=Seek.MINIMUM,
        n_wanted=3,
        low_mm=0.8,
        high_mm=15.0,
        instruction="Arbor across the hub the spring winds on, beside the hook, not the pivot. "
        "Rock to the smallest reading and hold. A hub may rise like a snail: read its smallest "
        "width, its largest, and one between.",
    ),
    Step(
        measurand="found_thickness",
        kinds=(MICROMETER, CALIPER),
        seek=Seek.SETTLED,
        n_wanted=5,
        low_mm=0.03,
        high_mm=0.40,
        instruction="Thickness of the spring that was found, wiped dry, at five places; not at "
        "the eye, the tail or the bridle.",
    ),
    Step(
        measurand="found_height",
        kinds=(MICROMETER, CALIPER),
        seek=Seek.SETTLED,
        n_wanted=3,
        low_mm=0.4,
        high_mm=8.0,
        instruction="Height of the spring that was found, on a flat part of a coil.",
    ),
)
MEASURANDS = tuple(step.measurand for step in _STEPS)
_OPTIONAL = frozenset({"recess"})  # most lids are flat: only on request


def make_plan(
    depth_reference: DepthReference = DepthReference.RIM,
    *,
    with_: Sequence[str] = (),
    without: Sequence[str] = (),
) -> Plan:
    """Return the plan of a job.

    ``with_`` adds optional measurands, ``without`` leaves some out; a depth to the lid seat
    needs no lid thickness.

    Raises:
        InputError: a name that is not a measurand.
    """
    for name in (*with_, *without):
        if name not in MEASURANDS:
            raise InputError(
                f"{name!r} is not a size the plan can measure.",
                hint=f"It measures {', '.join(MEASURANDS)}.",
            )
    left_out = set(without) | (_OPTIONAL - set(with_))
    if depth_reference is DepthReference.SEAT and "lid" not in with_:
        left_out.add("lid")
    return Plan(
        steps=tuple(step for step in _STEPS if step.measurand not in left_out),
        depth_reference=depth_reference,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Assignment:
    """Which gauge serves which steps, and the measurands that no gauge here can serve."""

    gauge_ids: tuple[str, ...]
    steps: tuple[tuple[Step, ...], ...]
    unserved: tuple[str, ...]

    def steps_of(self, gauge_id: str) -> tuple[Step, ...]:
        """Return the steps of one gauge, in plan order."""
        return self.steps[self.gauge_ids.index(gauge_id)]


def assign(
    plan: Plan, gauges: Sequence[GaugeInfo], owners: Mapping[str, str] | None = None
) -> Assignment:
    """Give each step to the best gauge at hand.

    There is one caliper, one micrometer, or one of each; a measurand that has been begun stays
    with its gauge in ``owners``.

    Raises:
        InputError: two gauges of one kind, one gauge twice, or none.
    """
    by_kind = {gauge.kind: gauge.gauge_id for gauge in gauges}
    if not gauges or len(by_kind) < len(gauges):
        raise InputError(
            "A job takes one caliper, one micrometer, or one of each.",
            hint="Add kind=caliper or kind=micrometer to the addresses, such as "
            "serial:PORT?kind=micrometer.",
        )
    ids = tuple(gauge.gauge_id for gauge in gauges)
    if len(set(ids)) < len(ids):
        raise InputError(
            f"Both addresses lead to one gauge, {ids[0]}.",
            hint="Give each gauge an address of its own.",
        )
    owner = {step.measurand: _best(step, by_kind) for step in plan.steps} | dict(owners or {})
    return Assignment(
        gauge_ids=ids,
        steps=tuple(tuple(s for s in plan.steps if owner[s.measurand] == gid) for gid in ids),
        unserved=tuple(name for name, gid in owner.items() if gid is None),
    )


def _best(step: Step, by_kind: Mapping[GaugeKind, str]) -> str | None:
    return next((by_kind[kind] for kind in step.kinds if kind in by_kind), None)


@dataclass(frozen=True, slots=True, kw_only=True)
class JobSetup:
    """What the person chose before measuring: a title for the bench and the plan."""

    title: str
    plan: Plan


@dataclass(frozen=True, slots=True, kw_only=True)
class JobRecord:
    """A job as the journal holds it; ``acts`` are in the order they happened.

    ``created_utc`` is ISO 8601 in UTC. ``closed`` is true once every gauge has
    given its closing zero.
    """

    job_id: int
    created_utc: str
    setup: JobSetup
    gauges: tuple[GaugeInfo, ...]
    acts: tuple[Act, ...]
    closed: bool
