"""Where the journal lies when nobody says otherwise."""

from __future__ import annotations

import os
from pathlib import Path

HOME_VARIABLE = "GAUGELINK_HOME"


def data_folder() -> Path:
    """Return the folder of the user's own data; it need not exist yet.

    ``GAUGELINK_HOME`` overrides the platform's usual place.
    """
    home = os.environ.get(HOME_VARIABLE)
    if home:
        return Path(home).expanduser()
    import platformdirs

    return platformdirs.user_data_path("gaugelink", appauthor=False)


def default_path() -> Path:
    """Return the path of the journal in the user's data folder."""
    return data_folder() / "journal.sqlite"
