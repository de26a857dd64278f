"""The udev rule file can be saved as it is, and grants no more than was asked."""

from __future__ import annotations

from dataclasses import replace

from hid_stand_in import GAUGE

from gaugelink.devices.ports.hid_finder import (
    LATE_FILE,
    RELOAD,
    RULES_FILE,
    describe,
    serial_rules,
    udev_rules,
)
from gaugelink.devices.ports.identity import PortInfo

(INFO,) = describe([{**GAUGE, "vendor_id": 0xFFF0, "product_id": 0x00AB}])


MATCH = 'ATTRS{idVendor}=="fff0", ATTRS{idProduct}=="00ab"'
# For the person at the screen, and for a group where there is none.
GRANT = 'TAG+="uaccess", GROUP="plugdev", MODE="0660"'


def rules_of(text: str) -> list[str]:
    return [line for line in text.splitlines() if line and not line.startswith("#")]


def test_a_device_gets_a_rule_for_each_of_its_nodes() -> None:
    # Rules as in the sample file of hidapi, udev/69-hid.rules.
    assert rules_of(udev_rules([INFO])) == [
        f'KERNEL=="hidraw*", {MATCH}, {GRANT}',
        f'SUBSYSTEMS=="usb", {MATCH}, {GRANT}',
        f'KERNEL=="event*", {MATCH}, {GRANT}',  # of a keyboard: to grab its keys
    ]
    assert len(rules_of(udev_rules([replace(INFO, usage_page=0xFF00, usage=1)]))) == 2


def test_the_head_tells_where_to_save_it_and_how_to_load_it() -> None:
    text = udev_rules([INFO])
    assert str(RULES_FILE) in text
    assert RELOAD in text
    assert "udevadm control --reload-rules" in RELOAD
    assert "udevadm trigger" in RELOAD


def test_the_file_sorts_before_the_one_that_acts_on_the_tag() -> None:
    assert RULES_FILE.name < "73-seat-late.rules"
    assert RULES_FILE.parent.as_posix() == "/etc/udev/rules.d"


def test_one_device_with_several_interfaces_is_named_once() -> None:
    text = udev_rules([INFO, replace(INFO, interface=1, path=b"/x")])
    assert len(rules_of(text)) == 3
    assert text.count("# Invented Typing gauge\n") == 1


def test_without_a_device_there_is_no_rule() -> None:
    text = udev_rules([])
    assert rules_of(text) == []
    assert "No HID device" in text


def test_a_hostile_name_makes_no_rule_of_its_own() -> None:
    (hostile,) = describe([{**GAUGE, "product_string": 'x\nKERNEL=="*", MODE="666"'}])
    assert len(rules_of(udev_rules([hostile]))) == 3


ADAPTER = PortInfo(
    device="/dev/ttyUSB0",
    identity="usb-fff0:00cd@1-2",
    description="Invented adapter",
    manufacturer="",
    serial_number="",
    location="1-2",
    vid=0xFFF0,
    pid=0x00CD,
)


def test_a_serial_adapter_gets_the_lines_that_keep_daemons_off() -> None:
    text = serial_rules([ADAPTER, replace(ADAPTER, device="/dev/ttyUSB1")])
    (rule,) = rules_of(text)
    assert rule.startswith('SUBSYSTEM=="tty", ATTRS{idVendor}=="fff0", ATTRS{idProduct}=="00cd"')
    assert 'ENV{ID_MM_DEVICE_IGNORE}="1"' in rule
    assert str(LATE_FILE) in text
    assert 'ENV{BRLTTY_BRAILLE_DRIVER}=""' in text
    assert LATE_FILE.name > "90-brltty-usb.rules"


def test_a_port_that_is_not_on_usb_gets_no_rule() -> None:
    assert serial_rules([replace(ADAPTER, vid=None, pid=None)]) == ""
