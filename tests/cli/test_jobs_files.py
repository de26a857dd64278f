"""``gaugelink jobs --export, --import, --backup, --restore, --rescue``, with their exit codes."""

from __future__ import annotations

import csv
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from cli_gauges import presses, without
from cli_runs import call, is_clear

from gaugelink.jobbook import schema

BORE = (0.0, 11.52, 11.51, 11.53, 11.52, 11.51, 0.01)


@pytest.fixture(scope="module")
def two_jobs(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("measured")
    for number, title in enumerate(["Bag 17", "Würfel, 3"]):
        address = presses(folder / f"{number}.jsonl", *BORE[: None if number == 0 else 3])
        assert call(folder, "measure", address, "--title", title, *without("bore")).code == 0
    said = ("--reference", "Mrs Example", "--customer", "Mrs Example", "--temperature", "20.5")
    assert call(folder, "jobs", "2", *said).code == 0
    return folder


@pytest.fixture(name="home")
def home_with_two_jobs(two_jobs: Path, tmp_path: Path) -> Path:
    return shutil.copytree(two_jobs, tmp_path / "home")


def journal_of(home: Path) -> Path:
    return home / "journal.sqlite"


def listed(home: Path, *arguments: str) -> list[tuple[int, str]]:
    jobs = call(home, "jobs", *arguments, "--json").data["jobs"]
    return [(job["job"], job["title"]) for job in jobs]


def test_jobs_go_from_one_book_to_another(home: Path) -> None:
    file, other = str(home / "jobs.json"), ("--journal", str(home / "other.sqlite"))
    talk = " ".join(call(home, "jobs", "--export", file).err.split())
    assert talk == f"Wrote 2 jobs and 0 gauge records to {file}."
    assert call(home, "jobs", "--import", file, *other).err == "2 jobs new: 1, 2.\n"
    assert listed(home, *other) == listed(home)
    shown = [call(home, "jobs", "2", *where).out for where in ((), other)]
    assert shown[0] == shown[1]
    assert call(home, "jobs", "--import", file, *other).err == "2 jobs already here: 1, 2.\n"


def test_a_number_that_is_taken_is_said_with_the_new_one(home: Path) -> None:
    file, other = str(home / "jobs.json"), ("--journal", str(home / "other.sqlite"))
    address = presses(home / "third.jsonl", *BORE)
    assert call(home, "measure", address, *without("bore"), *other).code == 0
    done = call(home, "jobs", "1", "--export", file, "--json")
    assert done.data == {"schema": 1, "export": file, "n_jobs": 1, "n_records": 0}
    assert call(home, "jobs", "--import", file, *other).err == "1 job new: 1 is now 2.\n"
    again = call(home, "jobs", "--import", file, *other, "--json").data
    assert again["jobs"] == [{"job_there": 1, "job": 2, "outcome": "already here"}]


def test_a_table_has_a_row_a_measurand_a_job(home: Path) -> None:
    target = home / "jobs.csv"
    assert "2 jobs" in call(home, "jobs", "--export", str(target)).err
    with target.open(encoding="utf-8-sig", newline="") as file:
        first, second = csv.DictReader(file)
    assert (first["job"], first["title"], first["measurand"]) == ("1", "Bag 17", "bore")
    assert (first["n_taken"], first["readings"]) == ("5", "11.52 11.51 11.53 11.52 11.51")
    assert float(first["mean_mm"]) == pytest.approx(11.518)
    assert float(first["u_mm"]) > float(first["u_mean_mm"])
    assert (second["title"], second["reference"]) == ("Würfel, 3", "Mrs Example")
    assert second["closed"] == "no"
    head = ("workshop", "customer", "measured_by", "temperature_c")
    assert [second[name] for name in head] == ["", "Mrs Example", "", "20.5"]
    assert [first[name] for name in head] == [""] * 4


def test_no_cell_of_a_table_is_worked_out_by_a_spreadsheet(home: Path) -> None:
    formula = "=cmd|'/C calc'!A0"
    said = ("--reference", formula, "--movement", "+1+1", "--customer", "@x", "--by", "-2+3")
    assert call(home, "jobs", "1", *said).code == 0
    assert call(home, "jobs", "1", "--export", str(home / "jobs.csv")).code == 0
    with (home / "jobs.csv").open(encoding="utf-8-sig", newline="") as file:
        row = next(iter(csv.DictReader(file)))
    cells = (row["reference"], row["movement"], row["customer"])
    assert cells == (f"'{formula}", "+1+1", "'@x")  # a sum of numbers is no command
    assert all(not cell.startswith(("=", "@")) for cell in row.values())


@pytest.mark.parametrize("name", ["mine.json", "mine.csv"])
def test_an_export_replaces_an_earlier_one_and_no_other_file(home: Path, name: str) -> None:
    target = home / name
    target.write_text("item,height,thickness,length\n", "utf-8")
    done = call(home, "jobs", "--export", str(target))
    assert done.code == 2
    assert is_clear(done.err, "is not an export of gaugelink")
    assert target.read_text("utf-8") == "item,height,thickness,length\n"
    target.unlink()
    for _ in range(2):
        assert call(home, "jobs", "--export", str(target)).code == 0


def test_a_backup_is_made_and_put_back(home: Path) -> None:
    backup = str(home / "backup.sqlite")
    made = call(home, "jobs", "--backup", backup)
    assert (made.code, "the copy was checked" in " ".join(made.err.split())) == (0, True)
    call(home, "jobs", "1", "--note", "later")
    restored = call(home, "jobs", "--restore", backup, "--json")
    data = restored.data
    assert (data["n_jobs"], data["restore"]) == (2, str(journal_of(home)))
    assert "later" not in call(home, "jobs", "1").out
    assert "later" in call(home, "jobs", "1", "--journal", data["aside"]).out


def test_a_damaged_journal_is_rescued_and_goes_on(home: Path) -> None:
    journal, rescued = journal_of(home), str(home / "rescued.sqlite")
    with closing(sqlite3.connect(journal)) as connection:
        connection.execute("DROP TABLE known_gauge")
        connection.execute("DELETE FROM entry WHERE job_id = 1 AND number = 4")
        connection.commit()
    done = call(home, "jobs", "--rescue", rescued)
    talk = " ".join(done.err.split())
    assert done.code == 0
    assert "Rescued 2 jobs" in talk
    assert "Job 1 lacks 1 of its entries, between 4 and 4" in talk
    assert f"gaugelink jobs --restore {rescued}" in talk
    assert call(home, "jobs", "--restore", rescued).code == 0
    assert listed(home) == [(2, "Würfel, 3"), (1, "Bag 17")]


def test_a_damaged_journal_says_the_way_out(home: Path) -> None:
    journal = journal_of(home)
    journal.write_bytes(journal.read_bytes()[:9000])
    done = call(home, "jobs")
    assert done.code == 7
    assert is_clear(done.err, "is damaged")
    assert "jobs --restore BACKUP" in done.err
    assert "jobs --rescue NEW.sqlite" in done.err


def test_a_locked_journal_says_the_way_out(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    real = schema.connect

    def impatient(path: Path, timeout_s: float, **how: bool) -> sqlite3.Connection:
        return real(path, 0.05, **how)

    monkeypatch.setattr(schema, "connect", impatient)  # nobody waits in a test
    with closing(sqlite3.connect(journal_of(home), isolation_level=None)) as connection:
        connection.execute("PRAGMA locking_mode = EXCLUSIVE")
        connection.execute("BEGIN EXCLUSIVE")
        done = call(home, "jobs", "1", "--note", "x")
    assert done.code == 7
    assert is_clear(done.err, "Another program holds")
    assert "Close the other program" in done.err


@pytest.mark.parametrize(
    ("arguments", "code", "sentence"),
    [
        (["--export", "jobs.txt"], 2, "ends neither in .json nor in .csv."),
        (["9", "--export", "jobs.json"], 7, "No job 9"),
        (["9", "--export", "jobs.csv"], 7, "No job 9"),
        (["--export", "no/such/jobs.json"], 7, "nothing was exported"),
        (["--export", "no/such/jobs.csv"], 7, "nothing was exported"),
        (["--import", "none.json"], 4, "It cannot be read"),
        (["--import", "0.jsonl"], 4, "damaged or not a JSON"),
        (["--backup", "0.jsonl"], 2, "is not a backup of a journal"),
        (["--backup", "journal.sqlite"], 2, "would replace the journal itself"),
        (["--restore", "none.sqlite"], 7, "No journal at"),
        (["--restore", "0.jsonl"], 7, "not a gaugelink journal"),
        (["--rescue", "0.jsonl"], 2, "is there already"),
        (["--rescue", "new.sqlite", "--journal", "none.sqlite"], 7, "No journal at"),
        (["--rescue", "new.sqlite", "--journal", "0.jsonl"], 7, "Nothing can be read of"),
        (["1", "--backup", "b.sqlite"], 2, "--backup takes all jobs, not job 1."),
        (["--backup", "b.sqlite", "--restore", "c"], 2, "--backup and --restore do not go"),
        (["--search", "x", "--export", "jobs.json"], 2, "A search and a file do not go together."),
    ],
)
def test_what_does_not_go_is_said_in_one_sentence_and_changes_nothing(
    home: Path,
    monkeypatch: pytest.MonkeyPatch,
    arguments: list[str],
    code: int,
    sentence: str,
) -> None:
    monkeypatch.chdir(home)
    before = sorted(each.name for each in home.iterdir()), listed(home)
    done = call(home, "jobs", *arguments)
    assert (done.code, done.out) == (code, "")
    assert is_clear(done.err, sentence)
    assert (sorted(each.name for each in home.iterdir()), listed(home)) == before
