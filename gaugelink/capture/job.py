"""What a job is set up with, and what it looks like when it is read back."""

from __future__ import annotations

from dataclasses import dataclass

from gaugelink.capture.acts import Act
from gaugelink.capture.plan import Plan
from gaugelink.model import GaugeInfo


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
