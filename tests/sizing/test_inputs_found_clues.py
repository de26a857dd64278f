"""The length of the found spring from clues, and what it shares with the other inputs."""

from __future__ import annotations

import math
from typing import Any

import pytest
from barrels import DRAWS, exact, healthy

from gaugelink.errors import SizingError
from gaugelink.mechanics.found_length import Method
from gaugelink.mechanics.materials import Material, material_named
from gaugelink.sizing.inputs import GivenSpring, SizingInputs, typed_input, with_found_length
from gaugelink.sizing.size_spring import size_spring
from gaugelink.uncertainty.estimate import Quantity

# D 11, e 0.12, h 1.5, L 352: 525.9 mg at 8.3 g/cm3, 11.672 coils, 8.199 mm inside them.
# By length_clues.py, not published: fixtures/reference/mechanics_length.json.
LENGTH_MM = 352.0


def inputs(material: str | Material = "open", **changes: Any) -> SizingInputs:
    found = GivenSpring(
        thickness=typed_input("found.thickness", 0.12, 0.002),
        height=typed_input("found.height", 1.5, 0.01),
    )
    named = material_named(material) if isinstance(material, str) else material
    fields: dict[str, Any] = {"bore": exact("bore", 11.0), "arbor": exact("arbor", 11 / 3)}
    return healthy(**{**fields, "found": found, "material": named, "depth": None, **changes})


def clue(name: str, value: float, u: float | None = None) -> dict[str, Quantity]:
    unit = {"mass": "mg", "coils": "1", "core_coils": "1"}.get(name, "mm")
    return {name: typed_input(f"found.{name}", value, u, unit)}


WAYS = [
    (clue("mass", 530.6, 1.0), Method.MASS),  # 8.35 g/cm3, the middle of 8.3 and 8.4
    (clue("coils", 11.672), Method.COILS),
    (clue("band_inside", 8.116), Method.BAND),  # packing 1.025 narrows it
    ({**clue("core", 4.0), **clue("core_coils", 18.3)}, Method.WINDER_COILS),
]


@pytest.mark.parametrize(("clues", "method"), WAYS, ids=lambda way: str(way)[:12])
def test_each_way_gives_the_length(clues: dict[str, Quantity], method: Method) -> None:
    known = with_found_length(inputs("cobalt-chromium-nickel"), clues)
    assert known.found is not None
    assert known.found.length is not None
    assert known.found_length is not None
    assert [m.method for m in known.found_length.methods] == [method]
    assert known.found.length.value == pytest.approx(LENGTH_MM, rel=0.012)


def test_fill_from_the_mass_does_not_hang_on_the_thickness() -> None:
    """S = L e = m / (rho h) whatever e is; only a shared influence can show that."""
    known = with_found_length(inputs("cobalt-chromium-nickel"), clue("mass", 530.6, 1.0))
    result = size_spring(known, draws=DRAWS)
    assert result.found is not None
    fill, length = result.found.figures.fill, result.found.figures.length
    assert fill is not None
    assert length is not None
    assert fill.u / fill.value < 0.015
    assert length.u / length.value > 0.017
    shares = {r.influence: r.share for r in result.budget if r.output == "found.fill"}
    assert shares["found.thickness as typed"] == pytest.approx(0.0, abs=1e-3)
    assert shares["density assumed"] > 0.1


def test_an_alloy_that_nobody_named_widens_the_length() -> None:
    u = {}
    for material in ("cobalt-chromium-nickel", "cobalt-nickel", "white"):
        found = with_found_length(inputs(material), clue("mass", 525.9)).found_length
        assert found is not None
        u[material] = found.u_mm
    assert u["cobalt-chromium-nickel"] < u["cobalt-nickel"] < u["white"]


def test_several_ways_are_weighed_and_shown() -> None:
    clues = {**clue("mass", 530.6), **clue("coils", 11.672), **clue("band_inside", 8.116)}
    found = with_found_length(inputs("cobalt-chromium-nickel"), clues).found_length
    assert found is not None
    assert {m.method for m in found.methods} == {Method.MASS, Method.COILS, Method.BAND}
    assert math.fsum(m.weight for m in found.methods) == pytest.approx(1.0)
    assert found.u_mm < min(m.u_mm for m in found.methods)


def test_a_length_that_is_known_stays_and_the_clues_stand_beside_it() -> None:
    found = GivenSpring(
        thickness=typed_input("found.thickness", 0.12),
        length=typed_input("found.length", 400.0),
    )
    known = with_found_length(inputs(found=found), clue("coils", 11.672))
    assert known.found is not None
    assert known.found.length is not None
    assert known.found.length.value == 400.0
    assert known.found_length is not None
    assert known.found_length.length.value == pytest.approx(LENGTH_MM, rel=0.01)


@pytest.mark.parametrize(
    ("typed_mm", "hint"), [(None, "what was weighed, counted"), (720.0, "length are in mm")]
)
def test_a_length_that_does_not_fit_is_traced_to_where_it_comes_from(
    typed_mm: float | None, hint: str
) -> None:
    typed = typed_input("found.length", typed_mm) if typed_mm else None
    found = GivenSpring(thickness=typed_input("found.thickness", 0.12), length=typed)
    with pytest.raises(SizingError, match="does not fit") as caught:
        size_spring(with_found_length(inputs(found=found), clue("coils", 45.0)), draws=DRAWS)
    assert hint in caught.value.hint


def test_no_clues_change_nothing() -> None:
    asked = inputs()
    assert with_found_length(asked, {}) is asked


def test_clues_without_a_thickness_are_an_error() -> None:
    with pytest.raises(SizingError, match="without its thickness") as caught:
        with_found_length(inputs(found=None), clue("coils", 11.0))
    assert caught.value.hint


def test_clues_that_suffice_for_no_way_are_an_error() -> None:
    with pytest.raises(SizingError, match="Nothing that was measured gives the length"):
        with_found_length(inputs(), clue("core", 4.0))
