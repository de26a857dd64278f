"""Backup and restore: a whole journal copied, checked, and on the disk before it is said.

A backup is taken with SQLite's own backup, so it is one moment of the journal, even while
a job is written to it. A restore counts the backup first, and keeps the journal that is there
under a stamped name. Where that one is sound, the backup is written into it in one transaction
of SQLite, so that a crash leaves the old journal or the new one, and who waits to open it gets
the new one; a damaged one is moved aside.

A new file is either there whole, or not there: it is written beside its place, then moved in.
"""

from __future__ import annotations

import os
import sqlite3
import stat
from collections.abc import Iterator
from contextlib import closing, contextmanager, nullcontext, suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from gaugelink.errors import InputError, JournalDamaged, JournalNotWritable, refuse_special
from gaugelink.jobbook import schema
from gaugelink.jobbook.book import Told, translated, untold
from gaugelink.jobbook.lookup import check_readings

_LOGS = ("-wal", "-shm", "-journal")  # what SQLite keeps beside a file
_AS_IT_WAS = "the journal is as it was"


@dataclass(frozen=True, slots=True, kw_only=True)
class Copied:
    """A copy that was checked: where it is, and what it holds."""

    path: Path
    n_jobs: int
    n_entries: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Restored:
    """A journal that was restored, and where the one before is kept; None if there was none."""

    copied: Copied
    aside: Path | None


def back_up(path: Path, target: Path, told: Told = untold) -> Copied:
    """Copy a journal to a file, and check the copy.

    Args:
        path: the journal; it may be in use, and is not changed.
        target: the copy; an earlier backup at that place is replaced.
        told: is told how many entries of the copy are checked.

    Raises:
        InputError: ``target`` is the journal itself, or some other file.
        JournalError: there is no journal, or the copy cannot be made.
    """
    refuse_missing(path)
    _refuse_target(path, target)
    with translated(path, _AS_IT_WAS), closing(_opened(path)) as source:
        if schema.schema_of(source, path) == 0:
            raise JournalNotWritable(
                f"{path} is empty: there is nothing to back up, and {target} is as it was.",
                path=str(path),
                hint="Name the journal that has the jobs with --journal FILE.",
            )
        return _copy(source, target, path, told=told)


def restore(backup: Path, path: Path) -> Restored:
    """Put a backup in the place of a journal; the one that is there is kept.

    Args:
        backup: a file that ``back_up`` or ``rescue`` wrote, or a journal.
        path: the journal, which need not be there, or need not be sound.

    Raises:
        JournalError: the backup is not a sound journal, or is newer than we are; another
            program has the journal open; there is no room. The journal is as it was.
    """
    refuse_missing(backup, option="--restore")
    if os.path.exists(path) and path.samefile(backup):
        raise InputError("The backup is the journal itself.", hint="Name another file.")
    with _counted(backup, path) as source:
        if not os.path.exists(path):
            path.parent.mkdir(parents=True, exist_ok=True)
            _move_logs(path, _aside(path))  # left by a journal that was moved away
            return Restored(copied=_copy(source, path, backup), aside=None)
        _refuse_foreign(path)
        return _restored(source, path)


@contextmanager
def _counted(backup: Path, path: Path) -> Iterator[sqlite3.Connection]:
    """Open a backup that was found whole; what was counted is what is read in the block."""
    with translated(backup, _AS_IT_WAS), closing(_opened(backup)) as source:
        try:
            with translated(backup, _AS_IT_WAS):
                source.execute("BEGIN")
                checked(source, backup)
        except JournalDamaged as exc:
            raise JournalDamaged(
                str(exc),
                path=str(backup),
                hint=f"The journal {path} is as it was. Name another backup, or rescue this one: "
                f"gaugelink jobs --rescue NEW.sqlite --journal {backup}",
            ) from exc
        yield source


def _restored(source: sqlite3.Connection, path: Path) -> Restored:
    aside = _aside(path)
    if not _is_sound(path):
        return Restored(copied=_copy(source, path, path, aside), aside=aside)
    with translated(path, _AS_IT_WAS), _alone(path) as present:
        _copy(present, aside, path)
        try:
            source.backup(present)
        except BaseException:
            aside.unlink()  # SQLite took it back: the journal is in its own place
            raise
    with _saying_where(path, aside), closing(_opened(path)) as present:
        return Restored(copied=checked(present, path), aside=aside)


