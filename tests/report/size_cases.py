"""Sizings to write as JSON or text: from a bore alone to a whole watch. All sizes are invented."""

from __future__ import annotations

from typing import Any

from gaugelink.mechanics.arrangement import Arrangement, BarrelKind, Stopwork
from gaugelink.mechanics.materials import end_named, material_named
from gaugelink.mechanics.motion import MeasuredAmplitude
from gaugelink.mechanics.train import train_from_text
from gaugelink.model import GaugeInfo, GaugeKind, Sends, Summary
from gaugelink.sizing.inputs import (
    FoundSeen,
    GivenSpring,
    SizingInputs,
    typed_input,
    with_found_length,
)
from gaugelink.uncertainty.estimate import Quantity
from gaugelink.uncertainty.gauge_error import ZeroCheck
from gaugelink.uncertainty.measurand import Face, quantity_from_summary


def measured(measurand: str, mean_mm: float, face: Face) -> Quantity:
    """A measured length, with the degrees of freedom of five readings (invented)."""
    gauge = GaugeInfo(
        gauge_id="caliper",
        kind=GaugeKind.CALIPER,
        sends=Sends.BUTTON,
        address="sim:caliper",
        format="invented",
        mpe_mm=0.02,
        shift_mpe_mm=0.02,
        mpe_source="invented",
    )
    summary = Summary(
        measurand=measurand,
        gauge_id="caliper",
        n_taken=5,
        n_used=5,
        mean_mm=mean_mm,
        mean_all_mm=mean_mm,
        std_mm=0.01,
        spread_mm=0.02,
        u_mean_mm=0.0045,
        dof=4,
        resolution_mm=0.01,
    )
    zero = ZeroCheck(before_mm=0.0, after_mm=0.01, resolution_mm=0.01)
    return quantity_from_summary(summary, gauge, zero, face)


def given(name: str, u_mm: float | None = None) -> GivenSpring:
    return GivenSpring(
        thickness=typed_input(f"{name}.thickness", 0.125, u_mm),
        height=typed_input(f"{name}.height", 1.20, u_mm),
        length=typed_input(f"{name}.length", 340.0, u_mm),
    )


BARREL: dict[str, Any] = {
    "bore": measured("bore", 11.02, Face.INSIDE),
    "depth": measured("depth", 1.64, Face.DEPTH),
    "lid": typed_input("lid", 0.31),
    "arbor": typed_input("arbor", 3.70),
}
CASES: dict[str, SizingInputs] = {
    "bore alone": SizingInputs(bore=typed_input("bore", 11.02)),
    "whole barrel": SizingInputs(**BARREL),
    "both springs": SizingInputs(
        **BARREL, found=given("found"), documented=given("documented"), hours_per_turn=7.5
    ),
    "a spring of unknown length": SizingInputs(
        **BARREL, found=GivenSpring(thickness=typed_input("found.thickness", 0.13))
    ),
    "a whole watch": with_found_length(
        SizingInputs(
            **BARREL,
            found=GivenSpring(
                thickness=typed_input("found.thickness", 0.125),
                height=typed_input("found.height", 1.20),
            ),
            documented=given("documented"),
            material=material_named("white"),
            arrangement=Arrangement(
                end=end_named("tongue"), stopwork=Stopwork(turns=4.0, set_up_turns=1.0)
            ),
            train=train_from_text("80/10"),
            winding_train=train_from_text("54/36 36/16"),
            amplitude=MeasuredAmplitude(amplitude_deg=245.0),
            wished_amplitude_deg=280.0,
            seen=FoundSeen(loose_coils=3.0, thickness_spread_mm=0.004),
        ),
        {
            "mass": typed_input("found.mass", 420.0, unit="mg"),
            "coils": typed_input("found.coils", 11.0, unit="1"),
        },
    ),
    "a fusee": SizingInputs(
        **BARREL, found=given("found"), arrangement=Arrangement(kind=BarrelKind.FUSEE)
    ),
    "nothing uncertain": SizingInputs(
        bore=typed_input("bore", 11.02, 0.0),
        arbor=typed_input("arbor", 3.7, 0.0),
        documented=given("documented", 0.0),
        wanted_turns=6.5,
    ),
}
