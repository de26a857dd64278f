"""One gauge's way through the job: events in, acts out."""

from __future__ import annotations

import statistics
from collections.abc import Callable
from dataclasses import dataclass

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
from gaugelink.capture.button import RepeatFilter
from gaugelink.capture.plan import Seek, Step
from gaugelink.capture.progress import Progress, Stage
from gaugelink.capture.seek import Seeker, SpikeGate, make_seeker
from gaugelink.capture.zero_watch import (
    CLOSED_FRAMES,
    DOUBLE_CLOSE_S,
    ZERO_LIMIT_MM,
    ZeroSignal,
    ZeroWatch,
    is_closed,
)
from gaugelink.model import (
    GaugeEvent,
    GaugeInfo,
    LinkChange,
    Reading,
    Sends,
    Series,
    UnitSwitch,
)

FAR_STEPS = 10  # a reading this far from its neighbours is taken, with a word of warning
FAR_SHARE = 0.03


@dataclass(frozen=True, slots=True, kw_only=True)
class Review:
    """What a look at a completed series asks for: ``n_more`` readings, for ``reason``."""

    n_more: int
    reason: str


Reviewer = Callable[[Series], Review | None]


class Lane:
    """Takes the readings of one gauge; every change of state is an act.

    Args:
        info: the gauge.
        steps: the measurands that are its own, in order.
        review: looks at a series when it is complete and may ask for more.
    """

    def __init__(self, info: GaugeInfo, steps: tuple[Step, ...], review: Reviewer) -> None:
        self.info = info
        self.progress = Progress(steps)
        self._review = review
        self._streams = info.sends is Sends.STREAM
        self._repeats = RepeatFilter()
        self._gate = SpikeGate()
        self._zero_watch = ZeroWatch(CLOSED_FRAMES if self._streams else 1)
        self._seeker: Seeker = make_seeker(Seek.SETTLED, rest_mm=None)
        self._seeking = ""
        self._last_mm: float | None = None  # where the gauge rested when it last counted
        self._closing: tuple[float, Reading] | None = None

    def restore(self, act: Act) -> None:
        """Apply an act of an earlier sitting."""
        self.progress.apply(act)

    def hear(self, event: GaugeEvent) -> list[Act]:
        """Take one event of this gauge; return what it leads to."""
        match event.body:
            case Reading():
                return self._resumed() + self._hear_reading(event.elapsed_s, event.body)
            case UnitSwitch():
                return self._halt(event.body)
            case LinkChange():
                self._seeker.leave()
        return []

    def tick(self, elapsed_s: float) -> list[Act]:
        """Let time pass: end the job once the closing zero was not closed twice."""
        if self._closing is None or elapsed_s - self._closing[0] <= DOUBLE_CLOSE_S:
            return []
        closed_s, reading = self._closing
        self._closing = None
        return self._do(
            Taken(gauge_id=self.info.gauge_id, elapsed_s=closed_s, measurand=ZERO, reading=reading),
            GaugeDone(gauge_id=self.info.gauge_id),
        )

    def undo(self, elapsed_s: float) -> list[Act]:
        """Take back the last standing reading or skip."""
        last = self.progress.last
        self._closing = None
        if last is None or self.progress.stage is Stage.DONE:
            return self._refuse(elapsed_s, "There is no reading to take back.")
        displayed = last.reading.displayed if isinstance(last, Taken) else ""
        return self._do(
            Undone(
                gauge_id=self.info.gauge_id,
                elapsed_s=elapsed_s,
                measurand=last.measurand,
                displayed=displayed,
            )
        )

    def skip(self) -> list[Act]:
        """Leave out the current measurand, or leave it at the readings it has."""
        step = self.progress.current
        if step is None or self.progress.stage is not Stage.MEASURING:
            return []
        return self._do(Skipped(gauge_id=self.info.gauge_id, measurand=step.measurand))

    def series(self, measurand: str) -> Series:
        """Return the standing readings of a measurand."""
        return Series(
            measurand=measurand,
            gauge_id=self.info.gauge_id,
            readings=self.progress.standing(measurand),
        )

    def _hear_reading(self, elapsed_s: float, reading: Reading) -> list[Act]:
        if self.progress.stage is Stage.DONE:
            return []
        if self._streams:
            usable = self._gate.pass_on(elapsed_s, reading)
            return [act for at_s, frame in usable for act in self._weigh(at_s, frame)]
        if self._repeats.is_repeat(elapsed_s, reading):
            gauge_id, displayed = self.info.gauge_id, reading.displayed
            return self._do(Repeated(gauge_id=gauge_id, elapsed_s=elapsed_s, displayed=displayed))
        return self._weigh(elapsed_s, reading)

    def _weigh(self, elapsed_s: float, frame: Reading) -> list[Act]:
        """Decide what one frame means at this stage."""
        stage, step = self.progress.stage, self.progress.current
        if stage is Stage.OPENING:
            reading = self._seek(ZERO, Seek.SETTLED, elapsed_s, frame)
            return self._open(elapsed_s, reading) if reading else []
        offset_mm = frame.value_mm - self.progress.zero_mm
        signal = self._zero_watch.feed(elapsed_s, offset_mm, frame.resolution_mm)
        if signal is ZeroSignal.CLOSED_TWICE:
            self._seeker.leave()
            return self.undo(elapsed_s)
        if step is None:
            return self._close(elapsed_s, frame)
        if is_closed(offset_mm, frame.resolution_mm):
            return self._closed_between(elapsed_s, frame)
        reading = self._seek(step.measurand, step.seek, elapsed_s, frame)
        return self._take(elapsed_s, step, reading) if reading else []

    def _seek(self, measurand: str, seek: Seek, elapsed_s: float, frame: Reading) -> Reading | None:
        """Return the reading when there is one; on a button gauge every frame is one."""
        if not self._streams:
            return frame
        if measurand != self._seeking:
            self._seeking = measurand
            self._seeker = make_seeker(seek, rest_mm=self._last_mm)
        return self._seeker.feed(elapsed_s, frame)

    def _open(self, elapsed_s: float, reading: Reading) -> list[Act]:
        if abs(reading.value_mm) > ZERO_LIMIT_MM:
            return self._refuse(
                elapsed_s,
                "First close the jaws for the zero reading; if they are closed, "
                "set the gauge to zero.",
                reading,
            )
        return self._stand(elapsed_s, ZERO, reading)

    def _closed_between(self, elapsed_s: float, frame: Reading) -> list[Act]:
        """Jaws closed in the middle of the job: no reading, but perhaps half an undo."""
        self._seeker.leave()
        if self._streams:
            return []
        text = "Jaws closed: no reading. Once more takes back the last one."
        return self._refuse(elapsed_s, text, frame)

    def _close(self, elapsed_s: float, frame: Reading) -> list[Act]:
        """All is measured: hold the zero after until no second closing has followed."""
        reading = self._seek(ZERO, Seek.SETTLED, elapsed_s, frame)
        if reading is None:
            return []
        if abs(reading.value_mm - self.progress.zero_mm) <= ZERO_LIMIT_MM:
            self._closing = self._closing or (elapsed_s, reading)
            return []
        if self._streams:
            return []
        text = "Everything is measured. Close the jaws for the last zero reading."
        return self._refuse(elapsed_s, text, reading)

    def _take(self, elapsed_s: float, step: Step, reading: Reading) -> list[Act]:
        name = step.measurand.replace("_", " ")
        if not step.low_mm <= reading.value_mm <= step.high_mm:
            return self._refuse(
                elapsed_s,
                f"{reading.displayed} {reading.unit} is not a likely {name} "
                f"({step.low_mm:g} to {step.high_mm:g} mm). Check the unit and the jaws.",
                reading,
            )
        acts = self._stand(elapsed_s, step.measurand, reading, self._note(step, reading))
        if not self.progress.is_complete(step.measurand):
            return acts
        return acts + self._complete(step.measurand)

    def _complete(self, measurand: str) -> list[Act]:
        series, gauge_id = self.series(measurand), self.info.gauge_id
        n_readings = len(series.readings)
        if review := self._review(series):
            wanted = n_readings + review.n_more
            return self._do(
                MoreWanted(
                    gauge_id=gauge_id, measurand=measurand, wanted=wanted, reason=review.reason
                )
            )
        return self._do(Completed(gauge_id=gauge_id, measurand=measurand, n_readings=n_readings))

    def _note(self, step: Step, reading: Reading) -> str:
        """Say when a reading lies far from those that stand; it is taken all the same."""
        others = [r.value_mm for r in self.progress.standing(step.measurand)]
        if len(others) < 2:
            return ""
        middle_mm = statistics.median(others)
        limit_mm = max(FAR_STEPS * reading.resolution_mm, FAR_SHARE * middle_mm)
        distance_mm = reading.value_mm - middle_mm
        if abs(distance_mm) <= limit_mm:
            return ""
        return f"{distance_mm:+.3f} mm from the others. Close the jaws twice to take it back."

    def _stand(
        self, elapsed_s: float, measurand: str, reading: Reading, note: str = ""
    ) -> list[Act]:
        self._last_mm = reading.value_mm
        return self._do(
            Taken(
                gauge_id=self.info.gauge_id,
                elapsed_s=elapsed_s,
                measurand=measurand,
                reading=reading,
                note=note,
            )
        )

    def _refuse(self, elapsed_s: float, reason: str, frame: Reading | None = None) -> list[Act]:
        displayed = frame.displayed if frame else ""
        gauge_id = self.info.gauge_id
        return self._do(
            Refused(gauge_id=gauge_id, elapsed_s=elapsed_s, reason=reason, displayed=displayed)
        )

    def _halt(self, switch: UnitSwitch) -> list[Act]:
        if self.progress.halted:
            return []
        self._seeker.leave()
        return self._do(
            Halted(
                gauge_id=self.info.gauge_id,
                reason=f"The {self.info.kind} was switched from {switch.before} to {switch.now}. "
                f"No reading is taken until it shows {switch.before} again.",
            )
        )

    def _resumed(self) -> list[Act]:
        """A reading in the old unit ends a halt."""
        return self._do(Resumed(gauge_id=self.info.gauge_id)) if self.progress.halted else []

    def _do(self, *acts: Act) -> list[Act]:
        for act in acts:
            self.progress.apply(act)
        return list(acts)
