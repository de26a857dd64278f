"""``gaugelink size``: a barrel sized and shown."""

from __future__ import annotations

from dataclasses import dataclass, replace

from gaugelink.cli.barrel import BarrelOptions, known_barrel
from gaugelink.cli.output import emit, emit_json
from gaugelink.report.contract import size_json
from gaugelink.report.size_text import size_text
from gaugelink.sizing.results import SizeResult
from gaugelink.sizing.size import size_spring


@dataclass(frozen=True, slots=True, kw_only=True)
class SizeOptions:
    """What was typed after ``size``."""

    barrel: BarrelOptions
    coverage: float = 0.95
    seed: int = 1
    draws: int = 200_000


def run(options: SizeOptions, *, as_json: bool) -> None:
    """Size and show."""
    result = sized(options)
    if as_json:
        emit_json(size_json(result))
    else:
        emit(size_text(result))


def sized(options: SizeOptions) -> SizeResult:
    """Return the sizing of a job and typed values."""
    barrel = known_barrel(options.barrel)
    result = size_spring(
        barrel.inputs, coverage=options.coverage, draws=options.draws, seed=options.seed
    )
    return replace(result, warnings=(*barrel.doubts, *result.warnings))
