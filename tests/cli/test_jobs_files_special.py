"""Pipes, devices, links and permissions: every file that a command opens or writes."""

from __future__ import annotations

import os
import stat
import sys
from pathlib import Path

import pytest
from cli_gauges import presses, without
from cli_runs import call, is_clear

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="Windows has no such files")
FAST = ("--draws", "1000")
SIZE = ("size", "--bore", "11", *FAST)
READ = {
    "import": ("jobs", "--import"),
    "restore": ("jobs", "--restore"),
    "stock": ("stock",),
    "choose": ("choose", "--bore", "11", *FAST, "--stock"),
    "journal": ("jobs", "--journal"),
    "backup of": ("jobs", "--backup", "copy.sqlite", "--journal"),
    "rescue of": ("jobs", "--rescue", "copy.sqlite", "--journal"),
}
WRITE = {
    "svg": (*SIZE, "--svg"),
    "dsi": (*SIZE, "--dsi"),
    "page": ("report", "1", *FAST, "--out"),
    "backup": ("jobs", "--backup"),
    "rescue": ("jobs", "--rescue"),
    "stock": ("stock", "--export"),
    "recording": ("listen", "sim:still?pace=0&duration_s=1", "--record"),
}


@pytest.fixture(name="home")
def home_with_a_job(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    address = presses(tmp_path / "bore.jsonl", 0.0, *[11.52] * 5, 0.0)
    assert call(tmp_path, "measure", address, *without("bore")).code == 0
    return tmp_path


@pytest.mark.parametrize("file", ["fifo", "/dev/zero"])
@pytest.mark.parametrize("words", READ.values(), ids=READ)
def test_what_never_ends_is_not_read(home: Path, words: tuple[str, ...], file: str) -> None:
    os.mkfifo("fifo")
    done = call(home, *words, file)
    assert done.code in (2, 4, 7)
    assert is_clear(done.err, "it is a pipe or a device, not a file")


def test_a_backup_that_never_ends_is_named_and_the_journal_left(home: Path) -> None:
    before = (home / "journal.sqlite").read_bytes()
    done = call(home, "jobs", "--restore", "/dev/zero")
    assert done.code == 7
    assert is_clear(done.err, "/dev/zero cannot be read")
    assert "--restore FILE" in done.err and "--journal" not in done.err
    assert (home / "journal.sqlite").read_bytes() == before


def test_a_recording_that_never_ends_is_not_read(home: Path) -> None:
    os.mkfifo("fifo")
    done = call(home, "listen", "replay:fifo")
    assert is_clear(done.err, "it is a pipe or a device, not a file")


@pytest.mark.parametrize("file", ["fifo", "/dev/full", "out.json"])
@pytest.mark.parametrize("words", WRITE.values(), ids=WRITE)
def test_nothing_is_written_to_a_pipe_or_a_device(
    home: Path, words: tuple[str, ...], file: str
) -> None:
    os.mkfifo("fifo")
    os.mkfifo("out.json")
    done = call(home, *words, file)
    assert done.code in (2, 4, 7)
    assert len(done.err.strip().splitlines()) >= 2
    assert "Traceback" not in done.err
    assert stat.S_ISFIFO(Path("fifo").stat().st_mode)
    assert stat.S_ISCHR(Path("/dev/full").stat().st_mode)


@pytest.mark.parametrize("name", ["out.json", "out.csv"])
def test_an_export_goes_where_a_link_points_to(home: Path, name: str) -> None:
    (home / "elsewhere").mkdir()
    assert call(home, "jobs", "--export", f"elsewhere/{name}").code == 0
    (home / name).symlink_to(f"elsewhere/{name}")
    before = (home / "elsewhere" / name).stat().st_ino
    assert call(home, "jobs", "--export", name).code == 0
    assert (home / name).is_symlink()
    assert (home / "elsewhere" / name).stat().st_ino != before  # written anew, whole


@pytest.mark.parametrize("mode", [0o600, 0o640, 0o644])
def test_a_backup_may_be_read_by_those_who_may_read_the_journal(home: Path, mode: int) -> None:
    def may(path: Path) -> int:
        return stat.S_IMODE(path.stat().st_mode)

    (home / "journal.sqlite").chmod(mode)
    assert call(home, "jobs", "--backup", "copy.sqlite").code == 0
    assert may(home / "copy.sqlite") == mode
    aside = call(home, "jobs", "--restore", "copy.sqlite", "--json").data["aside"]
    assert (may(Path(aside)), may(home / "journal.sqlite")) == (mode, mode)
    assert call(home, "jobs", "--rescue", "rescued.sqlite").code == 0
    assert may(home / "rescued.sqlite") == mode


@pytest.mark.parametrize(
    "words",
    [("--export", "no/such.json"), ("--export", "no/such.csv"), ("--backup", "no/such.sqlite")],
)
def test_a_hint_names_the_option_that_is_at_fault(home: Path, words: tuple[str, str]) -> None:
    done = call(home, "jobs", *words)
    assert done.code == 7
    assert f"Name another file with {words[0]} FILE" in done.err
    assert "--journal" not in done.err
