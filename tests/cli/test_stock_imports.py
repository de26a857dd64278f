"""``gaugelink stock`` loads pint and openpyxl only for a file that needs them."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from _pytest.mark import ParameterSet

FIXTURES = Path(__file__).parents[2] / "fixtures" / "stock"
RUN = """
import runpy, sys
try:
    runpy.run_module("gaugelink", run_name="__main__")
except SystemExit as exc:
    assert not exc.code
print(*sys.modules, file=sys.stderr)
"""


def campaign(arguments: list[str], needs: set[str]) -> ParameterSet:
    return pytest.param(arguments, needs, marks=pytest.mark.campaign)


@pytest.mark.parametrize(
    ("arguments", "needs"),
    [
        campaign(["--help"], set()),
        campaign([], set()),
        campaign(["--demo"], set()),
        campaign(["--height", "1.2"], set()),
        ([str(FIXTURES / "demo_stock.csv")], set()),
        ([str(FIXTURES / "demo_stock.xlsx")], {"openpyxl"}),
        (["--height", "0.047 in"], {"pint"}),
    ],
    ids=lambda value: Path(value[-1]).name if isinstance(value, list) and value else "",
)
def test_only_what_a_list_needs_is_loaded(
    arguments: list[str], needs: set[str], tmp_path: Path
) -> None:
    journal = str(tmp_path / "journal.sqlite")
    given = arguments if "--help" in arguments else [*arguments, "--journal", journal]
    done = subprocess.run(
        [sys.executable, "-c", RUN, "stock", *given],
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        check=True,
        timeout=60,
    )
    modules = set(done.stderr.splitlines()[-1].split())
    assert "gaugelink.cli.app" in modules
    assert modules & {"openpyxl", "pint"} == needs
