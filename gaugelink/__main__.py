"""The command line: ``gaugelink`` and ``python -m gaugelink``."""

from __future__ import annotations

import atexit
import gc
import os
import sys

from gaugelink.errors import STOPPED

_OBJECTS_BETWEEN_SEARCHES = 100_000  # for cycles; Python's 700 searches often while modules load


def run() -> None:
    """Run the command line; every error of ours is one sentence and an exit code."""
    gc.set_threshold(_OBJECTS_BETWEEN_SEARCHES)
    atexit.register(gc.freeze)  # no cycle is searched for when the process gives all of it back
    # No matrix of ours is large enough for threads, and starting them takes longer than numpy.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
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
    finally:
        gc.freeze()  # at the end no cycle is searched for: the process gives all of it back


if __name__ == "__main__":
    run()
