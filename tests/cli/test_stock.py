"""``gaugelink stock``: a list read, searched, used up, written down and read again."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from cli_runs import Outcome, call, is_clear
from cli_terminal import Terminal

HEADINGS = "item;height;thickness (1/100 mm);length;end;on hand;reorder at"
LIST = f"{HEADINGS}\nA1;1,2;12;360;hook;2;1\nB2;1,25;12,5;380;hole;5;0\nC3;2,4;20;560;;0;0\n"
FAULTY = f"{LIST}D4;1,2;1200;380;;1;0\nE5;x;12;380;velcro;1;0\n"


@pytest.fixture(name="home")
def home_with_stock(tmp_path: Path) -> Path:
    assert stock(tmp_path, save(tmp_path, LIST)).code == 0
    return tmp_path


def save(home: Path, text: str, name: str = "list.csv") -> str:
    path = home / name
    path.write_text(text, encoding="utf-8")
    return str(path)


def stock(home: Path, *arguments: str) -> Outcome:
    return call(home, "stock", *arguments)


def items(outcome: Outcome) -> list[str]:
    return [spring["item"] for spring in outcome.data["springs"]]


def test_without_springs_it_says_how_to_begin_and_makes_no_journal(tmp_path: Path) -> None:
    done = stock(tmp_path)
    assert (done.code, done.err) == (0, "")
    assert "gaugelink stock FILE" in done.out
    assert stock(tmp_path, "--json").data == {
        "schema": 1,
        "n_sizes": 0,
        "springs": [],
        "running_out": [],
    }
    assert list(tmp_path.iterdir()) == []


def test_a_list_is_read_and_shown(home: Path) -> None:
    shown = stock(home)
    head, _, *rows = shown.out.splitlines()
    assert head == "STOCK  3 sizes, 7 on hand, 1 running out; mm"
    assert [row.split()[0] for row in rows] == ["A1", "B2", "C3"]
    assert stock(home, "--json").data["running_out"] == ["C3"]


@pytest.mark.parametrize(
    ("arguments", "found"),
    [
        (["--low"], ["C3"]),
        (["--height", "1.2"], ["A1", "B2"]),
        (["--thickness", "12/100..12/100"], ["A1"]),
        (["--length", "0.37..0.4 m"], ["B2"]),
        (["--find", "HOLE"], ["B2"]),
        (["--find", "hole", "--height", "2.."], []),
    ],
)
def test_a_search_lists_a_part(arguments: list[str], found: list[str], home: Path) -> None:
    assert items(stock(home, *arguments, "--json")) == found
    shown = stock(home, *arguments)
    assert shown.code == 0
    assert all(item in shown.out for item in found)


def test_reading_again_says_what_changed(home: Path) -> None:
    text = LIST.replace("A1;1,2;12;360;hook;2;1", "A1;1,2;12;360;hook;4;1").replace("C3", "C4")
    done = stock(home, save(home, text), "--drop")
    assert "1 new, 1 changed, 1 gone, 1 the same" in " ".join(done.out.split())
    assert "A1: on hand 2 -> 4" in done.out
    data = stock(home, save(home, LIST), "--drop", "--json").data
    assert [change["now"]["on_hand"] for change in data["changed"]] == [2]
    assert ([s["item"] for s in data["new"]], data["n_same"]) == (["C3"], 1)


def test_reading_again_puts_nothing_back(home: Path) -> None:
    assert stock(home, "--use", "B2", "--count", "2").code == 0
    again = stock(home, str(home / "list.csv"))
    told = " ".join(again.out.split())
    assert "3 sizes read: 3 the same" in told
    assert "springs you used stay used: B2 (3)." in told
    data = stock(home, str(home / "list.csv"), "--json").data
    assert data["kept"] == [{"item": "B2", "listed": 5, "on_hand": 3}]
    counted = save(home, LIST.replace("hole;5", "hole;4"))
    assert "B2: on hand 3 -> 4" in stock(home, counted).out


def test_a_list_that_lacks_springs_is_refused_without_an_answer(home: Path) -> None:
    short = save(home, LIST.replace("A1", "A7").replace("C3", "C7"))
    for more in ([], ["--json"]):
        refused = stock(home, short, *more)
        assert (refused.code, refused.out) == (2, "")
        assert is_clear(refused.err, "The list lacks 2 of the stock, A1, C3; nothing was taken.")
        assert "--drop" in refused.err
    assert items(stock(home, "--json")) == ["A1", "B2", "C3"]
    assert "2 new, 2 gone, 1 the same" in " ".join(stock(home, short, "--drop").out.split())
    assert items(stock(home, "--json")) == ["A7", "B2", "C7"]


@pytest.mark.parametrize(
    ("answer", "code", "left"), [(b"y\n", 0, ["B2"]), (b"n\n", 2, ["A1", "B2"])]
)
def test_at_a_terminal_it_is_asked(answer: bytes, code: int, left: list[str], home: Path) -> None:
    _, first, _, third = LIST.splitlines()
    both = LIST.replace(f"{third}\n", "")
    assert stock(home, save(home, both), "--drop").code == 0
    alone = save(home, both.replace(f"{first}\n", ""))
    with Terminal(home, "stock", alone) as terminal:
        terminal.wait_for(b"The list lacks 1 of the stock, A1. Drop them?")
        terminal.type(answer)
        assert terminal.finish() == code
    assert items(stock(home, "--json")) == left


def test_every_fault_of_a_list_to_choose_from_is_told_at_once(home: Path) -> None:
    sizes = ("--bore", "11.5", "--arbor", "3.8", "--documented", "1.4 x 0.12 x 370")
    done = call(home, "choose", *sizes, "--stock", save(home, FAULTY))
    assert (done.code, done.out) == (4, "")
    assert "there are 3 faults, in 2 of its rows:" in done.err
    assert "  line 5, thickness (1/100 mm): 12 mm is not the thickness" in done.err
    assert "  line 6, height: 'x' is not a length." in done.err
    assert "  line 6, end: No outer end is called 'velcro'." in done.err
    assert "Traceback" not in done.err


def test_a_delivery_is_added(home: Path) -> None:
    came = save(home, f"{HEADINGS}\nA1;1,2;12;360;;3;\nD4;1,3;13;380;;1;\n", "delivery.csv")
    assert stock(home, came, "--add").code == 0
    springs = stock(home, "--json").data["springs"]
    on_hand = {spring["item"]: spring["on_hand"] for spring in springs}
    assert on_hand == {"A1": 5, "B2": 5, "C3": 0, "D4": 1}
    assert (springs[0]["end"], springs[0]["reorder_at"]) == ("hook", 1)
    other = save(home, f"{HEADINGS}\nA1;1,2;13;360;;3;\n", "other.csv")
    refused = stock(home, other, "--add")
    assert refused.code == 2
    assert is_clear(refused.err, "'A1' is in the stock with thickness 0.12 mm")


def test_a_list_with_faults_is_not_taken_and_every_fault_is_told(home: Path) -> None:
    done = stock(home, save(home, FAULTY))
    assert (done.code, done.out) == (4, "")
    told = " ".join(done.err.split())
    assert "FAULTS 3 in 2 rows" in told
    assert "line 5, thickness (1/100 mm): 12 mm is not the thickness" in told
    assert "line 6, height: 'x' is not a length." in told
    assert "line 6, end: No outer end is called 'velcro'." in told
    assert is_clear(done.err, "2 rows cannot be used, and nothing was taken.")
    assert items(stock(home, "--json")) == ["A1", "B2", "C3"]


def test_faults_are_data_when_json_is_wanted(home: Path) -> None:
    done = stock(home, save(home, FAULTY), "--json")
    assert done.code == 4
    assert done.data["taken"] is False
    assert [(f["line"], f["column"]) for f in done.data["faults"]][1:] == [
        (6, "height"),
        (6, "end"),
    ]
    assert is_clear(done.err, "nothing was taken")


def test_faulty_rows_can_be_left_out(tmp_path: Path) -> None:
    done = stock(tmp_path, save(tmp_path, FAULTY), "--skip-faulty")
    assert done.code == 0
    assert "3 new" in done.out
    assert "FAULTS" in done.err
    nothing = save(tmp_path, f"{HEADINGS}\nA;x;x;x;;1;1\n", "none.csv")
    assert stock(tmp_path, nothing, "--skip-faulty").code == 4
    assert items(stock(tmp_path, "--json")) == ["A1", "B2", "C3"]


def test_one_is_used_and_brought_back(home: Path) -> None:
    used = stock(home, "--use", "a1")
    first, near, _, row = used.out.splitlines()[:4]
    assert first == "1 of A1 taken out: 1 left, running out."
    assert "nearest in size" in near
    assert row.split()[0] == "B2"
    assert used.out.splitlines()[-1] == "Also running out: C3 (0)."
    assert used.out.count("unning out") == 2  # of this one, and of the other
    back = stock(home, "--return", "A1", "--json").data
    assert (back["spring"]["on_hand"], back["taken"]) == (2, -1)
    assert back["running_out"] == ["C3"]


def test_a_use_is_kept_with_its_job(home: Path) -> None:
    missing = stock(home, "--use", "A1", "--job", "1")
    assert missing.code == 7
    assert is_clear(missing.err, "No job 1")
    assert call(home, "measure", "sim:still?pace=0&duration_s=1", "--depth-from", "rim").code == 0
    used = stock(home, "--use", "B2", "--job", "1", "--count", "3", "--json").data
    assert (used["job"], used["taken"], used["spring"]["on_hand"]) == (1, 3, 2)
    with closing(sqlite3.connect(home / "journal.sqlite")) as connection:
        kept = connection.execute("SELECT item, job_id, count FROM stock_use").fetchall()
    assert kept == [("B2", 1, 3)]


def test_more_than_there_are_cannot_be_used(home: Path) -> None:
    done = stock(home, "--use", "A1", "--count", "3")
    assert done.code == 2
    assert is_clear(done.err, "Cannot take 3 of 'A1': only 2 on hand")
    assert "B2 (1.25 x 0.125 x 380)" in done.err


def test_what_is_exported_is_read_again_without_a_change(home: Path) -> None:
    before = stock(home, "--json").data
    out = home / "out.csv"
    assert "3 sizes written" in stock(home, "--export", str(out)).err
    again = stock(home, str(out), "--json").data
    assert (again["n_same"], again["changed"], again["new"], again["gone"]) == (3, [], [], [])
    assert stock(home, "--json").data == before
    second = stock(home, "--export", str(out), "--json")
    assert second.code == 2
    assert is_clear(second.err, "cannot be written")


def test_the_invented_stock_says_so_and_never_replaces_a_real_one(tmp_path: Path) -> None:
    first = stock(tmp_path, "--demo")
    assert "invented" in first.err
    assert "300 new" in first.out
    assert "300 the same" in stock(tmp_path, "--demo").out
    assert stock(tmp_path, save(tmp_path, LIST), "--drop").code == 0
    for more in ([], ["--add"]):
        refused = stock(tmp_path, "--demo", *more)
        assert refused.code == 2
        assert is_clear(refused.err, "You have a stock already")
    assert len(items(stock(tmp_path, "--json"))) == 3


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        (["--use", "A1", "--low"], "--use and a search cannot be done at once."),
        (["x.csv", "--demo"], "FILE and --demo cannot be done at once."),
        (["--use", "A1", "--return", "A1"], "--use and --return cannot be done at once."),
        (["--add"], "--add needs a list to read."),
        (["--drop"], "--drop needs a list to read."),
        (["x.csv", "--add", "--drop"], "--add and --drop cannot be done at once."),
        (["--sheet", "S", "--low"], "--sheet needs a list to read."),
        (["--skip-faulty", "--use", "A1"], "--skip-faulty needs a list to read."),
        (["--count", "2"], "--count needs --use or --return."),
        (["--job", "2", "--low"], "--job needs --use or --return."),
        (["--use", "Z"], "The stock has no item 'Z'."),
        (["--use", "A1", "--count", "0"], "0 is not a number of springs."),
        (["--height", "high"], "height: 'high' is not a length."),
        (["--thickness", "0.13..0.12"], "thickness: '0.13..0.12' is empty."),
    ],
)
def test_what_cannot_be_done_is_one_sentence(
    arguments: list[str], sentence: str, home: Path
) -> None:
    done = stock(home, *arguments)
    assert (done.code, done.out) == (2, "")
    assert is_clear(done.err, sentence)


def test_nothing_can_be_taken_from_no_stock(tmp_path: Path) -> None:
    done = stock(tmp_path, "--use", "A1")
    assert done.code == 2
    assert is_clear(done.err, "The stock is empty")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "old .xls kind."),
        (b"PK\x03\x04", "the spreadsheet cannot be read"),
        (b"\x89PNG\r\n\x1a\n\0", "this is not UTF-8 text."),
        (b"", "it is empty."),
        (b"a,b\n1,2\n", "no columns called 'item'"),
    ],
)
def test_a_file_that_is_no_list_is_one_sentence(data: bytes, sentence: str, tmp_path: Path) -> None:
    (tmp_path / "list").write_bytes(data)
    done = stock(tmp_path, str(tmp_path / "list"))
    assert (done.code, done.out) == (4, "")
    assert is_clear(done.err, sentence)


def test_a_file_that_is_not_there_is_one_sentence(tmp_path: Path) -> None:
    done = stock(tmp_path, "none.csv")
    assert done.code == 4
    assert is_clear(done.err, "none.csv: the list cannot be read (No such file or directory).")


def test_a_damaged_journal_is_one_sentence(home: Path) -> None:
    (home / "journal.sqlite").write_bytes(b"no journal" * 100)
    for arguments in ([], ["--use", "A1"], [str(home / "list.csv")]):
        done = stock(home, *arguments)
        assert done.code == 7
        assert is_clear(done.err, "damaged or not a gaugelink journal")
