"""Opening a gauge loads no driver before it is used."""

from __future__ import annotations

import subprocess
import sys

import pytest

DRIVERS = ["serial", "hid", "hidraw", "numpy", "pint", "rich"]


@pytest.mark.parametrize(
    "code",
    [
        "import gaugelink.devices",
        "from gaugelink.devices.registry import Gauge, Port, open_gauge",
        "from gaugelink.devices.ports.identity import list_serial_ports, PortInfo",
        "from gaugelink.devices.registry import open_gauge; open_gauge('sim:still?pace=0').open()",
    ],
)
def test_no_driver_is_loaded_before_it_is_used(code: str) -> None:
    show = f"{code}\nimport sys\nprint(*[name for name in {DRIVERS} if name in sys.modules])"
    done = subprocess.run(
        [sys.executable, "-c", show], capture_output=True, text=True, timeout=60, check=True
    )
    assert done.stdout.strip() == ""
