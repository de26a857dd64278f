"""A capture goes on while another program reads and writes the same journal."""

from __future__ import annotations

import os
import select
import sys
import traceback
from collections.abc import Callable
from pathlib import Path

import pytest
from book_samples import fill, is_sound
from jobbook_samples import heard, index_job, taken

from gaugelink.capture.acts import Taken
from gaugelink.jobbook.copies import back_up
from gaugelink.jobbook.export import Exporter, Importer, read_job_file
from gaugelink.jobbook.facts import FactBook, Remark
from gaugelink.jobbook.journal import Journal
from gaugelink.jobbook.lookup import Wanted
from gaugelink.jobbook.sizes import KeptSize, SizeBook

if not hasattr(os, "fork"):
    pytest.skip("this system cannot fork", allow_module_level=True)

JOB, N_READINGS = 2, 150


def capture(path: Path, say: Callable[[bytes], object]) -> None:
    with Journal.open(path) as journal:
        journal.load(JOB)
        for number in range(1000, 1000 + N_READINGS):
            journal.write(JOB, [heard(number), taken(number)])
            journal.commit()
            say(b"%d\n" % number)


def start(path: Path) -> tuple[int, int]:
    """Begin to capture in another process; return its number, and where it says what it took."""
    ours, theirs = os.pipe()
    pid = os.fork()
    if pid == 0:
        code = 1
        try:
            os.close(ours)
            capture(path, lambda data: os.write(theirs, data))
            code = 0
        except BaseException:
            traceback.print_exc(file=sys.stderr)
        finally:
            os._exit(code)
    os.close(theirs)
    return pid, ours


def meanwhile(path: Path, number: int) -> None:
    """Do all that another program may do with the file, once."""
    with FactBook(path) as book:
        book.add(JOB, Remark(text=f"note {number}"))
    with Journal.open(path) as journal:
        assert journal.jobs(9, Wanted(text="Würfel"))
        assert journal.load(JOB).acts
    index_job(path, JOB, [KeptSize(name="bore", value_mm=11.0, u_mm=0.02)])
    with SizeBook(path) as sizes:
        assert sizes.of(JOB)
    file = path.with_name("jobs.json")
    with Exporter(path) as exporter:
        exporter.write(file)
    with Importer(path) as importer:
        importer.take(read_job_file(file))
    assert back_up(path, path.with_name("backup.sqlite")).n_jobs == 3


@pytest.mark.filterwarnings("ignore:This process .* is multi-threaded:DeprecationWarning")
def test_neither_program_loses_anything(tmp_path: Path) -> None:
    path = fill(tmp_path / "journal.sqlite")
    pid, answers = start(path)
    said, rounds, ended = b"", 0, False
    while not ended:
        meanwhile(path, rounds)
        rounds += 1
        while not ended and select.select([answers], [], [], 0)[0]:
            data = os.read(answers, 65536)
            said, ended = said + data, not data
    os.close(answers)
    _, status = os.waitpid(pid, 0)
    assert os.waitstatus_to_exitcode(status) == 0
    acknowledged = [f"{int(each) / 100:.2f}" for each in said.split()]
    assert len(acknowledged) == N_READINGS
    with Journal.open(path) as journal, FactBook(path) as book:
        acts = journal.load(JOB).acts
        notes = [s.fact.text for s in book.facts(JOB) if isinstance(s.fact, Remark)]
    assert [a.reading.displayed for a in acts if isinstance(a, Taken)][1:] == acknowledged
    assert notes == [f"note {number}" for number in range(rounds)]
    assert is_sound(path)
