"""``gaugelink demo``: the whole main job on recorded bytes of an invented bench."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from gaugelink.cli.options import Journal, Json

if TYPE_CHECKING:
    from gaugelink.cli.stop_key import StopKey

SLOWEST = 0.01  # a hundred times slower than the bench
TITLE = "demo: an invented barrel"
# Invented like the recording: what an invented movement list would say of this barrel, and
# the length of the spring that was found, laid out along a thread.
DOCUMENTED = "1.45 x 0.13 x 370"
FOUND_LENGTH = "395"
HOURS_PER_TURN = "7.5"


def demo(
    pace: Annotated[float, typer.Option(help="How many times faster than at the bench.")] = 20.0,
    journal: Journal = None,
    json: Json = False,
) -> None:
    """Run a whole job on the recorded bytes of an invented bench: no gauge needed."""
    import tempfile

    from gaugelink.assembly.job import load_job
    from gaugelink.cli.output import emit, emit_json, say
    from gaugelink.cli.size import answer_text, sized
    from gaugelink.cli.stop_key import StopKey
    from gaugelink.errors import InputError
    from gaugelink.report.json_records import job_json
    from gaugelink.report.json_sizing import size_json
    from gaugelink.report.text_job import job_text
    from gaugelink.statistics.outlier_method import OutlierMethod

    if not pace >= SLOWEST:
        raise InputError(
            f"--pace {pace:g} is too slow.",
            hint=f"Give {SLOWEST:g} or more; 1 is the bench.",
        )
    with tempfile.TemporaryDirectory(prefix="gaugelink-demo-") as folder:
        kept_in = journal or Path(folder) / "demo.sqlite"
        say("Recorded bytes of an invented bench: a caliper and a micrometer, played back.")
        with StopKey() as stop:
            job_id = _measure(pace, kept_in, stop)
        typed = {
            "found_length": FOUND_LENGTH,
            "documented": DOCUMENTED,
            "hours_per_turn": HOURS_PER_TURN,
        }
        job = load_job(kept_in, job_id)
        _, result = sized(typed, job, OutlierMethod.GRUBBS)
    record, parts = job.record, job.parts()
    if json:
        emit_json({"job": job_json(record, parts), "size": size_json(result)})
    else:
        emit(job_text(record, parts))
        emit(answer_text(result, full=False))


def _measure(pace: float, kept_in: Path, stop: StopKey) -> int:
    from contextlib import ExitStack
    from importlib.resources import as_file, files

    from gaugelink.capture.plan import make_plan
    from gaugelink.capture.runner import Finish
    from gaugelink.cli.sitting import begin, sit
    from gaugelink.devices.registry import open_gauge
    from gaugelink.errors import GaugelinkError
    from gaugelink.jobbook.journal import Journal as OpenJournal
    from gaugelink.model import DepthReference

    with ExitStack() as held:
        journal = held.enter_context(OpenJournal.open(kept_in))
        gauges = []
        for kind in ("caliper", "micrometer"):
            path = held.enter_context(as_file(files("gaugelink.demo") / f"{kind}.jsonl"))
            gauges.append(
                held.enter_context(
                    open_gauge(f"replay:{path}?kind={kind}&sends=stream&pace={1 / pace:g}")
                )
            )
        record = begin(journal, gauges, make_plan(DepthReference.RIM), TITLE)
        if sit(journal, record, gauges, stop, quiet=False) is not Finish.CLOSED:
            raise GaugelinkError(
                "The demo was stopped before it was finished.",
                hint="Let it run to the end to see the answer: it takes a few seconds.",
            )
        return record.job_id
