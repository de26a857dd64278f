"""The command line: ``gaugelink`` and ``python -m gaugelink``."""

from __future__ import annotations

import sys

from gaugelink.errors import GaugelinkError


def run() -> None:
    """Run the command line; every error of ours is one sentence and an exit code."""
    from gaugelink.cli.app import app

    try:
        app()
    except GaugelinkError as error:
        from gaugelink.cli.output import complain

        complain(error)
        sys.exit(error.exit_code)


if __name__ == "__main__":
    run()