@contextmanager
def _saying_where(path: Path, aside: Path) -> Iterator[None]:
    """Let whatever fails say where the journal lies that was there before."""
    try:
        yield
    except (sqlite3.Error, OSError, JournalDamaged) as exc:
        raise JournalDamaged(
            f"{path} was not restored ({exc}); what was there before is kept as {aside}.",
            path=str(path),
            hint=f"Put it back under its name: gaugelink jobs --restore {aside}",
        ) from exc


def _is_sound(path: Path) -> bool:
    """Tell whether a journal is sound; one that is not keeps every byte."""
    try:
        with translated(path, _AS_IT_WAS), closing(_opened(path)) as connection:
            checked(connection, path)
    except JournalDamaged:
        return False
    return True


@contextmanager
def _alone(path: Path) -> Iterator[sqlite3.Connection]:
    """Open a journal so that nobody else can, with its log folded into it."""
    with closing(_opened(path)) as connection:
        connection.execute("PRAGMA locking_mode = EXCLUSIVE")
        connection.execute("PRAGMA synchronous = FULL")
        connection.execute("PRAGMA journal_mode = DELETE")
        connection.execute("BEGIN EXCLUSIVE")
        connection.execute("COMMIT")
        yield connection


def _copy(
    source: sqlite3.Connection,
    target: Path,
    like: Path,
    aside: Path | None = None,
    told: Told = untold,
) -> Copied:
    """Copy a journal and count the copy, before what is at ``target`` goes to ``aside``.

    The copy may be read by those who may read ``like``.
    """
    option = "--journal" if aside else "--backup"
    mode = stat.S_IMODE(like.stat().st_mode)
    with (
        translated(target, _AS_IT_WAS, option=option),
        replacing(target, aside) as part,
        closing(sqlite3.connect(part, isolation_level=None)) as copy,
    ):
        part.chmod(mode)  # before anything is in it
        source.backup(copy)
        # One file, with nothing beside it: it may be carried away as it is.
        copy.execute("PRAGMA journal_mode = DELETE")
        return checked(copy, target, told)


def checked(connection: sqlite3.Connection, path: Path, told: Told = untold) -> Copied:
    """Check a journal that is open, whole and sound; return what it holds.

    ``told`` is told how many of its entries were looked at.

    Raises:
        JournalDamaged: it is not.
    """
    _check(connection, path)
    _refuse_partial(connection, path)
    with translated(path):
        check_readings(connection, told)
    (n_jobs,) = connection.execute("SELECT count(*) FROM job").fetchone()
    (n_entries,) = connection.execute("SELECT count(*) FROM entry").fetchone()
    return Copied(path=path, n_jobs=n_jobs, n_entries=n_entries)


def _check(connection: sqlite3.Connection, path: Path) -> None:
    (verdict,) = connection.execute("PRAGMA integrity_check(1)").fetchone()
    if verdict != "ok":
        raise JournalDamaged(
            f"{path} is damaged ({verdict}); it was left as it is.",
            path=str(path),
            hint=f"'gaugelink jobs --rescue NEW.sqlite --journal {path}' copies what can be read.",
        )


def _refuse_partial(connection: sqlite3.Connection, path: Path) -> None:
    """Refuse what lacks a table that a journal of its schema has, such as an empty file."""
    version = schema.schema_of(connection, path)
    lacking = schema.tables_of(version or 1) - schema.tables_in(connection)
    if version == 0 or lacking:
        what = "is empty" if version == 0 else f"lacks its {', '.join(sorted(lacking))}"
        raise JournalDamaged(
            f"{path} {what}: it holds no journal, and was left as it is.",
            path=str(path),
            hint="Name another file.",
        )


def _opened(path: Path) -> sqlite3.Connection:
    return sqlite3.connect(path, timeout=schema.BUSY_TIMEOUT_S, isolation_level=None)


