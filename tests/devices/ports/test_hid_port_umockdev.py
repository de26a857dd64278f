"""The real hidapi on emulated devices: list, open, descriptor, reports, silence, unplugging."""

from __future__ import annotations

import json
import re
import shutil
import struct
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from hid_bench import BOOT_DESCRIPTOR, FIXTURES

from gaugelink.devices.decoders.hid_descriptor import frame_descriptor

RUN = shutil.which("umockdev-run")
DEVICES = FIXTURES / "hid" / "two-gauges.umockdev"
CHILD = Path(__file__).parents[1] / "hid_emulated.py"

pytestmark = pytest.mark.skipif(
    RUN is None, reason="umockdev-run is not installed: apt-get install umockdev."
)


def ioctls(node: str, descriptor: bytes) -> str:
    """Write what the node answers about its descriptor, as umockdev-record would."""
    size = struct.pack("<i", len(descriptor)).hex().upper()
    filled = struct.pack("<I", len(descriptor)) + descriptor.ljust(4096, b"\0")
    whole = filled.hex().upper()
    return f"@DEV /dev/{node}\nHIDIOCGRDESCSIZE 0 {size}\nHIDIOCGRDESC 0 {whole}\n"


@pytest.fixture(scope="module")
def command(tmp_path_factory: pytest.TempPathFactory) -> list[str]:
    folder = tmp_path_factory.mktemp("emulated")
    text = re.sub(r"(?m)^#.*\n+", "", DEVICES.read_text(encoding="utf-8"))
    (folder / "devices").write_text(text, encoding="utf-8")
    options = [str(RUN), "-d", str(folder / "devices")]
    for n, descriptor in enumerate(re.findall(r"report_descriptor=(\w+)", text)):
        path = folder / f"{n}.ioctl"
        path.write_text(ioctls(f"hidraw{n}", bytes.fromhex(descriptor)), encoding="utf-8")
        options += ["-i", f"/dev/hidraw{n}={path}"]
    return [*options, "--", sys.executable, str(CHILD)]


def play(command: list[str], scenario: str) -> Any:
    done = subprocess.run(
        [*command, scenario], capture_output=True, text=True, timeout=120, check=False
    )
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def test_the_emulated_gauges_are_listed(command: list[str]) -> None:
    # identity, address, product, usage page, usage, interface, path
    assert play(command, "listing") == [
        ["hid-fff0:00a1-A1B2C3", "hid:fff0:00a1:A1B2C3", "Typing gauge", 1, 6, 0, "/dev/hidraw0"],
        ["hid-fff0:00a2", "hid:fff0:00a2", "Length gauge", 0xFF00, 1, 0, "/dev/hidraw1"],
    ]


def test_reports_come_framed_behind_the_descriptor_and_the_loss_is_told(
    command: list[str],
) -> None:
    identity, silence, first, second, lost, absent = play(command, "transport")
    assert identity == "hid-fff0:00a1-A1B2C3"
    assert silence == ""
    assert bytes.fromhex(first) == frame_descriptor(BOOT_DESCRIPTOR) + b"\x08\0\0\x1e\0\0\0\0\0"
    assert bytes.fromhex(second) == b"\x08" + bytes(8)
    assert lost[0] == "GaugeDisconnected"
    assert absent[0] == "GaugeNotFound"


def test_a_typing_gauge_gives_readings_before_and_after_unplugging(command: list[str]) -> None:
    reading = ["-1.50", "mm", -1.5, 0.01]
    assert play(command, "readings") == [reading, False, True, reading]


def test_a_length_field_gives_readings_by_its_descriptor(command: list[str]) -> None:
    assert play(command, "field") == [
        ["100.00", "mm", 100.0, 0.01],
        ["-100.00", "mm", -100.0, 0.01],
        "the gauge has no value (null state)",
    ]


def test_a_node_without_rights_names_the_rule_that_grants_them(command: list[str]) -> None:
    error, reason, hint = play(command, "rights")
    assert (error, reason) == ("GaugeUnavailable", "permission")
    assert "--udev" in hint
