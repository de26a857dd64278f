"""``gaugelink choose``: a list or the stock that is kept, typed values or a job."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from cli_gauges import presses, without
from cli_runs import call

from gaugelink.stock.stock_spring import StockSpring

FAST = ("--draws", "1000", "--json")
BARREL = ("--bore", "11.02", "--depth", "1.92", "--lid", "0.31", "--arbor", "3.70")
DOCUMENTED = ("--documented", "1.50 x 0.12 x 350")

# Invented.
LIST = """\
item,height,thickness,length,end,on hand
A1,1.45,0.12,350,hook,2
A2,1.40,0.12,360,hook,1
B1,1.45,0.13,330,hook,1
C1,1.60,0.12,350,hook,1
D1,1.45,0.12,380,slipping-bridle,1
E1,1.45,0.12,350,hook,0
"""


@pytest.fixture
def listed(tmp_path: Path) -> str:
    path = tmp_path / "springs.csv"
    path.write_text(LIST, encoding="utf-8")
    return str(path)


def chosen(home: Path, *arguments: str) -> Any:
    done = call(home, "choose", *arguments, *FAST)
    assert (done.code, done.err) == (0, "")
    return done.data


def items(data: Any, what: str = "picks") -> list[str]:
    return [each["item"] for each in data[what]]


def test_a_list_is_ranked_for_typed_values(listed: str, tmp_path: Path) -> None:
    data = chosen(tmp_path, *BARREL, *DOCUMENTED, "--stock", listed)
    assert items(data) == ["A1", "A2", "B1"]
    assert set(items(data, "refused")) == {"C1", "D1", "E1"}
    assert data["job"] is None
    assert data["reference"]["kind"] == "documented"


def test_the_stock_that_is_kept_is_used_where_no_list_is_given(listed: str, tmp_path: Path) -> None:
    assert call(tmp_path, "stock", listed).code == 0
    assert items(chosen(tmp_path, *BARREL, *DOCUMENTED)) == ["A1", "A2", "B1"]


def test_without_any_stock_it_says_so_and_makes_no_journal(tmp_path: Path) -> None:
    data = chosen(tmp_path, *BARREL)
    assert (data["picks"], data["stock_size"]) == ([], 0)
    assert "stock-empty" in {each["code"] for each in data["warnings"]}
    assert not list(tmp_path.iterdir())


def test_a_measured_job_is_chosen_for(listed: str, tmp_path: Path) -> None:
    values = (0.0, 11.02, 11.01, 11.03, 11.02, 11.01, 1.92, 1.93, 1.92, 3.70, 3.71, 3.70, 0.0)
    address = presses(tmp_path / "caliper.jsonl", *values)
    plan = without("bore", "depth", "arbor")
    assert call(tmp_path, "measure", address, "--json", *plan).data["closed"]
    data = chosen(tmp_path, "1", "--lid", "0.31", *DOCUMENTED, "--stock", listed)
    assert data["job"] == 1
    assert items(data)[0] == "A1"


def test_options_of_the_watch_reach_the_choice(listed: str, tmp_path: Path) -> None:
    data = chosen(
        tmp_path,
        *(*BARREL, *DOCUMENTED, "--stock", listed, "--winding", "automatic", "--train", "80/10"),
        *("--found-thickness", "0.12", "--found-height", "1.45", "--amplitude", "260"),
    )
    assert items(data) == ["D1"]
    pick = data["picks"][0]
    assert pick["hours"]["value"] == pytest.approx(8 * pick["turns_usable"]["value"])
    assert pick["amplitude"]["low"] < 260 < pick["amplitude"]["high"]


# Low: the found one may be tired, and a new one of its size may give twice its torque.
WISH = ("--found-thickness", "0.12", "--found-height", "1.45", "--amplitude", "160")


def test_a_wished_amplitude_is_told_of_each_spring(listed: str, tmp_path: Path) -> None:
    known = (*BARREL, *DOCUMENTED, "--stock", listed, *WISH)
    plain = chosen(tmp_path, *known)
    data = chosen(tmp_path, *known, "--wished-amplitude", "280")
    assert items(data) == items(plain)
    assert {pick["wish"] for pick in plain["picks"]} == {None}
    assert {pick["item"]: pick["wish"] for pick in data["picks"]} == {
        "A1": "short",
        "A2": "short",
        "B1": "within",
    }
    assert (plain["wished_amplitude"], data["wished_amplitude"]) == (None, 280)
    done = call(tmp_path, "choose", *known, "--wished-amplitude", "280")
    assert "280 degrees you want" in done.out


def test_a_name_that_is_no_text_is_one_sentence(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    broken = StockSpring(item="A\ud800", height_mm=1.45, thickness_mm=0.12, length_mm=350.0)
    monkeypatch.setattr("gaugelink.cli.choose.springs_of", lambda *where: (broken,))
    done = call(tmp_path, "choose", *BARREL, *FAST)
    assert (done.code, done.out) == (2, "")
    message, hint = done.err.splitlines()
    assert r"'A\ud800'" in message
    assert hint.startswith("  ")


def test_a_healthy_found_spring_is_the_reference(listed: str, tmp_path: Path) -> None:
    found = ("--found-thickness", "0.13", "--found-height", "1.45", "--found-length", "330")
    data = chosen(tmp_path, *BARREL, *found, "--found-healthy", "--stock", listed)
    assert data["reference"]["kind"] == "found"
    assert items(data)[0] == "B1"


def test_the_grade_of_the_strip_widens_the_torque(listed: str, tmp_path: Path) -> None:
    def width(grade: str) -> float:
        data = chosen(tmp_path, *BARREL, *DOCUMENTED, "--stock", listed, "--strip", grade)
        ratio = data["picks"][0]["torque_ratio"]
        return float(ratio["high"] - ratio["low"])

    assert width("watch") < width("precision") < width("normal")


def test_text_goes_to_stdout_and_begins_with_the_answer(listed: str, tmp_path: Path) -> None:
    done = call(tmp_path, "choose", *BARREL, *DOCUMENTED, "--stock", listed, "--show", "2")
    assert (done.code, done.err) == (0, "")
    assert done.out.startswith("Take A1 (1.45 x 0.12 x 350 mm)\nOrder 1.50 x 0.12 x 350 mm\n")
    assert "(1 more)" in done.out


@pytest.mark.parametrize(
    ("arguments", "code", "word"),
    [
        ((), 2, "bore is missing"),
        ((*BARREL, "--show", "0"), 2, "0 springs"),
        ((*BARREL, "--sheet", "x"), 2, "--sheet"),
        ((*BARREL, "--stock", "no.csv"), 4, "no.csv"),
        ((*BARREL, "--found-healthy"), 2, "thickness"),
        ((*BARREL, "--draws", "1"), 2, "draws"),
        ((*BARREL, "--material", "cheese"), 2, "cheese"),
        ((*BARREL, "--barrel", "fusee"), 6, "fusee"),
        (("--bore", "11", "--arbor", "12"), 6, "arbor"),
        ((*BARREL, "--wished-amplitude", "270"), 2, "--wished-amplitude needs --amplitude"),
        ((*BARREL, *WISH, "--wished-amplitude", "330"), 6, "knocks"),
        (("7", *BARREL), 7, "7"),
    ],
)
def test_what_cannot_be_chosen_for_is_one_sentence_with_a_hint(
    arguments: tuple[str, ...], code: int, word: str, tmp_path: Path
) -> None:
    done = call(tmp_path, "choose", *arguments)
    assert (done.code, done.out) == (code, "")
    message, hint = done.err.splitlines()
    assert word in message
    assert hint.startswith("  ")


def test_a_list_with_a_fault_is_not_chosen_from(listed: str, tmp_path: Path) -> None:
    Path(listed).write_text(LIST + "F1,1.45,12,350,hook,1\n", encoding="utf-8")
    done = call(tmp_path, "choose", *BARREL, "--stock", listed)
    assert done.code == 4
    assert "line 8" in done.err
