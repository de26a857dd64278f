"""One sitting with the gauges: session, journal, keyboard and screen joined."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import replace
from functools import partial
from typing import NamedTuple, Protocol, TypeAlias

from gaugelink.assembly.parts import remaining_plan, superseding
from gaugelink.assembly.reviewing import JobInHand, review_series
from gaugelink.capture.plan import JobRecord, JobSetup, Plan, assign
from gaugelink.capture.runner import (
    FanOut,
    Finish,
    Keeper,
    Runner,
    Source,
    Watcher,
    listen_in_threads,
)
from gaugelink.capture.session import CaptureSession
from gaugelink.cli.bell import Bell
from gaugelink.cli.output import person_reads, person_types, say
from gaugelink.cli.recall import Memory, RememberingKeeper
from gaugelink.cli.screen import Screen
from gaugelink.cli.stop_key import StopKey
from gaugelink.cli.talk import Talk, act_line
from gaugelink.devices.gauge import Gauge
from gaugelink.devices.registry import open_gauge
from gaugelink.devices.typed_keys import is_pipe_shell
from gaugelink.errors import InputError
from gaugelink.gauge_record import GaugeRecord
from gaugelink.jobbook.journal import JobKeeper, Journal
from gaugelink.report.table import OPENING_CAUTIONS, TAKING_OUT, one_line
from gaugelink.units import spoken

_WINPTY = "'winpty gaugelink measure'"


class Display(NamedTuple):
    """A further screen for a sitting: what is told of it, and where its commands come from."""

    watcher: Watcher
    keys: Source


Attach: TypeAlias = Callable[[CaptureSession], Display]  # called before anything is heard


class Attachable(Protocol):
    """What makes a further screen for a job."""

    def attaching(self, job_id: int, title: str, notice: str) -> Attach:
        """Return what joins it to a session."""


def begin(journal: Journal, gauges: Sequence[Gauge], plan: Plan, title: str = "") -> JobRecord:
    """Return a new job, to be measured with these gauges.

    Raises:
        InputError: the gauges make no job.
    """
    CaptureSession(plan, [gauge.info for gauge in gauges])  # refuses what makes no job
    return join(journal, journal.create_job(JobSetup(title=title, plan=plan)), gauges)


def join(journal: Journal, job_id: int, gauges: Sequence[Gauge]) -> JobRecord:
    """Return a job with the gauges of this sitting added."""
    for gauge in gauges:
        journal.add_gauge(job_id, gauge.info)
    return journal.load(job_id)


def measure_anew(
    journal: Journal, record: JobRecord, gauges: Sequence[Gauge], measurands: Sequence[str]
) -> None:
    """Put what was read of some measurands aside and open the job again, durably and at once.

    Raises:
        InputError: one is not in the job's plan, or no gauge here can measure it.
    """
    acts = superseding(record, measurands)
    ahead = replace(record, acts=(*record.acts, *acts))
    infos = [gauge.info for gauge in gauges]
    plan = remaining_plan(ahead, frozenset(info.gauge_id for info in infos))
    for name in assign(plan, infos).unserved:
        if name in measurands:
            raise InputError(
                f"No gauge here can measure the {spoken(name)} again.",
                hint="Add the gauge for it; job and readings are unchanged.",
            )
    journal.write(record.job_id, acts)
    journal.mark_open(record.job_id)
    for act in acts:
        say(act_line(act))


def sit(
    journal: Journal,
    record: JobRecord,
    gauges: Sequence[Gauge],
    stop: StopKey,
    *,
    quiet: bool,
    memory: Memory | None = None,
    known: Mapping[str, GaugeRecord] | None = None,
    display: Attachable | None = None,
) -> Finish:
    """Run one sitting of a job; what was heard is kept even when it is interrupted.

    Args:
        journal: where it is kept.
        record: the job so far.
        gauges: those that are measured with now.
        stop: ends the sitting.
        quiet: without the bell.
        memory: where the gauges are remembered, if they are.
        known: what is known of the gauges, by identity.
        display: a further screen; measuring goes on when it fails.
    """
    plan = remaining_plan(record, frozenset(gauge.gauge_id for gauge in gauges))
    infos = tuple(gauge.info for gauge in gauges)
    job = JobInHand(plan=plan, gauges=infos, records=known or {})
    session = CaptureSession(plan, infos, partial(review_series, job=job))
    session.restore(record.acts)
    keeper: Keeper = JobKeeper(journal=journal, job_id=record.job_id)
    if memory is not None:
        keeper = RememberingKeeper(keeper, memory, [gauge.info for gauge in gauges])
    title = one_line(f"job {record.job_id}  {record.setup.title}".rstrip())
    notice = f"{OPENING_CAUTIONS}\n{TAKING_OUT}"
    attach = None
    if display is not None:
        attach = display.attaching(record.job_id, record.setup.title, notice)
    finish = sit_with(
        session, gauges, keeper, stop, title=title, quiet=quiet, notice=notice, attach=attach
    )
    if finish is Finish.CLOSED and not session.unserved:
        journal.mark_closed(record.job_id)
    return finish


def sit_with(
    session: CaptureSession,
    gauges: Sequence[Gauge],
    keeper: Keeper,
    stop: StopKey,
    *,
    title: str,
    quiet: bool,
    notice: str = "",
    attach: Attach | None = None,
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
        attach: makes a further screen for the session; measuring goes on when that fails.

    Raises:
        GaugelinkError: the gauge or the journal failed; all that was acknowledged is kept.
    """
    bell = Bell(enabled=not quiet)
    display = attach(session) if attach else None  # may ask something, so the keys come after it
    console = open_console(gauges)
    consoles: list[Source] = [*([console] if console else []), *([display.keys] if display else [])]
    try:
        stop.hold()
        with _watching(session, bell, title, notice) as watcher:
            told = FanOut(watcher, [display.watcher], watcher.note) if display else watcher
            runner = Runner(session, keeper, told, [each.gauge_id for each in consoles])
            with listen_in_threads([*gauges, *consoles], stop.is_asked) as heard:
                finish = runner.run(heard, stop.is_asked)
            if finish is Finish.CLOSED and person_reads():
                bell.play_out()
            return finish
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
    if not person_types() and is_pipe_shell(sys.platform, os.environ):
        say(f"This shell hands the keys on as a pipe: for u, s and q begin with {_WINPTY}.")
    if not person_types() or any(gauge.info.address.startswith("keys:") for gauge in gauges):
        return None
    console = open_gauge("keys:?unit=mm")
    console.open()
    return console
