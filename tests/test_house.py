"""The house keeps its measure: few rooms, none too long, and one meaning for a name."""

from __future__ import annotations

from pathlib import Path

import pytest
from house import TESTS, House, measured, twice

MOST_FILES, MOST_LINES, LONGEST, MOST_SINGLE = 225, 52_000, 500, 40
# Tests of the whole stand at the top, and are named after what they hold.
OF_THE_WHOLE = {
    *("docstring_examples", "frozen", "house", "import_budget", "layers", "readme", "plain_words"),
    "reference_scripts",
}
# No folders of the package.
STUDIES = {"benchmarks", "coverage", "faults", "fuzz", "firmware", "kernel"}


@pytest.fixture(scope="module")
def house() -> House:
    return measured()


def test_files_and_lines(house: House) -> None:
    assert len(house.lines) <= MOST_FILES
    assert sum(house.lines.values()) <= MOST_LINES


def test_no_room_is_too_long(house: House) -> None:
    assert {name: n for name, n in house.lines.items() if n > LONGEST} == {}


def test_few_rooms_have_a_single_importer(house: House) -> None:
    assert len(house.single_importers) <= MOST_SINGLE


def test_a_name_means_one_thing(house: House) -> None:
    assert twice(house.modules_named) == {}
    assert twice(house.classes_named) == {}


def homeless(tests: Path, rooms: set[str]) -> list[str]:
    """Return the test files that bear no name of a room of their folder."""
    found = []
    for path in sorted(tests.rglob("test_*.py")):
        folder = path.parent.relative_to(tests).parts
        topic = path.stem.removeprefix("test_")
        beside = (room.split(".") for room in rooms)
        named = [room[-1] for room in beside if tuple(room[1:-1]) == folder]
        whole = not folder and topic in OF_THE_WHOLE
        if not (
            whole or {*folder} & STUDIES or any(f"{topic}_".startswith(f"{n}_") for n in named)
        ):
            found.append(str(path.relative_to(tests)))
    return found


def test_a_test_bears_the_name_of_its_room(house: House) -> None:
    assert homeless(TESTS, set(house.importers)) == []


def test_what_breaks_the_measure_is_seen(tmp_path: Path) -> None:
    package, tests = tmp_path / "gaugelink", tmp_path / "tests"
    for name, text in {
        "a/one": "class Span: ...\n",
        "b/one": "from gaugelink.a.one import Span as Other\nclass Span: ...\n",
    }.items():
        (package / name).parent.mkdir(parents=True)
        (package / f"{name}.py").write_text(text, encoding="utf-8")
    (tests / "a").mkdir(parents=True)
    for name in ("a/test_one_more", "a/test_two"):
        (tests / f"{name}.py").write_text("", encoding="utf-8")
    house = measured(package)
    assert twice(house.modules_named) == {"one": ("gaugelink.a.one", "gaugelink.b.one")}
    assert twice(house.classes_named) == {"Span": ("gaugelink.a.one", "gaugelink.b.one")}
    assert house.single_importers == ["gaugelink.a.one"]
    assert homeless(tests, set(house.importers)) == ["a/test_two.py"]
