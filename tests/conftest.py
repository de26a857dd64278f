"""Tables that a test records with ``record_property("table", text)`` are shown after the run."""

from __future__ import annotations


def pytest_terminal_summary(terminalreporter):
    for report in terminalreporter.stats.get("passed", []):
        for name, text in report.user_properties:
            if name == "table":
                terminalreporter.section(report.nodeid)
                terminalreporter.write_line(text)
