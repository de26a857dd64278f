from __future__ import annotations

import math
from dataclasses import fields
from typing import Any

import pytest
from watch_springs import reference

from gaugelink.errors import InputError
from gaugelink.mechanics.band import SourcedBand, assumed
from gaugelink.mechanics.materials import (
    Material,
    material_named,
    shipped_materials,
    shipped_rows,
)

# What the sources print: GPa, g/cm^3 and MPa. See gaugelink/mechanics/materials.toml.
PRINTED = {
    "carbon-steel": {"modulus_gpa": [200, 206.8], "density_g_cm3": [7.86], "strength_mpa": [1862]},
    "stainless": {"modulus_gpa": [181.3, 196.0], "strength_mpa": [1700, 2058]},
    "cobalt-chromium-nickel": {
        "modulus_gpa": [196, 210, 221],
        "density_g_cm3": [8.4],
        "strength_mpa": [1960, 2275, 2650],
    },
    "cobalt-nickel": {"modulus_gpa": [206], "density_g_cm3": [8.6], "strength_mpa": [2156]},
    "high-strength-cobalt": {"strength_mpa": [3000]},
}


def bands(material: Material) -> dict[str, SourcedBand]:
    values = {field.name: getattr(material, field.name) for field in fields(material)}
    return {name: value for name, value in values.items() if isinstance(value, SourcedBand)}


def test_bands_hold_what_the_sources_print() -> None:
    known = {material.name: material for material in shipped_materials()}
    assert known.keys() == PRINTED.keys()
    for name, printed in PRINTED.items():
        for key, values in printed.items():
            band = bands(known[name])[key]
            assert all(band.low <= value <= band.high for value in values), (name, key)


@pytest.mark.parametrize("material", shipped_materials(), ids=lambda material: material.name)
def test_every_band_says_where_it_comes_from(material: Material) -> None:
    for name, band in bands(material).items():
        assert band.low <= band.high, name
        unsourced = "from memory" in band.source or "judgement" in band.source
        assert band.from_memory == unsourced, name
    assert 1000 < material.yield_mpa.low < material.strength_mpa.high
    assert material.full_wind_stress_mpa.from_memory  # a judgement, as long as no curve is read
    assert material.healthy_mpa.source.strip()
    assert material.full_wind_stress_mpa.high <= 1.5 * material.yield_mpa.high


PRIORS = reference("strength")["priors"]


@pytest.mark.parametrize("row", [*PRIORS["rows"], *PRIORS["mixtures"]], ids=lambda row: row["name"])
def test_healthy_stress_is_that_of_strip_bent_on_its_arbor(row: dict[str, Any]) -> None:
    """Drawn by strength_of_strips.py; 8 % is added for what no published torque curve confirms."""
    healthy = material_named(row["name"]).healthy_mpa
    assert healthy.median == pytest.approx(row["centre_mpa"], rel=0.01)
    assert healthy.spread == pytest.approx(math.hypot(row["spread"], 0.08), abs=0.022)


def test_healthy_stress_rises_with_the_strength_of_the_strip() -> None:
    names = ("carbon-steel", "stainless", "cobalt-chromium-nickel", "high-strength-cobalt")
    medians = [material_named(name).healthy_mpa.median for name in names]
    assert medians == sorted(set(medians))
    for row in PRIORS["rows"]:
        least, _, most = row["strength_mpa"]
        material = material_named(row["name"])
        assert (material.strength_mpa.low, material.strength_mpa.high) == (least, most)
        assert 1.2 * least < material.healthy_mpa.median < 1.5 * most
        assert material.healthy_mpa.most == 1.5 * most  # fully plastic


def test_flow_stress_holds_the_published_part_of_the_strength() -> None:
    """0.90, give or take 0.01: sigma_0.2 over R_m of aged 40KNKhMVTYu, note to GOST 10994-74."""
    assert PRIORS["flow_ratio"][0] < 0.89 < 0.91 < PRIORS["flow_ratio"][1]
    for material in shipped_materials():
        least, most = material.strength_mpa.low, material.strength_mpa.high
        assert material.yield_mpa.low == pytest.approx(PRIORS["flow_ratio"][0] * least)
        assert material.yield_mpa.high == PRIORS["flow_ratio"][1] * most


def test_open_alloy_is_the_spread_of_all_and_white_of_the_white_ones() -> None:
    anything, white = material_named("open"), material_named("white")
    assert (anything.density_g_cm3.low, anything.density_g_cm3.high) == (7.8, 8.6)
    assert (white.density_g_cm3.low, white.density_g_cm3.high) == (7.8, 8.6)
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
    assert quantity.value == pytest.approx(8.2)
    assert term.influence.u == pytest.approx(0.4 / math.sqrt(3))
    assert (term.influence.shape, term.influence.kind) == ("rectangular", "B")


@pytest.mark.parametrize(
    ("package", "kind"),
    [("mechanics", "material"), ("mechanics", "end"), ("choosing", "strip")],
)
def test_every_band_of_a_shipped_table_is_one_with_a_source(package: str, kind: str) -> None:
    rows = shipped_rows(f"gaugelink.{package}", kind)
    found = [value for row in rows for value in row.values() if isinstance(value, SourcedBand)]
    assert len(found) >= 2 * len(rows) > 0
    for band in found:
        assert 0 <= band.low <= band.high
        assert band.source.strip()
