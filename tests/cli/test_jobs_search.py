"""``gaugelink jobs --search ... --bore ... --like ...``: earlier jobs found again."""

from __future__ import annotations

from pathlib import Path

import pytest
from cli_gauges import presses, without
from cli_runs import call, is_clear

from gaugelink.cli.jobs_search import bring_up_to_date
from gaugelink.jobbook.facts import record_size

CALIPER = ("bore", "arbor")


def readings(bore: float, arbor: float) -> tuple[float, ...]:
    return (0.0, *[bore] * 5, *[arbor] * 3, 0.0)


@pytest.fixture(name="home", scope="module")
def home_with_three_barrels(tmp_path_factory: pytest.TempPathFactory) -> Path:
    home = tmp_path_factory.mktemp("home")
    for number, (bore, arbor) in enumerate([(11.50, 3.80), (11.51, 3.81), (9.00, 3.00)], start=1):
        address = presses(home / f"{number}.jsonl", *readings(bore, arbor))
        title = f"barrel {number}"
        assert call(home, "measure", address, "--title", title, *without(*CALIPER)).code == 0
    assert (
        call(home, "jobs", "3", "--chosen", "A17 size=1.2x0.1x300", "--note", "HOOK worn").code == 0
    )
    record_size(home / "journal.sqlite", 2, {"height": {"value": 1.45, "u": 0.02}}, "0.1")
    return home


@pytest.mark.parametrize(
    ("arguments", "found"),
    [
        (["--bore", "11.5"], [2, 1]),
        (["--bore", "11.5 +- 0.0001 mm"], [2, 1]),  # twice their own uncertainty counts
        (["--bore", "0.3543 in"], [3]),
        (["--bore", "10"], []),
        (["--height", "1.22"], [3]),
        (["--height", "1.42"], [2]),
        (["--height", "1.22 +- 0.001"], []),
        (["--size", "1.2 x 0.1 x 300"], [3]),
        (["--size", "1.22 x 0.103 x 310"], [3]),
        (["--size", "1.2 x 0.11 x 300"], []),
        (["--size", "1.2 x 0.1 x 330"], []),
        (["--search", "hook"], [3]),
        (["--search", "barrel", "--bore", "11.5"], [2, 1]),
        (["--search", "barrel 1", "--bore", "11.5"], [1]),
        (["--from", "2020", "--to", "2999-12"], [3, 2, 1]),
        (["--to", "2020-01-01"], []),
    ],
)
def test_jobs_are_found_by_size_text_and_date(
    home: Path, arguments: list[str], found: list[int]
) -> None:
    listed = call(home, "jobs", *arguments, "--json").data["jobs"]
    assert [line["job"] for line in listed] == found
    shown = call(home, "jobs", *arguments).out
    assert (shown == "No job has all that.\n") is (not found)


def test_the_same_barrel_is_known_again(home: Path) -> None:
    shown = call(home, "jobs", "--like", "1").out
    assert shown.startswith("Yes, or one of the same size: job 2.")
    data = call(home, "jobs", "--like", "1", "--json").data["like"]
    assert [(each["job"], each["title"], each["same_size"]) for each in data] == [
        (2, "barrel 2", True),
        (3, "barrel 3", False),
    ]
    bore, arbor = data[0]["differences"]
    assert (bore["name"], arbor["name"]) == ("bore", "arbor")
    assert bore["difference_mm"] == pytest.approx(0.01, abs=0.002)
    assert data[0]["distance_in_u"] < 1 < data[1]["distance_in_u"]


@pytest.mark.parametrize(
    ("typed", "first", "same"),
    [
        ("bore=9.01 arbor=2.99", 3, True),
        ("bore=11.50 arbor=3.80", 1, True),
        ("bore=9.2 arbor=3.0", 3, False),
        ("bore=9.2 +- 0.2 mm arbor=3.0", 3, True),
        ("bore=9.0", 3, False),  # a bore alone makes no barrel
    ],
)
def test_typed_sizes_are_compared_too(home: Path, typed: str, first: int, same: bool) -> None:
    nearest = call(home, "jobs", "--like", typed, "--json").data["like"][0]
    assert (nearest["job"], nearest["same_size"]) == (first, same)
    answer = call(home, "jobs", "--like", typed).out.split(",")[0]
    assert answer.startswith("Yes") is same


def test_nothing_alike_is_said(tmp_path: Path) -> None:
    shown = call(tmp_path, "jobs", "--like", "bore=11").out
    assert shown == "No earlier job has a bore to compare with.\n"
    assert call(tmp_path, "jobs", "--bore", "11").out == "No job has all that.\n"


@pytest.mark.parametrize(
    ("arguments", "code", "sentence"),
    [
        (["--like", "99"], 7, "No job 99"),
        (["--like", "arbor=3"], 2, "is neither a job nor sizes with a bore."),
        (["--like", "the blue one"], 2, "is neither a job nor sizes with a bore."),
        (["--like", "bore=eleven"], 2, "bore: 'eleven' is not a length."),
        (["--like", "bore=11 mood=good"], 2, "is not understood."),
        (["--bore", "wide"], 2, "bore: 'wide' is not a length."),
        (["--size", "1.2"], 2, "is not height x thickness x length."),
        (["--from", "yesterday"], 2, "--from: 'yesterday' is not a date."),
        (["--to", "2026-13-1"], 2, "--to: '2026-13-1' is not a date."),
        (["--like", "1", "--search", "x"], 2, "A search and --like do not go together."),
    ],
)
def test_what_cannot_be_searched_for_is_said_in_one_sentence(
    home: Path, arguments: list[str], code: int, sentence: str
) -> None:
    done = call(home, "jobs", *arguments)
    assert (done.code, done.out) == (code, "")
    assert is_clear(done.err, sentence)


def test_sizes_are_made_once_and_afresh_on_request(home: Path) -> None:
    call(home, "jobs", "--bore", "11")
    journal = home / "journal.sqlite"
    assert bring_up_to_date(journal) == 0
    assert call(home, "jobs", "--reindex").err == "Rebuilt the sizes of 3 jobs.\n"
    assert bring_up_to_date(journal) == 0


def test_a_check_of_a_gauge_is_no_barrel(tmp_path: Path) -> None:
    address = presses(tmp_path / "check.jsonl", *[0.0] * 5, *[5.0] * 3, 0.0)
    length = "5 +- 0.0002 mm"
    checked = call(tmp_path, "check", address, "--length", length, "--readings", "3")
    assert checked.code in (0, 3), checked.err
    assert call(tmp_path, "jobs", "--bore", "5", "--json").data["jobs"] == []
    assert len(call(tmp_path, "jobs", "--json").data["jobs"]) == 1
