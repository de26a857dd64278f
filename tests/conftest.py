"""Tables that a test records with ``record_property("table", text)`` are shown after the run."""

from __future__ import annotations

import signal


def pytest_configure():
    # A run in the background of a shell ignores Ctrl-C, and so would each program that it starts.
    signal.signal(signal.SIGINT, signal.default_int_handler)


def pytest_terminal_summary(terminalreporter):
    for report in terminalreporter.stats.get("passed", []):
        for name, text in report.user_properties:
            if name == "table":
                terminalreporter.section(report.nodeid)
                terminalreporter.write_line(text)
