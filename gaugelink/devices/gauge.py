"""The one gauge class: it joins a transport and a decoder and stamps what comes out.

There is nothing to subclass. A new kind of cable is a new ``Transport``, a new wire
format is a new ``Decoder`` or a profile, and both meet here.

``UnitRule``: a gauge that is switched between mm and inch in the middle of a job changes
its numbers by 25.4 and says so at best in two letters. So one unit holds for a job: the one
given, else the first one seen. Frames in the other unit are not converted quietly; they are
reported and are not readings until the unit is back. The digital step is one of the last
digit, except in inches: there gauges commonly count in halves (0.0005 in on a display of
four decimals) and no frame says so. As long as every last digit was 0 or 5, it is 5.

``BrokenLine`` and ``Requests`` say what silence means: the end of a broken line, or a gauge
that does not answer. They work on times that are handed in, so they hold for any clock.
"""

from __future__ import annotations

import logging
from collections.abc import Iterable
from types import TracebackType
from typing import Self, final

from gaugelink import model
from gaugelink.devices.contract import Decoder, Port, Transport, has_ended, pause
from gaugelink.errors import (
    DeviceError,
    GaugeDisconnected,
    GaugeNotFound,
    GaugeTimeout,
    SeveralGaugesFit,
)
from gaugelink.units import LengthUnit, step_mm, to_mm

wire_log = logging.getLogger("gaugelink.wire")
MAX_BYTES = 4096
# Looking for a gauge that was unplugged lists all ports: often enough for a person to
# see it come back at once, seldom enough to cost nothing.
REOPEN_EVERY_S = 0.5

# A line of 25 characters at 1200 baud takes 0.23 s and a USB adapter may hold bytes back
# for some hundredths; twice that is shorter than the pause between two presses of a button.
LINE_QUIET_S = 0.5
# A gauge that is asked at shorter intervals while its jaws move may not answer at all.
ASK_EVERY_S = 0.1
# How long a gauge that talks by itself may be silent; published answer times reach 2 s.
STREAM_QUIET_S = 2.0
KNOWN_FRAMES = 64  # that were converted and may come again, as those of a gauge at rest do


