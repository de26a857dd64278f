"""One value in each unit that a message names; .ci/run has the oldest pint read them as well."""

from __future__ import annotations

import runpy
import tomllib
from pathlib import Path

import pytest
from cli_runs import call

from gaugelink.quantities import parse_grams, parse_mass

ROOT = Path(__file__).parents[1]
# In mm and in g. The inch since 1959, the pound 1959 (453.592 37 g; a grain is its 7000th, an ounce
# its 16th); the Paris line as in gaugelink/quantities.py.
LENGTHS = {
    "11 mm": 11.0,
    "11000 um": 11.0,
    "1.1 cm": 11.0,
    "0.5 in": 12.7,
    "0.5 inch": 12.7,
    "500 thou": 12.7,
    '1/2"': 12.7,
    "5 ligne": 11.2791455,
    "60 douzieme": 11.2791455,
    "0.011 m": 11.0,
}
MASSES = {
    "119 g": 119.0,
    "119000 mg": 119.0,
    "0.119 kg": 119.0,
    "4 oz": 113.3980925,
    "2000 grain": 129.59782,
    "100 carat": 20.0,
}


@pytest.mark.parametrize(("typed", "value_mm"), LENGTHS.items())
def test_a_length_in_each_unit(typed: str, value_mm: float, tmp_path: Path) -> None:
    done = call(tmp_path, "size", "--bore", typed, "--draws", "1000", "--json")
    assert done.code == 0, done.err
    assert done.data["inputs"]["bore"]["value"] == pytest.approx(value_mm, rel=1e-9)


@pytest.mark.parametrize(("typed", "value_g"), MASSES.items())
def test_a_mass_in_each_unit(typed: str, value_g: float) -> None:
    assert parse_grams(typed, "weight").value == pytest.approx(value_g, rel=1e-9)
    assert parse_mass(typed, "mass").value == pytest.approx(1000.0 * value_g, rel=1e-9)


def test_the_lowest_versions_are_those_of_pyproject() -> None:
    text = (ROOT / "pyproject.toml").read_text(encoding="utf-8")
    needed = tomllib.loads(text)["project"]["dependencies"]
    lowest = runpy.run_path(str(ROOT / ".ci" / "lowest.py"))["lowest"]
    pinned = lowest({"dependencies": needed})
    assert len(pinned) == len(needed)
    assert "pint==0.24.4" in pinned
    assert "typer==0.20" in pinned
    with pytest.raises(SystemExit, match="says no lowest version"):
        lowest({"dependencies": ["rich"]})
    run = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    assert ".ci/lowest.py" in run
    assert "tests/test_units_each.py" in run
