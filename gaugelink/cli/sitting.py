"""One sitting with the gauges: session, journal, keyboard and screen joined."""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from contextlib import contextmanager

from gaugelink.capture.runner import Finish, Keeper, Runner, listen_in_threads
from gaugelink.capture.session import CaptureSession
from gaugelink.cli.output import person_reads, person_types, say
from gaugelink.cli.screen import Screen
from gaugelink.cli.stop_key import StopKey
from gaugelink.cli.talk import Bell, Talk
from gaugelink.devices.gauge import Gauge
from gaugelink.devices.registry import open_gauge


def sit_with(
    session: CaptureSession,
    gauges: Sequence[Gauge],
    keeper: Keeper,
    stop: StopKey,
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
        stop: ends the sitting; what was heard before is handled first.
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
        stop.hold()
        with _watching(session, bell, title, notice) as watcher:
            runner = Runner(session, keeper, watcher, console.gauge_id if console else "")
            with listen_in_threads(sources, stop.is_asked) as heard:
                return runner.run(heard, stop.is_asked)
    except KeyboardInterrupt:  # asked twice: something hangs
        return Finish.STOPPED
    finally:
        if console:
            console.close()
        keeper.commit()


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


def open_console(gauges: Sequence[Gauge]) -> Gauge | None:
    """Return the opened keyboard, or None when there is none to listen to.

    A ``keys:`` gauge reads the keyboard itself and passes commands on; piped input
    is nobody at a keyboard.
    """
    if not person_types() or any(gauge.info.address.startswith("keys:") for gauge in gauges):
        return None
    console = open_gauge("keys:?unit=mm")
    console.open()
    return console
