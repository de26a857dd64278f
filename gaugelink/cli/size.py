"""``gaugelink size``: a barrel sized, shown and drawn."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from gaugelink.cli import options as o

if TYPE_CHECKING:
    from gaugelink.assembly.job import Job
    from gaugelink.sizing.inputs import SizingInputs
    from gaugelink.sizing.results import SizeResult
    from gaugelink.statistics.outlier_method import OutlierMethod

_DRAWING, _DSI = b'<svg xmlns="http://www.w3.org/2000/svg" class="gl"', b'xmlns="urn:gaugelink:'


@o.told_of_barrel
def size(
    job: o.Job = None,
    *,
    typed: o.Typed,
    outliers: o.Outliers = "grubbs",
    coverage: o.Coverage = 0.95,
    seed: o.Seed = 1,
    draws: o.Draws = 200_000,
    full: Annotated[
        bool,
        typer.Option("--full", help="Print all figures, rules and budgets, not one screen."),
    ] = False,
    draw: Annotated[
        bool, typer.Option("--draw", help="Draw barrel and torque below the text.")
    ] = False,
    svg: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Draw barrel and torque into FILE.")
    ] = None,
    dsi: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="Write the result to FILE as D-SI XML, too."),
    ] = None,
    journal: o.Journal = None,
    json: o.Json = False,
) -> None:
    """Turn a job, or typed values, into spring dimensions with their uncertainty.

    A value is 11.02, "11.02 +- 0.03", "0.433 in" or "11.02 +- 0.03 mm"; what follows +- is a
    standard uncertainty. A typed value takes the place of a measured one.
    """
    from gaugelink.cli.output import emit, emit_json, refuse_foreign

    for path, mark, what in ((svg, _DRAWING, "a drawing"), (dsi, _DSI, "a D-SI file")):
        if path is not None:
            refuse_foreign(path, mark, f"{what} of gaugelink", instead="Name another file.")
    inputs, result = sized(
        typed,
        None if job is None else _load(journal, job),
        None if job is None else _method(outliers),
        coverage=coverage,
        draws=draws,
        seed=seed,
        every_rule=full or json or draw or job is not None or bool(svg or dsi),
    )
    try:  # the answer first: who cannot keep it has it all the same
        if json:
            from gaugelink.report.json_sizing import size_json

            emit_json(size_json(result))
        else:
            emit(answer_text(result, full=full))
            if draw:
                _draw(inputs, result)
        if svg is not None:
            _write_svg(svg, inputs, result)
        if dsi is not None:
            _write_dsi(dsi, result, job)
    finally:
        if job is not None:
            keep(journal, job, result, typed)


def answer_text(result: SizeResult, *, full: bool) -> str:
    """Return the answer on one screen, or with all that is behind it."""
    if full:
        from gaugelink.report.text_size import size_text

        return size_text(result)
    from gaugelink.recommending.recommend import recommend
    from gaugelink.report.text_order import order_text

    return order_text(recommend(result), result)


def sized(
    typed: o.Typed,
    job: Job | None,
    treatment: OutlierMethod | None,
    *,
    coverage: float = 0.95,
    draws: int = 200_000,
    seed: int = 1,
    every_rule: bool = True,
) -> tuple[SizingInputs, SizeResult]:
    """Size from a job and typed words; return what it started from, and the result.

    Args:
        typed: words by the name of their row in ``BARREL_OPTIONS``.
        job: the job it was measured in, if there is one.
        treatment: the test for outlying readings of the job; None is the usual one.
        coverage: coverage probability of the intervals.
        draws: number of Monte Carlo draws.
        seed: their seed.
        every_rule: work out the rules too on which the answer does not rest.

    Raises:
        GaugelinkError: something typed, or the sizes, cannot be used.
    """
    from dataclasses import replace

    from gaugelink.cli.barrel import doubts_of, sizing_inputs
    from gaugelink.sizing.size_spring import size_spring

    known = sizing_inputs(typed, job, treatment)
    result = size_spring(
        known.inputs, coverage=coverage, draws=draws, seed=seed, every_rule=every_rule
    )
    return known.inputs, replace(
        result,
        warnings=(*doubts_of(typed, job, treatment), *result.warnings),
        refused=(*known.refused, *result.refused),
    )


def _method(outliers: str) -> OutlierMethod:
    from gaugelink.statistics.outlier_method import OutlierMethod

    return OutlierMethod(outliers)


def _load(journal: Path | None, job: int) -> Job:
    from gaugelink.assembly.job import load_job

    return load_job(journal, job)


def keep(journal: Path | None, job: int, result: SizeResult, typed: o.Typed) -> None:
    """Keep a result that was shown with its job; its budget, most of its bulk, is made again.

    Raises:
        JournalError: it could not be kept.
    """
    from gaugelink import __version__
    from gaugelink.cli.barrel import keeping, kept_with
    from gaugelink.jobbook.facts import record_size
    from gaugelink.report.json_sizing import size_json

    lean = {key: value for key, value in size_json(result).items() if key != "budget"}
    with keeping(job):
        record_size(journal, job, kept_with(lean, typed), __version__)


def _draw(inputs: SizingInputs, result: SizeResult) -> None:
    from gaugelink.cli.output import emit, has_braille
    from gaugelink.report.plots import drawn_text

    emit("\n" + drawn_text(inputs, result, ascii_only=not has_braille()))


def _write_svg(path: Path, inputs: SizingInputs, result: SizeResult) -> None:
    from gaugelink.cli.output import say, write_text
    from gaugelink.report.plots import drawn_svg

    write_text(path, drawn_svg(inputs, result), "The drawing", "--svg")
    say(f"Drawn into {path}.")


def _write_dsi(path: Path, result: SizeResult, job: int | None) -> None:
    from datetime import UTC, datetime

    from gaugelink import __version__
    from gaugelink.cli.output import say, write_text
    from gaugelink.report.dsi import dsi_xml

    markup = dsi_xml(
        result,
        created_utc=datetime.now(UTC).isoformat(timespec="seconds"),
        software=f"gaugelink {__version__}",
        identity="typed values" if job is None else f"job {job}",
    )
    write_text(path, markup, "The D-SI file", "--dsi")
    say(f"Written to {path} as D-SI.")
