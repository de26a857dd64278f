"""The belief in a found spring against a million joint draws with weights, see belief_oracle.py."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
from belief_oracle import GRAVITY, Belief, Seen, Sizes, believed

from gaugelink.mechanics.band import SourcedBand, assumed
from gaugelink.mechanics.materials import Material, material_named
from gaugelink.mechanics.signs import FoundSeen, FoundSizes, Sign, SShape
from gaugelink.mechanics.strength import FoundBelief, found_strength_unseen, new_strength
from gaugelink.uncertainty.estimate import Quantity, quantity_from_typed
from gaugelink.uncertainty.monte_carlo import draw_blocks

RADIUS_MM, CROWN_RATIO = 6.0, 4.0
KNOWN = Sizes(play=0.0, filled=1.0)
# A caliper, a micrometer and a thread along the coils: what is assumed of typed sizes.
TYPED = replace(
    KNOWN, u={"bore": 0.02, "arbor": 0.04, "thickness": 0.0025, "length": 7.6, "height": 0.015}
)
COILS = Seen(free_coils=(10.35, 0.2))
CASES = {
    "free coils": (KNOWN, COILS),
    "free coils, sizes typed": (TYPED, COILS),
    "4 loose coils": (KNOWN, Seen(loose_coils=4.0)),
    "6.5 loose coils": (KNOWN, Seen(loose_coils=6.5)),
    "extent": (KNOWN, Seen(extent_mm=(24.2, 0.5))),
    "crown turns": (KNOWN, Seen(barrel_turns=(5.8, 0.125))),
    "weight": (KNOWN, Seen(torque_nmm=(5.5, 0.03))),
    "weight, sizes typed": (TYPED, Seen(torque_nmm=(5.5, 0.03))),
    "an S": (KNOWN, Seen(s_seen=True)),
    "no S any more": (KNOWN, Seen(s_seen=False)),
    "three signs": (KNOWN, replace(COILS, loose_coils=4.0, extent_mm=(24.2, 0.5))),
}
Draws = dict[str, npt.NDArray[np.float64]]


def ours(name: str, sizes: Sizes, seen: Seen) -> FoundBelief:
    given = {
        which: quantity_from_typed(which, getattr(sizes, which), sizes.u.get(which, 0.0))
        for which in ("bore", "arbor", "thickness", "length", "height")
    }
    fields: dict[str, Any] = {"loose_coils": seen.loose_coils}
    if seen.free_coils is not None:
        fields["free_coils"] = quantity_from_typed("coils", *seen.free_coils, "1")
    if seen.extent_mm is not None:
        fields["free_diameter"] = quantity_from_typed("extent", *seen.extent_mm)
    if seen.barrel_turns is not None:
        turns, u = (CROWN_RATIO * each for each in seen.barrel_turns)
        fields["crown_turns"] = quantity_from_typed("turns", turns, u, "1")
    if seen.torque_nmm is not None:
        mass = seen.torque_nmm[0] / GRAVITY / RADIUS_MM
        fields["hung_mass"] = quantity_from_typed("mass", mass, mass * seen.torque_nmm[1], "g")
        fields["hung_radius"] = quantity_from_typed("radius", RADIUS_MM, 0.0)
    if seen.s_seen is not None:
        fields["s_shape"] = SShape.SEEN if seen.s_seen else SShape.GONE
    filled = SourcedBand(low=-1.0, high=1.0, source="judgement")
    off = assumed("coils at hub and hook", filled, "1")
    known = FoundSizes(**given, coils_off=off, crown_ratio=CROWN_RATIO)
    return FoundBelief(material_named(name), known, FoundSeen(**fields))


def drawn(known: dict[str, Quantity]) -> Draws:
    """Draw the quantities as the sizing does; the stress of the found spring beside them, MPa."""
    renamed = [replace(quantity, label=label) for label, quantity in known.items()]
    blocks = [dict(block) for block in draw_blocks(renamed, draws=100_000, seed=2)]
    draws = {
        label: np.concatenate([np.atleast_1d(block[label]) for block in blocks]) for label in known
    }
    gpa = 1000 * draws["found.modulus"]
    if "found.strain" in draws:
        return {**draws, "found": gpa * draws["found.strain"]}
    return {**draws, "found": draws["found.healthy_stress"] * draws["found.strength_kept"]}


@cache
def oracle(name: str, case: str) -> Belief:
    material = material_named(name)
    known, band = material.healthy_mpa, material.modulus_gpa
    sizes, seen = CASES.get(case, (KNOWN, Seen()))
    belief = believed((known.median, known.spread, known.most), (band.low, band.high), sizes, seen)
    assert belief.effective > 20_000
    return belief


@pytest.mark.parametrize("case", CASES)
@pytest.mark.parametrize("name", ["carbon-steel", "cobalt-chromium-nickel", "white", "open"])
def test_strength_of_the_found_spring_is_that_of_weighed_draws(name: str, case: str) -> None:
    belief, want, new = (
        ours(name, *CASES[case]),
        oracle(name, case),
        new_strength(material_named(name)),
    )
    got = drawn({**new, **belief.quantities(new)})
    stress = want.strain * want.modulus
    # turns hardly rise with the strength: what fills the wedges moves their mean by a curve
    mean, u, tired = (0.055, 0.10, 0.07) if case == "crown turns" else (0.013, 0.05, 0.03)
    assert got["found"].mean() == pytest.approx(want.mean(stress), rel=mean)
    assert got["found"].std() == pytest.approx(want.u(stress), rel=u)
    assert got["found.modulus"].mean() == pytest.approx(want.mean(want.modulus) / 1000, rel=0.004)
    finding = belief.finding()
    assert finding.u_part == pytest.approx(want.u(stress) / want.mean(stress), rel=0.16)
    share = want.mean((want.part < 0.9).astype(float))
    assert finding.p_tired == pytest.approx(share, abs=tired)


@pytest.mark.parametrize("case", CASES)
@pytest.mark.parametrize("name", ["carbon-steel", "cobalt-chromium-nickel"])
def test_a_new_spring_of_the_same_material_learns_from_the_found_one(name: str, case: str) -> None:
    belief, want, new = (
        ours(name, *CASES[case]),
        oracle(name, case),
        new_strength(material_named(name)),
    )
    got = drawn({**new, **belief.quantities(new)})
    assert got["full_wind_stress"].mean() == pytest.approx(want.mean(want.healthy), rel=0.016)
    assert got["full_wind_stress"].std() == pytest.approx(want.u(want.healthy), rel=0.04)
    stress = want.strain * want.modulus
    together = np.corrcoef(got["found"], got["full_wind_stress"])[0, 1]
    assert together == pytest.approx(want.correlation(stress, want.healthy), abs=0.11)


@pytest.mark.parametrize("name", ["white", "open"])
def test_of_an_unknown_material_the_found_spring_tells_nothing_of_new_ones(name: str) -> None:
    known = ours(name, *CASES["free coils"]).quantities(new_strength(material_named(name)))
    assert set(known) == {"found.strain", "found.modulus"}


@pytest.mark.parametrize("name", ["carbon-steel", "white", "open"])
def test_with_nothing_seen_the_found_spring_is_healthy_or_tired(name: str) -> None:
    material, want = material_named(name), oracle(name, "nothing")
    thickness = quantity_from_typed("thickness", 0.126, 0.0)
    new = new_strength(material)
    got = drawn({**new, **found_strength_unseen(material, thickness, None)})
    stress = want.strain * want.modulus
    assert got["found"].mean() == pytest.approx(want.mean(stress), rel=0.003)
    assert got["found"].std() == pytest.approx(want.u(stress), rel=0.01)
    together = np.corrcoef(got["found"], got["full_wind_stress"])[0, 1]
    same = want.correlation(stress, want.healthy) if material.is_definite else 0.0
    assert together == pytest.approx(same, abs=0.015)


def test_free_coils_leave_a_sixth_of_what_nobody_looked_at() -> None:
    """Carbon, true 2000 MPa: 19 % with nothing seen, 10 % of it for healthy springs."""
    finding, nothing = (
        ours("carbon-steel", *CASES["free coils"]).finding(),
        oracle("carbon-steel", "nothing"),
    )
    stress = nothing.strain * nothing.modulus
    want = nothing.u(stress) / nothing.mean(stress)
    assert finding.u_part_unseen == pytest.approx(want, rel=0.01)
    assert finding.u_part < 0.04
    others = {"crown turns": 0.12, "4 loose coils": 0.08, "extent": 0.065}
    for case, most in others.items():
        assert finding.u_part < ours("carbon-steel", *CASES[case]).finding().u_part < most


def test_the_next_sign_asked_for_is_the_one_that_would_tell_most() -> None:
    finding = ours("carbon-steel", KNOWN, Seen()).finding()
    asked, left = zip(*finding.next, strict=True)
    assert asked[0] is Sign.FREE_COILS
    assert {*asked} == {Sign.FREE_COILS, Sign.EXTENT, Sign.LOOSE_COILS, Sign.TURNS}
    assert left[0] < 0.04
    assert list(left) == sorted(left)
    assert left[-1] < finding.u_part == finding.u_part_unseen
    seen = ours("carbon-steel", *CASES["three signs"]).finding()
    assert seen.used == (Sign.FREE_COILS, Sign.EXTENT, Sign.LOOSE_COILS)
    assert [sign for sign, _ in seen.next] == [Sign.TURNS]


@pytest.mark.parametrize("spread_mm", [0.003, 0.004])
def test_uneven_thickness_adds_a_twentieth(spread_mm: float) -> None:
    """3 % of 0.126 mm is 0.0038 mm: judgement."""
    even = ours("carbon-steel", *CASES["free coils"])
    seen = replace(even.seen or FoundSeen(), thickness_spread_mm=spread_mm)
    belief = FoundBelief(even.material, even.sizes, seen)
    new = new_strength(even.material)
    plain, uneven = (drawn({**new, **each.quantities(new)})["found"] for each in (even, belief))
    more = 0.05 * plain.mean() if spread_mm > 0.0038 else 0.0
    assert uneven.std() == pytest.approx(np.hypot(plain.std(), more), rel=0.02)


def test_a_definite_material_is_shared_and_an_unknown_one_is_not() -> None:
    def labels(material: Material) -> tuple[set[str], set[str]]:
        thickness = quantity_from_typed("thickness", 0.126, 0.0)
        found = found_strength_unseen(material, thickness, None)
        new = new_strength(material)
        return tuple(  # type: ignore[return-value]
            {term.influence.label for quantity in each.values() for term in quantity.terms}
            for each in (found, new)
        )

    found, new = labels(material_named("carbon-steel"))
    assert new < found  # what it kept is its own
    found, new = labels(material_named("white"))
    assert found.isdisjoint(new)
