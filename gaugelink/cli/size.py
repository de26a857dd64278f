"""``gaugelink size``: a barrel sized, shown and drawn."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

from gaugelink import __version__
from gaugelink.cli.barrel import BarrelOptions, kept_with, known_barrel
from gaugelink.cli.output import (
    emit,
    emit_json,
    has_braille,
    person_looks,
    refuse_foreign,
    say,
    write_text,
)
from gaugelink.jobbook.fact_book import record_size
from gaugelink.report.json_sizing import Json, size_json
from gaugelink.report.text_size import size_text
from gaugelink.sizing.inputs import SizingInputs
from gaugelink.sizing.results import SizeResult
from gaugelink.sizing.size import size_spring

_DRAWING, _DSI = b'<svg xmlns="http://www.w3.org/2000/svg" class="gl"', b'xmlns="urn:gaugelink:'


@dataclass(frozen=True, slots=True, kw_only=True)
class SizeOptions:
    """What was typed after ``size``.

    ``draw`` says whether the text has drawings, None where a terminal decides; ``svg`` is
    a file to draw into, ``dsi`` one to write the result to as D-SI.
    """

    barrel: BarrelOptions
    coverage: float = 0.95
    seed: int = 1
    draws: int = 200_000
    draw: bool | None = None
    svg: Path | None = None
    dsi: Path | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Sized:
    """What was sized, and the result."""

    inputs: SizingInputs
    result: SizeResult


def run(options: SizeOptions, *, as_json: bool) -> None:
    """Size, keep the result with the job it is for, and show it."""
    _refuse_foreign(options)
    done = sized_from(options)
    result = size_json(done.result)
    if options.barrel.job is not None:
        _keep(options.barrel.journal, options.barrel.job, kept_with(result, options.barrel))
    if as_json:
        emit_json(result)
    else:
        emit(size_text(done.result))
        if person_looks() if options.draw is None else options.draw:
            _draw(done)
    if options.svg is not None:
        _write_svg(options.svg, done)
    if options.dsi is not None:
        _write_dsi(options.dsi, done.result, options.barrel.job)


def sized(options: SizeOptions) -> SizeResult:
    """Return the sizing of a job and typed values."""
    return sized_from(options).result


def sized_from(options: SizeOptions) -> Sized:
    """Return the sizing of a job and typed values, and what was sized.

    Raises:
        GaugelinkError: something typed, the job or the sizes cannot be used.
    """
    barrel = known_barrel(options.barrel)
    result = size_spring(
        barrel.inputs, coverage=options.coverage, draws=options.draws, seed=options.seed
    )
    return Sized(
        inputs=barrel.inputs,
        result=replace(
            result,
            warnings=(*barrel.doubts, *result.warnings),
            refused=(*barrel.refused, *result.refused),
        ),
    )


def _draw(done: Sized) -> None:
    from gaugelink.report.plots import drawn_text

    emit("\n" + drawn_text(done.inputs, done.result, ascii_only=not has_braille()))


def _refuse_foreign(options: SizeOptions) -> None:
    named = ((options.svg, _DRAWING, "a drawing"), (options.dsi, _DSI, "a D-SI file"))
    for path, mark, what in named:
        if path is not None:
            refuse_foreign(path, mark, f"{what} of gaugelink", instead="Name another file.")


def _keep(journal: Path | None, job: int, result: Json) -> None:
    """Keep a result without its budget, most of its bulk: the inputs and the seed give it again."""
    kept = {key: value for key, value in result.items() if key != "budget"}
    record_size(journal, job, kept, __version__)


def _write_svg(path: Path, done: Sized) -> None:
    from gaugelink.report.plots import drawn_svg

    write_text(path, drawn_svg(done.inputs, done.result), "The drawing", "--svg")
    say(f"Drawn into {path}.")


def _write_dsi(path: Path, result: SizeResult, job: int | None) -> None:
    from gaugelink.report.dsi import dsi_xml

    created_utc = datetime.now(UTC).isoformat(timespec="seconds")
    identity = "typed values" if job is None else f"job {job}"
    markup = dsi_xml(
        result, created_utc=created_utc, software=f"gaugelink {__version__}", identity=identity
    )
    write_text(path, markup, "The D-SI file", "--dsi")
    say(f"Written to {path} as D-SI.")
