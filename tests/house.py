"""What the house measures: files, lines, the longest, single importers, names that occur twice.

``python tests/house.py`` prints it, and what one ``report`` opens, folds and sums up;
``tests/test_house.py`` and ``tests/assembly/test_job_work_once.py`` hold the limits.
"""

from __future__ import annotations

import ast
import sys
import tempfile
from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

TESTS = Path(__file__).parent
PACKAGE = TESTS.parent / "gaugelink"


@dataclass(frozen=True, kw_only=True)
class House:
    """``lines`` by module; ``importers`` of each; where a module or public class name occurs."""

    lines: Mapping[str, int]
    importers: Mapping[str, frozenset[str]]
    modules_named: Mapping[str, tuple[str, ...]]
    classes_named: Mapping[str, tuple[str, ...]]

    @property
    def single_importers(self) -> list[str]:
        return sorted(name for name, known in self.importers.items() if len(known) == 1)


def measured(package: Path = PACKAGE) -> House:
    """Read a package with ``ast``; nothing of it is imported."""
    paths = {_name(path, package): path for path in sorted(package.rglob("*.py"))}
    texts = {name: path.read_text(encoding="utf-8") for name, path in paths.items()}
    trees = {name: ast.parse(text) for name, text in texts.items()}
    importers: dict[str, set[str]] = {name: set() for name in trees if _is_room(paths[name])}
    modules_named, classes_named = defaultdict(list), defaultdict(list)
    for name, tree in trees.items():
        for target in _imported(tree, trees) - {name}:
            if target in importers:
                importers[target].add(name)
        if _is_room(paths[name]):
            modules_named[name.rpartition(".")[2]].append(name)
        for node in tree.body:
            if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
                classes_named[node.name].append(name)
    return House(
        lines={name: text.count("\n") for name, text in texts.items()},
        importers={name: frozenset(known) for name, known in importers.items()},
        modules_named={name: tuple(homes) for name, homes in modules_named.items()},
        classes_named={name: tuple(homes) for name, homes in classes_named.items()},
    )


def twice(named: Mapping[str, tuple[str, ...]]) -> dict[str, tuple[str, ...]]:
    """Return the names that occur more than once."""
    return {name: homes for name, homes in sorted(named.items()) if len(homes) > 1}


def _name(path: Path, package: Path) -> str:
    parts = path.relative_to(package.parent).with_suffix("").parts
    return ".".join(part for part in parts if part != "__init__")


def _is_room(path: Path) -> bool:
    return path.stem not in ("__init__", "__main__")


def _imported(tree: ast.Module, known: Mapping[str, object]) -> set[str]:
    return {name for name in _names(tree) if name in known}


def _names(tree: ast.Module) -> Iterator[str]:
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            yield node.module
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


def report(house: House) -> str:
    """Lay the figures out as text."""
    longest = max(house.lines, key=lambda name: house.lines[name])
    short = [n for n, count in house.lines.items() if count < 60 and n in house.importers]
    rows = [
        f"files            {len(house.lines):6}",
        f"lines            {sum(house.lines.values()):6}",
        f"longest          {house.lines[longest]:6}  {longest}",
        f"single importers {len(house.single_importers):6}",
        f"under 60 lines   {len(short):6}  {', '.join(sorted(short))}",
    ]
    for what, named in (("module", house.modules_named), ("class", house.classes_named)):
        rows += [f"{what} twice: {name}: {', '.join(at)}" for name, at in twice(named).items()]
    return "\n".join(rows) + "\n"


def work_of_a_report() -> str:
    """Run ``report`` for the demo's job in a folder of its own, and say what it took."""
    import pytest

    sys.path += [str(PACKAGE.parent), *(str(TESTS / name) for name in ("cli", "assembly"))]
    from cli_runs import call
    from work_counts import home_with_a_job, work_counted

    with tempfile.TemporaryDirectory() as name, pytest.MonkeyPatch.context() as patch:
        home = home_with_a_job(Path(name))
        patch.chdir(home)
        counts = work_counted(patch)
        done = call(home, "report", "1", "--draws", "2000")
        assert done.code == 0, done.err
    told = ", ".join(f"{what} {counts[what]}" for what in ("opens", "folds", "summaries", "curves"))
    return f"report 1         {told} (a fold a gauge, a summary a measurand)\n"


if __name__ == "__main__":
    sys.stdout.write(report(measured()))
    sys.stdout.write(work_of_a_report())
