"""Data goes to stdout, talk to stderr; nothing else in the package prints."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Mapping
from typing import Any

from gaugelink.errors import GaugelinkError

# A question mark for one of these would read as doubt, or leave a number without its unit.
_PLAIN_SIGNS = {"±": "+-", "×": "x", "°": " degrees", "µ": "u", "–": "-", "…": "..."}


def emit(text: str) -> None:
    """Write data for the person or the next program to stdout."""
    _write(sys.stdout, text if text.endswith("\n") else text + "\n")


def emit_json(data: Mapping[str, Any] | list[Any], *, indent: int | None = 2) -> None:
    """Write data as JSON to stdout; NaN and infinity are refused, they are not JSON.

    Where stdout does not take UTF-8, what is not ASCII is escaped: nothing of the data is lost.
    """
    escaped = not has_braille()
    emit(json.dumps(data, indent=indent, allow_nan=False, ensure_ascii=escaped))


def say(text: str) -> None:
    """Say something to the person on stderr."""
    _write(sys.stderr, text + "\n")


def beep() -> None:
    """Sound the bell of the terminal behind stderr."""
    _write(sys.stderr, "\a")


def complain(error: GaugelinkError) -> None:
    """Say what is wrong and what to do about it, each in one line."""
    say(f"gaugelink: {error}")
    if error.hint:
        say(f"  {error.hint}")


def person_reads() -> bool:
    """Tell whether talk goes to a terminal; a stream that was closed is None."""
    return sys.stderr is not None and sys.stderr.isatty()


def person_looks() -> bool:
    """Tell whether data goes to a terminal; a stream that was closed is None."""
    return sys.stdout is not None and sys.stdout.isatty()


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
    return sys.stdin is not None and sys.stdin.isatty()


def _write(stream: Any, text: str) -> None:
    if stream is None:  # closed by whoever started us: nobody listens
        return
    try:
        _put(stream, text)
    except BrokenPipeError:  # the reader (head, a closed pager) has had enough
        _silence(stream)
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
