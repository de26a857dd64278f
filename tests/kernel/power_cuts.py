"""Every power cut that a log of a disk allows, and what is left of the readings that were told.

``python tests/kernel/power_cuts.py RUN DISK ...`` checks the disks of a run of ``kernel_lab.py``:
``ext4``, ``vfat``, or ``vfat+fsck``, which repairs first as a computer may do when it starts.

The power goes at some place in the log. What was written before the last flush is on the disk. Of
what was written after it, a drive that keeps its word may have written: nothing, all, a beginning
that ends within a write (torn), or any of the sectors (some). SQLite counts on no more than that
("Atomic Commit In SQLite", section 2: a flush is kept, a sector may be torn).
"""

from __future__ import annotations

import multiprocessing
import re
import shutil
import sqlite3
import struct
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from random import Random

from kernel_image import run
from kernel_lab import SECTOR_BYTES, Line, load

from gaugelink.capture.acts import Taken
from gaugelink.jobbook.journal import Journal
from gaugelink.units import spoken

MAGIC = 0x6A736677736872  # of dm-log-writes, whose layout QEMU follows
FLUSH, FUA, DISCARD, MARK = 1, 2, 4, 8
TAKEN = re.compile(r"(?:caliper|micrometer): taken +([a-z ]+?) (-?[\d.]+) mm\b")
MEMORY = Path("/dev/shm")
BLOCK_BYTES = 4096


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One write or flush: where it begins, in bytes, what was written, and how."""

    at: int
    data: bytes
    flags: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Cut:
    """A place in the log where the power goes, and how much of the unflushed is written."""

    position: int
    left: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """One reading that was acknowledged, and how long the log was then."""

    reading: tuple[str, str]
    position: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """What was found after a cut; ``fault`` is empty when nothing is wrong."""

    cut: Cut
    n_told: int
    n_kept: int
    fault: str


@dataclass(frozen=True, kw_only=True)
class DiskRun:
    """One disk of a run: its log, what was on it before, and what was acknowledged.

    ``blocks`` are what was on it, without what was empty, of ``size`` bytes.
    With ``obeys`` false the drive takes no notice of a flush: the check must find that out.
    """

    kind: str
    repairs: bool
    size: int
    blocks: Sequence[tuple[int, bytes]]
    log: Sequence[Entry]
    told: Sequence[Told]
    obeys: bool = True

    def split(self, position: int) -> tuple[list[Entry], list[Entry]]:
        """Return what is on the disk for certain when the power goes there, and the rest."""
        certain: list[Entry] = []
        open_: list[Entry] = []
        for entry in self.log[:position]:
            if entry.flags & FLUSH and self.obeys:
                certain += open_
                open_ = []
            if entry.data:
                (certain if entry.flags & FUA and self.obeys else open_).append(entry)
        return certain, open_

    def written(self, cut: Cut) -> Iterator[tuple[int, bytes]]:
        """Yield what was written to the disk before a cut: where, and the bytes."""
        certain, open_ = self.split(cut.position)
        draw = Random(f"{cut.position} {cut.left}")
        reached = draw.randrange(len(open_)) if cut.left.startswith("torn") else len(open_)
        whole = open_[:reached] if cut.left == "all" or reached < len(open_) else []
        yield from ((entry.at, entry.data) for entry in (*certain, *whole))
        if reached < len(open_):
            last = open_[reached]
            n_sectors = draw.randrange(len(last.data) // SECTOR_BYTES + 1)
            yield last.at, last.data[: n_sectors * SECTOR_BYTES]
        elif cut.left.startswith("some"):
            for entry in open_:
                for i in range(0, len(entry.data), SECTOR_BYTES):
                    if draw.random() < 0.5:
                        yield entry.at + i, entry.data[i : i + SECTOR_BYTES]

    def make_image(self, path: Path, cut: Cut) -> None:
        """Write the disk as a cut leaves it; what was never written to stays a hole."""
        with path.open("wb") as image:
            for at, data in (*self.blocks, *self.written(cut)):
                image.seek(at)
                image.write(data)
            image.truncate(self.size)

    def cuts(self, step: int = 1, draws: int = 1) -> Iterator[Cut]:
        """Yield every ``step``-th place, and each where something was told."""
        marks = {told.position for told in self.told}
        for position in range(len(self.log) + 1):
            if position % step and position not in marks:
                continue
            yield Cut(position=position, left="nothing")
            if self.split(position)[1]:
                yield Cut(position=position, left="all")
                for n in range(draws):
                    yield Cut(position=position, left=f"torn{n}")
                    yield Cut(position=position, left=f"some{n}")


def disk_run(folder: Path, name: str, *, obeys: bool = True) -> DiskRun:
    """Load one disk of a run.

    Raises:
        ValueError: the log does not lead to what the machine left, or holds something else.
    """
    kind, _, repair = name.partition("+")
    base = (folder / f"{kind}.base").read_bytes()
    blocks = [(at, base[at : at + BLOCK_BYTES]) for at in range(0, len(base), BLOCK_BYTES)]
    found = DiskRun(
        kind=kind,
        repairs=bool(repair),
        size=len(base),
        blocks=[(at, data) for at, data in blocks if data.strip(b"\0")],
        log=read_log(folder / f"{kind}.log"),
        told=told_of(load(folder), kind),
        obeys=obeys,
    )
    whole = folder / f"{kind}.replayed"
    found.make_image(whole, Cut(position=len(found.log), left="all"))
    if whole.read_bytes() != (folder / f"{kind}.img").read_bytes():
        raise ValueError(f"{kind}: the log does not lead to what the machine left")
    return found


def told_of(lines: Sequence[Line], tag: str) -> list[Told]:
    """Return the readings that a run told of as taken, in order."""
    return [
        Told(reading=(found[1], found[2]), position=line.position)
        for line in lines
        if line.tag == tag and (found := TAKEN.match(line.text))
    ]


def read_log(path: Path) -> list[Entry]:
    """Read a write log; its layout is that of ``Documentation/.../log-writes.rst`` of Linux.

    Raises:
        ValueError: it is no such log.
    """
    found = []
    with path.open("rb") as file:
        magic, version, n_entries, sector = struct.unpack("<QQQI", file.read(28))
        if (magic, version, sector) != (MAGIC, 1, SECTOR_BYTES):
            raise ValueError(f"{path} is no write log")
        file.seek(SECTOR_BYTES)
        for _ in range(n_entries):
            head = file.read(SECTOR_BYTES)
            start, n_sectors, flags, _ = struct.unpack("<QQQQ", head[:32])
            if flags & MARK:
                raise ValueError(f"{path} has a mark, which nobody sets")
            size = n_sectors * SECTOR_BYTES
            data = bytes(size) if flags & DISCARD else file.read(size)
            found.append(Entry(at=start * SECTOR_BYTES, data=data, flags=flags))
    return found


def check(disk: DiskRun, *, step: int = 1, draws: int = 1) -> list[Verdict]:
    """Look at each cut; two at a time."""
    cuts = list(disk.cuts(step, draws))
    # Spawned: the caller may have threads, which a fork would not copy.
    workers = multiprocessing.get_context("spawn").Pool(2, initializer=_begin, initargs=(disk,))
    with workers as pool:
        return pool.map(_looked_at, cuts, chunksize=4)


_inherited: list[DiskRun] = []  # of a worker


def _begin(disk: DiskRun) -> None:
    _inherited.append(disk)


def _looked_at(cut: Cut) -> Verdict:
    (disk,) = _inherited
    return looked_at(disk, cut)


def looked_at(disk: DiskRun, cut: Cut) -> Verdict:
    """Make the disk that a cut leaves, and read the journal on it as the next start would."""
    told = [each.reading for each in disk.told]
    n_told = sum(each.position <= cut.position for each in disk.told)
    with tempfile.TemporaryDirectory(dir=MEMORY if MEMORY.is_dir() else None) as name:
        image, files = Path(name) / "image", Path(name) / "files"
        files.mkdir()
        disk.make_image(image, cut)
        try:
            take_out(image, files, disk.kind, repairs=disk.repairs)
            kept = readings_in(files / "j") if (files / "j").exists() else []
        except Exception as exc:  # a journal that does not open is what is looked for
            return Verdict(cut=cut, n_told=n_told, n_kept=0, fault=f"{type(exc).__name__}: {exc}")
    fault = "" if len(kept) >= n_told else f"{n_told - len(kept)} lost"
    if kept != told[: len(kept)]:
        fault = f"kept {kept}, which was not told so"
    return Verdict(cut=cut, n_told=n_told, n_kept=len(kept), fault=fault)


def take_out(image: Path, files: Path, kind: str, *, repairs: bool) -> None:
    """Take the files out of an image as the kernel would find them, mounting nothing.

    Raises:
        RuntimeError: the file system is beyond repair.
    """
    if kind == "ext4":  # replays the file system's own log, as the kernel does
        done = subprocess.run(["/sbin/e2fsck", "-fy", image], capture_output=True, text=True)
        if done.returncode > 1:
            raise RuntimeError(f"e2fsck ended with {done.returncode}: {done.stdout[-200:]}")
        run("debugfs", "-R", f"rdump / {files}", image)
        return
    if repairs:
        run("fsck.vfat", "-a", image, check=False)
    try:
        run("mcopy", "-n", "-o", "-i", image, "::*", files)
    except RuntimeError:
        # Where a chain of clusters ends early mcopy gives up; the kernel reads on to that place.
        run("fsck.vfat", "-a", image, check=False)
        shutil.rmtree(files)
        files.mkdir()
        run("mcopy", "-n", "-o", "-i", image, "::*", files, check=False)


def readings_in(path: Path) -> list[tuple[str, str]]:
    """Return what a journal holds as taken, by gaugelink's own reader, if SQLite finds it sound.

    Raises:
        ValueError: SQLite finds it damaged.
    """
    with Journal(path) as journal:
        acts = journal.load(1).acts if journal.numbers() else ()
        kept = [(spoken(a.measurand), a.reading.displayed) for a in acts if isinstance(a, Taken)]
    with closing(sqlite3.connect(path)) as connection:
        (said,) = connection.execute("PRAGMA integrity_check").fetchone()
    if said != "ok":
        raise ValueError(f"damaged: {said}")
    return kept


def summary(name: str, disk: DiskRun, verdicts: Sequence[Verdict]) -> str:
    """Say in a line what was checked, and the first faults behind it."""
    bad = [each for each in verdicts if each.fault]
    n_flushes = sum(bool(entry.flags & FLUSH) for entry in disk.log)
    lines = [
        f"{name}: {len(disk.log)} entries, {n_flushes} flushes, {len(disk.told)} readings told; "
        f"{len(verdicts)} cuts, {len(bad)} bad"
    ]
    lines += [f"    at {v.cut.position} {v.cut.left}, {v.n_told} told: {v.fault}" for v in bad[:8]]
    return "\n".join(lines)


def main(folder: Path, *names: str) -> None:
    """Check each place of the log."""
    for name in names:
        began_s = time.monotonic()
        disk = disk_run(folder, name)
        sys.stdout.write(f"{summary(name, disk, check(disk))}\n")
        sys.stdout.write(f"    {time.monotonic() - began_s:.0f} s\n")


if __name__ == "__main__":
    main(Path(sys.argv[1]), *sys.argv[2:])
