"""Imports go one way, the pure stages are pure, drivers and streams stay in their modules.

Everything is read with ``ast``; nothing is imported. Each rule is also run on a planted
violation, so that a rule that cannot fail is noticed.
"""

from __future__ import annotations

import ast
import functools
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[1] / "gaugelink"

COMMON = {"errors", "names", "units", "model"}
GAUGES = {"gauge_record", "gauge_trust", "gauge_check"}  # what is known of a gauge; pure
# What each stage may import besides itself; "" is the package's own __init__.
ALLOWED: dict[str, set[str]] = {
    "": {"assembly", "report", "scripting"},  # for annotations; brought when asked for
    "errors": set(),
    "names": set(),
    "units": set(),
    "model": {"units"},
    "demo": set(),  # recordings only
    "quantities": COMMON,
    "devices": COMMON,
    "capture": COMMON,
    "statistics": COMMON,
    "uncertainty": COMMON | {"statistics", "gauge_record"},
    "mechanics": COMMON | {"uncertainty"},
    "sizing": COMMON | {"statistics", "uncertainty", "mechanics"},
    "stock": COMMON | {"mechanics", "quantities"},
    "choosing": COMMON | {"uncertainty", "mechanics", "sizing", "stock"},
    "drawing": COMMON | {"uncertainty", "mechanics", "sizing"},
    "gauge_record": COMMON,
    "gauge_trust": COMMON | {"gauge_record"},
    "gauge_check": COMMON | {"statistics", "uncertainty", "gauge_record"},
    "display": COMMON | {"capture", "drawing"},
    "jobbook": COMMON | {"capture", "gauge_record", "stock"},
    "assembly": COMMON | GAUGES | {"capture", "statistics", "uncertainty", "sizing", "jobbook"},
    "report": COMMON
    | GAUGES
    | {"capture", "statistics", "uncertainty", "mechanics", "sizing", "jobbook", "assembly"}
    | {"stock", "choosing", "recommending", "drawing"},
    "recommending": COMMON | {"uncertainty", "mechanics", "sizing", "stock", "choosing"},
    "cli": COMMON
    | GAUGES
    | {"quantities", "devices", "capture", "statistics", "uncertainty", "mechanics", "sizing"}
    | {"jobbook", "assembly", "report", "stock", "choosing", "recommending", "drawing", "display"},
    "scripting": COMMON | {"statistics", "sizing", "assembly", "cli"},
    "__main__": {"errors", "cli"},
}

PURE = (
    *(
        *GAUGES,
        "statistics",
        "uncertainty",
        "mechanics",
        "sizing",
        "choosing",
        "recommending",
        "drawing",
    ),
    "devices.decoders",
)
IMPURE_MODULES = {
    *("asyncio", "datetime", "glob", "io", "logging", "os", "pathlib", "queue", "select"),
    *("shutil", "socket", "sqlite3", "subprocess", "sys", "tempfile", "threading", "time"),
}
IMPURE_CALLS = {"print", "open", "input", "exit"}

# Who may import what is not ours and touches the machine, or is slow to load.
OWNERS = {
    "serial": {"devices.ports.serial_port", "devices.ports.identity"},
    "hid": {"devices.ports.hid_port"},
    "hidraw": {"devices.ports.hid_port"},
    "sqlite3": {"jobbook"},
    "numpy": {"uncertainty", "mechanics", "sizing", "choosing"},  # lazily, inside functions
    "pint": {"quantities"},
    "rich": {"cli.screen", "cli.output"},
    "openpyxl": {"stock.xlsx_file"},
    "http": {"display.server"},
    "socketserver": {"display.server"},
    "jinja2": {"report.page_html"},
    "platformdirs": {"jobbook.book"},
    "segno": {"cli.display"},
    "typer": {
        "cli.app",
        "cli.options",
        "cli.barrel_option",
        "cli.listen",
        "cli.check",
        "cli.measure",
        "cli.demo",
        "cli.gauges",
        "cli.stock",
        "cli.jobs",
        "cli.size",
        "cli.choose",
        "cli.report",
    },
}
WRITERS = {
    "cli.output",  # data, talk and the bell
    "devices.typed_keys",  # the echo of a terminal in single-key mode
}
DECODER_MAY_IMPORT = {"devices.decoders", *COMMON}
DECODER_TYPES = {"devices.contract", "devices.profiles"}  # for annotations only


