"""When a measurand was read, between the zero before the job and the zero after it."""

from __future__ import annotations

from gaugelink.capture.acts import Taken
from gaugelink.capture.plan import JobRecord

HALFWAY = 0.5


def share_gone(record: JobRecord, gauge_id: str, measurand: str) -> float:
    """Return how much of the time between the two zeros had gone when a measurand was read.

    Times are of the gauge's own clock, which begins anew with each sitting: only a job of
    one sitting, with two zeros, tells. Readings that were taken back count as well; they
    were read at about the same time.

    Args:
        record: the job as it stands.
        gauge_id: the gauge.
        measurand: what was read with it.

    Returns:
        0 to 1; 0.5 where it is not known.
    """
    taken = [act for act in record.acts if isinstance(act, Taken) and act.gauge_id == gauge_id]
    zeros_s = [act.elapsed_s for act in taken if act.is_zero]
    read_s = [act.elapsed_s for act in taken if act.measurand == measurand]
    if len(zeros_s) != 2 or not read_s or not zeros_s[0] < zeros_s[1]:
        return HALFWAY
    mean_s = sum(read_s) / len(read_s)
    share = (mean_s - zeros_s[0]) / (zeros_s[1] - zeros_s[0])
    return share if 0.0 <= share <= 1.0 else HALFWAY
