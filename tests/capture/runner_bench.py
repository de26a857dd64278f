"""A runner with a keeper and watcher that note what they are told, for the tests of running."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from capture_bench import DEPTH, gauge, reading

from gaugelink.capture.acts import Act
from gaugelink.capture.plan import Plan
from gaugelink.capture.runner import Finish, Polled, Runner
from gaugelink.capture.session import CaptureSession
from gaugelink.errors import JournalFull
from gaugelink.model import Fault, FaultKind, GaugeEvent, GaugeEventBody

ID = "caliper"
CONSOLE = "keys:"
NOISE = Fault(kind=FaultKind.UNPARSED, reason="noise", raw=b"\xff")
# Zero, two depths, zero: all that a job of one depth wants, 5 s apart.
PRESSES = [(n * 5.0, reading(value)) for n, value in enumerate(("0.00", "2.31", "2.33", "0.01"))]


class Log:
    """A keeper and watcher in one that notes what it is told, in order.

    With ``fails_at`` the first call that begins so finds the disk full.
    """

    def __init__(self, fails_at: str = "") -> None:
        self.calls: list[str] = []
        self.kept: list[object] = []
        self.acts: list[Act] = []
        self._open: list[object] = []
        self._fails_at = fails_at

    def write(self, items: Sequence[GaugeEvent | Act]) -> None:
        self._note("write " + " ".join(names(items)))
        self._open += items

    def commit(self) -> None:
        self._note("commit")
        self.kept += self._open
        self._open = []

    def heard(self, event: GaugeEvent) -> None:
        self._note("heard " + " ".join(names([event])))

    def acted(self, acts: Sequence[Act]) -> None:
        assert all(act in self.kept for act in acts), "acknowledged before it was durable"
        self._note("acted " + " ".join(names(acts)))
        self.acts += acts

    def idle(self) -> None:
        self._note("idle")

    def _note(self, call: str) -> None:
        self.calls.append(call)
        if self._fails_at and call.startswith(self._fails_at):
            raise JournalFull("The disk is full.")


def names(items: Iterable[object]) -> list[str]:
    """Return what sort of acts, and of events' bodies, they are."""
    return [type(each.body if isinstance(each, GaugeEvent) else each).__name__ for each in items]


def event(at_s: float, body: GaugeEventBody | str, gauge_id: str = ID) -> GaugeEvent:
    body = reading(body) if isinstance(body, str) else body
    return GaugeEvent(gauge_id=gauge_id, elapsed_s=at_s, body=body)


def typed(line: bytes, gauge_id: str = CONSOLE, at_s: float = 1.0) -> GaugeEvent:
    return event(at_s, Fault(kind=FaultKind.UNPARSED, reason="not a number", raw=line), gauge_id)


def one_depth() -> CaptureSession:
    return CaptureSession(Plan(steps=(DEPTH,)), [gauge()])


def run(
    items: Iterable[Polled | None], log: Log, session: CaptureSession | None = None
) -> tuple[Finish, CaptureSession]:
    session = session or one_depth()
    return Runner(session, log, log, [CONSOLE]).run(items), session