@functools.cache
def modules(package: Path) -> dict[str, ast.Module]:
    """Parse the package; names are dotted and without the package's own."""
    found = {}
    for path in sorted(package.rglob("*.py")):
        parts = path.relative_to(package).with_suffix("").parts
        name = ".".join(part for part in parts if part != "__init__")
        found[name] = ast.parse(path.read_text(encoding="utf-8"))
    return found


@functools.cache
def nodes(tree: ast.AST) -> tuple[ast.AST, ...]:
    """All nodes of a tree; every rule goes through them."""
    return tuple(ast.walk(tree))


def imported(tree: ast.AST) -> Iterator[str]:
    """Full names of what is imported anywhere in a tree, members included."""
    for node in nodes(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "imports are written in full"
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


def ours(tree: ast.AST) -> set[str]:
    names = (name for name in imported(tree) if name.split(".")[0] == "gaugelink")
    return {name.partition(".")[2] for name in names}


def foreign(tree: ast.AST) -> set[str]:
    return {name.split(".")[0] for name in imported(tree)} - {"gaugelink"}


def under(name: str, home: str) -> bool:
    return name == home or name.startswith(f"{home}.")


def wrong_ways(package: Path) -> list[str]:
    """Imports against the flow."""
    found = []
    for name, tree in modules(package).items():
        stage = name.split(".")[0]
        for target in ours(tree):
            # ``from gaugelink import __version__`` names no stage; the other names are for others.
            to = "" if target == "__version__" else target.split(".")[0]
            if to not in ALLOWED[stage] | {stage, ""}:
                found.append(f"{name} imports {target}")
    return found


def impurities(package: Path) -> list[str]:
    """Clocks, files and talk in the pure stages."""
    found = []
    for name, tree in modules(package).items():
        if not any(under(name, home) for home in PURE):
            continue
        found += [f"{name} imports {module}" for module in foreign(tree) & IMPURE_MODULES]
        found += [f"{name} calls {call}" for call in calls(tree) & IMPURE_CALLS]
    return found


def calls(tree: ast.AST) -> set[str]:
    called = (node.func for node in nodes(tree) if isinstance(node, ast.Call))
    return {func.id for func in called if isinstance(func, ast.Name)}


def poachers(package: Path) -> list[str]:
    """Drivers and heavy packages imported by a module that does not own them."""
    return [
        f"{name} imports {module}"
        for name, tree in modules(package).items()
        for module in foreign(tree) & OWNERS.keys()
        if not any(under(name, owner) for owner in OWNERS[module])
    ]


def writers(package: Path) -> list[str]:
    """Modules that print or touch a standard stream, other than to ask if it is a terminal."""
    found = []
    for name, tree in modules(package).items():
        streams = sum(_is_stream(node) for node in nodes(tree))
        asked = sum(
            isinstance(node, ast.Attribute) and node.attr == "isatty" and _is_stream(node.value)
            for node in nodes(tree)
        )
        if "print" in calls(tree) or (streams > asked and name not in WRITERS):
            found.append(name)
    return found


def _is_stream(node: ast.AST) -> bool:
    return isinstance(node, ast.Attribute) and node.attr.strip("_") in ("stdout", "stderr")


def knowing_decoders(package: Path) -> list[str]:
    """Decoders that know more than bytes and the types of what they return."""
    found = []
    for name, tree in modules(package).items():
        if not under(name, "devices.decoders"):
            continue
        typing_only = {target for block in _typing_blocks(tree) for target in ours(block)}
        for target in ours(tree):
            homes = DECODER_MAY_IMPORT | (DECODER_TYPES if target in typing_only else set())
            if not any(under(target, home) for home in homes):
                found.append(f"{name} imports {target}")
    return found


def _typing_blocks(tree: ast.Module) -> list[ast.If]:
    blocks = (node for node in tree.body if isinstance(node, ast.If))
    return [b for b in blocks if isinstance(b.test, ast.Name) and b.test.id == "TYPE_CHECKING"]


Rule = Callable[[Path], list[str]]
RULES: list[Rule] = [wrong_ways, impurities, poachers, writers, knowing_decoders]


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.__name__)
def test_the_package_keeps_the_rule(rule: Rule) -> None:
    assert rule(PACKAGE) == []


