"""Every command explains itself: what it does, each argument, each option, each exit code."""

from __future__ import annotations

import functools
import re
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest
from cli_runs import call, spawn
from typer import Context
from typer.main import get_command

from gaugelink import __version__, errors
from gaugelink.cli.app import app
from gaugelink.errors import STOPPED, GaugelinkError

GROUP = get_command(app)
CONTEXT = Context(GROUP)
COMMANDS = {name: GROUP.get_command(CONTEXT, name) for name in GROUP.list_commands(CONTEXT)}
PARAMETERS = [
    (name, parameter)
    for name, command in COMMANDS.items()
    for parameter in command.params
    if parameter.name != "help"
]


@functools.cache
def page_of(command: str) -> str:
    """The page of a command, which is the same in any user folder."""
    with TemporaryDirectory() as home:
        return call(Path(home), command, "--help").out


def test_the_first_page_names_every_command(tmp_path: Path) -> None:
    page = call(tmp_path, "--help")
    assert page.code == 0
    assert page.err == ""
    for name, command in COMMANDS.items():
        line = re.escape(command.get_short_help_str(limit=100))
        assert re.search(rf"^  {name} +{line}$", page.out, re.M)


def test_the_version_is_said_in_one_line(tmp_path: Path) -> None:
    said = call(tmp_path, "--version")
    assert (said.code, said.out, said.err) == (0, f"gaugelink {__version__}\n", "")


@pytest.mark.parametrize(
    ("typed", "completed"),
    [
        ("gaugelink si", ["size"]),
        ("gaugelink size --found-ma", ["--found-mass", "--found-material"]),
        ("gaugelink measure --depth-from s", ["seat"]),
    ],
)
def test_a_shell_completes_what_is_typed(typed: str, completed: list[str], tmp_path: Path) -> None:
    """As a process: what asks is named after the command, and not after what runs the tests."""
    asking = {
        "_GAUGELINK_COMPLETE": "complete_bash",
        "COMP_WORDS": typed,
        "COMP_CWORD": str(len(typed.split()) - 1),
    }
    asked = spawn(tmp_path, more=asking)
    assert (asked.code, asked.out.split()) == (0, completed), asked.err


def test_a_shell_is_told_how_to_complete(tmp_path: Path) -> None:
    """As a process, which need not be started by a shell."""
    named = {"_TYPER_COMPLETE_TEST_DISABLE_SHELL_DETECTION": "1"}
    page = spawn(tmp_path, "--show-completion", "bash", more=named)
    assert page.code == 0, page.err
    assert "_GAUGELINK_COMPLETE=complete_bash" in page.out


def test_a_command_that_is_none_gets_one_sentence(tmp_path: Path) -> None:
    wrong = call(tmp_path, "sise", "--bore", "11")
    assert (wrong.code, wrong.out) == (2, "")
    assert "No such command 'sise'" in wrong.err


def test_no_command_is_a_call_for_help(tmp_path: Path) -> None:
    page = call(tmp_path)
    assert page.code == 2
    assert page.out + page.err == call(tmp_path, "--help").out


def test_the_first_page_lists_every_exit_code(tmp_path: Path) -> None:
    codes = {
        cls.exit_code
        for cls in vars(errors).values()
        if isinstance(cls, type) and issubclass(cls, GaugelinkError)
    }
    listed = call(tmp_path, "--help").out.partition("Exit codes:")[2]
    assert {int(code) for code in re.findall(r"\b(\d+) ", listed)} == codes | {0, STOPPED}


@pytest.mark.parametrize("name", COMMANDS)
def test_the_page_of_a_command_says_what_it_does(name: str, tmp_path: Path) -> None:
    page = call(tmp_path, name, "--help")
    assert (page.code, page.err) == (0, "")
    flowing = " ".join(page.out.split())
    assert " ".join(COMMANDS[name].help.split()) in flowing


@pytest.mark.parametrize(("name", "parameter"), PARAMETERS, ids=lambda v: getattr(v, "name", v))
def test_the_page_mentions_every_option_and_says_what_it_is(name: str, parameter: Any) -> None:
    page = page_of(name)
    assert parameter.help
    assert " ".join(parameter.help.split()) in " ".join(page.split())
    for option in parameter.opts:
        assert option in page


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_that_gives_data_gives_json(name: str) -> None:
    assert "--json" in [option for parameter in COMMANDS[name].params for option in parameter.opts]


@pytest.mark.parametrize(("name", "parameter"), PARAMETERS, ids=lambda v: getattr(v, "name", v))
def test_no_option_has_a_double_negative(name: str, parameter: Any) -> None:
    assert parameter.secondary_opts == [], f"{name} has {parameter.secondary_opts}"
