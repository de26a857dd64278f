"""The one gauge class: it joins a transport and a decoder and stamps what comes out.

There is nothing to subclass. A new kind of cable is a new ``Transport``, a new wire
format is a new ``Decoder`` or a profile, and both meet here.
"""

from __future__ import annotations

import logging
from collections.abc import Iterable
from types import TracebackType
from typing import Self, final

from gaugelink.devices.contract import Decoder, Port
from gaugelink.devices.finite import has_ended
from gaugelink.devices.indication import UnitRule
from gaugelink.devices.silence import BrokenLine, Requests
from gaugelink.devices.virtual_clock import pause
from gaugelink.errors import DeviceError, GaugeDisconnected
from gaugelink.model import (
    Fault,
    FaultKind,
    Frame,
    GaugeEvent,
    GaugeEventBody,
    GaugeInfo,
    LinkChange,
    Reading,
    WireEvent,
)
from gaugelink.units import LengthUnit

wire_log = logging.getLogger("gaugelink.wire")

MAX_BYTES = 4096
# Looking for a gauge that was unplugged lists all ports: often enough for a person to
# see it come back at once, seldom enough to cost nothing.
REOPEN_EVERY_S = 0.5


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
        info: GaugeInfo,
        requests: Requests | None = None,
        job_unit: LengthUnit | None = None,
    ) -> None:
        self.info = info
        self._transport = port.transport
        self._clock = port.clock
        self._decoder = decoder
        self._requests = requests or Requests()
        self._units = UnitRule(job_unit)
        self._line = BrokenLine()
        self._begun = False
        self._linked = False
        self._retry_s = 0.0

    @property
    def gauge_id(self) -> str:
        """The identity of the gauge, stable over unplugging."""
        return self.info.gauge_id

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
        """Open the port.

        Raises:
            GaugeNotFound: nothing is there.
            GaugeUnavailable: it is there but busy or not permitted.
        """
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

    def poll(self, timeout_s: float = 0.05) -> tuple[GaugeEvent, ...]:
        """Read once and return what that completed, stamped with the time it came.

        A gauge that is unplugged gives ``LinkChange(connected=False)`` and is looked
        for in later polls; silence never gives a number.

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
        if self._requests.is_due(now_s):
            self.ask()
        wait_s = self._line.shorten(self._requests.shorten(timeout_s, now_s), now_s)
        try:
            data = self._transport.read(MAX_BYTES, wait_s)
        except GaugeDisconnected as lost:
            return self._lose_link(lost)
        return self._stamped(self._take(data) if data else self._take_silence())

    def unfinished(self) -> tuple[GaugeEvent, ...]:
        """Return as faults what came last and is not whole: nobody listens any more.

        A silence that would have ended a number has not been waited for, so that the
        number may want digits: it is no reading.
        """
        return self._stamped(map(_as_incomplete, self._flush()))

    def _take(self, data: bytes) -> Iterable[GaugeEventBody]:
        wire_log.debug("%s received %r", self.gauge_id, data)
        now_s = self._clock.now_s()
        self._line.heard(now_s)
        self._requests.heard(now_s)
        return self._judged(self._decoder.feed(data))

    def _take_silence(self) -> Iterable[GaugeEventBody]:
        now_s = self._clock.now_s()
        bodies: list[GaugeEventBody] = []
        if self._line.is_due(now_s) or has_ended(self._transport):
            bodies += self._flush()
        if self._requests.is_late(now_s):
            reason = "no answer; is the gauge switched on, and its battery good?"
            bodies.append(Fault(kind=FaultKind.INCOMPLETE, reason=reason, raw=b""))
        return bodies

    def _judged(self, wire: Iterable[WireEvent]) -> list[GaugeEventBody]:
        return [self._units.judge(each) if isinstance(each, Frame) else each for each in wire]

    def _flush(self) -> list[GaugeEventBody]:
        self._line.flushed()
        return self._judged(self._decoder.flush())

    def _begin_link(self) -> None:
        self._linked = True
        self._decoder.reset()
        self._line.flushed()
        self._requests.begin(self._clock.now_s())

    def _lose_link(self, lost: GaugeDisconnected) -> tuple[GaugeEvent, ...]:
        wire_log.debug("%s lost: %s", self.gauge_id, lost)
        self._linked = False
        self._transport.close()
        self._retry_s = self._clock.now_s() + REOPEN_EVERY_S
        return self._stamped([*self._flush(), LinkChange(connected=False, text=str(lost))])

    def _look_again(self, timeout_s: float) -> tuple[GaugeEvent, ...]:
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
            return ()
        self._begin_link()
        return self._stamped([LinkChange(connected=True, text=f"{self.gauge_id} is back.")])

    def _stamped(self, bodies: Iterable[GaugeEventBody]) -> tuple[GaugeEvent, ...]:
        now_s = self._clock.now_s()
        return tuple(
            GaugeEvent(gauge_id=self.gauge_id, elapsed_s=now_s, body=body) for body in bodies
        )


def _as_incomplete(body: GaugeEventBody) -> GaugeEventBody:
    if not isinstance(body, Reading):
        return body
    reason = f"stopped before it was certain that {body.displayed} is whole"
    return Fault(kind=FaultKind.INCOMPLETE, reason=reason, raw=body.raw)
