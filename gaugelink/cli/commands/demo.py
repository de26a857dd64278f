"""Signature and help of ``demo``."""

from __future__ import annotations

from typing import Annotated

import typer

from gaugelink.cli.options import Journal, Json


def demo(
    pace: Annotated[float, typer.Option(help="How many times faster than the bench.")] = 20.0,
    journal: Journal = None,
    json: Json = False,
) -> None:
    """Run the whole main job on recorded bytes of an invented bench: no gauge needed."""
    from gaugelink.cli.demo import run

    run(pace=pace, journal=journal, as_json=json)
