from __future__ import annotations

import math
from dataclasses import fields
from typing import Any

import pytest

from gaugelink.errors import FileFormatError, InputError
from gaugelink.mechanics.band import SourcedBand, assumed
from gaugelink.mechanics.materials import (
    Material,
    material_named,
    read_materials,
    shipped_materials,
    shipped_text,
)

# What the sources print: GPa, g/cm^3 and MPa. See gaugelink/mechanics/materials.toml.
PRINTED = {
    "carbon-steel": {"modulus_gpa": 206.8, "density_g_cm3": 7.86},
    "cobalt-chromium-nickel": {"modulus_gpa": 210, "density_g_cm3": 8.4, "strength_mpa": 2275},
    "cobalt-nickel": {"modulus_gpa": 206, "density_g_cm3": 8.6, "strength_mpa": 2156},
    "high-strength-cobalt": {"strength_mpa": 3000},
}
ONE = """
[[material]]
name = "wire"
title = "invented"
white = true
modulus_gpa = { low = 200, high = 210.5, source = "invented" }
density_g_cm3 = { low = 8.0, high = 8.0, source = "invented" }
strength_mpa = { low = 1000, high = 2000, source = "invented" }
yield_mpa = { low = 900, high = 1800, source = "invented", from_memory = true }
full_wind_stress_mpa = { low = 900, high = 1800, source = "invented" }
"""


def bands(material: Material) -> dict[str, SourcedBand]:
    values = {field.name: getattr(material, field.name) for field in fields(material)}
    return {name: value for name, value in values.items() if isinstance(value, SourcedBand)}


def test_bands_hold_what_the_sources_print() -> None:
    known = {material.name: material for material in shipped_materials()}
    assert known.keys() == PRINTED.keys()
    for name, printed in PRINTED.items():
        for key, value in printed.items():
            band = bands(known[name])[key]
            assert band.low <= value <= band.high, (name, key)


@pytest.mark.parametrize("material", shipped_materials(), ids=lambda material: material.name)
def test_every_band_says_where_it_comes_from(material: Material) -> None:
    for name, band in bands(material).items():
        assert band.low <= band.high, name
        unsourced = "from memory" in band.source or "judgement" in band.source
        assert band.from_memory == unsourced, name
    assert 1000 < material.yield_mpa.low < material.strength_mpa.high
    assert material.full_wind_stress_mpa.high <= 1.5 * material.yield_mpa.high


def test_open_alloy_is_the_spread_of_all_and_white_of_the_white_ones() -> None:
    anything, white = material_named("open"), material_named("white")
    assert (anything.density_g_cm3.low, anything.density_g_cm3.high) == (7.82, 8.6)
    assert (white.density_g_cm3.low, white.density_g_cm3.high) == (8.3, 8.6)
    assert (white.white, anything.white) == (True, False)
    assert "carbon-steel" in anything.modulus_gpa.source
    assert "carbon-steel" not in white.modulus_gpa.source
    for material in shipped_materials():
        for name, band in bands(material).items():
            whole = bands(anything)[name]
            assert whole.low <= band.low <= band.high <= whole.high


def test_unknown_material_is_refused_with_the_known_ones() -> None:
    with pytest.raises(InputError) as refused:
        material_named("brass")
    assert all(name in refused.value.hint for name in (*PRINTED, "white", "open"))


def test_assumed_band_is_rectangular() -> None:
    quantity = assumed("density", material_named("open").density_g_cm3, "g/cm3")
    (term,) = quantity.terms
    assert quantity.value == pytest.approx(8.21)
    assert term.influence.u == pytest.approx(0.39 / math.sqrt(3))
    assert (term.influence.shape, term.influence.kind) == ("rectangular", "B")


def test_own_table_is_read() -> None:
    (wire,) = read_materials(ONE, path="own.toml")
    assert wire.modulus_mpa == pytest.approx(205_250)
    assert wire.yield_mpa.from_memory
    assert not wire.modulus_gpa.from_memory


@pytest.mark.parametrize(
    ("old", "new", "where", "says"),
    [
        ("white = true\n", "", "material 1.white", "missing"),
        ("white = true", 'white = "yes"', "material 1.white", "not a bool"),
        ("low = 200,", "", "material 1.modulus_gpa.low", "missing"),
        ("low = 200,", 'low = "200",', "material 1.modulus_gpa.low", "not a float"),
        ("low = 200,", "low = 300,", "material 1.modulus_gpa", "not a band"),
        ("low = 200,", "low = -1,", "material 1.modulus_gpa", "not a band"),
        ("low = 200,", "low = nan,", "material 1.modulus_gpa", "not a band"),
        ('title = "invented"', 'titel = "x"\ntitle = "x"', "material 1.titel", "unknown key"),
        ("high = 210.5,", "high = 210.5, mean = 2,", "material 1.modulus_gpa.mean", "unknown key"),
        ("[[material]]", "[[materials]]", "", "not a list"),
        ("[[material]]", "[material]", "", "not a list"),
        ('name = "wire"', "name = wire", "", "not TOML"),
    ],
)
def test_bad_table_is_refused_with_the_place(old: str, new: str, where: str, says: str) -> None:
    with pytest.raises(FileFormatError) as refused:
        read_materials(ONE.replace(old, new, 1), path="own.toml")
    assert (refused.value.path, refused.value.where) == ("own.toml", where)
    assert says in str(refused.value)


def test_shipped_table_is_what_is_read() -> None:
    again: Any = read_materials(shipped_text("materials.toml"), path="materials.toml")
    assert again == shipped_materials()
