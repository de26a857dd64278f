"""Reference numbers of our own are given again by their scripts, which call nothing of ours."""

from __future__ import annotations

import ast
import json
import re
import subprocess
import sys
from pathlib import Path

import pytest

FOLDER = Path(__file__).parents[1] / "fixtures" / "reference"
SCRIPTS = sorted(path.name for path in FOLDER.glob("*.py") if path.name != "beside.py")

# At the desk the quickest of them: that nothing is off is what a script says last.
EACH = [pytest.param(n, marks=() if n == "scaling.py" else pytest.mark.campaign) for n in SCRIPTS]


def imported(script: Path) -> set[str]:
    nodes = list(ast.walk(ast.parse(script.read_text(encoding="utf-8"))))
    plain = {alias.name for node in nodes if isinstance(node, ast.Import) for alias in node.names}
    return plain | {str(node.module) for node in nodes if isinstance(node, ast.ImportFrom)}


@pytest.mark.parametrize("name", EACH)
def test_a_script_gives_its_numbers(name: str) -> None:
    run = subprocess.run(
        [sys.executable, FOLDER / name], capture_output=True, text=True, check=False, timeout=300
    )
    assert run.returncode == 0, "\n".join(re.findall(".*OFF.*", run.stdout)) + run.stderr
    assert re.search(r"[1-9]\d* numbers computed, 0 off", run.stdout)


@pytest.mark.parametrize("name", SCRIPTS)
def test_a_script_calls_nothing_of_the_package(name: str) -> None:
    assert not {each for each in imported(FOLDER / name) if each.startswith("gaugelink")}


def test_each_set_of_our_own_names_its_script_and_the_script_its_set() -> None:
    named = set()
    for path in FOLDER.glob("*.json"):
        text = json.dumps(json.loads(path.read_text(encoding="utf-8")))
        assert "omputed independently" not in text, path.name
        for script in re.findall(r"\w+\.py", text):
            assert path.stem in (FOLDER / script).read_text(encoding="utf-8")
            named.add(script)
    assert named == set(SCRIPTS)
