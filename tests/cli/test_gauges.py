"""``gaugelink gauges``: ports, simulated gauges and formats."""

from __future__ import annotations

from pathlib import Path

import pytest
from cli_runs import call

from gaugelink.devices.ports import identity
from gaugelink.devices.ports.identity import PortInfo
from gaugelink.devices.profiles.profile import load_profiles
from gaugelink.devices.simulated import SIMULATIONS

PORT = PortInfo(
    device="/dev/ttyUSB7",
    identity="usb-1234:5678-A1",
    description="an invented adapter",
    manufacturer="nobody",
    serial_number="A1",
    location="1-2",
    vid=0x1234,
    pid=0x5678,
)
PROFILE = """
title = "Invented"
summary = "Nothing sends this."
source = "invented"
[line]
pattern = '(?P<value>\\d+\\.\\d+)'
line_end = ["\\r"]
"""


@pytest.fixture(autouse=True)
def one_port(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(identity, "list_serial_ports", lambda: (PORT,))


def test_a_port_is_listed_with_the_address_to_type(tmp_path: Path) -> None:
    done = call(tmp_path, "gauges")
    assert (done.code, done.err) == (0, "")
    (line,) = (line for line in done.out.splitlines() if "ttyUSB7" in line)
    assert line.split()[:2] == ["serial:usb-1234:5678-A1", "/dev/ttyUSB7"]
    assert line.endswith("an invented adapter")


def test_every_other_address_and_format_is_listed(tmp_path: Path) -> None:
    out = call(tmp_path, "gauges").out
    for name in SIMULATIONS:
        assert f"sim:{name}" in out
    for name in load_profiles().names:
        assert f"\n  {name} " in out
    assert "keys:" in out
    assert "replay:FILE" in out


def test_without_a_port_it_asks_for_the_cable(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(identity, "list_serial_ports", tuple)
    assert "is the cable plugged in" in call(tmp_path, "gauges").out
    assert call(tmp_path, "gauges", "--json").data["ports"] == []


def test_the_json_has_its_keys(tmp_path: Path) -> None:
    data = call(tmp_path, "gauges", "--json").data
    assert data.keys() == {"schema", "ports", "hid", "remembered", "simulated", "formats"}
    assert data["schema"] == 1
    assert data["ports"] == [
        {
            "address": "serial:usb-1234:5678-A1",
            "device": "/dev/ttyUSB7",
            "identity": "usb-1234:5678-A1",
            "description": "an invented adapter",
            "manufacturer": "nobody",
            "serial_number": "A1",
            "location": "1-2",
            "vid": 0x1234,
            "pid": 0x5678,
            "remembered": [],
        }
    ]
    assert data["remembered"] == []
    assert data["simulated"] == [f"sim:{name}" for name in SIMULATIONS]
    assert [f["name"] for f in data["formats"]] == list(load_profiles().names)
    for entry in data["formats"]:
        assert entry.keys() == {"name", "title", "experimental", "sends", "unit", "source"}
        assert entry["sends"] in ("button", "stream")


@pytest.mark.parametrize("place", ["named", "own"])
def test_a_profile_of_ones_own_is_listed(place: str, tmp_path: Path) -> None:
    folder = tmp_path / ("formats" if place == "own" else "mine")
    folder.mkdir()
    (folder / "invented.toml").write_text(PROFILE, encoding="utf-8")
    named = ["--formats", str(folder)] if place == "named" else []
    entries = call(tmp_path, "gauges", "--json", *named).data["formats"]
    assert [e["title"] for e in entries if e["name"] == "invented"] == ["Invented"]
    assert "\n  invented " in call(tmp_path, "gauges", *named).out
