"""What the journal hands out, besides ``capture.job.JobRecord``."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

from gaugelink.capture.acts import Act
from gaugelink.model import GaugeEvent

Item: TypeAlias = GaugeEvent | Act


@dataclass(frozen=True, slots=True, kw_only=True)
class JobLine:
    """One job in a list.

    ``n_taken`` counts every reading ever taken, zero checks included;
    ``n_standing`` leaves out those that were taken back.
    """

    job_id: int
    created_utc: str
    title: str
    closed: bool
    n_standing: int
    n_taken: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One stored event or act, for export.

    ``number`` counts from 1 within the job. ``written_utc`` is ISO 8601. ``raw``
    holds the bytes from the wire; None where none belong to it.
    """

    number: int
    written_utc: str
    kind: str
    raw: bytes | None
    item: Item
