"""The strength of springs within the sizing: intervals, a length that cannot be, warnings."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import pytest
from barrels import DRAWS, exact, healthy, spring
from table_barrel import found_model

from gaugelink.mechanics.materials import material_named, shipped_materials
from gaugelink.mechanics.signs import FoundSeen
from gaugelink.mechanics.spring import SpringInBarrel, as_spiral
from gaugelink.mechanics.torque import ring_turns, run_down, usable_turns
from gaugelink.sizing import rules
from gaugelink.sizing.inputs import GivenSpring, typed_input
from gaugelink.sizing.results import SizeResult
from gaugelink.sizing.size_spring import size_spring
from gaugelink.uncertainty.estimate import Estimate, Influence, Quantity, Shape, Term

RING = math.pi / 4 * (11.0**2 - 3.7**2)


def filling(part: float, tails: Influence | None = None) -> GivenSpring:
    """A found spring 0.125 mm thick that fills a part of the ring of the healthy example."""
    found, length = spring("found", 0.125, 1.2), part * RING / 0.125
    if tails is None:
        return replace(found, length=typed_input("found.length", length))
    terms = (Term(influence=tails),)
    return replace(found, length=Quantity(label="length", value=length, terms=terms))


def two_dof(u: float) -> Influence:
    return Influence(label="length", kind="A", u=u, shape=Shape.STUDENT, dof=2.0)


def test_a_length_that_cannot_be_leaves_the_results_of_the_barrel() -> None:
    """It fills 0.93 of the ring, give or take 0.02: its turns may be none."""
    inputs = healthy(found=filling(0.93), hours_per_turn=8.0)
    result = size_spring(inputs, draws=DRAWS)
    (advice,) = (each for each in result.warnings if each.code == "found-length-impossible")
    assert "627 mm" in advice.text
    assert "0.93" in advice.text
    assert result.found is not None
    assert result.found.figures.thickness.value == 0.125
    assert (result.found.figures.length, result.found.figures.torque_model) == (None, None)
    alone = size_spring(healthy(found=None, hours_per_turn=8.0), draws=DRAWS)
    assert result.rules == alone.rules
    assert result.height == alone.height


@pytest.mark.parametrize("part", [0.5, 0.7])
def test_a_length_that_can_be_is_kept(part: float) -> None:
    result = size_spring(healthy(found=filling(part)), draws=DRAWS)
    assert "found-length-impossible" not in {each.code for each in result.warnings}
    assert result.found is not None
    assert result.found.figures.torque_model is not None


def of_the_torque(result: SizeResult) -> Iterator[tuple[str, Estimate]]:
    springs = {rule.rule: rule.figures for rule in result.rules}
    springs |= {
        name: getattr(result, name).figures
        for name in ("found", "documented")
        if getattr(result, name)
    }
    for name, figures in springs.items():
        model = figures.torque_model
        for field in model.__dataclass_fields__ if model else ():
            if isinstance(estimate := getattr(model, field), Estimate):
                yield f"{name}.{field}", estimate


@pytest.mark.parametrize("tails", [None, two_dof(5.0)])
@pytest.mark.parametrize("seen", [None, FoundSeen(loose_coils=4.0)])
def test_every_torque_figure_has_the_u_of_its_interval(
    tails: Influence | None, seen: FoundSeen | None
) -> None:
    """u lies between half and one and a half of that of a normal distribution of the interval.

    To first order the loose coils of a strong spring had none, beside a wide interval.
    """
    documented = spring("documented", 0.12, 1.2, 350.0)
    result = size_spring(
        healthy(found=filling(0.5, tails), documented=documented, hours_per_turn=8.0, seen=seen),
        draws=20_000,
    )
    figures = dict(of_the_torque(result))
    assert len(figures) > 50
    for label, each in figures.items():
        normal = (each.high - each.low) / (2 * 1.96)
        assert math.isfinite(each.u), label
        assert 0.5 * normal <= each.u <= 1.5 * normal + 1e-12, label
        assert each.low <= each.value <= each.high, label


def test_a_share_of_draws_that_rounds_to_nothing_is_not_said() -> None:
    """Below 0.1 % it moves no end of an interval by what is printed."""
    shares = []
    for u in (0.3, 0.6, 1.0, 2.0, 4.0, 8.0):
        result = size_spring(healthy(found=filling(0.88, two_dof(u))), draws=20_000)
        said = [each.text for each in result.warnings if each.code == "draws-left-out"]
        assert not any("0.0 %" in text for text in said)
        shares.append(bool(said))
    assert shares == sorted(shares)  # none at first, then all
    assert {*shares} == {False, True}


BORES = (6.0, 8.0, 10.0, 12.0, 14.0, 16.0, 18.0)
FILLS = (0.45, 0.52, 0.60)
MATERIALS = ("carbon-steel", "stainless", "cobalt-chromium-nickel", "high-strength-cobalt")


def of_barrel(bore: float, fill: float, name: str) -> SpringInBarrel:
    """A usual spring of a material at the median of its healthy ones, coils as rings."""
    material, arbor, e = material_named(name), bore / 3, bore / 87
    return SpringInBarrel(
        bore_mm=bore,
        arbor_mm=arbor,
        thickness_mm=e,
        length_mm=fill * math.pi / 4 * (bore**2 - arbor**2) / e,
        height_mm=1.2,
        modulus_mpa=material.modulus_mpa,
        full_wind_stress_mpa=material.healthy_mpa.median,
    )


def test_usable_turns_are_never_more_than_those_of_the_spiral() -> None:
    grid = list(itertools.product(BORES, FILLS, MATERIALS))
    assert len(grid) == 84
    for bore, fill, name in grid:
        rings = of_barrel(bore, fill, name)
        sizes = rings.bore_mm, rings.arbor_mm, rings.thickness_mm, rings.length_mm
        spiral = rules.spiral_turns(*sizes)
        usable = float(usable_turns(as_spiral(rings)))
        assert usable <= spiral <= float(ring_turns(rings))
        assert float(run_down(as_spiral(rings)).turns_rings) == pytest.approx(spiral)


@pytest.mark.parametrize("name", MATERIALS)
@pytest.mark.parametrize("bore", [6.0, 11.0, 18.0])
def test_the_interval_of_the_usable_turns_holds_rings_and_spiral(bore: float, name: str) -> None:
    """Hub and hook make the turns of a real spring something between, or as far below.

    Rings are where what is taken of them ends, so that 95 % of a strong spring, whose turns
    hardly depend on its strength, may end a twentieth of that before.
    """
    rings = of_barrel(bore, 0.52, name)
    sizes: dict[str, Any] = {
        "thickness": exact("documented.thickness", float(rings.thickness_mm)),
        "length": exact("documented.length", float(rings.length_mm)),
        "height": exact("documented.height", 1.2),
    }
    result = size_spring(
        healthy(
            bore=exact("bore", bore),
            arbor=exact("arbor", bore / 3),
            found=None,
            documented=GivenSpring(**sizes),
            material=material_named(name),
        ),
        draws=20_000,
    )
    assert result.documented is not None
    turns = result.documented.figures.turns_usable
    assert turns is not None
    most, best = float(usable_turns(rings)), float(usable_turns(as_spiral(rings)))
    assert turns.low < best < most < turns.high + 0.05 * (most - best)
    assert turns.value == pytest.approx(best, abs=0.01)


def test_a_tired_spring_is_weaker_than_a_new_one_of_its_size() -> None:
    """11.6 coils free tell of 1500 MPa (see the amplitude tests), a new one has 2211 on average."""
    carbon = material_named("carbon-steel")
    seen = FoundSeen(free_coils=typed_input("found.free_coils", 11.5, 0.1))
    sizes = {
        name: GivenSpring(
            thickness=exact(f"{name}.thickness", 0.125),
            height=exact(f"{name}.height", 1.2),
            length=exact(f"{name}.length", 340.0),
        )
        for name in ("found", "documented")
    }
    result = size_spring(healthy(material=carbon, seen=seen, **sizes), draws=20_000)
    assert result.found is not None
    assert result.documented is not None
    found, new = (each.figures.torque_model for each in (result.found, result.documented))
    assert found is not None
    assert new is not None
    assert found.stress_full.value == pytest.approx(1500.0, rel=0.01)
    assert found.stress_full.u / found.stress_full.value < 0.045
    assert found.stress_full.high < new.stress_full.low
    assert found.turns_usable.high < new.turns_usable.value
    assert found.loose_coils.low > new.loose_coils.value


def test_a_found_spring_of_another_material_has_that_strength() -> None:
    new = found_model(healthy(material=material_named("cobalt-nickel")))
    old = found_model(
        healthy(
            material=material_named("cobalt-nickel"), found_material=material_named("carbon-steel")
        )
    )
    # what it kept is the same judgement of both: 2740 to 2200 MPa, and their spreads
    wanted = 2740 / 2200 * math.exp((0.11**2 - 0.10**2) / 2)
    assert new.stress_full.value / old.stress_full.value == pytest.approx(wanted, rel=2e-3)


@pytest.mark.parametrize("material", shipped_materials(), ids=lambda material: material.name)
def test_no_healthy_spring_is_warned_of_its_stress_range(material: Any) -> None:
    result = size_spring(healthy(material=material, found=None), draws=DRAWS)
    assert not {each.code for each in result.warnings} & {
        "half-area-stress-range",
        "half-area-moment-over-plastic",
    }


@pytest.mark.parametrize(("arbors", "small"), [(19.9, True), (20.1, False)])
def test_doubts_and_the_torque_model_call_the_same_arbor_small(arbors: float, small: bool) -> None:
    """``size`` says it by the one, ``choose`` by the other; 20: EP 3 575 885 A1, [0003]."""
    arbor = 3.0
    found = spring("found", arbor / arbors, 1.2, 240.0)
    result = size_spring(healthy(arbor=exact("arbor", arbor), found=found), draws=DRAWS)
    assert ("found-set" in {each.code for each in result.warnings}) is small
    assert result.found is not None
    assert result.found.figures.torque_model is not None
    known = {each.code for each in result.found.figures.torque_model.warnings}
    assert ("arbor-small" in known) is small
    assert "found-arbor-small" not in {each.code for each in result.warnings}  # not said twice


@pytest.mark.parametrize(("arbor", "small"), [(2.5, True), (2.6, False)])
def test_a_small_arbor_is_said_of_the_half_area_spring_too(arbor: float, small: bool) -> None:
    """Bore 11 over 87 is 0.1264 mm, and twenty of that 2.53 mm."""
    result = size_spring(healthy(arbor=exact("arbor", arbor), found=None), draws=DRAWS)
    assert ("half-area-arbor-small" in {each.code for each in result.warnings}) is small
