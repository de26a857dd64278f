"""What silence means: the end of a broken line, or a gauge that does not answer.

Both rules work on times that are handed in, so they hold for any clock.
"""

from __future__ import annotations

from gaugelink.devices.contract import Transport
from gaugelink.errors import GaugeTimeout
from gaugelink.model import Sends

# A line of 25 characters at 1200 baud takes 0.23 s and a USB adapter may hold bytes back
# for some hundredths; twice that is shorter than the pause between two presses of a button.
LINE_QUIET_S = 0.5

# A gauge that is asked at shorter intervals while its jaws move may not answer at all.
ASK_EVERY_S = 0.1

# How long a gauge that talks by itself may be silent; published answer times reach 2 s.
STREAM_QUIET_S = 2.0


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
        return timeout_s if self._due_s is None else min(timeout_s, max(0.0, self._due_s - now_s))


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
        every_s: shortest time from an answer to the next automatic request.
    """

    def __init__(
        self,
        *,
        request: bytes | None = None,
        sends: Sends = Sends.BUTTON,
        reply_timeout_s: float = STREAM_QUIET_S,
        every_s: float = ASK_EVERY_S,
    ) -> None:
        self.request = request
        self._automatic = request is not None and sends is Sends.STREAM
        self._free_running = request is None and sends is Sends.STREAM
        self._reply_timeout_s = reply_timeout_s
        self._every_s = every_s
        self._next_s = 0.0
        self._owed_by_s: float | None = None
        self._reported = False

    def begin(self, now_s: float) -> None:
        """Note that the link is up from ``now_s``; nothing is owed from before."""
        self._owed_by_s = now_s + STREAM_QUIET_S if self._free_running else None
        self._next_s = now_s

    def is_due(self, now_s: float) -> bool:
        """Tell whether the gauge should be asked now."""
        return self._automatic and self._owed_by_s is None and now_s >= self._next_s

    def shorten(self, timeout_s: float, now_s: float) -> float:
        """Return ``timeout_s``, or less when a request is due before it has passed."""
        if not self._automatic or self._owed_by_s is not None:
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
        self.begin(now_s)
        self._next_s = now_s + self._every_s

    def is_late(self, now_s: float) -> bool:
        """Tell, once until bytes come again, that the gauge gives no answer."""
        if self._owed_by_s is None or now_s < self._owed_by_s:
            return False
        self._owed_by_s = None
        first, self._reported = not self._reported, True
        return first
