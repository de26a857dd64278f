"""What was typed of the watch around the barrel: material, arrangement, train, amplitude."""

from __future__ import annotations

from dataclasses import dataclass, replace

from gaugelink.errors import InputError
from gaugelink.mechanics.arrangement import Arrangement, BarrelKind, Stopwork, Winding
from gaugelink.mechanics.materials import OPEN, EndType, end_named, material_named
from gaugelink.mechanics.motion import MeasuredAmplitude, Position, Wind
from gaugelink.mechanics.train import train_from_text
from gaugelink.quantities import parse_positive
from gaugelink.sizing.inputs import SizingInputs

_WINDS = {None: Wind.FULL, "full": Wind.FULL, "24h": Wind.DAY_LATER}


@dataclass(frozen=True, slots=True, kw_only=True)
class WatchOptions:
    """What was typed; None where nothing was."""

    material: str | None = None
    end: str | None = None
    length_without_end: bool = False
    barrel: str | None = None
    winding: str | None = None
    stopwork: str | None = None
    train: str | None = None
    train_from: str | None = None
    last_turn_h: str | None = None
    winding_train: str | None = None
    amplitude: str | None = None
    position: str | None = None
    wind: str | None = None
    wished_amplitude: str | None = None


def with_watch(inputs: SizingInputs, typed: WatchOptions) -> SizingInputs:
    """Return the inputs with what was typed of the watch.

    Raises:
        InputError: something typed cannot be used.
    """
    return replace(
        inputs,
        material=material_named(typed.material or OPEN),
        arrangement=_arrangement(typed),
        length_includes_end=not typed.length_without_end,
        train=train_from_text(typed.train) if typed.train else None,
        train_from_arbor=typed.train_from == "arbor",
        last_turn_h=parse_positive(typed.last_turn_h or "1", "last turn h"),
        winding_train=train_from_text(typed.winding_train) if typed.winding_train else None,
        amplitude=_amplitude(typed),
        wished_amplitude_deg=_wished(typed),
    )


def _arrangement(typed: WatchOptions) -> Arrangement:
    end = end_named(typed.end) if typed.end else None
    return Arrangement(
        kind=BarrelKind(typed.barrel or BarrelKind.GOING),
        winding=_winding(typed.winding, end),
        stopwork=_stopwork(typed.stopwork) if typed.stopwork else None,
        end=end,
    )


def _winding(typed: str | None, end: EndType | None) -> Winding:
    """A slipping bridle tells how the watch is wound when nobody says so."""
    if typed is not None:
        return Winding(typed)
    return Winding.AUTOMATIC if end is not None and end.slips else Winding.HAND


def _stopwork(text: str) -> Stopwork:
    parts = text.replace(";", " ").split()
    try:
        turns, set_up = (float(part.replace(",", ".")) for part in parts)
    except ValueError as exc:
        raise InputError(
            f"stopwork: {text!r} is not turns and set-up.",
            hint='Give the turns that it allows and those it was set up by: "4 1".',
        ) from exc
    return Stopwork(turns=turns, set_up_turns=set_up)


def _amplitude(typed: WatchOptions) -> MeasuredAmplitude | None:
    if typed.amplitude is None:
        return None
    return MeasuredAmplitude(
        amplitude_deg=parse_positive(typed.amplitude, "amplitude"),
        position=Position(typed.position or Position.HORIZONTAL),
        wind=_WINDS[typed.wind],
    )


def _wished(typed: WatchOptions) -> float | None:
    if typed.wished_amplitude is None:
        return None
    if typed.amplitude is None:
        raise InputError(
            "A wished amplitude alone says nothing of the spring.",
            hint="Give --amplitude as well: what the found spring does.",
        )
    return parse_positive(typed.wished_amplitude, "wished amplitude")