def _aside(path: Path) -> Path:
    """Return a name for the journal that is replaced, which no file has."""
    stamp = datetime.now(UTC).strftime("%Y%m%dT%H%M%S")
    name = path.with_name(f"{path.stem}.before-{stamp}Z{path.suffix}")
    for number in range(2, 1000):
        if not name.exists():
            break
        name = path.with_name(f"{path.stem}.before-{stamp}Z-{number}{path.suffix}")
    return name


def _set_aside(path: Path, aside: Path) -> None:
    """Keep a damaged journal under another name; its log would spoil the one that follows."""
    with translated(path, _AS_IT_WAS):
        try:
            os.link(path, aside)  # there is a journal under its own name at any moment
        except OSError:  # this file system has no second names
            os.replace(path, aside)
        _move_logs(path, aside)
        folder_to_disk(path.parent)


def _move_logs(path: Path, aside: Path) -> None:
    for log in _LOGS:
        beside = path.with_name(path.name + log)
        if beside.exists():
            os.replace(beside, aside.with_name(aside.name + log))


def refuse_missing(path: Path, option: str = "--journal") -> None:
    """Refuse a path at which there is no file to read; ``option`` is where it was named."""
    hint = f"Name the file with {option} FILE."
    try:
        refuse_special(path)
    except OSError as exc:
        text = f"{path} cannot be read ({exc.strerror}); {_AS_IT_WAS}."
        raise JournalNotWritable(text, path=str(path), hint=hint) from exc
    if not os.path.isfile(path):
        raise JournalNotWritable(f"No journal at {path}.", path=str(path), hint=hint)


def _refuse_target(path: Path, target: Path) -> None:
    """Refuse to write over the journal itself, a file in use, or one that is not a journal."""
    if not os.path.exists(target):
        return
    with translated(target, _AS_IT_WAS, option="--backup"):
        refuse_special(target)
    if target.samefile(path):
        raise InputError("The backup would replace the journal itself.", hint="Name another file.")
    if not is_journal(target):
        raise InputError(
            f"{target} exists and is not a backup of a journal; it was left untouched.",
            hint="Name another file.",
        )
    with translated(target, _AS_IT_WAS), _alone(target):
        pass  # nobody has it open, and no log of it is left to spoil what replaces it


def _refuse_foreign(path: Path) -> None:
    """Refuse to replace another program's database, or a newer journal; a damaged file may go."""
    with suppress(sqlite3.Error), closing(_opened(path)) as connection:
        schema.schema_of(connection, path)


def is_journal(path: Path) -> bool:
    """Tell whether a file is a journal of ours; its log, if one was left, is folded in."""
    try:
        with closing(_opened(path)) as connection:
            return schema.schema_of(connection, path) > 0
    except (sqlite3.Error, JournalDamaged):
        return False


@contextmanager
def replacing(target: Path, aside: Path | None = None) -> Iterator[Path]:
    """Give a new path beside ``target``; what lies there at the end of the block takes its place.

    What was at ``target`` is then kept as ``aside``, if that is named.

    When this returns, the file is on the disk under its name. When the block raises,
    whatever stood at ``target`` is left as it was.
    """
    refuse_special(target)
    if os.path.islink(target):  # what it points to is meant
        target = Path(os.path.realpath(target))
    part = target.with_name(f"{target.name}.{os.getpid()}.part")
    part.unlink(missing_ok=True)
    try:
        yield part
        to_disk(part)
        if aside is not None:
            _set_aside(target, aside)
        with _saying_where(target, aside) if aside else nullcontext():
            os.replace(part, target)
    except BaseException:
        for left in (part, *target.parent.glob(f"{part.name}-*")):  # SQLite's own, beside it
            with suppress(OSError):
                left.unlink()
        raise
    folder_to_disk(target.parent)


def to_disk(path: Path) -> None:
    """Wait until a file's content is on the disk."""
    # Opened for writing, because Windows flushes nothing else.
    with open(path, "r+b") as file:
        os.fsync(file.fileno())


def folder_to_disk(folder: Path) -> None:
    """Wait until the names in a folder are on the disk, where the system can."""
    if os.name != "posix":
        return
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
