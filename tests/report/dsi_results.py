"""Sizing results to write as D-SI, and the way back: the figures in a document."""

from __future__ import annotations

import functools
import math
from xml.etree import ElementTree as ET

from gaugelink.report.dsi import DSI_NAMESPACE, dsi_xml
from gaugelink.sizing.inputs import GivenSpring, SizingInputs, typed_input
from gaugelink.sizing.results import SizeResult
from gaugelink.sizing.size_spring import size_spring
from gaugelink.uncertainty.estimate import Estimate

SI = f"{{{DSI_NAMESPACE}}}"
UNIVARIATE = f"{SI}measurementUncertaintyUnivariate"
DRAWS = 2_000


def given(name: str, u_mm: float | None) -> GivenSpring:
    return GivenSpring(
        thickness=typed_input(f"{name}.thickness", 0.125, u_mm),
        height=typed_input(f"{name}.height", 1.20, u_mm),
        length=typed_input(f"{name}.length", 340.0, u_mm),
    )


CASES = {
    "bore alone": SizingInputs(bore=typed_input("bore", 11.02)),
    "exact": SizingInputs(bore=typed_input("bore", 11.02), arbor=typed_input("arbor", 3.7)),
    "both springs": SizingInputs(
        bore=typed_input("bore", 11.02, 0.02),
        depth=typed_input("depth", 1.64, 0.01),
        lid=typed_input("lid", 0.31, 0.01),
        found=given("found", 0.01),
        documented=given("documented", None),
        hours_per_turn=7.5,
    ),
    "a spring of unknown length": SizingInputs(
        bore=typed_input("bore", 11.02, 0.02),
        found=GivenSpring(thickness=typed_input("found.thickness", 0.13, 0.002)),
    ),
}


@functools.cache
def sized(case: str, coverage: float = 0.95) -> SizeResult:
    return size_spring(CASES[case], coverage=coverage, draws=DRAWS)


def estimate(
    value: float, u: float, low: float, high: float, label: str = "bore", unit: str = "mm"
) -> Estimate:
    return Estimate(label=label, value=value, u=u, dof=math.inf, unit=unit, low=low, high=high)


def result_of(*inputs: Estimate, coverage: float = 0.95) -> SizeResult:
    """A result that holds nothing but these inputs."""
    return SizeResult(
        coverage=coverage,
        inputs=inputs,
        height=None,
        rules=(),
        found=None,
        documented=None,
        budget=(),
        warnings=(),
        draws=DRAWS,
        seed=1,
        disagreements=(),
    )


def written(result: SizeResult, *, identity: str = "job 7") -> str:
    return dsi_xml(
        result,
        created_utc="2031-05-06T07:08:09.123+00:00",
        software="gaugelink 0.0",
        identity=identity,
    )


def reals(result: SizeResult) -> list[ET.Element]:
    return list(ET.fromstring(written(result)).iter(f"{SI}real"))


def form(real: ET.Element) -> dict[str, float | str]:
    """The uncertainty of a figure as numbers by name, its form under "form"; else empty."""
    univariate = real.find(UNIVARIATE)
    if univariate is None:
        return {}
    (only,) = univariate
    numbers = {leaf.tag.removeprefix(SI): float(leaf.text or "") for leaf in only}
    return {"form": only.tag.removeprefix(SI), **numbers}
