"""Lines of text from a gauge: bytes in, events out.

The decoder cuts the stream at line ends, and every line is judged alone. Where
a cut falls between two ``feed`` calls makes no difference, because only whole
lines are looked at. Between calls it holds less than one line:

- an empty line is no event. Gauges that end lines with CR LF produce one after
  each line when the format ends them with either, and a person may press Enter twice;
- a line longer than the format allows is one fault, raised as soon as it is too
  long, with its first ``max_line_bytes`` bytes. The rest, up to the next line end,
  is dropped: it may never end (wrong baud rate, noise) and memory must not grow;
- a line that was judged a moment ago is not judged again: it says the same. A gauge at
  rest that streams sends nothing but a few lines over and over.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import lru_cache

from gaugelink.devices.decoders.line_events import Line, line_events
from gaugelink.devices.decoders.line_format import LineFormat
from gaugelink.devices.decoders.parity import SEVEN_BITS, Parity, first_parity_error
from gaugelink.model import Fault, FaultKind, WireEvent

__all__ = ["LineDecoder", "LineFormat"]

REMEMBERED = 64  # different lines; a caliper that is rocked in a bore sends about fifty


class LineDecoder:
    """Decodes one gauge's lines; see ``devices.contract.Decoder``."""

    def __init__(self, fmt: LineFormat) -> None:
        self._format = fmt
        self._ends = re.compile(b"|".join(re.escape(end) for end in fmt.line_end))
        self._half_end = max(len(end) for end in fmt.line_end) - 1
        self._seven_bits = fmt.strip_high_bit or fmt.check_parity is not Parity.NONE
        self._pending = bytearray()
        self._skipping = False  # in the tail of an overlong line
        self._judged = lru_cache(maxsize=REMEMBERED)(self._judge)

    def feed(self, data: bytes) -> list[WireEvent]:
        """Take bytes; return the events they complete, in order."""
        self._pending += data
        events: list[WireEvent] = []
        start = 0
        for end in self._ends.finditer(self._cleared(self._pending)):
            if not self._skipping:
                events += self._line(bytes(self._pending[start : end.end()]), end.start() - start)
            self._skipping = False
            start = end.end()
        del self._pending[:start]
        return events + self._bound_memory()

    def flush(self) -> list[WireEvent]:
        """Report what silence has cut off; an echo without an answer is nothing."""
        raw, skipping = bytes(self._pending), self._skipping
        self.reset()
        content = self._cleared(raw)
        if skipping or content in (b"", self._format.echo):
            return []
        reason = f"the line stopped before its end: {content!r}"
        return [Fault(kind=FaultKind.INCOMPLETE, reason=reason, raw=raw)]

    def reset(self) -> None:
        """Forget the line in progress."""
        self._pending.clear()
        self._skipping = False

    def _cleared(self, raw: bytes | bytearray) -> bytes:
        return bytes(raw.translate(SEVEN_BITS) if self._seven_bits else raw)

    def _bound_memory(self) -> list[WireEvent]:
        """Give up on a line that is too long already, keeping what may be half a line end."""
        events: list[WireEvent] = []
        limit = self._format.max_line_bytes + self._half_end
        if not self._skipping and len(self._pending) > limit:
            events.append(self._overlong(bytes(self._pending)))
            self._skipping = True
        if self._skipping:
            del self._pending[: max(0, len(self._pending) - self._half_end)]
        return events

    def _line(self, raw: bytes, length: int) -> Sequence[WireEvent]:
        """Return what a line of ``length`` bytes says, which ``raw`` holds with its end."""
        if length > self._format.max_line_bytes:
            return [self._overlong(raw)]
        return self._judged(raw, length)

    def _judge(self, raw: bytes, length: int) -> Sequence[WireEvent]:
        """Judge a whole line by nothing but its own bytes."""
        wrong = first_parity_error(raw, self._format.check_parity)
        if wrong is not None:
            reason = f"parity error at byte {wrong} of the line, counted from 0"
            return [Fault(kind=FaultKind.PARITY, reason=reason, raw=raw)]
        content = self._cleared(raw)
        start = len(self._format.echo) if content.startswith(self._format.echo) else 0
        text = content[start:length]
        if not text:
            return []
        if not text.isascii():
            reason = f"{text!r} holds a byte that is not ASCII"
            return [Fault(kind=FaultKind.UNPARSED, reason=reason, raw=raw)]
        return line_events(Line(raw=raw, text=text.decode("ascii"), start=start), self._format)

    def _overlong(self, raw: bytes) -> Fault:
        limit = self._format.max_line_bytes
        reason = f"more than {limit} bytes without a line end; the rest of the line is dropped"
        return Fault(kind=FaultKind.OVERLONG, reason=reason, raw=raw[:limit])
