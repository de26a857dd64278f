"""One gauge's way through the job: events in, acts out.

``Lane`` is the way itself: the zero before, the steps, the zero after. What it needs for
that follows it, in this order: ``RepeatFilter`` for a gauge that sends on its button, where
each frame is a reading and a double send is one; and what can be said of one reading,
whether it is possible and what is odd about it. ``jaws`` says what closed jaws mean.

All limits are common practice; they only serve to refuse the plainly wrong.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from gaugelink import model
from gaugelink.capture.acts import (
    ZERO,
    Act,
    Completed,
    GaugeDone,
    Halted,
    MoreWanted,
    NotTaken,
    Repeated,
    Resumed,
    Skipped,
    Taken,
    Undone,
)
from gaugelink.capture.jaws import (
    DOUBLE_CLOSE_S,
    ZeroSignal,
    ZeroWatch,
    halfway_mm,
    is_closing_zero,
    is_opening_zero,
    shows_closed_jaws,
)
from gaugelink.capture.plan import Step
from gaugelink.capture.progress import Progress, Reviewer, Stage
from gaugelink.capture.proportions import (
    JUMP_SHARE,
    TENFOLD,
    Known,
    far_mm,
    inches_read_as_mm,
    jump,
    nothing_known,
    out_of_proportion,
    says_the_same,
)
from gaugelink.capture.stream import MAX_GAP_S, StreamFinder
from gaugelink.units import spoken

REPEAT_S = 0.3  # contact bounce and double sends come within this; two presses do not
CLOSED_FRAMES = 2  # a stream must show closed jaws twice running: one frame may be a glitch
NEARLY_CLOSED_MM = 1.0  # at rest so near to zero, somebody may mean closed jaws
CLOSED_STEPS = 5  # jaws that closed on a little dirt are closed
COARSEST_STEP_MM = 0.1  # of any gauge: a whole number is typed, or cut, and no coarse display
_EPS_MM = 1e-9
_CLOSE = "Everything is measured. Close the jaws for the last zero reading, or q and --close."


class Lane:
    """Takes the readings of one gauge; every change of state is an act.

    Args:
        info: the gauge.
        steps: the measurands that are its own, in order.
        review: looks at a series when it is complete, and may ask for more or say why not.
        known: what the job has of another measurand, in mm.
    """

    def __init__(
        self,
        info: model.GaugeInfo,
        steps: tuple[Step, ...],
        review: Reviewer,
        known: Known = nothing_known,
    ) -> None:
        self.info = info
        self.progress = Progress(steps)
        self._id = info.gauge_id
        self._review = review
        self._known = known
        self._doubted: tuple[str, model.Reading] | None = None  # asked for once more
        self._streams = info.sends is model.Sends.STREAM
        self._repeats = RepeatFilter()
        self._finder = StreamFinder()
        self._zero_watch = ZeroWatch(CLOSED_FRAMES if self._streams else 1)
        self._closing: tuple[float, model.Reading] | None = None
        self._now_s = 0.0
        self._seen_s = 0.0
        self._heard_s: float | None = None  # since when it may be silent
        self._on_hold = False
        self.unplugged = False
        self.shown: model.Reading | None = None  # the latest indication

    def restore(self, act: Act) -> None:
        """Apply an act of an earlier sitting."""
        self.progress.apply(act)

    def hear(self, event: model.GaugeEvent) -> list[Act]:
        """Take one event of this gauge; return what it leads to."""
        acts = self.tick(event.elapsed_s) if self._closing else []
        self._now_s = self._seen_s = self._heard_s = event.elapsed_s
        self._look(event.body)
        if self.progress.stage is Stage.DONE:
            return acts
        match event.body:
            case model.Reading():
                return acts + self._hear_reading(event.elapsed_s, event.body)
            case model.UnitSwitch():
                return acts + self._hear_switch(event.body)
            case model.LinkChange():
                self._finder.interrupt()
        return acts

    def tick(self, elapsed_s: float) -> list[Act]:
        """Let time pass: end the job once the closing zero was not closed twice."""
        if self._closing is None or elapsed_s - self._closing[0] <= DOUBLE_CLOSE_S:
            return []
        closed_s, zero = self._closing
        self._closing = None
        return self._take(closed_s, ZERO, zero) + self._enter(GaugeDone(gauge_id=self._id))

    def seen(self, elapsed_s: float) -> None:
        """Note that nothing came until then; infinity when the gauge has nothing more to send."""
        self._seen_s = max(self._seen_s, elapsed_s)
        self._heard_s = elapsed_s if self._heard_s is None else self._heard_s

    @property
    def is_silent(self) -> bool:
        """True while a gauge that sends all the time sends nothing."""
        heard_s = self._heard_s
        return self._streams and heard_s is not None and self._seen_s - heard_s > MAX_GAP_S

    @property
    def is_frozen(self) -> bool:
        """True while the display is on hold: it looks like a gauge at rest."""
        return self._on_hold

    @property
    def must_leave(self) -> bool:
        """True while the gauge has not been moved away from where a reading was found."""
        return self._streams and self._finder.must_leave

    @property
    def must_rock(self) -> bool:
        """True while the step asks for a largest reading, and the gauge was not rocked yet."""
        step = self._step_now()
        wants = self._streams and step is not None and step.seek is model.Seek.MAXIMUM
        return wants and not self._finder.has_rocked(step.measurand if step else "")

    @property
    def is_shut(self) -> bool:
        """True while the jaws are closed in the middle of the measuring."""
        return self._zero_watch.is_closed and self.progress.stage is Stage.MEASURING

    def share(self, elapsed_s: float) -> float:
        """How still the gauge has been held, 0 to 1: at 1 the reading is taken.

        Args:
            elapsed_s: now, on the gauge's own clock; a gauge fallen silent is held no longer.
        """
        return self._finder.share(elapsed_s)

    def full_in_s(self, elapsed_s: float) -> float:
        """Return how many seconds of holding are missing until ``share`` is 1."""
        return self._finder.full_in_s(elapsed_s)

    @property
    def seen_s(self) -> float:
        """Until when it was listened to, on the gauge's own clock."""
        return self._seen_s

    def _look(self, body: model.GaugeEventBody) -> None:
        if isinstance(body, model.LinkChange):
            self.unplugged, self.shown = not body.connected, None
        elif isinstance(body, model.Reading):
            self.unplugged, self.shown = False, body

    @property
    def is_closing(self) -> bool:
        """True while the closing zero was seen and a second closing would still undo."""
        return self._closing is not None

    def undo(self) -> list[Act]:
        """Take back the last standing reading or skip."""
        self._closing = None
        last = self.progress.last
        if self._doubted is not None:
            doubted, self._doubted = self._doubted[1], None
            return self.refuse("It was not taken; what was taken stays.", doubted)
        if last is None or self.progress.stage is Stage.DONE:
            return self.refuse("No reading to take back.")
        displayed = last.reading.displayed if isinstance(last, Taken) else ""
        return self._enter(
            Undone(
                gauge_id=self._id,
                elapsed_s=self._now_s,
                measurand=last.measurand,
                displayed=displayed,
            )
        )

    def skip(self) -> list[Act]:
        """Leave out the current measurand, or leave it at the readings it has."""
        step = self._step_now()
        if step is None:
            return self.refuse("Nothing to skip now.")
        self._doubted = None
        return self._enter(Skipped(gauge_id=self._id, measurand=step.measurand))

    def series(self, measurand: str) -> model.Series:
        """Return the standing readings of a measurand."""
        return model.Series(
            measurand=measurand,
            gauge_id=self.info.gauge_id,
            readings=self.progress.standing(measurand),
        )

    def _step_now(self) -> Step | None:
        return self.progress.current if self.progress.stage is Stage.MEASURING else None

    def _hear_reading(self, elapsed_s: float, frame: model.Reading) -> list[Act]:
        begun_in = self.progress.unit
        if begun_in is not None and frame.unit is not begun_in:
            return self._halt(
                f"The {self.info.kind} shows {frame.unit}, but the job was begun in {begun_in}. "
                f"Stop, switch it to {begun_in}, and continue the job."
            )
        hear = self._hear_stream if self._streams else self._hear_press
        resumed = self._enter(Resumed(gauge_id=self._id)) if self.progress.halted else []
        return resumed + hear(elapsed_s, frame)

    def _hear_press(self, elapsed_s: float, frame: model.Reading) -> list[Act]:
        if self._repeats.is_repeat(elapsed_s, frame):
            return self._enter(
                Repeated(gauge_id=self._id, elapsed_s=elapsed_s, displayed=frame.displayed)
            )
        return self._weigh(elapsed_s, frame)

    def _hear_stream(self, elapsed_s: float, frame: model.Reading) -> list[Act]:
        was_on_hold, self._on_hold = self._on_hold, model.Flag.HELD in frame.flags
        if self._on_hold:  # a frozen display looks like a gauge at rest
            self._finder.interrupt()
            return [] if was_on_hold else self.refuse("The display is on hold.", frame)
        step = self._step_now()
        admitted = self._finder.admit(step.seek if step else model.Seek.SETTLED, elapsed_s, frame)
        acts: list[Act] = []
        for at_s, each in admitted:
            acts += self._weigh(at_s, each)
        return acts

    def _weigh(self, elapsed_s: float, frame: model.Reading) -> list[Act]:
        """Decide what one frame means at this stage."""
        if self.progress.stage is Stage.OPENING:
            return self._open(elapsed_s, frame)
        step = self.progress.current
        offset_mm = frame.value_mm - self.progress.zero_mm
        closed = shows_closed_jaws(offset_mm, min(frame.resolution_mm, COARSEST_STEP_MM), step)
        signal = self._zero_watch.feed(elapsed_s, offset_mm, closed=closed)
        if signal is ZeroSignal.CLOSED_TWICE:
            return self.undo()
        if step is None:
            return self._close(elapsed_s, frame)
        if closed:
            return self._closed_between(frame)
        return self._measure(elapsed_s, step, frame)

    def _find(
        self, measurand: str, seek: model.Seek, elapsed_s: float, frame: model.Reading
    ) -> model.Reading | None:
        """Return the reading when there is one; on a button gauge every frame is one."""
        if not self._streams:
            return frame
        return self._finder.find(measurand, seek, elapsed_s, frame)

    def _open(self, elapsed_s: float, frame: model.Reading) -> list[Act]:
        reading = self._find(ZERO, model.Seek.SETTLED, elapsed_s, frame)
        if reading is None:
            return []
        if is_opening_zero(reading):
            return self._take(elapsed_s, ZERO, reading)
        return self.refuse(
            "First close the jaws for the zero reading; if they are closed, set the gauge to zero.",
            reading,
        )

    def _closed_between(self, frame: model.Reading) -> list[Act]:
        """Jaws closed in the middle of the job: no reading, but perhaps half an undo."""
        if self._zero_watch.is_closed:
            self._finder.leave()
        if self._streams:
            return []
        text = "Jaws closed: no reading."
        if self.progress.last:
            text += f" Once more within {DOUBLE_CLOSE_S:g} s takes back the last one."
        return self.refuse(text, frame)

    def _close(self, elapsed_s: float, frame: model.Reading) -> list[Act]:
        """All is measured: hold the zero after until no second closing has followed."""
        reading = self._find(ZERO, model.Seek.SETTLED, elapsed_s, frame)
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
        return self.refuse(text or _CLOSE, reading)

    def _measure(self, elapsed_s: float, step: Step, frame: model.Reading) -> list[Act]:
        reading = self._find(step.measurand, step.seek, elapsed_s, frame)
        if reading is None:
            return []
        standing = self.progress.standing(step.measurand)
        lost = self._lost_decimals(step.measurand, reading)
        bad = inches_read_as_mm(standing, reading) or ("" if self.info.is_typed else lost)
        if reason := bad or implausible(step, reading):
            return self.refuse(reason, reading)
        odd = out_of_proportion(step.measurand, reading, self._known)
        # A stream has shown what it sends many times over before it is a reading.
        jumped = "" if self._streams else jump(self._earlier(standing), standing, reading)
        again = self._is_doubted(step.measurand, reading)
        if (jumped and not again) or (odd and not (again or says_the_same(reading, standing))):
            self._doubted = (step.measurand, reading)
            asked = f"{jumped or odd}. Read it again; the same once more is taken."
            return self.refuse(asked, reading)
        self._doubted = None
        self._zero_watch.forget()
        # Two that agree against one: the first reading was the wrong one.
        lone = again and len(standing) == 1 and far_mm(standing, reading, JUMP_SHARE)
        undone = self.undo() if lone else []
        standing = self.progress.standing(step.measurand)
        said = odd and f"{odd}; it came again, so it is taken."
        note = " ".join(filter(None, (said, oddities(standing, reading))))
        note = note or (lost and f"Taken as read to {reading.resolution_mm:g} mm.")
        taken = self._take(elapsed_s, step.measurand, reading, note)
        return undone + taken + self._complete(step.measurand)

    def _lost_decimals(self, measurand: str, reading: model.Reading) -> str:
        return lost_decimals(self._earlier(self.progress.standing(measurand)), reading)

    def _earlier(self, standing: tuple[model.Reading, ...]) -> tuple[model.Reading, ...]:
        """Return what tells the step: a person may type the values of two gauges."""
        return standing if self.info.is_typed else self.progress.readings

    def _is_doubted(self, measurand: str, reading: model.Reading) -> bool:
        """Tell whether a reading says the same as one that was asked for once more."""
        doubted = [r for name, r in filter(None, [self._doubted]) if name == measurand]
        return says_the_same(reading, doubted)

    def _complete(self, measurand: str) -> list[Act]:
        """Have a series reviewed once it has its readings."""
        if not self.progress.is_complete(measurand):
            return []
        n_readings = len(self.progress.standing(measurand))
        review = self._review(self.series(measurand))
        if review is not None and review.n_more:
            return self._want(measurand, n_readings + review.n_more, review.reason)
        completed = self._enter(
            Completed(gauge_id=self._id, measurand=measurand, n_readings=n_readings)
        )
        return completed + (self._want(measurand, n_readings, review.reason) if review else [])

    def refuse(self, reason: str, frame: model.Reading | None = None) -> list[Act]:
        """Take nothing, for a reason, and say so."""
        displayed = frame.displayed if frame else ""
        return self._enter(
            NotTaken(gauge_id=self._id, elapsed_s=self._now_s, reason=reason, displayed=displayed)
        )

    def _hear_switch(self, switch: model.UnitSwitch) -> list[Act]:
        return self._halt(
            f"The {self.info.kind} was switched from {switch.before} to {switch.now}. "
            f"No reading is taken until it shows {switch.before} again."
        )

    def _halt(self, reason: str) -> list[Act]:
        """Stop taking readings; say so once, or at each press of a data button."""
        if self.progress.halted:
            return [] if self._streams else self.refuse(self.progress.halted)
        self._finder.interrupt()
        return self._enter(Halted(gauge_id=self._id, reason=reason))

    def _take(
        self, elapsed_s: float, measurand: str, reading: model.Reading, note: str = ""
    ) -> list[Act]:
        taken = Taken(
            gauge_id=self._id, elapsed_s=elapsed_s, measurand=measurand, reading=reading, note=note
        )
        return self._enter(taken)

    def _want(self, measurand: str, wanted: int, reason: str) -> list[Act]:
        """Settle how many readings a measurand wants in all, more than it has or no more."""
        return self._enter(
            MoreWanted(gauge_id=self._id, measurand=measurand, wanted=wanted, reason=reason)
        )

    def _enter(self, act: Act) -> list[Act]:
        """Apply an act the moment it is made: the only place where the progress changes live."""
        self.progress.apply(act)
        return [act]


