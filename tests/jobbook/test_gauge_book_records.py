"""The record of a gauge and its checks come back as they were, whatever happens in between."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest
from jobbook_samples import begin

from gaugelink.errors import JournalBusy, JournalDamaged, JournalNotWritable
from gaugelink.gauge_record import (
    Anvils,
    CertificatePoint,
    CheckVerdict,
    GaugeCheck,
    GaugeRecord,
    JawFlats,
    LengthFound,
    ZeroFound,
)
from gaugelink.jobbook.gauge_book import GaugeRecords
from gaugelink.jobbook.journal import Journal
from gaugelink.model import GaugeKind

PLAIN = GaugeRecord(gauge_id="sim:micrometer", kind=GaugeKind.MICROMETER)
FULL = GaugeRecord(
    gauge_id="usb-1234:5678-A1",
    kind=GaugeKind.CALIPER,
    resolution_mm=0.01,
    mpe_mm=0.1 + 0.2,  # a float that no short decimal is
    shift_mpe_mm=0.04,
    mpe_source="maker's leaflet, invented: ±0.02 mm",
    certificate=(
        CertificatePoint(size_mm=0.0, correction_mm=0.0, expanded_u_mm=0.008),
        CertificatePoint(size_mm=25.0, correction_mm=-0.004, expanded_u_mm=0.012, k=2.2),
    ),
    jaw_flats=JawFlats(width_mm=0.4, u_mm=0.05),
    anvils=Anvils.BALL,
    check_interval_days=180,
)


def check(
    job_id: int, verdict: CheckVerdict = CheckVerdict.PASS, cg: float | None = 1.2
) -> GaugeCheck:
    return GaugeCheck(
        checked_utc=f"2026-03-{job_id:02d}T09:00:00.000+00:00",
        job_id=job_id,
        zero=ZeroFound(n=6, mean_mm=1 / 3, std_mm=0.002, dof=4, drift_mm=-0.01, resolution_mm=0.01),
        lengths=(
            LengthFound(
                known_mm=5.0,
                u_known_mm=0.0002,
                n=10,
                mean_mm=5.003,
                std_mm=0.004,
                bias_mm=0.1 + 0.2,
                u_bias_mm=0.004,
                mpe_mm=0.02,
                guard_mm=0.0066,
                verdict=verdict,
                tolerance_mm=0.1,
                cg=cg,
                cgk=cg,
            ),
        ),
    )


@pytest.fixture(name="path")
def path_of_journal(tmp_path: Path) -> Path:
    return tmp_path / "journal.sqlite"


@pytest.mark.parametrize("record", [PLAIN, FULL], ids=lambda r: r.gauge_id)
def test_every_field_comes_back(record: GaugeRecord, path: Path) -> None:
    with GaugeRecords(path) as records:
        records.save(record)
    with GaugeRecords(path) as records:
        assert records.load(record.gauge_id) == record


def test_checks_come_back_newest_first_and_stay_when_the_record_changes(path: Path) -> None:
    checks = [check(1), check(2, CheckVerdict.FAIL, None), check(3, CheckVerdict.UNDECIDED)]
    with GaugeRecords(path) as records:
        for each in checks:
            records.add_check(FULL, each)
        changed = replace(FULL, mpe_mm=0.01)
        records.save(changed)
        assert records.load(FULL.gauge_id) == replace(changed, checks=tuple(reversed(checks)))


def test_what_is_loaded_may_be_saved_again(path: Path) -> None:
    with GaugeRecords(path) as records:
        records.add_check(PLAIN, check(1))
        loaded = records.load(PLAIN.gauge_id)
        assert loaded is not None
        records.add_check(loaded, check(2))
        assert records.load(PLAIN.gauge_id) == replace(PLAIN, checks=(check(2), check(1)))


def test_each_gauge_has_its_own(path: Path) -> None:
    with GaugeRecords(path) as records:
        assert records.load(FULL.gauge_id) is None
        assert records.all() == ()
        records.add_check(FULL, check(1))
        records.save(PLAIN)
        assert records.load(PLAIN.gauge_id) == PLAIN
        assert [each.gauge_id for each in records.all()] == ["sim:micrometer", "usb-1234:5678-A1"]
        assert records.of(["nobody", PLAIN.gauge_id]) == {PLAIN.gauge_id: PLAIN}


def test_a_name_that_is_no_unicode_is_kept_and_found(path: Path) -> None:
    odd = replace(PLAIN, gauge_id="/dev/tty\udcff")
    with GaugeRecords(path) as records:
        records.add_check(odd, check(1))
        assert records.load(odd.gauge_id) == replace(odd, checks=(check(1),))


def test_records_and_journal_share_one_file_and_are_durable(path: Path) -> None:
    with Journal.open(path) as journal, GaugeRecords(path) as records, GaugeRecords(path) as other:
        job_id = begin(journal)
        records.add_check(FULL, check(1))
        assert journal.load(job_id).job_id == job_id
        assert other.load(FULL.gauge_id) == replace(FULL, checks=(check(1),))
        assert records._connection.execute("PRAGMA synchronous").fetchone() == (2,)  # FULL
    assert {file.name for file in path.parent.iterdir()} == {path.name}


@pytest.mark.parametrize(
    "change",
    [
        "gauge_record SET detail = 'no json'",
        "gauge_record SET detail = '[]'",
        "gauge_record SET detail = '{}'",
        "gauge_record SET detail = X'FF'",
        "gauge_record SET detail = replace(detail, 'caliper', 'ruler')",
        "gauge_record SET detail = replace(detail, 'ball', 'cone')",
        "gauge_record SET detail = replace(detail, '180', '-1')",
        "gauge_record SET detail = replace(detail, 'width_mm', 'breadth_mm')",
        "gauge_record SET detail = replace(detail, '25.0', '-25.0')",
        "gauge_check SET detail = '{}'",
        "gauge_check SET detail = replace(detail, 'pass', 'maybe')",
        'gauge_check SET detail = replace(detail, \'"n": 10\', \'"n": "ten"\')',
        "gauge_check SET detail = replace(detail, 'drift_mm', 'creep_mm')",
    ],
)
def test_a_row_that_is_not_ours_is_damage(change: str, path: Path) -> None:
    with GaugeRecords(path) as records:
        records.add_check(FULL, check(1))
        with closing(sqlite3.connect(path)) as meddler, meddler:
            meddler.execute(f"UPDATE {change}")
        for use in (records.all, lambda: records.load(FULL.gauge_id)):
            with pytest.raises(JournalDamaged) as caught:
                use()
    assert caught.value.path == str(path)
    assert caught.value.hint


def test_a_check_that_cannot_be_added_leaves_the_record_as_it_was(path: Path) -> None:
    with GaugeRecords(path) as records:
        records.save(FULL)
        records._connection.execute("DROP TABLE gauge_check")
        with pytest.raises(JournalDamaged, match="gauge_check"):
            records.add_check(replace(FULL, mpe_mm=0.5), check(1))
        (kept,) = records._connection.execute("SELECT detail FROM gauge_record").fetchone()
    assert '"mpe_mm": 0.5' not in kept
    assert "0.30000000000000004" in kept


def test_a_locked_file_is_busy(path: Path) -> None:
    with (
        GaugeRecords(path) as records,
        closing(sqlite3.connect(path, isolation_level=None)) as other,
    ):
        records._connection.execute("PRAGMA busy_timeout = 10")
        other.execute("BEGIN IMMEDIATE")
        for use in (lambda: records.save(FULL), lambda: records.add_check(FULL, check(1))):
            with pytest.raises(JournalBusy):
                use()
        other.execute("ROLLBACK")
        records.add_check(FULL, check(1))
        assert records.load(FULL.gauge_id) == replace(FULL, checks=(check(1),))


def test_a_folder_that_cannot_be_made_is_named(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    with pytest.raises(JournalNotWritable) as caught:
        GaugeRecords(tmp_path / "file" / "sub" / "j.sqlite")
    assert "j.sqlite" in caught.value.path


def test_the_usual_place_is_that_of_the_journal(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("GAUGELINK_HOME", str(tmp_path / "home"))
    with GaugeRecords() as records:
        records.save(PLAIN)
    assert (tmp_path / "home" / "journal.sqlite").is_file()
