"""Tables that a test records with ``record_property("table", text)`` are shown after the run."""

from __future__ import annotations

import gc
import os
import signal
import sys

# Or each worker, and each program that a test starts, compiles everything anew.
sys.dont_write_bytecode = False
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)

import pytest  # noqa: E402 - it is compiled as well
from hypothesis import HealthCheck, settings  # noqa: E402 - it is compiled as well

# Thousands of tests are made and kept. Looking for cycles among them while they are made, and
# again while they run, takes a tenth of the time and finds none.
gc.disable()


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_auto_num_workers():
    """Half as many again as there are cores: many tests wait for a gauge, a port, a browser."""
    return max((os.cpu_count() or 1) * 3 // 2, 1)


def pytest_collection_finish():
    gc.enable()
    gc.freeze()


# No test fails for being slow. At the desk a run looks for some new examples; one that decides
# whether something lands draws the same each time, and like every campaign it draws many.
ALONE = "CI" not in os.environ
for name, few in (("desk", 25), ("campaign", 100)):
    settings.register_profile(
        name,
        deadline=None,
        suppress_health_check=[HealthCheck.too_slow],
        derandomize=not ALONE,
        max_examples=few,
    )
settings.load_profile("campaign")


def pytest_configure(config):
    if ALONE and config.option.markexpr == "not campaign":
        settings.load_profile("desk")
    # A run in the background of a shell ignores Ctrl-C, and so would each program that it starts.
    signal.signal(signal.SIGINT, signal.default_int_handler)


def pytest_terminal_summary(terminalreporter):
    for report in terminalreporter.stats.get("passed", []):
        for name, text in report.user_properties:
            if name == "table":
                terminalreporter.section(report.nodeid)
                terminalreporter.write_line(text)
