"""Checks of an invented gauge from the command line."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from cli_gauges import presses
from cli_runs import call

SIM = "sim:caliper?pace=0"  # its depth of 1.92 mm serves as the block
ZEROS, BLOCK = (0.00, 0.00, 0.01), (5.01, 5.00, 5.01, 5.00)
CHECK = ("--length", "5.000 +- 0.0002 mm", "--readings", "4", "--zeros", "3")


def checked(home: Path, *arguments: str, code: int = 0) -> Any:
    done = call(home, "check", *arguments, "--json")
    assert done.code == code, done.err
    return done.data


def pressed(home: Path, *block: float, name: str = "gauge") -> str:
    """A gauge with a button that reads ``block`` between its zeros; a new recording each time."""
    path = home / f"{name}.jsonl"
    path.unlink(missing_ok=True)
    return presses(path, *ZEROS, *block, 0.0)


# A ring of 11.5 mm, read between the inside jaws 0.018 mm too large.
RING = (11.52, 11.51, 11.52, 11.52)
INSIDE = ("--ring", "11.5000 +- 0.0005 mm", "--readings", "4", "--zeros", "3")
