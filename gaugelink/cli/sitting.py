"""One sitting with the gauges: session, journal, keyboard and screen joined."""

from __future__ import annotations

import os
import signal
from collections.abc import Iterator, Sequence
from contextlib import contextmanager

from gaugelink.capture.runner import Finish, Keeper, Runner, listen_in_threads
from gaugelink.capture.session import CaptureSession
from gaugelink.cli.bell import Bell
from gaugelink.cli.console import open_console
from gaugelink.cli.output import person_reads, say
from gaugelink.cli.screen import Screen
from gaugelink.cli.talk import Talk
from gaugelink.devices.gauge import Gauge


def sit_with(
    session: CaptureSession,
    gauges: Sequence[Gauge],
    keeper: Keeper,
    *,
    title: str,
    quiet: bool,
    notice: str = "",
) -> Finish:
    """Run a session until it closes or is left; what was heard is kept even then.

    Args:
        session: what is measured.
        gauges: those that it is measured with.
        keeper: where everything is kept.
        title: what is done, in a line.
        quiet: without the bell.
        notice: what to know before the first reading.

    Raises:
        GaugelinkError: the gauge or the journal failed; all that was acknowledged is kept.
    """
    bell = Bell(enabled=not quiet)
    console = open_console(gauges)
    sources = [*gauges, *([console] if console else [])]
    try:
        with _terminated_like_interrupted(), _watching(session, bell, title, notice) as watcher:
            runner = Runner(session, keeper, watcher, console.gauge_id if console else "")
            with listen_in_threads(sources) as heard:
                return runner.run(heard)
    except KeyboardInterrupt:
        return Finish.STOPPED
    finally:
        if console:
            console.close()
        keeper.commit()


@contextmanager
def _terminated_like_interrupted() -> Iterator[None]:
    """Let a terminated program give the terminal back and keep what was heard, as Ctrl-C does."""

    def interrupt(number: int, frame: object) -> None:
        raise KeyboardInterrupt

    before = signal.signal(signal.SIGTERM, interrupt)
    try:
        yield
    finally:
        signal.signal(signal.SIGTERM, before)


@contextmanager
def _watching(
    session: CaptureSession, bell: Bell, title: str, notice: str
) -> Iterator[Screen | Talk]:
    if notice:
        say(notice)
    if person_reads() and _has_cursor():
        with Screen(session, bell, title, notice=notice) as screen:
            yield screen
    else:
        say(title)
        talk = Talk(session, bell)
        talk.begin()
        yield talk


def _has_cursor() -> bool:
    """Tell whether the terminal can be drawn on; rich stays silent on one that cannot."""
    return os.environ.get("TERM", "").lower() not in ("dumb", "unknown")
