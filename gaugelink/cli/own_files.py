"""Files that are asked for: ours may be written anew, any other that is there is left alone."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from gaugelink.errors import FileFormatError, InputError
from gaugelink.jobbook.copies import replacing

_HEAD_BYTES = 2048


def is_ours(path: Path, mark: bytes) -> bool:
    """Tell whether a file bears the mark that ours have near their beginning."""
    try:
        with path.open("rb") as file:
            return mark in file.read(_HEAD_BYTES)
    except OSError:
        return False


def refuse_foreign(path: Path, mark: bytes, what: str, *, instead: str) -> None:
    """Refuse to write over what is not of ours; asked before any work is done.

    Args:
        path: the file to write.
        mark: what ours have near their beginning.
        what: what ours are, as in "a page of gaugelink".
        instead: what to do, a sentence.

    Raises:
        InputError: something else is there.
    """
    if path.exists() and not is_ours(path, mark):
        raise InputError(f"{path} is there already and is not {what}.", hint=instead)


@contextmanager
def writing(path: Path, what: str, option: str) -> Iterator[Path]:
    """Give a place to write to; what lies there at the end of the block becomes the file.

    Args:
        path: the file.
        what: what it is, as in "The page".
        option: where it was named.

    Raises:
        FileFormatError: it cannot be written.
    """
    try:
        with replacing(path) as part:
            yield part
    except OSError as exc:
        raise FileFormatError(
            f"{what} cannot be written ({exc.strerror or exc}).",
            path=str(path),
            hint=f"Name another file with {option} FILE, in a folder that is there and yours.",
        ) from exc


def write_text(path: Path, text: str, what: str, option: str) -> None:
    """Write a text to a file, in UTF-8, whole or not at all.

    Raises:
        FileFormatError: it cannot be written.
    """
    with writing(path, what, option) as part:
        part.write_text(text, encoding="utf-8", newline="\n")
