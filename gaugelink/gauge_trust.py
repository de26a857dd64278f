"""What a result must say about the gauges behind it: a check that is overdue, or failed."""

from __future__ import annotations

from collections.abc import Iterator

from gaugelink.gauge_record import GaugeRecord
from gaugelink.model import Advice

OVERDUE, FAILED = "gauge-check-overdue", "gauge-check-failed"


def gauge_advice(record: GaugeRecord, age_days: float | None) -> tuple[Advice, ...]:
    """Return what to say of a gauge in every result that used it; mostly nothing.

    A failure at one known length stands until the gauge passes, or is undecided, there.

    Args:
        record: what is known of the gauge.
        age_days: days since its last check; None when it was never checked.
    """
    return (*_failed(record), *_overdue(record, age_days))


def _failed(record: GaugeRecord) -> Iterator[Advice]:
    for found in record.failed_lengths:
        yield Advice(
            code=FAILED,
            text=f"The {record.kind} {record.gauge_id} failed its check at {found.known_mm:g} mm: "
            f"it read {found.bias_mm:+.4f} mm off, its limit is ±{found.mpe_mm:g} mm. What it "
            "measured may be off by more than is stated here.",
        )


def _overdue(record: GaugeRecord, age_days: float | None) -> Iterator[Advice]:
    every = record.check_interval_days
    if age_days is None:
        said = "has never been checked"
    elif age_days > every:
        said = f"was last checked {age_days:.0f} days ago"
    else:
        return
    yield Advice(
        code=OVERDUE,
        text=f"The {record.kind} {record.gauge_id} {said}; a check is due every {every} days.",
    )
