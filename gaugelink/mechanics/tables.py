"""Reads the tables of numbers with their sources that are shipped as TOML beside this file.

The text is part of the package and does not change while it runs, so that what is read
from it is as good as a constant. The same readers serve a table of the user's own.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from importlib.resources import files
from typing import Any

from gaugelink.errors import FileFormatError
from gaugelink.mechanics.band import SourcedBand


def shipped_text(name: str) -> str:
    """Return the text of a shipped table, such as ``materials.toml``."""
    return files("gaugelink.mechanics").joinpath(name).read_text(encoding="utf-8")


class Row:
    """One table of an array of tables, with the place to blame when a value is wrong.

    Args:
        values: the keys and values of the table.
        path: the file it stands in.
        where: its place in the file, such as ``material 2``.
    """

    def __init__(self, values: Mapping[str, Any], *, path: str, where: str) -> None:
        self._values = dict(values)
        self._path = path
        self._where = where

    def take(self, key: str, kind: type) -> Any:
        """Take out a value that must be there and be of a kind, str or bool.

        Raises:
            FileFormatError: it is missing or of another kind.
        """
        if key not in self._values:
            raise self._fault(key, "this key is missing")
        value = self._values.pop(key)
        if type(value) is not kind:
            raise self._fault(key, f"{value!r} is not a {kind.__name__}")
        return value

    def take_band(self, key: str) -> SourcedBand:
        """Take out a band with its source.

        Raises:
            FileFormatError: it is missing, or not two numbers in order, 0 or more, with a source.
        """
        band = Row(self.take(key, dict), path=self._path, where=f"{self._where}.{key}")
        low, high = band._number("low"), band._number("high")
        if not 0 <= low <= high:
            raise self._fault(key, f"{low:g} to {high:g} is not a band")
        source = band.take("source", str)
        from_memory = band.take("from_memory", bool) if "from_memory" in band else False
        band.close()
        return SourcedBand(low=low, high=high, source=source, from_memory=from_memory)

    def close(self) -> None:
        """Refuse what nobody took out.

        Raises:
            FileFormatError: a key is left.
        """
        for key in self._values:
            raise self._fault(key, "unknown key")

    def __contains__(self, key: str) -> bool:
        return key in self._values

    def _number(self, key: str) -> float:
        value = self._values.get(key)
        if type(value) is int:
            self._values[key] = float(value)
        return float(self.take(key, float))

    def _fault(self, key: str, message: str) -> FileFormatError:
        return FileFormatError(
            f"{message}.",
            path=self._path,
            where=f"{self._where}.{key}",
            hint="Compare with the table that gaugelink brings along.",
        )


def rows(text: str, kind: str, *, path: str) -> tuple[Row, ...]:
    """Split a table file into its rows.

    Args:
        text: the file.
        kind: name of the array of tables, ``material`` or ``end``.
        path: the name of the file, for messages.

    Raises:
        FileFormatError: the text is not TOML, or holds something else than rows of this kind.
    """
    try:
        parsed = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise FileFormatError(f"not TOML: {error}.", path=path) from error
    listed = parsed.pop(kind, None)
    if parsed or not isinstance(listed, list) or not all(isinstance(row, dict) for row in listed):
        raise FileFormatError(
            f"this is not a list of [[{kind}]] tables and nothing else.",
            path=path,
            hint="Compare with the table that gaugelink brings along.",
        )
    return tuple(
        Row(row, path=path, where=f"{kind} {number}") for number, row in enumerate(listed, start=1)
    )
