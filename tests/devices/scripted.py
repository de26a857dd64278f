r"""A test double for whoever adds a gauge: an exchange written down step by step.

::

    with ScriptedTransport([(b"R\r", b"+  1.500, MM\r\n"), (None, b"")]) as transport:
        gauge = Gauge(port=transport.port, ...)

Leaving the block asserts that every step was used.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from types import TracebackType
from typing import Self, TypeAlias, final

from gaugelink.devices.contract import Port, VirtualClock
from gaugelink.errors import DeviceError, GaugeDisconnected

Step: TypeAlias = tuple[bytes | None, bytes | DeviceError]


@final
class ScriptedTransport:
    """Plays ``steps``, each ``(sent, received)``, and holds the caller to them.

    Args:
        steps: ``sent`` is what must be written before ``received`` is read; None
            when the gauge talks by itself. ``received`` is what one read returns:
            ``b""`` for one silent read, or an error to raise instead.
        opens: an error for each opening that must fail, None for one that must not;
            later openings succeed.
        address: the address it gives as its own.
    """

    def __init__(
        self,
        steps: Sequence[Step],
        *,
        opens: Sequence[DeviceError | None] = (),
        address: str = "serial:scripted",
    ) -> None:
        self.clock = VirtualClock()
        self.written: list[bytes] = []
        self._steps = deque(steps)
        self._opens = deque(opens)
        self._address = address
        self._answering = False
        self._rest = b""
        self._open = False

    @property
    def port(self) -> Port:
        """The transport with its own clock."""
        return Port(transport=self, clock=self.clock)

    @property
    def address(self) -> str:
        """The address given to it."""
        return self._address

    @property
    def identity(self) -> str:
        """The address again."""
        return self._address

    @property
    def ended(self) -> bool:
        """True when every step has been used."""
        return not self._steps and not self._rest

    def open(self) -> None:
        """Open, or raise the error the script has for this opening."""
        outcome = self._opens.popleft() if self._opens else None
        if outcome is not None:
            raise outcome
        self._open = True

    def read(self, max_bytes: int, timeout_s: float) -> bytes:
        """Return the next step's bytes; silence passes ``timeout_s`` on the clock."""
        self._require_open()
        if not self._rest and self._steps and (self._answering or self._steps[0][0] is None):
            self._answering = False
            _, received = self._steps.popleft()
            if isinstance(received, DeviceError):
                self._open = False
                raise received
            self._rest = received
        if not self._rest:
            self.clock.advance(timeout_s)
        data, self._rest = self._rest[:max_bytes], self._rest[max_bytes:]
        return data

    def write(self, data: bytes) -> None:
        """Check ``data`` against the script.

        Raises:
            AssertionError: the script expects other bytes, or none.
        """
        self._require_open()
        expected = self._steps[0][0] if self._steps and not self._answering else None
        if data != expected:
            raise AssertionError(f"the script expects {expected!r} to be sent, not {data!r}")
        self.written.append(data)
        self._answering = True

    def close(self) -> None:
        """Close; the script goes on when it is opened again."""
        self._open = False

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        # An error on its way out says more than the steps it left over.
        if kind is None and not self.ended:
            raise AssertionError(f"steps left over: {list(self._steps)!r}, rest {self._rest!r}")

    def _require_open(self) -> None:
        if not self._open:
            raise GaugeDisconnected(f"{self._address} is not open.", address=self._address)