@final
class Gauge:
    """One hand gauge, from its port to stamped events.

    Not for use by two threads at once.

    Args:
        port: the transport, and the clock that stamps its bytes.
        decoder: fresh, for this gauge alone.
        info: who the gauge is.
        requests: how it is asked; by default never.
        job_unit: the unit that holds for the job; None takes the first one seen.
    """

    def __init__(
        self,
        *,
        port: Port,
        decoder: Decoder,
        info: model.GaugeInfo,
        requests: Requests | None = None,
        job_unit: LengthUnit | None = None,
    ) -> None:
        self.info = info
        self.gauge_id = info.gauge_id  # stable over unplugging
        self._transport = port.transport
        self._clock = port.clock
        self._decoder = decoder
        self._requests = requests or Requests()
        self._units = UnitRule(job_unit, info.address)
        self._line = BrokenLine()
        self._begun = False
        self._linked = False
        self._retry_s = 0.0
        self._hindrance = _Hindrance()

    @property
    def job_unit(self) -> LengthUnit | None:
        """The unit that holds for the job; None before the first reading."""
        return self._units.job_unit

    @property
    def ended(self) -> bool:
        """True when nothing more can come: a replay has run out, standard input is closed.

        A port never ends. Everything that did come has been returned by then.
        """
        return has_ended(self._transport) and not self._line.begun

    def now_s(self) -> float:
        """The time on the clock that stamps the events of this gauge, in seconds."""
        return self._clock.now_s()

    def open(self) -> None:
        """Open the port."""
        self._transport.open()
        self._begun = True
        self._begin_link()

    def close(self) -> None:
        """Close the port; safe to call twice."""
        self._begun = self._linked = False
        self._transport.close()

    def __enter__(self) -> Self:
        self.open()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def ask(self) -> bool:
        """Send the read request of the gauge's format; its answer comes out of ``poll``.

        Returns:
            False when the format has no request, or the gauge is unplugged just now.
        """
        if not self._linked:
            return False
        try:
            sent = self._requests.send(self._transport, self._clock.now_s())
        except GaugeDisconnected as lost:
            # The next poll meets the same loss in its read, and reports it there.
            wire_log.debug("%s asking failed: %s", self.gauge_id, lost)
            return False
        if sent:
            wire_log.debug("%s sent %r", self.gauge_id, self._requests.request)
        return sent

    def poll(self, timeout_s: float = 0.05) -> tuple[model.GaugeEvent, ...]:
        """Read once and return what that completed, stamped with the time it came.

        A gauge that is unplugged gives ``LinkChange(connected=False)`` and is looked
        for in later polls; another one says what keeps it from being taken up again.
        Silence never gives a number.

        Args:
            timeout_s: longest wait for a byte, in seconds; less when a request or a flush is due.

        Raises:
            RuntimeError: the gauge was never opened, or is closed.
        """
        if not self._begun:
            raise RuntimeError("open() the gauge before polling it")
        if not self._linked:
            return self._look_again(timeout_s)
        now_s = self._clock.now_s()
        if self._requests.automatic:
            if self._requests.is_due(now_s):
                self.ask()
            timeout_s = self._requests.shorten(timeout_s, now_s)
        try:
            data = self._transport.read(MAX_BYTES, self._line.shorten(timeout_s, now_s))
        except GaugeDisconnected as lost:
            return self._lose_link(lost)
        now_s = self._clock.now_s()
        return self._stamped(self._take(data, now_s) if data else self._take_silence(now_s), now_s)

    def unfinished(self) -> tuple[model.GaugeEvent, ...]:
        """Return as faults what came last and is not whole: nobody listens any more.

        A silence that would have ended a number has not been waited for, so that the
        number may want digits: it is not a reading.
        """
        return self._stamped(map(_as_incomplete, self._flush()), self._clock.now_s())

    def _take(self, data: bytes, now_s: float) -> list[model.GaugeEventBody]:
        wire_log.debug("%s received %r", self.gauge_id, data)
        self._line.heard(now_s)
        self._requests.heard(now_s)
        return self._judged(self._decoder.feed(data))

    def _take_silence(self, now_s: float) -> list[model.GaugeEventBody]:
        bodies: list[model.GaugeEventBody] = []
        if self._line.is_due(now_s) or has_ended(self._transport):
            bodies += self._flush()
        if self._requests.is_late(now_s):
            reason = "no answer; is the gauge switched on, and its battery good?"
            bodies.append(model.Fault(kind=model.FaultKind.INCOMPLETE, reason=reason, raw=b""))
        return bodies

    def _judged(self, wire: Iterable[model.WireEvent]) -> list[model.GaugeEventBody]:
        return [self._units.judge(each) if isinstance(each, model.Frame) else each for each in wire]

    def _flush(self) -> list[model.GaugeEventBody]:
        self._line.flushed()
        return self._judged(self._decoder.flush())

    def _begin_link(self) -> None:
        self._linked = True
        self._hindrance = _Hindrance()
        self._decoder.reset()
        self._line.flushed()
        self._requests.begin(self._clock.now_s())

    def _lose_link(self, lost: GaugeDisconnected) -> tuple[model.GaugeEvent, ...]:
        wire_log.debug("%s lost: %s", self.gauge_id, lost)
        self._linked = False
        self._transport.close()
        now_s = self._clock.now_s()
        self._retry_s = now_s + REOPEN_EVERY_S
        change = model.LinkChange(connected=False, text=str(lost))
        return self._stamped([*self._flush(), change], now_s)

    def _look_again(self, timeout_s: float) -> tuple[model.GaugeEvent, ...]:
        """Wait, at most until the next look is due, and look whether the gauge is back."""
        pause(self._clock, min(timeout_s, self._retry_s - self._clock.now_s()))
        now_s = self._clock.now_s()
        if now_s < self._retry_s:
            return ()
        self._retry_s = now_s + REOPEN_EVERY_S
        try:
            self._transport.open()
        except DeviceError as absent:
            wire_log.debug("%s still away: %s", self.gauge_id, absent)
            text = self._hindrance.news_of(absent)
            bodies = [model.LinkChange(connected=False, text=text)] if text else []
            return self._stamped(bodies, now_s)
        self._begin_link()
        change = model.LinkChange(connected=True, text=f"{self.gauge_id} is back.")
        return self._stamped([change], self._clock.now_s())

    def _stamped(
        self, bodies: Iterable[model.GaugeEventBody], now_s: float
    ) -> tuple[model.GaugeEvent, ...]:
        return tuple(
            [
                model.GaugeEvent(gauge_id=self.gauge_id, elapsed_s=now_s, body=body)
                for body in bodies
            ]
        )


