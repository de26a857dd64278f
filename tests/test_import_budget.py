"""What each command loads: nothing heavy before it is needed. Looks at modules, never at time."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

import gaugelink
from gaugelink.cli.app import COMMANDS as MENU

HEAVY = frozenset(
    {
        *("numpy", "pint", "serial", "hid", "hidraw", "rich", "platformdirs"),
        *("openpyxl", "jinja2"),
        *("scipy", "uncertainties", "GTC"),  # reference implementations: tests only
        *("asyncio", "pydantic", "importlib.metadata", "pytest"),
    }
)
COMMANDS = [name for name, _, _ in MENU]
DEFINED_IN = {
    name: {"gaugelink.cli.barrel_option", "gaugelink.cli.options", f"gaugelink.cli.{module}"}
    for name, module, _ in MENU
}

_RUN = """
import runpy, sys
try:
    runpy.run_module("gaugelink", run_name="__main__")
except SystemExit as exc:
    code = exc.code
print(code, *sys.modules, file=sys.stderr)
"""


def loaded(code: str, *arguments: str, home: Path | None = None) -> set[str]:
    """Run code in a fresh interpreter; return the last line of its talk, as words."""
    environment = {key: value for key, value in os.environ.items() if key != "GAUGELINK_HOME"}
    if home is not None:
        environment["GAUGELINK_HOME"] = str(home)
    done = subprocess.run(
        [sys.executable, "-c", code, *arguments],
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        check=True,
        timeout=60,
        env=environment,
    )
    return set(done.stderr.splitlines()[-1].split())


def test_the_package_loads_the_standard_library_only() -> None:
    modules = loaded("import gaugelink, sys; print(0, *sys.modules, file=sys.stderr)")
    assert "gaugelink" in modules
    ours = {name for name in modules if name.startswith("gaugelink.")}
    third_party = {*HEAVY, "typer", "click"}
    assert ours | (modules & third_party) == set()


STAGES = (
    *("devices", "capture", "statistics", "uncertainty", "mechanics", "sizing", "stock"),
    *("choosing", "recommending", "drawing", "jobbook", "report", "assembly"),
)


@pytest.mark.parametrize(
    "stages",
    [STAGES, *(pytest.param((s,), marks=pytest.mark.campaign) for s in STAGES)],
    ids=lambda stages: stages[0] if len(stages) == 1 else "all of them",
)
def test_a_stage_loads_nothing_heavy(stages: tuple[str, ...]) -> None:
    package = Path(gaugelink.__file__).parent
    names = []
    for stage in stages:
        parts = [path.relative_to(package.parent) for path in (package / stage).rglob("*.py")]
        inside = sorted(".".join(p.with_suffix("").parts) for p in parts if p.stem != "__init__")
        assert inside
        names += inside
    code = f"import {', '.join(names)}, sys; print(0, *sys.modules, file=sys.stderr)"
    assert loaded(code) & {*HEAVY, "typer"} == set()


def test_typed_sizes_load_no_more_than_sizing_takes(tmp_path: Path) -> None:
    modules = loaded(_RUN, "size", "--bore", "11", "--draws", "1000", home=tmp_path)
    ours = {name.split(".")[1] for name in modules if name.startswith("gaugelink.")}
    assert ours == {
        *("cli", "errors", "model", "units", "quantities", "report"),
        *("statistics", "uncertainty", "mechanics", "sizing", "recommending"),
    }
    assert modules & {"sqlite3", "importlib.resources", "gaugelink.mechanics.found_length"} == set()
    assert "gaugelink.statistics.treatment" not in modules


@pytest.mark.parametrize("command", ["", *COMMANDS])
def test_help_loads_nothing_heavy_and_no_work(command: str) -> None:
    modules = loaded(_RUN, *filter(None, [command]), "--help")
    assert "0" in modules
    assert modules & HEAVY == set()
    ours = {name for name in modules if name.startswith("gaugelink.")}
    always = {f"gaugelink.{name}" for name in ("errors", "cli", "cli.app")}
    assert ours == always | (DEFINED_IN[command] if command else set())


SERVING = {"http.server", "socketserver", "html", "webbrowser"}


@pytest.mark.parametrize(("asked", "loads"), [([], False), (["--display"], True)])
def test_a_display_is_loaded_only_when_it_is_asked_for(
    asked: list[str], loads: bool, tmp_path: Path
) -> None:
    measured = ["measure", "sim:still?pace=0&duration_s=1", "--depth-from", "rim"]
    modules = loaded(_RUN, *measured, *asked, home=tmp_path)
    ours = {
        name for name in modules if name.startswith(("gaugelink.display", "gaugelink.cli.display"))
    }
    assert bool(ours) is loads
    assert bool(modules & SERVING) is loads
    assert modules & {"asyncio", "segno", "webbrowser", "jinja2"} == set()


@pytest.mark.parametrize(
    ("arguments", "needs"),
    [
        (["gauges"], {"serial", "hidraw" if sys.platform == "linux" else "hid"}),
        (["jobs"], set()),
        (["listen", "sim:still?pace=0&duration_s=1"], set()),
        (["measure", "sim:still?pace=0&duration_s=1", "--depth-from", "rim"], set()),
        (["size", "--bore", "11", "--draws", "1000"], {"numpy"}),
        (["size", "--bore", "0.433 in", "--draws", "1000"], {"numpy", "pint"}),
    ],
    ids=lambda value: " ".join(value) if isinstance(value, list) else "",
)
def test_a_command_loads_what_it_needs(
    arguments: list[str], needs: set[str], tmp_path: Path
) -> None:
    modules = loaded(_RUN, *arguments, home=tmp_path)
    assert "0" in modules
    # pint brings along what it finds installed, our test packages among it.
    looked_at = {"numpy", "pint", "serial", "hid", "rich"} if "pint" in needs else HEAVY
    assert modules & looked_at == needs
