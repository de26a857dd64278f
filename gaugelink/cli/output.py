"""Data goes to stdout, talk to stderr, and what is asked for into files.

Nothing else in the package prints. A text may hold what came from somewhere else: a title,
a note, a gauge's words, a file that was imported. What such a text could do to a terminal is
written out on the way, so that it can be read and does nothing. A file of ours may be written
anew; any other that is there is left alone.
"""

from __future__ import annotations

import os
import re
import sys
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from gaugelink.errors import FileFormatError, GaugelinkError, InputError, refuse_special

# A question mark for one of these would read as doubt, or leave a number without its unit.
_PLAIN_SIGNS = {"±": "+-", "×": "x", "°": " degrees", "µ": "u", "–": "-", "…": "..."}
_PLAIN_SIGNS |= {"ν": "dof", "∞": "inf"}
_HEAD_BYTES = 2048
# What moves the cursor, sounds, colours, hides or turns round what is beside it: the controls
# (but for line feed and tab), and the signs of Unicode that are not drawn themselves: zero width,
# direction, line ends, fillers, tags, and halves of pairs. Unicode 15, general categories Cc,
# Cf, Cs, Zl and Zp, and the blank letters of Hangul; a test holds the list against unicodedata.
_UNSEEN = re.compile(
    "[\x00-\x08\x0b-\x1f\x7f-\x9f\xad\u0600-\u0605\u061c\u06dd\u070f\u0890\u0891\u08e2"
    "\u115f\u1160\u180e\u200b-\u200f\u2028-\u202e\u2060-\u206f\u3164\ud800-\udfff\ufeff\uffa0"
    "\ufff9-\ufffb\U000110bd\U000110cd\U00013430-\U0001343f\U0001bca0-\U0001bca3"
    "\U0001d173-\U0001d17a\U000e0001-\U000e007f]"
)


def emit(text: str) -> None:
    """Write data for the person or the next program to stdout."""
    _write(sys.stdout, text if text.endswith("\n") else text + "\n")


def emit_json(data: Mapping[str, Any] | list[Any], *, indent: int | None = 2) -> None:
    """Write data as JSON to stdout; NaN and infinity are refused, they are not JSON.

    Where stdout does not take UTF-8, what is not ASCII is escaped: nothing of the data is lost.
    """
    import json

    escaped = not has_braille()
    emit(json.dumps(data, indent=indent, allow_nan=False, ensure_ascii=escaped))


def harmless(text: str) -> str:
    """Write out what would act on a terminal instead of being read, as JSON writes it.

    In JSON the same signs are the same data, so that a program reads back what was kept.
    """
    return _UNSEEN.sub(lambda sign: _written_out(sign[0]), text)


def _written_out(sign: str) -> str:
    code = ord(sign)
    if code < 0x10000:
        return f"\\u{code:04x}"
    high, low = divmod(code - 0x10000, 0x400)
    return f"\\u{0xD800 + high:04x}\\u{0xDC00 + low:04x}"


def say(text: str) -> None:
    """Say something to the person on stderr."""
    _write(sys.stderr, text + "\n")


@contextmanager
def bar(what: str) -> Iterator[Callable[[int, int], None]]:
    """Show how far long work is, on stderr and at a terminal only.

    Args:
        what: the work, as in "Exporting jobs".

    Yields:
        What is told how much is done, and of how much; the bar comes when that takes a while,
        and is wiped away at the end.
    """
    drawn = _Bar(what)
    try:
        yield drawn.tell if person_reads() else lambda done, of: None
    finally:
        drawn.end()


_BAR_AFTER_S, _BAR_EVERY_S = 0.5, 0.1  # what is over in a moment needs no bar; judgement


class _Bar:
    """A bar that is drawn by rich, which is loaded when it is needed."""

    def __init__(self, what: str) -> None:
        self._what = what
        self._next_s = time.monotonic() + _BAR_AFTER_S
        self._progress: Any = None

    def tell(self, done: int, of: int) -> None:
        if (now_s := time.monotonic()) < self._next_s:
            return
        self._next_s = now_s + _BAR_EVERY_S
        if self._progress is None:
            self._progress = _progress()
            self._progress.add_task(self._what, completed=done, total=of)
            self._progress.start()
        self._progress.update(self._progress.task_ids[0], completed=done, total=of, refresh=True)

    def end(self) -> None:
        if self._progress is not None:
            self._progress.stop()


