"""The keyboard as a source of commands, beside the gauges."""

from __future__ import annotations

from collections.abc import Sequence

from gaugelink.cli.output import person_types
from gaugelink.devices.gauge import Gauge
from gaugelink.devices.registry import open_gauge


def open_console(gauges: Sequence[Gauge]) -> Gauge | None:
    """Return the opened keyboard, or None when there is none to listen to.

    A ``keys:`` gauge reads the keyboard itself and passes commands on; piped input
    is nobody at a keyboard.
    """
    if not person_types() or any(gauge.info.address.startswith("keys:") for gauge in gauges):
        return None
    console = open_gauge("keys:?unit=mm")
    console.open()
    return console