def test_every_stage_has_its_place() -> None:
    assert {name.split(".")[0] for name in modules(PACKAGE)} <= ALLOWED.keys()


def test_the_table_itself_has_no_way_back() -> None:
    for stage, reached in ALLOWED.items():
        beyond = set(reached)
        while more := {further for to in beyond for further in ALLOWED[to]} - beyond:
            beyond |= more
        assert stage not in beyond, f"{stage} may import what imports it"


def test_everything_that_is_owned_is_used_by_an_owner() -> None:
    known = modules(PACKAGE)
    for module, owners in OWNERS.items():
        for owner in owners:
            inside = [tree for name, tree in known.items() if under(name, owner)]
            assert any(module in foreign(tree) for tree in inside), f"{owner} needs no {module}"


PLANTED = [
    (wrong_ways, "sizing/size_spring.py", "from gaugelink.devices.gauge import Gauge"),
    (wrong_ways, "statistics/summary.py", "import gaugelink.capture.plan"),
    (wrong_ways, "uncertainty/evaluate.py", "def f():\n    from gaugelink.jobbook import Journal"),
    (wrong_ways, "capture/runner.py", "from gaugelink.devices import open_gauge"),
    (wrong_ways, "devices/gauge.py", "from gaugelink import assembly"),
    (wrong_ways, "report/text_size.py", "from gaugelink.cli.output import emit"),
    (wrong_ways, "errors.py", "from gaugelink.model import Reading"),
    (wrong_ways, "report/page.py", "from gaugelink import load_job"),
    (impurities, "sizing/size_spring.py", "import time"),
    (impurities, "statistics/esd.py", "from pathlib import Path"),
    (impurities, "uncertainty/type_b.py", "def f():\n    print(1)"),
    (impurities, "devices/decoders/line.py", "import logging"),
    (poachers, "devices/gauge.py", "import serial"),
    (poachers, "cli/gauges.py", "from serial.tools import list_ports"),
    (poachers, "stock/change.py", "def f():\n    import numpy as np"),
    (writers, "report/table.py", "print('x')"),
    (writers, "cli/output.py", "print('x')"),
    (writers, "cli/size.py", "import sys\nsys.stdout.write('x')"),
    (writers, "capture/runner.py", "import sys\nf(sys.stderr.isatty(), sys.stderr)"),
    (knowing_decoders, "devices/decoders/line.py", "from gaugelink.devices.gauge import Gauge"),
    (
        knowing_decoders,
        "devices/decoders/__init__.py",
        "from gaugelink.devices.contract import Decoder",
    ),
    (
        knowing_decoders,
        "devices/decoders/line.py",
        "if TYPE_CHECKING:\n    from gaugelink.devices.recordings.replay import ReplayTransport",
    ),
]


@pytest.mark.parametrize(("rule", "file", "code"), PLANTED)
def test_a_planted_violation_is_found(rule: Rule, file: str, code: str, tmp_path: Path) -> None:
    path = tmp_path / file
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(code, encoding="utf-8")
    name = file.removesuffix(".py").removesuffix("/__init__").replace("/", ".")
    assert [finding.split()[0] for finding in rule(tmp_path)] == [name]
