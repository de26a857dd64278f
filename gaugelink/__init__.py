"""Reads measuring gauges hands-free and turns readings into mainspring dimensions.

Data flows one way; each stage imports only from those before it, or from ``errors``,
``units`` and ``model``::

    devices/      bytes          -> Reading                       a gauge, and its format
    capture/      Reading        -> Act                           the plan, and a sitting
    jobbook/      Act            -> journal -> JobRecord          durable, and never changed
    statistics/   Series         -> Summary                       outliers marked and kept
    uncertainty/  Summary        -> Quantity -> Estimate          by the GUM
    mechanics/    a spring in its barrel: torque, turns, stress
    sizing/       SizingInputs   -> SizeResult                    by rules, with a budget
    assembly/     JobRecord      -> Job -> Quantity               one job, read once
    stock/        a list         -> StockSpring
    choosing/     StockSpring    -> Choice                        what fits, and how surely
    recommending/ both           -> Recommendation                the one answer
    drawing/      what is sized  -> SVG, characters
    report/       results        -> JSON, text, page
    display/      what was done  -> a page beside the bench, over HTTP
    cli/          what is typed  -> all of it, a file a command
    demo/         recorded bytes and springs of an invented bench

``statistics``, ``uncertainty``, ``mechanics``, ``sizing``, ``choosing``, ``recommending`` and
``drawing`` are pure: no clock, no file, no print.

From Python, without the command line::

    from gaugelink import load_job, size, size_json

    job = load_job(None, 1)  # None: the journal in your user folder
    result = size(job, documented="1.50 x 0.13 x 380", hours_per_turn="7.5")
    data = size_json(result)  # as ``gaugelink size 1 ... --json`` writes it

Importing this package loads none of its stages; a name brings what it needs when asked for.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from gaugelink.assembly.job import Job, load_job
    from gaugelink.report.json_sizing import size_json
    from gaugelink.scripting import size

__all__ = ["Job", "__version__", "load_job", "size", "size_json"]
__version__ = "0.1.0"

_HOMES = {
    "Job": "assembly.job",
    "load_job": "assembly.job",
    "size": "scripting",
    "size_json": "report.json_sizing",
}


def __getattr__(name: str) -> object:
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_HOMES[name]}"), name)
