"""Data goes to stdout, talk to stderr; nothing else in the package prints."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Mapping
from typing import Any

from gaugelink.errors import GaugelinkError


def emit(text: str) -> None:
    """Write data for the person or the next program to stdout."""
    _write(sys.stdout, text if text.endswith("\n") else text + "\n")


def emit_json(data: Mapping[str, Any] | list[Any], *, indent: int | None = 2) -> None:
    """Write data as JSON to stdout; NaN and infinity are refused, they are not JSON."""
    emit(json.dumps(data, indent=indent, allow_nan=False, ensure_ascii=False))


def say(text: str) -> None:
    """Say something to the person on stderr."""
    _write(sys.stderr, text + "\n")


def complain(error: GaugelinkError) -> None:
    """Say what is wrong and what to do about it, each in one line."""
    say(f"gaugelink: {error}")
    if error.hint:
        say(f"  {error.hint}")


def _write(stream: Any, text: str) -> None:
    try:
        stream.write(text)
        stream.flush()
    except BrokenPipeError:
        # The reader (head, a closed pager) has had enough; keep the interpreter from
        # complaining about the same pipe at exit.
        os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())
        raise SystemExit(0) from None
    except UnicodeEncodeError:
        encoding = stream.encoding or "ascii"
        stream.write(text.encode(encoding, "replace").decode(encoding))
        stream.flush()
