"""Each option with nothing, too much, too little or twice: a documented code and one sentence."""

from __future__ import annotations

import shutil
import warnings
import zlib
from pathlib import Path

import pytest
import typer
from cli_runs import call

from gaugelink.cli.app import COMMANDS, app

DOCUMENTED = (0, 2, 3, 4, 5, 6, 7)
EXTREMES = [
    "1e100",
    "1e-300",
    "1e308",
    "-1e308",
    "99999999999999999999",
    "-3",
    "nan",
    "inf",
    "2026-13-45",
    "11 11",
    "0/0",
    "1e-300/1",
    "a" * 300,
    "\udcff",
    "x=1e308",
]
GIVEN = {
    "gauges": [],
    "listen": ["sim:caliper?pace=0", "--seconds", "0.02"],
    "measure": ["sim:caliper?pace=0&sends=button", "--quiet"],
    "check": ["sim:block?size_mm=5&pace=0", "--quiet"],
    "size": ["--bore", "11", "--draws", "1000"],
    "stock": [],
    "choose": ["--bore", "11", "--draws", "1000", "--stock", "list.csv"],
    "jobs": ["1"],
    "report": ["1", "--text", "--draws", "1000"],
    "demo": ["--pace", "100000"],
}
STOCK = "item,height (mm),thickness (mm),length (mm),on hand\nS1,1.40,0.130,360,2\n"


def options() -> list[tuple[str, str]]:
    """Every option of every command that takes a text."""
    root = typer.main.get_command(app)
    commands = [(name, root.get_command(None, name)) for name, _, _ in COMMANDS]
    return [
        (name, each.opts[0])
        for name, command in commands
        for each in command.params
        if each.param_type_name == "option" and not each.is_flag and "--help" not in each.opts
    ]


OPTIONS = options()


@pytest.fixture(scope="module")
def filled(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("filled")
    journal = str(folder / "journal.sqlite")
    assert call(folder, "demo", "--pace", "100000", "--journal", journal).code == 0
    (folder / "list.csv").write_text(STOCK)
    return folder


def is_one_sentence(error: str) -> bool:
    """One sentence of ours with its hint, or the usage that the command line itself says."""
    told = [line for line in error.splitlines() if line.startswith(("gaugelink: ", "Error: "))]
    return len(told) == 1 and "Traceback" not in error and "Warning" not in error


def says_in_a_sentence(folder: Path, filled: Path, *words: str) -> int:
    home = folder / f"{len([*folder.iterdir()])}"
    shutil.copytree(filled, home)
    with pytest.MonkeyPatch.context() as here, warnings.catch_warnings():
        here.chdir(home)
        warnings.simplefilter("error")  # numpy's would be said on stderr
        done = call(home, *words)
    assert done.code in DOCUMENTED, (words, done.err)
    assert done.code == 0 or is_one_sentence(done.err), (words, done.err)
    return done.code


def picked(command: str, option: str, n: int) -> list[str]:
    """Some extremes, others for each option, the same in each run."""
    first = zlib.crc32(f"{command}{option}".encode()) % len(EXTREMES)
    return [EXTREMES[(first + 7 * i) % len(EXTREMES)] for i in range(n)]


@pytest.mark.parametrize(("command", "option"), OPTIONS, ids=map(" ".join, OPTIONS))
def test_an_extreme_value_is_used_or_refused(
    command: str, option: str, filled: Path, tmp_path: Path
) -> None:
    value = picked(command, option, 1)[0]
    says_in_a_sentence(tmp_path, filled, command, *GIVEN[command], option, value)


@pytest.mark.campaign
@pytest.mark.parametrize(("command", "option"), OPTIONS, ids=map(" ".join, OPTIONS))
def test_every_extreme_value_is_used_or_refused(
    command: str, option: str, filled: Path, tmp_path: Path
) -> None:
    for value in EXTREMES:
        says_in_a_sentence(tmp_path, filled, command, *GIVEN[command], option, value)
        says_in_a_sentence(tmp_path, filled, command, *GIVEN[command], option, value, option, value)


@pytest.mark.parametrize(("command", "option"), OPTIONS, ids=map(" ".join, OPTIONS))
def test_an_option_with_nothing_after_it_is_refused(
    command: str, option: str, filled: Path, tmp_path: Path
) -> None:
    code = says_in_a_sentence(tmp_path, filled, command, *GIVEN[command], option, "")
    may_be_empty = {"--title", "--search", "--find", "--from", "--to"}
    assert code == 2 or option in may_be_empty


@pytest.mark.parametrize("command", ["jobs", "size", "choose", "report"])
@pytest.mark.parametrize("number", ["99999999999999999999", "2147483648", "0", "-1", "1.5", ""])
def test_a_number_that_no_job_has(command: str, number: str, filled: Path, tmp_path: Path) -> None:
    words = [] if command != "choose" else ["--stock", "list.csv"]
    assert says_in_a_sentence(tmp_path, filled, command, "--", number, *[]) in (2, 7), words


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        ("size --bore 11 --found-loose-coils -3", "found loose coils: '-3' is below zero."),
        ("size --bore 11 --found-thickness-spread -1", "'-1' is below zero."),
        ("size --bore 11 --stopwork", "stopwork: '4' is not turns and set-up."),
        ("jobs --from 2026-13-45", "--from: '2026-13-45' is not a date."),
        ("jobs --to 2026-02-30", "--to: '2026-02-30' is not a date."),
        ("size --bore 11 --train=", "Nothing was typed after --train."),
        ("size --bore 11 --end=", "Nothing was typed after --end."),
        ("size --bore 11 --material=", "Nothing was typed after --material."),
        ("size --bore 11 --found-free-diameter=", "Nothing was typed after --found-free-diameter."),
        ("measure sim:caliper --end=", "Nothing was typed after --end."),
        ("gauges --formats not/there", "No folder not/there."),
        ("listen sim:caliper?pace=1&pace=2", "pace is given twice"),
        ("size --bore 11 --draws 200000000", "200000000 draws would take all day"),
        ("size --bore 1e100", "bore: '1e100' is not a length in a watch."),
        ("size --bore 1e-300", "bore: '1e-300' is not a length in a watch."),
    ],
)
def test_what_cannot_be_is_refused(words: str, sentence: str, tmp_path: Path) -> None:
    done = call(tmp_path, *words.split(), *(["4"] if words.endswith("stopwork") else []))
    assert done.code == 2
    assert sentence in done.err
    assert is_one_sentence(done.err)
