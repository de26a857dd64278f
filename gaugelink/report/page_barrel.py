"""Barrel and spring as the drawings take them, and the sizes beside the drawings."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from gaugelink.drawing.barrel_plan import BarrelPlan, PlanSpring
from gaugelink.drawing.barrel_section import BarrelSection, SectionSpring
from gaugelink.drawing.dimension import Dimension
from gaugelink.report.numbers import plus_minus
from gaugelink.report.page_content import Sizing
from gaugelink.report.page_spring import PageSpring, dimension
from gaugelink.uncertainty.estimate import Estimate

_OF_BARREL = ("bore", "arbor", "depth", "lid", "recess", "clearance")


def barrel_plan(sizing: Sizing, spring: PageSpring | None) -> BarrelPlan:
    """Return the barrel in plan; its spring only where a length is known."""
    known = _dimensions(sizing)
    strip = None
    if spring is not None and spring.length is not None:
        strip = PlanSpring(
            thickness_mm=spring.thickness.value_mm,
            length_mm=spring.length.value_mm,
            name=spring.name,
        )
    return BarrelPlan(bore=known["bore"], arbor=known["arbor"], spring=strip)


def barrel_section(sizing: Sizing, spring: PageSpring | None) -> BarrelSection | None:
    """Return the barrel in section; None where no available height is known."""
    known, available = _dimensions(sizing), sizing.result.height
    if available is None:
        return None
    return BarrelSection(
        bore=known["bore"],
        arbor=known["arbor"],
        depth=known["depth"],
        depth_reference=sizing.inputs.depth_reference,
        lid=known.get("lid"),
        recess=known.get("recess"),
        available=dimension(available),
        clearance=known["clearance"],
        spring=_in_section(spring),
    )


def barrel_sizes(sizing: Sizing) -> Iterator[tuple[str, str]]:
    """Yield the sizes of the barrel with their unit, the available height last."""
    known = {e.label: e for e in sizing.result.inputs}
    for label in _OF_BARREL:
        if label in known:
            yield _named(sizing, label), f"{plus_minus(known[label])} mm{_assumed(sizing, label)}"
    if sizing.result.height is not None:
        yield "available height", f"{plus_minus(sizing.result.height)} mm"


def _named(sizing: Sizing, label: str) -> str:
    return f"depth to {sizing.inputs.depth_reference}" if label == "depth" else label


def _assumed(sizing: Sizing, label: str) -> str:
    return ", assumed" if label == "arbor" and sizing.inputs.arbor is None else ""


def _dimensions(sizing: Sizing) -> Mapping[str, Dimension]:
    known: dict[str, Estimate] = {e.label: e for e in sizing.result.inputs}
    return {
        label: dimension(known[label], assumed=bool(_assumed(sizing, label)))
        for label in _OF_BARREL
        if label in known
    }


def _in_section(spring: PageSpring | None) -> SectionSpring | None:
    if spring is None or spring.height is None:
        return None
    return SectionSpring(
        name=spring.name,
        height=spring.height,
        thickness_mm=spring.thickness.value_mm,
        length_mm=None if spring.length is None else spring.length.value_mm,
    )
