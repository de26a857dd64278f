"""Tables that a test records with ``record_property("table", text)`` are shown after the run."""

from __future__ import annotations

import os
import signal

from hypothesis import HealthCheck, settings

# No test fails for being slow. A run that decides whether something lands draws the same
# examples each time; new ones are looked for at the desk.
settings.register_profile(
    "gaugelink",
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow],
    derandomize="CI" in os.environ,
)
settings.load_profile("gaugelink")


def pytest_configure():
    # A run in the background of a shell ignores Ctrl-C, and so would each program that it starts.
    signal.signal(signal.SIGINT, signal.default_int_handler)


def pytest_terminal_summary(terminalreporter):
    for report in terminalreporter.stats.get("passed", []):
        for name, text in report.user_properties:
            if name == "table":
                terminalreporter.section(report.nodeid)
                terminalreporter.write_line(text)
