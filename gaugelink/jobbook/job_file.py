"""Reading a file of exported jobs, an item at a time: each is checked before the next."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from gaugelink.errors import FileFormatError
from gaugelink.jobbook.export_format import KIND, SCHEMA, BadItem, job_from, record_from
from gaugelink.jobbook.job_rows import JobRows, RecordRows
from gaugelink.jobbook.json_items import Member, members

_READERS: Mapping[str, Callable[[Any], Any]] = {"jobs": job_from, "gauges": record_from}


@dataclass(frozen=True, slots=True, kw_only=True)
class JobFile:
    """What a file holds, read and checked."""

    jobs: tuple[JobRows, ...]
    records: tuple[RecordRows, ...]


def read_job_file(source: Path) -> JobFile:
    """Return what an exported file holds.

    Raises:
        FileFormatError: it cannot be read, is no export, is newer than we are, or damaged.
    """
    path = str(source)
    head: dict[str, Any] = {"kind": None, "schema": None}
    found: dict[str, list[Any]] = {}
    try:
        for member in members(_text(source)):
            if member.number is None:
                head[member.name] = member.value
            elif member.number == 0:
                _check_head(path, head)  # before anything of a newer file is looked at
                found[member.name] = []
            elif member.name in _READERS:
                found[member.name].append(_read(path, member))
    except FileFormatError:
        raise
    except (ValueError, RecursionError) as exc:
        raise _refused(path, f"It is damaged or no JSON object ({exc})") from exc
    _check_head(path, head)
    for name in _READERS:
        if name not in found:
            raise _refused(path, "The list is missing", name)
    return JobFile(jobs=tuple(found["jobs"]), records=tuple(found["gauges"]))


def _read(path: str, member: Member) -> Any:
    try:
        return _READERS[member.name](member.value)
    except BadItem as exc:
        where = f"{member.name} {member.number}"
        raise _refused(path, f"It cannot be taken: {exc}", where) from exc


def _check_head(path: str, head: Mapping[str, Any]) -> None:
    schema = head["schema"]
    if head["kind"] != KIND:
        raise _refused(path, "This is no file of exported jobs")
    if not isinstance(schema, int) or isinstance(schema, bool) or schema < 1:
        raise _refused(path, f"The schema {schema!r} is no number", "schema")
    if schema > SCHEMA:
        raise FileFormatError(
            f"It was written by a newer gaugelink (schema {schema}, this one knows {SCHEMA}); "
            "nothing was imported.",
            path=path,
            hint="Update gaugelink, or export it again with the version you have.",
        )


def _text(source: Path) -> str:
    try:
        return source.read_bytes().decode("utf-8-sig")
    except OSError as exc:
        raise _refused(str(source), f"It cannot be read ({exc.strerror or exc})") from exc


def _refused(path: str, message: str, where: str = "") -> FileFormatError:
    return FileFormatError(
        f"{message}; nothing was imported.",
        path=path,
        where=where,
        hint="Export it again, or import another copy of the file.",
    )
