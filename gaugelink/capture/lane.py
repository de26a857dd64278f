"""One gauge's way through the job: events in, acts out."""

from __future__ import annotations

from gaugelink.capture.acts import ZERO, Act
from gaugelink.capture.button import RepeatFilter
from gaugelink.capture.judge import (
    implausible,
    is_closing_zero,
    is_opening_zero,
    lost_decimals,
    missed_zero,
    oddities,
    shows_closed_jaws,
)
from gaugelink.capture.ledger import Ledger
from gaugelink.capture.plan import Seek, Step
from gaugelink.capture.progress import Progress, Stage
from gaugelink.capture.review import Reviewer
from gaugelink.capture.stream import StreamFinder
from gaugelink.capture.zero_watch import CLOSED_FRAMES, DOUBLE_CLOSE_S, ZeroSignal, ZeroWatch
from gaugelink.model import (
    Flag,
    GaugeEvent,
    GaugeInfo,
    LinkChange,
    Reading,
    Sends,
    Series,
    UnitSwitch,
)

_CLOSE = "Everything is measured. Close the jaws for the last zero reading."


class Lane:
    """Takes the readings of one gauge; every change of state is an act.

    Args:
        info: the gauge.
        steps: the measurands that are its own, in order.
        review: looks at a series when it is complete, and may ask for more or say why not.
    """

    def __init__(self, info: GaugeInfo, steps: tuple[Step, ...], review: Reviewer) -> None:
        self.info = info
        self.progress = Progress(steps)
        self._ledger = Ledger(info.gauge_id, self.progress)
        self._review = review
        self._streams = info.sends is Sends.STREAM
        self._repeats = RepeatFilter()
        self._finder = StreamFinder()
        self._zero_watch = ZeroWatch(CLOSED_FRAMES if self._streams else 1)
        self._closing: tuple[float, Reading] | None = None
        self._now_s = 0.0
        self._on_hold = False

    def restore(self, act: Act) -> None:
        """Apply an act of an earlier sitting."""
        self.progress.apply(act)

    def hear(self, event: GaugeEvent) -> list[Act]:
        """Take one event of this gauge; return what it leads to."""
        acts = self.tick(event.elapsed_s)
        self._now_s = event.elapsed_s
        if self.progress.stage is Stage.DONE:
            return acts
        match event.body:
            case Reading():
                return acts + self._hear_reading(event.elapsed_s, event.body)
            case UnitSwitch():
                return acts + self._hear_switch(event.body)
            case LinkChange():
                self._finder.interrupt()
        return acts

    def tick(self, elapsed_s: float) -> list[Act]:
        """Let time pass: end the job once the closing zero was not closed twice."""
        if self._closing is None or elapsed_s - self._closing[0] <= DOUBLE_CLOSE_S:
            return []
        closed_s, zero = self._closing
        self._closing = None
        return self._ledger.finish(closed_s, zero)

    @property
    def is_closing(self) -> bool:
        """True while the closing zero was seen and a second closing would still undo."""
        return self._closing is not None

    def undo(self) -> list[Act]:
        """Take back the last standing reading or skip."""
        self._closing = None
        last = self.progress.last
        if last is None or self.progress.stage is Stage.DONE:
            return self._refuse("There is no reading to take back.")
        return self._ledger.undo(self._now_s, last)

    def skip(self) -> list[Act]:
        """Leave out the current measurand, or leave it at the readings it has."""
        step = self._step_now()
        return self._ledger.skip(step) if step else self._refuse("There is nothing to skip now.")

    def series(self, measurand: str) -> Series:
        """Return the standing readings of a measurand."""
        return Series(
            measurand=measurand,
            gauge_id=self.info.gauge_id,
            readings=self.progress.standing(measurand),
        )

    def _step_now(self) -> Step | None:
        return self.progress.current if self.progress.stage is Stage.MEASURING else None

    def _hear_reading(self, elapsed_s: float, frame: Reading) -> list[Act]:
        begun_in = self.progress.unit
        if begun_in is not None and frame.unit is not begun_in:
            return self._halt(
                f"The {self.info.kind} shows {frame.unit}, but the job was begun in {begun_in}. "
                f"Stop, switch it to {begun_in}, and continue the job."
            )
        hear = self._hear_stream if self._streams else self._hear_press
        return self._ledger.resume() + hear(elapsed_s, frame)

    def _hear_press(self, elapsed_s: float, frame: Reading) -> list[Act]:
        if self._repeats.is_repeat(elapsed_s, frame):
            return self._ledger.repeat(elapsed_s, frame)
        return self._weigh(elapsed_s, frame)

    def _hear_stream(self, elapsed_s: float, frame: Reading) -> list[Act]:
        was_on_hold, self._on_hold = self._on_hold, Flag.HELD in frame.flags
        if self._on_hold:  # a frozen display looks like a gauge at rest
            self._finder.interrupt()
            return [] if was_on_hold else self._refuse("The display is on hold.", frame)
        step = self._step_now()
        admitted = self._finder.admit(step.seek if step else Seek.SETTLED, elapsed_s, frame)
        return [act for at_s, each in admitted for act in self._weigh(at_s, each)]

    def _weigh(self, elapsed_s: float, frame: Reading) -> list[Act]:
        """Decide what one frame means at this stage."""
        if self.progress.stage is Stage.OPENING:
            return self._open(elapsed_s, frame)
        step = self.progress.current
        offset_mm = frame.value_mm - self.progress.zero_mm
        closed = shows_closed_jaws(offset_mm, frame.resolution_mm, step)
        signal = self._zero_watch.feed(elapsed_s, offset_mm, closed=closed)
        if signal is ZeroSignal.CLOSED_TWICE:
            return self.undo()
        if step is None:
            return self._close(elapsed_s, frame)
        if closed:
            return self._closed_between(frame)
        return self._measure(elapsed_s, step, frame)

    def _find(self, measurand: str, seek: Seek, elapsed_s: float, frame: Reading) -> Reading | None:
        """Return the reading when there is one; on a button gauge every frame is one."""
        if not self._streams:
            return frame
        return self._finder.find(measurand, seek, elapsed_s, frame)

    def _open(self, elapsed_s: float, frame: Reading) -> list[Act]:
        reading = self._find(ZERO, Seek.SETTLED, elapsed_s, frame)
        if reading is None:
            return []
        if is_opening_zero(reading):
            return self._ledger.take(elapsed_s, ZERO, reading)
        return self._refuse(
            "First close the jaws for the zero reading; if they are closed, set the gauge to zero.",
            reading,
        )

    def _closed_between(self, frame: Reading) -> list[Act]:
        """Jaws closed in the middle of the job: no reading, but perhaps half an undo."""
        if self._zero_watch.is_closed:
            self._finder.leave()
        if self._streams:
            return []
        text = "Jaws closed: no reading."
        if self.progress.last:
            text += f" Once more within {DOUBLE_CLOSE_S:g} s takes back the last one."
        return self._refuse(text, frame)

    def _close(self, elapsed_s: float, frame: Reading) -> list[Act]:
        """All is measured: hold the zero after until no second closing has followed."""
        reading = self._find(ZERO, Seek.SETTLED, elapsed_s, frame)
        if reading is None:
            return []
        offset_mm = reading.value_mm - self.progress.zero_mm
        taken = self.progress.readings
        if is_closing_zero(offset_mm, taken):
            self._closing = (elapsed_s, reading)
            return []
        text = missed_zero(offset_mm, taken, reading)
        if not text and self._streams:  # opened and laid down
            return []
        return self._refuse(text or _CLOSE, reading)

    def _measure(self, elapsed_s: float, step: Step, frame: Reading) -> list[Act]:
        reading = self._find(step.measurand, step.seek, elapsed_s, frame)
        if reading is None:
            return []
        earlier = self.progress.readings
        if reason := lost_decimals(earlier, reading) or implausible(step, reading):
            return self._refuse(reason, reading)
        self._zero_watch.forget()
        note = oddities(self.progress.standing(step.measurand), reading)
        taken = self._ledger.take(elapsed_s, step.measurand, reading, note)
        return taken + self._complete(step.measurand)

    def _complete(self, measurand: str) -> list[Act]:
        """Have a series reviewed once it has its readings."""
        if not self.progress.is_complete(measurand):
            return []
        n_readings = len(self.progress.standing(measurand))
        review = self._review(self.series(measurand))
        if review is not None and review.n_more:
            return self._ledger.want(measurand, n_readings + review.n_more, review.reason)
        completed = self._ledger.complete(measurand, n_readings)
        if review is None:
            return completed
        return completed + self._ledger.want(measurand, n_readings, review.reason)

    def _refuse(self, reason: str, frame: Reading | None = None) -> list[Act]:
        return self._ledger.refuse(self._now_s, reason, frame)

    def _hear_switch(self, switch: UnitSwitch) -> list[Act]:
        return self._halt(
            f"The {self.info.kind} was switched from {switch.before} to {switch.now}. "
            f"No reading is taken until it shows {switch.before} again."
        )

    def _halt(self, reason: str) -> list[Act]:
        """Stop taking readings; say so once, or at each press of a data button."""
        if self.progress.halted:
            return [] if self._streams else self._refuse(self.progress.halted)
        self._finder.interrupt()
        return self._ledger.halt(reason)