class _Hindrance:
    """What keeps a gauge from being taken up again though something is plugged in."""

    def __init__(self) -> None:
        self._last = self._told = ""

    def news_of(self, failure: DeviceError) -> str:
        """Return what is to be told of a look that failed, once; empty when nothing is.

        That the gauge is away was told when it went. A hindrance is told when it was met twice:
        right after plugging in, the system may still be setting the permissions.
        """
        is_away = isinstance(failure, GaugeNotFound) and not isinstance(failure, SeveralGaugesFit)
        text = "" if is_away else f"{failure} {failure.hint}".strip()
        before, self._last = self._last, text
        if text != before or text == self._told:
            return ""
        self._told = text
        return text


def _as_incomplete(body: model.GaugeEventBody) -> model.GaugeEventBody:
    if not isinstance(body, model.Reading):
        return body
    reason = f"stopped before {body.displayed} was certainly complete"
    return model.Fault(kind=model.FaultKind.INCOMPLETE, reason=reason, raw=body.raw)


class UnitRule:
    """Turns the frames of one gauge into readings, all in the unit of the job.

    Args:
        job_unit: the unit that holds from the start; None takes the first one seen.
        address: what was typed, to show where a unit would go.
    """

    def __init__(self, job_unit: LengthUnit | None = None, address: str = "") -> None:
        self._job_unit = job_unit
        self._with_unit = f"{address}{'&' if '?' in address else '?'}unit=mm"
        # A decoder gives one and the same frame for a line that it remembers.
        self._known: dict[bytes, tuple[model.Frame, int, model.Reading]] = {}
        self._counts_singly = False  # an inch display has shown a last digit besides 0 and 5

    @property
    def job_unit(self) -> LengthUnit | None:
        """The unit that holds; None before the first frame with a unit."""
        return self._job_unit

    def judge(self, frame: model.Frame) -> model.Reading | model.UnitSwitch | model.Fault:
        """Return the reading in mm, or why this frame is none."""
        if frame.unit is None:
            return model.Fault(
                kind=model.FaultKind.NO_UNIT,
                reason="neither the gauge nor its format says mm or inch; add one of them to the "
                f'address: "{self._with_unit}", or unit=in',
                raw=frame.raw,
            )
        if self._job_unit is None:
            self._job_unit = frame.unit
        if frame.unit is not self._job_unit:
            return model.UnitSwitch(before=self._job_unit, now=frame.unit, raw=frame.raw)
        counts = 1 if frame.unit is LengthUnit.MM or frame.step is not None else self._counts(frame)
        before = self._known.get(frame.raw)
        if before is not None and before[0] is frame and before[1] == counts:
            return before[2]
        if len(self._known) == KNOWN_FRAMES:
            del self._known[next(iter(self._known))]
        reading = _to_reading(frame, frame.unit, counts)
        self._known[frame.raw] = (frame, counts, reading)
        return reading

    def _counts(self, frame: model.Frame) -> int:
        self._counts_singly = self._counts_singly or frame.value.as_tuple().digits[-1] % 5 != 0
        return 1 if self._counts_singly else 5


def _to_reading(frame: model.Frame, unit: LengthUnit, counts: int) -> model.Reading:
    step = frame.step
    return model.Reading(
        value_mm=to_mm(frame.value, unit) + 0.0,  # -0.0 becomes 0.0; the flag keeps the sign
        resolution_mm=(
            step_mm(frame.value, unit, counts=counts) if step is None else to_mm(step, unit)
        ),
        displayed=format(frame.value, "f"),
        unit=unit,
        raw=frame.raw,
        channel=frame.channel,
        flags=frame.flags,
    )


