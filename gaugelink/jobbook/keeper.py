"""The journal as one job sees it: what ``capture.runner`` keeps events with."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from gaugelink.jobbook.journal import Journal
from gaugelink.jobbook.records import Item


@dataclass(frozen=True, slots=True, kw_only=True)
class JobKeeper:
    """Writes to one job of an open journal."""

    journal: Journal
    job_id: int

    def write(self, items: Sequence[Item]) -> None:
        """Gather events and acts for the next ``commit``."""
        self.journal.write(self.job_id, items)

    def commit(self) -> None:
        """Make everything written so far durable; raises as ``Journal.commit``."""
        self.journal.commit()
