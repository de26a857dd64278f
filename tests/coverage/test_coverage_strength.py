"""The study of hidden strengths in small, its physics, and broken ways that it must notice."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hidden_strength import (
    CROWN,
    EXTENT,
    FOUND,
    FREE,
    LOOSE,
    NAMED,
    NEW,
    UNKNOWN,
    WHITE,
    Look,
    draw_hidden,
    draw_kinds,
    draw_sizes,
    sizing_inputs_of,
    spring_benches,
    strips,
)
from spring_physics import Strip, turns_by_elements
from strength_page import page_with
from strength_study import DRAWS, LABELS, OWN_WAY, Knowing, Way, run_look, stated
from strength_table import lines
from tally import Verdict

from gaugelink.mechanics.spring import SpringInBarrel, as_spiral
from gaugelink.mechanics.torque import run_down, torque_after, turns_until
from gaugelink.sizing.inputs import SizingInputs
from gaugelink.sizing.rules import HALF_AREA
from gaugelink.sizing.size_spring import size_spring
from gaugelink.uncertainty.estimate import Quantity

CONFIDENCE = 0.9999
BENCHES = 120


def springs(off: float) -> Strip:
    rng = np.random.default_rng(4)
    hidden = draw_hidden(NAMED, draw_kinds(NAMED, 60, rng), rng)
    return strips(draw_sizes(60, rng), replace(hidden, off=np.full(60, off)))[FOUND]


@pytest.mark.parametrize("off", [-1.0, 0.0, 1.0])
def test_the_physics_is_the_sum_of_its_elements(off: float) -> None:
    strip = springs(off)
    for part in (0.2, 0.6, 1.0):
        bend = part * strip.bend
        assert strip.turns(bend) == pytest.approx(turns_by_elements(strip, bend), abs=2e-5)


@pytest.mark.parametrize("off", [0.0, 1.0])
def test_the_package_agrees_with_the_physics(off: float) -> None:
    strip = springs(off)
    known = SpringInBarrel(
        bore_mm=strip.bore,
        arbor_mm=strip.arbor,
        thickness_mm=strip.thickness,
        length_mm=strip.length,
        height_mm=strip.height,
        modulus_mpa=strip.modulus,
        full_wind_stress_mpa=strip.strain * strip.modulus,
    )
    known = as_spiral(known, off)
    run, (turns, loose) = run_down(known), strip.rest()
    assert run.turns_usable == pytest.approx(turns, abs=1e-6)
    assert run.loose_coils == pytest.approx(loose, abs=1e-6)
    for after in (0.5, 4.0):
        assert torque_after(known, after) == pytest.approx(strip.torque_after(after), rel=1e-6)
    needs = 0.3 * strip.torque_after(0.5)
    assert turns_until(known, needs) == pytest.approx(strip.turns_until(needs), abs=1e-6)


@pytest.mark.parametrize("signs", [(), (FREE, LOOSE, EXTENT, CROWN)])
def test_the_study_states_what_the_sizing_states(signs: tuple[str, ...]) -> None:
    benches = spring_benches(Look(material=UNKNOWN, signs=signs), 3, seed=2)
    low, high = stated(benches, [1], seed=2)
    result = size_spring(sizing_inputs_of(benches, 1), draws=DRAWS, seed=2 * 3 + 1)
    assert result.found is not None
    figures = {
        FOUND: result.found.figures,
        NEW: next(each for each in result.rules if each.rule == HALF_AREA).figures,
    }
    for n, label in enumerate(LABELS):
        spring, _, output = label.rpartition(".")
        estimate = getattr(figures[spring].torque_model, output)
        assert (low[0, n], high[0, n]) == pytest.approx((estimate.low, estimate.high), rel=1e-12)


def missed(look: Look, way: Way = OWN_WAY) -> set[str]:
    result = run_look(look, benches=BENCHES, oracle=2, seed=7, way=way)
    return {
        cell.label for cell in result.cells if cell.verdict(confidence=CONFIDENCE) is Verdict.MISSED
    }


@pytest.mark.campaign
@pytest.mark.parametrize("material", [NAMED, WHITE, UNKNOWN])
@pytest.mark.parametrize("signs", [(), (FREE,), (LOOSE,), (EXTENT, CROWN)])
def test_every_interval_holds_what_the_springs_do(material: str, signs: tuple[str, ...]) -> None:
    assert missed(Look(material=material, signs=signs)) == set()


def one_stress(known: Knowing) -> Knowing:
    """New springs take the strength that was found."""
    by_label = {quantity.label: quantity for quantity in known}
    strain, modulus = by_label["found.strain"], by_label["found.modulus"]
    mpa = 1000.0 * modulus.value
    terms = tuple(replace(term, factor=term.factor * mpa) for term in strain.terms)
    stress = Quantity(label="full_wind_stress", value=strain.value * mpa, unit="MPa", terms=terms)
    same = {"full_wind_stress": stress, "modulus": replace(modulus, label="modulus")}
    return tuple(same.get(quantity.label, quantity) for quantity in known)


def always_healthy(known: Knowing) -> Knowing:
    kept = Quantity(label="found.strength_kept", value=1.0, unit="1")
    return tuple(kept if each.label == kept.label else each for each in known)


def coils_as_rings(known: Knowing) -> Knowing:
    """The turns of rings, and no word of what a spiral counts less."""
    rings = Quantity(label="coils_off", value=1.0, unit="1")
    return tuple(rings if each.label == rings.label else each for each in known)


def unseen(inputs: SizingInputs) -> SizingInputs:
    return replace(inputs, seen=None)


TORQUE_FOUND, TORQUE_NEW = f"{FOUND}.torque_half_turn", f"{NEW}.torque_half_turn"


@pytest.mark.campaign
@pytest.mark.parametrize(
    ("way", "signs", "seen_in"),
    [
        (Way(known=one_stress), (FREE,), {TORQUE_NEW, f"{NEW}.stress_full"}),
        (Way(known=always_healthy), (), {TORQUE_FOUND, f"{FOUND}.turns_usable"}),
        (Way(known=coils_as_rings), (FREE,), {f"{FOUND}.turns_usable", f"{NEW}.turns_usable"}),
    ],
    ids=["one stress for all", "found always healthy", "rings counted"],
)
def test_a_broken_way_misses(way: Way, signs: tuple[str, ...], seen_in: set[str]) -> None:
    assert seen_in <= missed(Look(material=NAMED, signs=signs), way)


@pytest.mark.campaign
def test_signs_that_nobody_takes_in_are_noticed_by_the_width() -> None:
    look = Look(material=UNKNOWN, signs=(FREE,))
    own, blind = (
        run_look(look, benches=30, oracle=30, seed=7, way=way)
        for way in (OWN_WAY, Way(told=unseen))
    )
    assert own[TORQUE_FOUND].width_ratio < 1.2
    assert blind[TORQUE_FOUND].width_ratio > 2.0


def test_the_page_keeps_what_stands_before_its_section() -> None:
    page = page_with("# A\n\ntext\n", "## Springs of hidden strength\n\nold")
    assert page_with(page, "## Springs of hidden strength\n\nnew") == (
        "# A\n\ntext\n\n## Springs of hidden strength\n\nnew\n"
    )


@pytest.mark.campaign
def test_the_table_for_contributors_is_what_the_script_prints() -> None:
    text = (Path(__file__).parents[2] / "DEVELOPERS.md").read_text(encoding="utf-8")
    assert "\n".join(lines()) in text
