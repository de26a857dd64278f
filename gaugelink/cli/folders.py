"""Where the user's own format profiles are looked for."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from gaugelink.jobbook.place import data_folder


def format_folders(given: Sequence[Path]) -> tuple[Path, ...]:
    """Return the folders that were named, then ``formats`` in the user's data folder."""
    own = data_folder() / "formats"
    return (*given, own) if own.is_dir() else tuple(given)
