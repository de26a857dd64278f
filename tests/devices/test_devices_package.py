"""The package's front door loads no driver."""

from __future__ import annotations

import subprocess
import sys

import pytest

import gaugelink.devices

DRIVERS = ["serial", "hid", "hidraw", "numpy", "pint", "rich"]


@pytest.mark.parametrize(
    "code",
    [
        "import gaugelink.devices",
        "from gaugelink.devices import Gauge, Port, open_gauge, list_serial_ports, PortInfo",
        "from gaugelink.devices import open_gauge; open_gauge('sim:still?pace=0').open()",
    ],
)
def test_no_driver_is_loaded_before_it_is_used(code: str) -> None:
    show = f"{code}\nimport sys\nprint(*[name for name in {DRIVERS} if name in sys.modules])"
    done = subprocess.run(
        [sys.executable, "-c", show], capture_output=True, text=True, timeout=60, check=True
    )
    assert done.stdout.strip() == ""


def test_every_public_name_is_there() -> None:
    assert all(getattr(gaugelink.devices, name) for name in gaugelink.devices.__all__)
    with pytest.raises(AttributeError, match="nothing_like_it"):
        _ = gaugelink.devices.nothing_like_it
