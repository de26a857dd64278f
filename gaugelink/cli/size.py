"""``gaugelink size``: a barrel sized, shown and drawn."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from gaugelink.cli.barrel import BarrelOptions, known_barrel
from gaugelink.cli.output import emit, emit_json, has_braille, person_looks, say
from gaugelink.errors import InputError
from gaugelink.report.contract import size_json
from gaugelink.report.size_text import size_text
from gaugelink.sizing.inputs import SizingInputs
from gaugelink.sizing.results import SizeResult
from gaugelink.sizing.size import size_spring


@dataclass(frozen=True, slots=True, kw_only=True)
class SizeOptions:
    """What was typed after ``size``.

    ``draw`` says whether the text has drawings, None where a terminal decides; ``svg`` is
    a file to draw into.
    """

    barrel: BarrelOptions
    coverage: float = 0.95
    seed: int = 1
    draws: int = 200_000
    draw: bool | None = None
    svg: Path | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Sized:
    """What was sized, and the result."""

    inputs: SizingInputs
    result: SizeResult


def run(options: SizeOptions, *, as_json: bool) -> None:
    """Size and show."""
    done = sized_from(options)
    if as_json:
        emit_json(size_json(done.result))
    else:
        emit(size_text(done.result))
        if person_looks() if options.draw is None else options.draw:
            _draw(done)
    if options.svg is not None:
        _write_svg(options.svg, done)


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
    from gaugelink.report.size_drawings import drawn_text

    emit("\n" + drawn_text(done.inputs, done.result, ascii_only=not has_braille()))


def _write_svg(path: Path, done: Sized) -> None:
    from gaugelink.report.size_drawings import drawn_svg

    markup = drawn_svg(done.inputs, done.result)
    try:
        path.write_text(markup, encoding="utf-8", newline="\n")
    except OSError as exc:
        raise InputError(
            f"{path} cannot be written ({exc.strerror or exc}).",
            hint="Name another file, in a folder that you may write to.",
        ) from exc
    say(f"Drawn into {path}.")
