"""From the parameters of a command to what was typed of the barrel, by their names."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields
from typing import Any

from gaugelink.cli.barrel import BarrelOptions
from gaugelink.cli.clues import CONDITION, LENGTH_CLUES
from gaugelink.cli.watch import WatchOptions
from gaugelink.model import DepthReference
from gaugelink.statistics.outlier_method import OutlierMethod

_LENGTHS = ("bore", "depth", "lid", "recess", "arbor", "clearance")
_FOUND = ("found_thickness", "found_height", "found_length")


def barrel_typed(typed: Mapping[str, Any]) -> BarrelOptions:
    """Sort what was typed; parameters that do not concern the barrel are passed over.

    Args:
        typed: the parameters of a command by name; those that ``cli.options`` defines
            bear the names used there, in lower case with underscores.
    """
    depth_from = typed["depth_from"]
    watch = {field.name: typed[field.name] for field in fields(WatchOptions) if field.name in typed}
    return BarrelOptions(
        job=typed["job"],
        lengths={name: typed[name] for name in (*_LENGTHS, *_FOUND)},
        depth_reference=DepthReference(depth_from) if depth_from else None,
        documented=typed["documented"],
        hours_per_turn=typed["hours_per_turn"],
        wanted_turns=typed.get("wanted_turns"),
        journal=typed["journal"],
        outliers=OutlierMethod(typed["outliers"]),
        watch=WatchOptions(**watch),
        clues={name: typed[f"found_{name}"] for name in (*LENGTH_CLUES, *CONDITION)},
    )