class BrokenLine:
    """Notices that a line was begun and not ended."""

    def __init__(self) -> None:
        self._due_s: float | None = None

    @property
    def begun(self) -> bool:
        """True while bytes have come that were not flushed yet."""
        return self._due_s is not None

    def heard(self, now_s: float) -> None:
        """Note that bytes came at ``now_s``."""
        self._due_s = now_s + LINE_QUIET_S

    def flushed(self) -> None:
        """Note that what was left over has been reported or forgotten."""
        self._due_s = None

    def is_due(self, now_s: float) -> bool:
        """Tell whether the quiet after the last byte has lasted ``LINE_QUIET_S``."""
        return self._due_s is not None and now_s >= self._due_s

    def shorten(self, timeout_s: float, now_s: float) -> float:
        """Return ``timeout_s``, or less, so that no read goes on after the line is due.

        Else a long read would join half a line to one that comes much later.
        """
        if self._due_s is None or self._due_s - now_s >= timeout_s:
            return timeout_s
        return max(0.0, self._due_s - now_s)


class Requests:
    """Asks a gauge for its reading, and notices once that it gives none.

    Only the read request is ever sent: the same ports accept commands that set zero,
    change the unit or switch the gauge off. A gauge that streams and has a request is
    asked again and again; one that streams without is expected to be heard; one with
    a data button is asked when somebody says so, and its silence is normal otherwise.

    Args:
        request: the bytes that ask for a reading; None when there are none.
        sends: when the gauge sends.
        reply_timeout_s: longest wait for an answer, in seconds.
        idle_s: longest silence of a gauge that talks by itself, in seconds.
        every_s: shortest time from an answer to the next automatic request.
    """

    def __init__(
        self,
        *,
        request: bytes | None = None,
        sends: model.Sends = model.Sends.BUTTON,
        reply_timeout_s: float = STREAM_QUIET_S,
        idle_s: float = STREAM_QUIET_S,
        every_s: float = ASK_EVERY_S,
    ) -> None:
        self.request = request
        self.automatic = request is not None and sends is model.Sends.STREAM
        self._free_running = request is None and sends is model.Sends.STREAM
        self._reply_timeout_s = reply_timeout_s
        self._idle_s = idle_s
        self._every_s = every_s
        self._next_s = 0.0
        self._owed_by_s: float | None = None
        self._reported = False

    def begin(self, now_s: float) -> None:
        """Note that the link is up from ``now_s``; nothing is owed from before."""
        self._owed_by_s = now_s + self._idle_s if self._free_running else None
        self._next_s = now_s

    def is_due(self, now_s: float) -> bool:
        """Tell whether the gauge should be asked now."""
        return self.automatic and self._owed_by_s is None and now_s >= self._next_s

    def shorten(self, timeout_s: float, now_s: float) -> float:
        """Return ``timeout_s``, or less when a request is due before it has passed."""
        if not self.automatic or self._owed_by_s is not None:
            return timeout_s
        return min(timeout_s, max(0.0, self._next_s - now_s))

    def send(self, transport: Transport, now_s: float) -> bool:
        """Send the request; return False when there is none.

        Raises:
            GaugeDisconnected: the port has gone.
        """
        if self.request is None:
            return False
        self._owed_by_s = now_s + self._reply_timeout_s
        try:
            transport.write(self.request)
        except GaugeTimeout:
            # A port that takes no bytes is a gauge that gives no answer: already owed.
            return False
        return True

    def heard(self, now_s: float) -> None:
        """Note that bytes came at ``now_s``: whatever was owed is paid."""
        self._reported = False
        self._owed_by_s = now_s + self._idle_s if self._free_running else None
        self._next_s = now_s + self._every_s

    def is_late(self, now_s: float) -> bool:
        """Tell, once until bytes come again, that the gauge gives no answer."""
        if self._owed_by_s is None or now_s < self._owed_by_s:
            return False
        self._owed_by_s = None
        first, self._reported = not self._reported, True
        return first
