"""The acts of one gauge, each applied to its progress the moment it is made."""

from __future__ import annotations

from gaugelink.capture.acts import (
    ZERO,
    Act,
    Completed,
    GaugeDone,
    Halted,
    MoreWanted,
    Refused,
    Repeated,
    Resumed,
    Skipped,
    Taken,
    Undone,
)
from gaugelink.capture.plan import Step
from gaugelink.capture.progress import Progress
from gaugelink.model import Reading


class Ledger:
    """Makes acts and hands them back; the only place where the progress of a gauge changes.

    Args:
        gauge_id: whose acts they are.
        progress: what they add up to.
    """

    def __init__(self, gauge_id: str, progress: Progress) -> None:
        self._id = gauge_id
        self._progress = progress

    def take(self, elapsed_s: float, measurand: str, reading: Reading, note: str = "") -> list[Act]:
        """Let a reading stand."""
        return self._enter(
            Taken(
                gauge_id=self._id,
                elapsed_s=elapsed_s,
                measurand=measurand,
                reading=reading,
                note=note,
            )
        )

    def refuse(self, elapsed_s: float, reason: str, frame: Reading | None = None) -> list[Act]:
        """Say why nothing was taken or done."""
        displayed = frame.displayed if frame else ""
        return self._enter(
            Refused(gauge_id=self._id, elapsed_s=elapsed_s, reason=reason, displayed=displayed)
        )

    def repeat(self, elapsed_s: float, frame: Reading) -> list[Act]:
        """Note a double send."""
        return self._enter(
            Repeated(gauge_id=self._id, elapsed_s=elapsed_s, displayed=frame.displayed)
        )

    def undo(self, elapsed_s: float, last: Taken | Skipped) -> list[Act]:
        """Take back ``last``, which must be the last reading or skip that stands."""
        displayed = last.reading.displayed if isinstance(last, Taken) else ""
        return self._enter(
            Undone(
                gauge_id=self._id,
                elapsed_s=elapsed_s,
                measurand=last.measurand,
                displayed=displayed,
            )
        )

    def skip(self, step: Step) -> list[Act]:
        """Leave a measurand at the readings it has."""
        return self._enter(Skipped(gauge_id=self._id, measurand=step.measurand))

    def complete(self, measurand: str, n_readings: int) -> list[Act]:
        """Say that a measurand has its readings."""
        return self._enter(Completed(gauge_id=self._id, measurand=measurand, n_readings=n_readings))

    def want(self, measurand: str, wanted: int, reason: str) -> list[Act]:
        """Settle how many readings a measurand wants in all, more than it has or no more."""
        return self._enter(
            MoreWanted(gauge_id=self._id, measurand=measurand, wanted=wanted, reason=reason)
        )

    def halt(self, reason: str) -> list[Act]:
        """Stop taking readings."""
        return self._enter(Halted(gauge_id=self._id, reason=reason))

    def resume(self) -> list[Act]:
        """Take readings again, if that was stopped."""
        return self._enter(Resumed(gauge_id=self._id)) if self._progress.halted else []

    def finish(self, closed_s: float, zero: Reading) -> list[Act]:
        """Take the closing zero of ``closed_s``: this gauge's part is done."""
        done: Act = GaugeDone(gauge_id=self._id)
        return self.take(closed_s, ZERO, zero) + self._enter(done)

    def _enter(self, act: Act) -> list[Act]:
        self._progress.apply(act)
        return [act]
