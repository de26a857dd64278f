"""The command line: ``gaugelink`` and ``python -m gaugelink``."""

from __future__ import annotations

import sys

STOPPED = 130  # as shells count a program that Ctrl-C ended: 128 + SIGINT


def run() -> None:
    """Run the command line; every error of ours is one sentence and an exit code."""
    try:
        _run()
    except KeyboardInterrupt:  # pressed while modules load, before a command can mind it
        sys.exit(STOPPED)


def _run() -> None:
    from gaugelink.cli.app import app
    from gaugelink.errors import GaugelinkError

    try:
        app()
    except GaugelinkError as error:
        from gaugelink.cli.output import complain

        complain(error)
        sys.exit(error.exit_code)


if __name__ == "__main__":
    run()
