"""``gaugelink gauges``: HID gauges, and the rule that permits them on Linux."""

from __future__ import annotations

from pathlib import Path

import pytest
from cli_runs import call

from gaugelink.devices.ports import hid_port
from gaugelink.devices.ports.hid_finder import HidInfo
from gaugelink.errors import GaugeUnavailable, Unavailable

TYPING = HidInfo(
    vendor_id=0xFFF0,
    product_id=0x00A1,
    serial_number="A1B2C3",
    manufacturer="Invented",
    product="typing gauge",
    usage_page=0x01,
    usage=0x06,
    interface=0,
    path=b"/dev/hidraw0",
)


def no_driver() -> tuple[HidInfo, ...]:
    raise GaugeUnavailable("HID gauges cannot be read here.", reason=Unavailable.PLATFORM)


def test_a_hid_gauge_is_listed_with_the_address_to_type(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(hid_port, "list_hid_gauges", lambda: (TYPING,))
    (line,) = (line for line in call(tmp_path, "gauges").out.splitlines() if "fff0" in line)
    assert line.split()[:2] == ["hid:fff0:00a1:A1B2C3", "keyboard"]
    assert line.endswith("Invented typing gauge")


def test_the_udev_option_prints_the_rule_file_and_nothing_else(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(hid_port, "list_hid_gauges", lambda: (TYPING,))
    done = call(tmp_path, "gauges", "--udev")
    assert (done.code, done.err) == (0, "")
    rules = [line for line in done.out.splitlines() if line and not line.startswith("#")]
    assert len(rules) == 3
    assert all('ATTRS{idVendor}=="fff0"' in rule for rule in rules)


def test_without_a_hid_driver_the_ports_are_listed_all_the_same(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(hid_port, "list_hid_gauges", no_driver)
    done = call(tmp_path, "gauges")
    assert done.code == 0
    assert "HID" not in done.out.split("FORMATS")[0]
    refused = call(tmp_path, "gauges", "--udev")
    assert (refused.code, refused.out) == (3, "")
    assert "cannot be read here" in refused.err
