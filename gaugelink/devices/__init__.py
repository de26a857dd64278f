"""Gauges: from an address and a cable to stamped events.

::

    from gaugelink.devices import open_gauge

    with open_gauge("sim:caliper?seed=7&pace=0") as gauge:
        while not gauge.ended:
            for event in gauge.poll(timeout_s=0.05):
                ...

A ``Transport`` moves bytes, a ``Decoder`` makes events of them without any I/O, and
the one ``Gauge`` class joins them, stamps what comes out and finds a gauge again that
was unplugged. Importing this package loads no driver; a scheme's driver is imported
when an address with that scheme is opened.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from gaugelink.devices.address import Address, parse_address
    from gaugelink.devices.contract import Decoder, Port, Transport
    from gaugelink.devices.gauge import Gauge
    from gaugelink.devices.ports.identity import PortInfo, list_serial_ports
    from gaugelink.devices.registry import open_gauge

__all__ = [
    "Address",
    "Decoder",
    "Gauge",
    "Port",
    "PortInfo",
    "Transport",
    "list_serial_ports",
    "open_gauge",
    "parse_address",
]

_HOMES = {
    "Address": "address",
    "Decoder": "contract",
    "Gauge": "gauge",
    "Port": "contract",
    "PortInfo": "ports.identity",
    "Transport": "contract",
    "list_serial_ports": "ports.identity",
    "open_gauge": "registry",
    "parse_address": "address",
}


def __getattr__(name: str) -> object:
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_HOMES[name]}"), name)