def _progress() -> Any:
    from rich.console import Console
    from rich.progress import (
        BarColumn,
        MofNCompleteColumn,
        Progress,
        TextColumn,
        TimeRemainingColumn,
    )

    return Progress(
        TextColumn("{task.description}"),
        BarColumn(),
        MofNCompleteColumn(),
        TimeRemainingColumn(),
        TextColumn("left"),
        console=Console(stderr=True),
        auto_refresh=False,  # a thread would write while others do
        transient=True,
        redirect_stdout=False,
        redirect_stderr=False,
    )


def beep() -> None:
    """Sound the bell of the terminal behind stderr."""
    _write(sys.stderr, "\a", ours=True)


def complain(error: GaugelinkError) -> None:
    """Say what is wrong and what to do about it, each in one line."""
    for text in (f"gaugelink: {error}", f"  {error.hint}" if error.hint else ""):
        if text:
            say(" ".join(text.splitlines()))  # a file's name may have more than one


def person_reads() -> bool:
    """Tell whether talk goes to a terminal; a stream that was closed is None."""
    return _is_terminal(sys.stderr)


def has_braille() -> bool:
    """Tell whether the encoding of stdout can write braille dots."""
    encoding = getattr(sys.stdout, "encoding", None) or "ascii"
    try:
        "\u28ff".encode(encoding)
    except (LookupError, UnicodeEncodeError):
        return False
    return True


def person_types() -> bool:
    """Tell whether input comes from a terminal."""
    return _is_terminal(sys.stdin)


def _is_terminal(stream: Any) -> bool:
    if stream is None or not stream.isatty():
        return False
    if sys.platform == "win32":  # where NUL says that it is one
        from gaugelink.devices.typed_keys import is_terminal

        return is_terminal(stream.fileno())
    return True


def _write(stream: Any, text: str, *, ours: bool = False) -> None:
    if stream is None:  # closed by whoever started us: nobody listens
        return
    try:
        _put(stream, text if ours else harmless(text))
    except BrokenPipeError:  # the reader (head, a closed pager) has had enough
        _silence(stream)
        if stream is sys.stdout:  # nobody reads the talk any more: the work goes on all the same
            raise SystemExit(0) from None
    except OSError as exc:
        _silence(stream)
        if stream is sys.stdout:  # talk that cannot be written must not stop a job
            raise GaugelinkError(
                f"The output cannot be written ({exc.strerror or exc}).",
                hint="Make room on the disk, or send the output somewhere else.",
            ) from exc


def _put(stream: Any, text: str) -> None:
    try:
        stream.write(text)
    except UnicodeEncodeError:
        stream.write(_plain(text, stream.encoding or "ascii"))
    stream.flush()


def _plain(text: str, encoding: str) -> str:
    """Spell out the signs that an encoding lacks; what is left becomes a question mark."""
    for sign, spelt in _PLAIN_SIGNS.items():
        if sign.encode(encoding, "ignore") == b"":
            text = text.replace(sign, spelt)
    return text.encode(encoding, "replace").decode(encoding)


def _silence(stream: Any) -> None:
    """Keep the interpreter from complaining about the same stream again at exit."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())


def format_folders(given: Sequence[Path]) -> tuple[Path, ...]:
    """Return the folders that were named, then ``formats`` in the user's data folder.

    Raises:
        InputError: one that was named is not there; the user's own need not be.
    """
    for folder in given:
        _require_folder(folder)
    from gaugelink.jobbook.book import data_folder

    own = data_folder() / "formats"
    return (*given, own) if os.path.isdir(own) else tuple(given)


def _require_folder(folder: Path) -> None:
    if os.path.isdir(folder):
        return
    is_file = os.path.exists(folder)
    raise InputError(
        f"{folder} is a file." if is_file else f"No folder {folder}.",
        hint="Name the folder that the format profiles are in with --formats FOLDER.",
    )


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
    try:
        refuse_special(path)
    except OSError as exc:
        raise InputError(f"{path} cannot be written ({exc.strerror}).", hint=instead) from exc
    if os.path.exists(path) and not is_ours(path, mark):
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
    from gaugelink.jobbook.copies import replacing

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
