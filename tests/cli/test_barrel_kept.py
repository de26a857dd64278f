"""What ``size`` and ``choose`` leave with the job, and what ``measure`` says of earlier ones."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from xml.etree import ElementTree

import pytest
from cli_gauges import presses, without
from cli_runs import Outcome, call, is_clear

MEASURED = ("bore", "arbor")
QUICK = ("--draws", "2000")
READINGS = (0.0, *[11.50] * 5, *[3.80] * 3, 0.0)


def measure(home: Path, title: str, readings: tuple[float, ...] = READINGS) -> Outcome:
    address = presses(home / f"{title}.jsonl", *readings)
    done = call(home, "measure", address, "--title", title, *without(*MEASURED))
    assert done.code == 0, done.err
    return done


@pytest.fixture(scope="module")
def measured(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("measured")
    measure(folder, "first")
    return folder


@pytest.fixture(name="home")
def home_with_a_job(measured: Path, tmp_path: Path) -> Path:
    return shutil.copytree(measured, tmp_path / "home")


def test_a_second_barrel_of_the_same_size_is_said_to_be_known(home: Path) -> None:
    again = measure(home, "second")
    assert "This barrel may have been here before: job 1 first" in again.err


def test_another_barrel_is_not(home: Path) -> None:
    other = measure(home, "other", (0.0, *[9.00] * 5, *[3.00] * 3, 0.0))
    assert "been here before" not in other.err


def test_a_sizing_is_kept_once_and_without_its_budget(home: Path) -> None:
    """Beside the one that measuring ended with, which had more draws."""
    shown = call(home, "size", "1", *QUICK, "--json").data
    call(home, "size", "1", *QUICK)
    text = call(home, "jobs", "1").out
    assert (text.count("size 1,"), text.count("size 2,")) == (1, 1)
    assert "size 3," not in text
    assert shown["budget"]
    kept = json.dumps(call(home, "jobs", "1", "--json").data)
    assert '"seed"' in kept
    assert '"sensitivity"' not in kept


def hours_per_turn(home: Path, *typed: str) -> tuple[float | None, str]:
    done = call(home, "size", "1", "--json", *QUICK, *typed)
    assert done.code == 0, done.err
    return done.data["arrangement"]["hours_per_turn"], done.err


def test_a_train_kept_with_the_job_is_used_for_its_size_and_said(home: Path) -> None:
    assert hours_per_turn(home) == (None, "")
    assert call(home, "jobs", "1", "--train", "80/10").code == 0
    assert hours_per_turn(home) == (8.0, "As kept with job 1: --train 80/10\n")
    assert call(home, "jobs", "1", "--train", "hours_per_turn=7.5").code == 0
    assert hours_per_turn(home) == (7.5, "As kept with job 1: --hours-per-turn 7.5\n")


@pytest.mark.parametrize(
    ("typed", "hours"), [(("--hours-per-turn", "6"), 6.0), (("--train", "72/12"), 6.0)]
)
def test_a_typed_train_takes_the_place_of_the_kept_one(
    home: Path, typed: tuple[str, ...], hours: float
) -> None:
    assert call(home, "jobs", "1", "--train", "80/10").code == 0
    assert hours_per_turn(home, *typed) == (hours, "")


def test_a_train_kept_with_the_job_is_used_for_its_choice(home: Path) -> None:
    assert call(home, "stock", "--demo").code == 0
    assert call(home, "jobs", "1", "--train", "80/10").code == 0
    kept, typed = (call(home, "choose", "1", *QUICK, *more) for more in ((), ("--train", "80/10")))
    assert kept.err == "As kept with job 1: --train 80/10\n"
    assert typed.err == ""
    assert kept.out == typed.out


def test_a_ranking_is_kept(home: Path) -> None:
    assert call(home, "stock", "--demo").code == 0
    assert call(home, "choose", "1", *QUICK).code == 0
    assert "choice 1," in call(home, "jobs", "1").out


def test_typed_values_leave_nothing(tmp_path: Path) -> None:
    assert call(tmp_path, "size", "--bore", "11", *QUICK).code == 0
    assert not (tmp_path / "journal.sqlite").exists()


def test_a_result_is_written_as_dsi(home: Path) -> None:
    path = home / "result.xml"
    assert call(home, "size", "1", *QUICK, "--dsi", str(path)).code == 0
    root = ElementTree.parse(path).getroot()
    assert root.attrib["identity"] == "job 1"
    labels = [label.text for label in root.iter("{https://ptb.de/si}label")]
    assert "bore" in labels


def test_a_result_that_cannot_be_written_is_said(home: Path) -> None:
    done = call(home, "size", "1", *QUICK, "--dsi", str(home / "none" / "result.xml"))
    assert done.code == 4
    assert is_clear(done.err, "cannot be written")


def test_no_test_for_outliers_keeps_a_reading_that_the_default_rejects(tmp_path: Path) -> None:
    measure(tmp_path, "gross", (0.0, 11.50, 11.51, 11.00, 11.00, 11.50, 11.51, *[3.80] * 3, 0.0))
    size = ("size", "1", *QUICK, "--json")
    kept = call(tmp_path, *size, "--outliers", "none").data["inputs"]["bore"]
    cleaned = call(tmp_path, *size).data["inputs"]["bore"]
    assert kept["u"] > cleaned["u"]
