"""What every sizing command can be told of a barrel, its spring and its watch, stated once."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from functools import wraps
from inspect import Parameter, Signature, signature
from typing import Any

from gaugelink.cli import options as o

Typed = Mapping[str, Any]  # all parameters of a command by name


def _shared(
    bore: o.Bore = None,
    depth: o.Depth = None,
    depth_from: o.DepthFrom = None,
    lid: o.Lid = None,
    recess: o.Recess = None,
    arbor: o.Arbor = None,
    clearance: o.Clearance = "0.1",
    found_thickness: o.FoundThickness = None,
    found_height: o.FoundHeight = None,
    found_length: o.FoundLength = None,
    found_mass: o.FoundMass = None,
    found_coils: o.FoundCoils = None,
    found_band_inside: o.FoundBandInside = None,
    found_core: o.FoundCore = None,
    found_wound_outside: o.FoundWoundOutside = None,
    found_core_coils: o.FoundCoreCoils = None,
    found_free_diameter: o.FoundFreeDiameter = None,
    found_loose_coils: o.FoundLooseCoils = None,
    found_thickness_spread: o.FoundThicknessSpread = None,
    documented: o.Documented = None,
    material: o.Material = None,
    end: o.End = None,
    length_without_end: o.LengthWithoutEnd = False,
    barrel: o.Barrel = None,
    winding: o.Winding = None,
    stopwork: o.Stopwork = None,
    hours_per_turn: o.HoursPerTurn = None,
    train: o.Train = None,
    train_from: o.TrainFrom = None,
    last_turn_h: o.LastTurnH = None,
    winding_train: o.WindingTrain = None,
    amplitude: o.Amplitude = None,
    position: o.Position = None,
    wind: o.Wind = None,
    wished_amplitude: o.WishedAmplitude = None,
    outliers: o.Outliers = "grubbs",
    journal: o.Journal = None,
) -> None:
    """Hold the parameters; it is never called."""


def told_of_barrel(command: Callable[..., None]) -> Callable[..., None]:
    """Put the shared parameters where a command has its parameter ``typed``.

    The command gets all of its parameters, by name, as ``typed``, and its own ones as they stand.
    """
    own = _parameters(command)
    merged = list(_merged(own))

    @wraps(command)
    def told(**typed: Any) -> None:
        command(**{name: typed[name] for name in own if name != "typed"}, typed=typed)

    told.__annotations__ = {each.name: each.annotation for each in merged}
    told.__signature__ = Signature(merged)  # type: ignore[attr-defined]  # what typer reads
    return told


def _merged(own: Mapping[str, Parameter]) -> Iterator[Parameter]:
    for name, parameter in own.items():
        each = _parameters(_shared).values() if name == "typed" else (parameter,)
        yield from (one.replace(kind=Parameter.KEYWORD_ONLY) for one in each)


def _parameters(function: Callable[..., None]) -> Mapping[str, Parameter]:
    return signature(function, eval_str=True).parameters
