"""Where the user's own format profiles are looked for."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path

from gaugelink.errors import InputError
from gaugelink.jobbook.book import data_folder


def format_folders(given: Sequence[Path]) -> tuple[Path, ...]:
    """Return the folders that were named, then ``formats`` in the user's data folder.

    Raises:
        InputError: one that was named is not there; the user's own need not be.
    """
    for folder in given:
        _require_folder(folder)
    own = data_folder() / "formats"
    return (*given, own) if os.path.isdir(own) else tuple(given)


def _require_folder(folder: Path) -> None:
    if os.path.isdir(folder):
        return
    is_file = os.path.exists(folder)
    raise InputError(
        f"{folder} is a file." if is_file else f"There is no folder {folder}.",
        hint="Name the folder that the format profiles are in with --formats FOLDER.",
    )
