"""Coverage-guided fuzzing of one family of inputs with atheris, which gaugelink never needs.

Run it by hand, in an environment of its own that has gaugelink and atheris::

    python tests/fuzz/fuzz.py lines -max_total_time=60

What follows the family goes to libFuzzer as it stands. An input that breaks a contract is
written to the working folder and ends the run; put it into a test before mending anything.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

import atheris

with atheris.instrument_imports(include=["gaugelink", "tomllib"]):
    from targets import SEEDS, TARGETS

MAX_INPUT_BYTES = 4096


def main() -> None:
    """Fuzz the family that is named first."""
    if len(sys.argv) < 2 or sys.argv[1] not in TARGETS:
        sys.exit(f"usage: fuzz.py {'|'.join(TARGETS)} [options of libFuzzer]")
    name, options = sys.argv[1], sys.argv[2:]
    with tempfile.TemporaryDirectory(prefix="gaugelink-corpus-") as corpus:
        for number, seed in enumerate(SEEDS[name]):
            (Path(corpus) / str(number)).write_bytes(seed)
        limits = [f"-max_len={MAX_INPUT_BYTES}", "-rss_limit_mb=1024", "-timeout=10"]
        atheris.Setup([sys.argv[0], *limits, *options, corpus], TARGETS[name])
        atheris.Fuzz()


if __name__ == "__main__":
    main()
