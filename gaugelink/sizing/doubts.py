"""Warns of what is possible but unlikely: a slip of the unit, a wrong spring, a worn part.

The limits are common practice unless a line says otherwise; they are wide enough for
small ladies' movements and large pocket watches.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from gaugelink.model import DepthReference
from gaugelink.sizing.inputs import ASSUMED_ARBOR_SPREAD, SizingInputs
from gaugelink.sizing.measurement_model import given_names
from gaugelink.sizing.results import SizingWarning
from gaugelink.sizing.rules import WANTED_TURNS, Rule

BORE_MM = (3.0, 30.0)
DEPTH_MM = (0.5, 9.0)
ARBOR_PER_BORE = (0.25, 0.40)
BORE_PER_THICKNESS = (80.0, 100.0)
FILL = (0.45, 0.62)
LEAST_FILL_UNBROKEN = 0.30  # judgement: no rule and no tired spring comes near it
LEAST_ARBOR_PER_THICKNESS = 20.0
MOST_RECESS_PER_LID = 0.5
HOURS_PER_TURN = (4.0, 30.0)  # judgement: one-day watches have 6 to 8, eight-day ones some 24
LEAST_EXCESS_MM = 0.005  # half the last digit that a height is written with


def doubts(
    inputs: SizingInputs, known: Mapping[str, float], left_out: tuple[Rule, ...]
) -> tuple[SizingWarning, ...]:
    """List what is doubtful about the inputs and the springs.

    Args:
        inputs: what is known; the shape of it matters, the values come from ``known``.
        known: best values of inputs and outputs by label, lengths in mm.
        left_out: rules whose spring does not fit the barrel.

    Returns:
        The warnings, the barrel first, then each spring.
    """
    return (
        *_barrel(known),
        *_missing(inputs),
        *_hours(inputs),
        *_rules(left_out),
        *(w for name in _springs(inputs, known) for w in _spring(name, known)),
    )


def _warning(code: str, text: str) -> SizingWarning:
    return SizingWarning(code=code, text=text)


def _usual(limits: tuple[float, float]) -> str:
    return f"outside the usual {limits[0]:g} to {limits[1]:g}"


def _outside(value: float, limits: tuple[float, float]) -> bool:
    return not limits[0] <= value <= limits[1]


def _barrel(known: Mapping[str, float]) -> Iterator[SizingWarning]:
    bore, depth, arbor = known["bore"], known.get("depth"), known["arbor"]
    lid, recess = known.get("lid"), known.get("recess", 0.0)
    if _outside(bore, BORE_MM):
        yield _warning("bore", f"A bore of {bore:g} mm: is it in the right unit?")
    if depth is not None and _outside(depth, DEPTH_MM):
        yield _warning("depth", f"A depth of {depth:g} mm: is it in the right unit?")
    if _outside(arbor / bore, ARBOR_PER_BORE):
        yield _warning(
            "arbor",
            f"The arbor is {arbor / bore:.2f} of the bore, {_usual(ARBOR_PER_BORE)}.",
        )
    if lid is not None and recess > MOST_RECESS_PER_LID * lid:
        yield _warning(
            "recess", f"The recess of {recess:g} mm is more than half of the lid of {lid:g} mm."
        )


def _missing(inputs: SizingInputs) -> Iterator[SizingWarning]:
    if inputs.arbor is None:
        yield _warning(
            "arbor-assumed",
            "No arbor was given: a third of the bore is assumed, which may be "
            f"{100 * ASSUMED_ARBOR_SPREAD:.0f} % off.",
        )
    rim = inputs.depth_reference == DepthReference.RIM
    if inputs.depth is not None and inputs.lid is None and rim:
        yield _warning(
            "lid-missing",
            "The depth goes to the rim and no lid was given: no height is worked out.",
        )


def _hours(inputs: SizingInputs) -> Iterator[SizingWarning]:
    hours = inputs.hours_per_turn
    if hours is None or not _outside(hours, HOURS_PER_TURN):
        return
    asked = (
        "is it one turn, and not the whole run?"
        if inputs.train is None
        else "does the last pinion of the train turn once an hour?"
    )
    yield _warning(
        "hours-per-turn",
        f"A turn of the barrel lasts {hours:.3g} h, {_usual(HOURS_PER_TURN)}: {asked}",
    )


def _rules(left_out: tuple[Rule, ...]) -> Iterator[SizingWarning]:
    for rule in left_out:
        yield _warning(
            "rule-left-out",
            f"The rule {rule.name} is left out: its spring would not fit this barrel.",
        )


def _springs(inputs: SizingInputs, known: Mapping[str, float]) -> tuple[str, ...]:
    wanted = (WANTED_TURNS,) if f"{WANTED_TURNS}.thickness" in known else ()
    return (*given_names(inputs), *wanted)


def _spring(name: str, known: Mapping[str, float]) -> Iterator[SizingWarning]:
    yield from _thickness(name, known)
    yield from _length(name, known)
    yield from _height(name, known)


def _thickness(name: str, known: Mapping[str, float]) -> Iterator[SizingWarning]:
    thickness = known[f"{name}.thickness"]
    bores, arbors = known["bore"] / thickness, known["arbor"] / thickness
    if _outside(bores, BORE_PER_THICKNESS):
        yield _warning(
            f"{name}-thickness",
            f"The bore is {bores:.0f} times the thickness of the {name} spring, "
            f"{_usual(BORE_PER_THICKNESS)}.",
        )
    if arbors < LEAST_ARBOR_PER_THICKNESS:
        yield _warning(
            f"{name}-set",
            f"The arbor is only {arbors:.0f} times the thickness of the {name} spring: "
            f"below {LEAST_ARBOR_PER_THICKNESS:g} it sets or breaks.",
        )


def _length(name: str, known: Mapping[str, float]) -> Iterator[SizingWarning]:
    filled = known.get(f"{name}.fill")
    if filled is None:
        return
    if filled < LEAST_FILL_UNBROKEN:
        yield _warning(
            f"{name}-short",
            f"The {name} spring fills only {filled:.2f} of the ring: is a piece of it missing?",
        )
    elif _outside(filled, FILL):
        yield _warning(
            f"{name}-fill",
            f"The {name} spring fills {filled:.2f} of the ring, {_usual(FILL)}.",
        )


def _height(name: str, known: Mapping[str, float]) -> Iterator[SizingWarning]:
    height, available = known.get(f"{name}.height"), known.get("height")
    if height is None or available is None:
        return
    if height - available > LEAST_EXCESS_MM:
        yield _warning(
            f"{name}-height",
            f"The {name} spring of {height:.3f} mm is higher than the available "
            f"{available:.3f} mm: it is too high for its barrel.",
        )
