"""Jobs go out and come in again without losing a byte; what is damaged or newer does not."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from book_samples import KEPT, content, fill, is_sound, more, old_journal
from examples import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from gaugelink.capture.acts import Superseded
from gaugelink.errors import FileFormatError, JobNotFound, JournalError
from gaugelink.jobbook import export as export_module
from gaugelink.jobbook import export_format
from gaugelink.jobbook.export import Exporter, ImportedJob, Importer, ImportOutcome, read_job_file
from gaugelink.jobbook.export_format import (
    _COMPACT,
    BadItem,
    EntryRow,
    JobRows,
    RecordRows,
    digest_of,
    job_from,
    job_line,
)
from gaugelink.jobbook.gauge_book import GaugeRecords
from gaugelink.jobbook.journal import Journal

Outcomes = list[tuple[int, int, str]]


@pytest.fixture(name="path")
def path_of_a_filled_journal(tmp_path: Path) -> Path:
    return fill(tmp_path / "journal.sqlite")


@pytest.fixture(name="file")
def exported_file(path: Path, tmp_path: Path) -> Path:
    return export(path, tmp_path / "jobs.json")


def export(path: Path, target: Path, *jobs: int) -> Path:
    with Exporter(path) as exporter:
        exporter.write(target, jobs, "0.1")
    return target


def take(path: Path, file: Path) -> Outcomes:
    with Importer(path) as importer:
        return [outcome(each) for each in importer.take(read_job_file(file))]


def outcome(job: ImportedJob) -> tuple[int, int, str]:
    return job.number_there, job.job_id, job.outcome.name


def changed(file: Path, change: Callable[[Any], object]) -> Path:
    data = json.loads(file.read_text(encoding="ascii"))
    change(data)
    file.write_text(json.dumps(data), encoding="ascii")
    return file


def test_an_empty_book_takes_all_of_it_byte_for_byte(
    path: Path, file: Path, tmp_path: Path
) -> None:
    other = tmp_path / "other.sqlite"
    assert take(other, file) == [(n, n, "NEW") for n in (1, 2, 3)]
    assert content(other) == content(path)
    assert is_sound(other)
    again = export(other, tmp_path / "again.json")
    without_stamp = [each.read_text().partition("\n")[2] for each in (file, again)]
    assert without_stamp[0] == without_stamp[1]


def test_a_file_is_json_that_other_programs_read(file: Path) -> None:
    data = json.loads(file.read_text(encoding="ascii"))
    assert (data["kind"], data["schema"], data["software"]) == ("gaugelink jobs", 1, "0.1")
    job = data["jobs"][0]
    assert job["title"] == "Würfel 1"
    assert job["entries"][0]["detail"]["body"]["value_mm"] == 0.01
    assert job["entries"][0]["raw_base64"] == "MQ0K"
    assert job["facts"][0]["detail"]["text"].startswith("invented")
    assert data["gauges"][0]["checks"][1]["job_id"] == 2
    assert len(file.read_text().splitlines()) == 9  # a job a line


def test_a_journal_of_schema_1_is_exported_and_imported_whole(tmp_path: Path) -> None:
    old = old_journal(tmp_path / "old.sqlite", 1)
    file, other = export(old, tmp_path / "old.json"), tmp_path / "other.sqlite"
    assert take(other, file) == [(1, 1, "NEW"), (2, 2, "NEW")]
    assert content(other, *KEPT) == content(old, *KEPT)


def test_some_jobs_are_exported_with_their_gauges(path: Path, tmp_path: Path) -> None:
    file = read_job_file(export(path, tmp_path / "two.json", 3, 1, 3))
    assert [job.job_id for job in file.jobs] == [3, 1]
    assert [record.gauge_id for record in file.records] == ["caliper-1"]
    with pytest.raises(JobNotFound, match="No job 9"):
        export(path, tmp_path / "nine.json", 1, 9)
    assert not (tmp_path / "nine.json").exists()


def test_the_second_time_everything_is_here_already(path: Path, file: Path) -> None:
    before = content(path)
    assert take(path, file) == [(n, n, "HERE") for n in (1, 2, 3)]
    assert content(path) == before


def test_others_write_while_a_large_file_is_taken(
    file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    other, here = tmp_path / "other.sqlite", []
    monkeypatch.setattr(export_module, "_HOLD_S", 0.0)

    def told(done: int, of: int) -> None:
        with Journal.open(other, busy_timeout_s=0.0) as journal:
            here.append((done, of, journal.numbers()))
            journal.mark_open(done)

    with Importer(other) as importer:
        importer.take(read_job_file(file), told)
    assert here == [(1, 3, (1,)), (2, 3, (1, 2)), (3, 3, (1, 2, 3))]


def test_a_number_that_is_taken_is_replaced(file: Path, tmp_path: Path) -> None:
    other = fill(tmp_path / "other.sqlite", n_jobs=2)
    assert take(other, file) == [(1, 4, "NEW"), (2, 5, "NEW"), (3, 3, "NEW")]
    with Journal.open(other) as journal:
        assert journal.numbers() == (1, 2, 3, 4, 5)
        assert journal.load(4).setup.title == "Würfel 1"
        assert len(list(journal.events(4))) == 3
    assert take(other, file) == [(1, 4, "HERE"), (2, 5, "HERE"), (3, 3, "HERE")]


def test_a_job_that_went_on_elsewhere_goes_on_here(path: Path, file: Path, tmp_path: Path) -> None:
    other = tmp_path / "other.sqlite"
    take(other, file)
    more(other, 2, 77)
    assert take(path, export(other, tmp_path / "more.json")) == [
        (1, 1, "HERE"),
        (2, 2, "EXTENDED"),
        (3, 3, "HERE"),
    ]
    assert content(path, *KEPT) == content(other, *KEPT)
    assert take(path, file)[1] == (2, 2, "HERE")  # the older file brings nothing back


def test_a_job_that_is_measured_anew_elsewhere_is_open_again_here(
    path: Path, file: Path, tmp_path: Path
) -> None:
    other = tmp_path / "other.sqlite"
    take(other, file)
    with Journal.open(other) as journal:
        journal.write(1, [Superseded(gauge_id="caliper-1", measurand="bore")])
        journal.mark_open(1)
    assert take(path, export(other, tmp_path / "anew.json"))[0] == (1, 1, "EXTENDED")
    assert content(path, *KEPT) == content(other, *KEPT)
    with Journal.open(path) as journal:
        assert not journal.load(1).closed
        (line,) = [each for each in journal.jobs() if each.job_id == 1]
    assert (line.n_taken, line.n_standing) == (1, 0)
    assert take(path, file)[0] == (1, 1, "HERE")  # the older file does not close it


def test_a_job_that_went_two_ways_is_kept_twice(path: Path, file: Path, tmp_path: Path) -> None:
    other = tmp_path / "other.sqlite"
    take(other, file)
    more(other, 2, 77)
    more(path, 2, 88)
    diverged = export(other, tmp_path / "diverged.json", 2)
    assert take(path, diverged) == [(2, 4, "APART")]
    assert take(path, diverged) == [(2, 4, "HERE")]
    with Journal.open(path) as journal, Journal.open(other) as there:
        assert journal.load(4).acts == there.load(2).acts
        assert journal.load(2).acts != journal.load(4).acts
    assert is_sound(path)


def test_the_checks_of_a_gauge_are_joined_in_time_and_name_their_jobs(
    path: Path, file: Path, tmp_path: Path
) -> None:
    other = fill(tmp_path / "other.sqlite", n_jobs=1)
    with GaugeRecords(other) as records:
        (before,) = records.all()
    take(other, file)
    with GaugeRecords(other) as records:
        (after,) = records.all()
    assert after.checks == before.checks  # the same two, once
    empty = tmp_path / "empty.sqlite"
    take(empty, export(path, tmp_path / "one.json", 1))
    with GaugeRecords(empty) as records:
        (lone,) = records.all()
    assert [each.job_id for each in lone.checks] == [0, 1]  # job 2 was not in the file
    assert [each.checked_utc for each in lone.checks] == [c.checked_utc for c in before.checks]


def scratch(text: str) -> Callable[[Path], object]:
    return lambda file: file.write_text(text)


DAMAGES: dict[str, tuple[Callable[[Path], object], str]] = {
    "empty": (scratch(""), "damaged or not a JSON object"),
    "cut": (lambda f: f.write_bytes(f.read_bytes()[:-500]), "damaged or not a JSON object"),
    "not UTF-8": (
        lambda f: f.write_bytes(b"\xff\xfe" + b"\xd8\x00" * 9),
        "damaged or not a JSON object",
    ),
    "deep": (scratch("[" * 100_000), "damaged or not a JSON object"),
    "a list": (scratch("[]"), "damaged or not a JSON object"),
    "more behind it": (lambda f: f.write_bytes(f.read_bytes() + b"{}"), "something follows"),
    "another kind": (scratch('{"kind": "recipes", "schema": 1}'), "not a file of exported jobs"),
    "no schema": (scratch('{"kind": "gaugelink jobs"}'), "schema"),
    "no lists": (scratch('{"kind": "gaugelink jobs", "schema": 1}'), "list is missing"),
    "not there": (Path.unlink, "cannot be read"),
}


@pytest.mark.parametrize("name", DAMAGES)
def test_a_damaged_file_is_refused_and_nothing_of_it_taken(
    path: Path, file: Path, name: str
) -> None:
    damage, sentence = DAMAGES[name]
    damage(file)
    refuse(path, file, sentence)


def refuse(path: Path, file: Path, sentence: str) -> None:
    before = content(path)
    with pytest.raises(FileFormatError, match=sentence) as caught:
        take(path, file)
    assert caught.value.exit_code == 4
    assert caught.value.path == str(file)
    assert caught.value.hint
    assert content(path) == before


CHANGES: dict[str, Callable[[Any], object]] = {
    "digit": lambda data: data["jobs"][1]["entries"][1]["detail"].update(elapsed_s=3.5),
    "bytes": lambda data: data["jobs"][1]["entries"][0].update(raw_base64="MTEK"),
    "title": lambda data: data["jobs"][1].update(title="another"),
    "fact": lambda data: data["jobs"][1]["facts"].pop(),
    "record": lambda data: data["gauges"][0]["record"].update(mpe_mm=0.001),
    "digest": lambda data: data["jobs"][0].pop("sha256"),
}
WRONG: dict[str, Callable[[Any], object]] = {
    "unknown kind": lambda data: data["jobs"][1]["entries"][1].update(kind="smelt"),
    "field missing": lambda data: data["jobs"][1]["entries"][1]["detail"].pop("measurand"),
    "unknown fact": lambda data: data["jobs"][1]["facts"][0].update(name="mood"),
    "bad base64": lambda data: data["jobs"][1]["entries"][0].update(raw_base64="M"),
    "base64 that is no text": lambda data: data["jobs"][1]["entries"][0].update(raw_base64=7),
    "entries that do not rise": lambda data: data["jobs"][1]["entries"].reverse(),
    "number too large": lambda data: data["jobs"][1].update(job=2**63),
    "number that is true": lambda data: data["jobs"][1].update(job=True),
    "not a date and time": lambda data: data["jobs"][1].update(created_utc="yesterday"),
    "no letter": lambda data: data["jobs"][1].update(title="\ud800"),
    "no plan": lambda data: data["jobs"][1]["setup"].pop("plan"),
    "a job that is a list": lambda data: data["jobs"].__setitem__(1, {"job": []}),
    "check without lengths": lambda data: data["gauges"][0]["checks"][0].update(lengths=[]),
}


@pytest.mark.parametrize("name", CHANGES)
def test_a_change_of_any_part_is_noticed(path: Path, file: Path, name: str) -> None:
    refuse(path, changed(file, CHANGES[name]), r"(jobs|gauges) \d: .*nothing was")


@pytest.mark.parametrize("name", WRONG)
def test_what_cannot_be_read_is_refused_though_it_is_signed(
    path: Path, file: Path, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(export_format, "_check_digest", lambda item, rows: None)
    refuse(path, changed(file, WRONG[name]), r"(jobs|gauges) [12]: It cannot be taken")


def test_a_file_of_a_newer_version_is_refused(path: Path, file: Path) -> None:
    refuse(path, changed(file, lambda data: data.update(schema=2)), "newer gaugelink")


def test_a_newer_file_is_told_before_its_jobs_are_looked_at(path: Path, tmp_path: Path) -> None:
    file = tmp_path / "newer.json"
    file.write_text('{"kind": "gaugelink jobs", "schema": 7, "jobs": [{"shape": "unknown"}]}')
    refuse(path, file, "newer gaugelink")


@pytest.mark.parametrize("indent", [None, 2])
def test_a_file_that_was_laid_out_anew_is_the_same(
    path: Path, file: Path, indent: int | None
) -> None:
    before = read_job_file(file)
    data = json.loads(file.read_text())
    file.write_text("\ufeff" + json.dumps(data, indent=indent) + "\r\n", encoding="utf-8")
    assert read_job_file(file) == before


def test_a_file_that_cannot_be_written_leaves_the_one_before(path: Path, file: Path) -> None:
    before = file.read_bytes()
    with pytest.raises(JobNotFound):
        export(path, file, 1, 99)
    assert file.read_bytes() == before
    with pytest.raises(JournalError, match="nothing was exported"):
        export(path, file.parent / "no folder" / "jobs.json")
    assert [each.name for each in file.parent.glob("*.part*")] == []


@settings(max_examples=examples(60))
@given(detail=st.text(st.characters(exclude_categories=["Cs"])), raw=st.none() | st.binary())
def test_any_text_and_any_bytes_come_through_the_file(detail: str, raw: bytes | None) -> None:
    """Even of a row that no version wrote: it is refused for what it says, not changed."""
    entry = EntryRow(
        number=1,
        written_utc="2026-01-01T00:00:00.000+00:00",
        origin="job",
        kind="resumed",
        raw=raw,
        detail=detail,
    )
    job = JobRows(
        job_id=1,
        identity="x",
        created_utc="2026-01-01T00:00:00.000+00:00",
        title=detail,
        setup="{}",
        closed=False,
        gauges=(),
        entries=(entry,),
        facts=(),
    )
    item = json.loads(job_line(job))
    assert (
        item["entries"][0]["detail"] == detail or json.loads(detail) == item["entries"][0]["detail"]
    )
    with pytest.raises(BadItem, match="setup"):
        job_from(item)


@pytest.mark.parametrize("text", ['{"a": 1}', '{"a":Infinity}', '{"a":1e2}', '{"a":1,"a":2}', "{"])
def test_a_text_that_would_not_come_back_stays_a_text(text: str) -> None:
    data = '{"a":1.5}'
    assert _COMPACT.write([data, text, data]) == [data, json.dumps(text), data]
    assert _COMPACT.write([data, data]) == [data, data]


@pytest.mark.parametrize("texts", [['{"a":{}', '"b":2}', "{},{}"], ['{"a":[{}', "{}]}", "{},{}"]])
def test_texts_that_are_data_only_together_stay_texts(texts: list[str]) -> None:
    assert _COMPACT.write(texts) == [json.dumps(text) for text in texts]


def record(detail: str, *checks: str) -> RecordRows:
    return RecordRows(gauge_id="g", changed_utc="", detail=detail, checks=checks)


def test_no_two_rows_have_one_digest_because_they_run_into_one_another() -> None:
    rows = [record("ab", "c"), record("a", "bc"), record("abc"), record("abc", ""), record("ab")]
    assert len({digest_of(each) for each in rows}) == len(rows)


def test_a_digest_is_what_older_files_hold() -> None:
    """What was signed once must stay signed: a change here makes old exports unreadable."""
    signed = hashlib.sha256(b'["g","","{}",["a","b"]]').hexdigest()
    assert digest_of(record("{}", "a", "b")) == signed


def test_outcomes_are_told_in_words() -> None:
    assert [str(each) for each in ImportOutcome][:2] == ["new", "already here"]