class RepeatFilter:
    """Recognises a frame that only repeats the one before.

    Equal digits within ``REPEAT_S`` are one press. The window restarts with each
    repeat, so that a button held down stays one press.
    """

    def __init__(self) -> None:
        self._displayed = ""
        self._last_s: float | None = None

    def is_repeat(self, elapsed_s: float, reading: model.Reading) -> bool:
        """Take a frame; tell whether it repeats the last one."""
        repeat = (
            self._last_s is not None
            and elapsed_s - self._last_s <= REPEAT_S
            and reading.displayed == self._displayed
        )
        self._displayed, self._last_s = reading.displayed, elapsed_s
        return repeat


def missed_zero(offset_mm: float, taken: Sequence[model.Reading], reading: model.Reading) -> str:
    """Say why a frame is not the zero after; empty when nobody may have meant it to be one."""
    if abs(offset_mm) > min(NEARLY_CLOSED_MM, halfway_mm(taken)):
        return ""
    return (
        f"{reading.displayed} {reading.unit} is too far from the zero before. Wipe the jaws and "
        "close them again, or press q: your readings are kept."
    )


def implausible(step: Step, reading: model.Reading) -> str:
    """Say why a reading cannot be what ``step`` asks for; empty when it can."""
    if step.low_mm <= reading.value_mm <= step.high_mm:
        return ""
    name = spoken(step.measurand)
    return (
        f"{reading.displayed} {reading.unit} is not a likely {name} "
        f"({step.low_mm:g} to {step.high_mm:g} mm). Check the unit and the jaws."
    )


def lost_decimals(earlier: Sequence[model.Reading], reading: model.Reading) -> str:
    """Say that a number has fewer decimals than this gauge showed before; empty when it has not.

    The tail of a line that was cut, ``7 mm`` of ``11.47 mm``, looks like that. A display
    that counts in halves in one unit only changes its step by less than ten.
    """
    finest_mm = min((each.resolution_mm for each in earlier), default=math.inf)
    if reading.resolution_mm < TENFOLD * finest_mm:
        return ""
    return f"{reading.displayed} {reading.unit} has fewer decimals than before: send it again."


def oddities(others: Sequence[model.Reading], reading: model.Reading) -> str:
    """Say what is odd about a reading that is taken all the same; empty when nothing is."""
    held = "The display is on hold." if model.Flag.HELD in reading.flags else ""
    low = "The battery of the gauge is low." if model.Flag.LOW_BATTERY in reading.flags else ""
    return " ".join(filter(None, (_far_off(others, reading), held, low)))


def _far_off(others: Sequence[model.Reading], reading: model.Reading) -> str:
    distance_mm = far_mm(others, reading) if len(others) > 1 else 0.0
    if not distance_mm:
        return ""
    return f"{distance_mm:+.3f} mm from the others. Close the jaws twice to take it back."
