"""Which device an address means, among all that are plugged in."""

from __future__ import annotations

import pytest
from hid_stand_in import GAUGE

from gaugelink.devices.address import parse_address
from gaugelink.devices.ports.hid_finder import describe, find, parse_target
from gaugelink.errors import GaugeNotFound, InputError


def test_names_from_the_device_cannot_break_a_line() -> None:
    (info,) = describe([{**GAUGE, "product_string": 'x\nKERNEL=="*"\x1b[2J '}])
    assert info.product == 'x?KERNEL=="*"?[2J'


SEVERAL = [
    {},
    {"path": b"/b", "interface_number": 1, "usage_page": 0xFF00, "usage": 1},
    {"path": b"/b", "interface_number": 1, "usage_page": 0xFF01, "usage": 2},
    {"path": b"/c", "serial_number": "SECOND"},
]


@pytest.mark.parametrize(
    ("address", "path"),
    [
        ("hid:fff0:00a1:A1B2C3?usage_page=1&usage=6", GAUGE["path"]),
        ("hid:fff0:00a1:A1B2C3?interface=1", b"/b"),
        ("hid:fff0:00a1?usage_page=0xFF01", b"/b"),
        ("hid:fff0:00a1?usage=2", b"/b"),
        ("hid:fff0:00a1:SECOND", b"/c"),
    ],
)
def test_the_address_chooses_among_interfaces(address: str, path: bytes) -> None:
    infos = describe({**GAUGE, **changes} for changes in SEVERAL)
    assert find(parse_target(parse_address(address)), infos).path == path


def test_an_address_that_fits_several_is_told_how_to_choose() -> None:
    infos = describe({**GAUGE, **changes} for changes in SEVERAL)
    with pytest.raises(GaugeNotFound) as caught:
        find(parse_target(parse_address("hid:fff0:00a1:A1B2C3")), infos)
    assert "interfaces answer to hid-fff0:00a1-A1B2C3" in str(caught.value)
    assert "hid:fff0:00a1:A1B2C3?usage_page=ff00&usage=1&interface=1" in caught.value.hint


def test_a_keyboard_among_the_collections_of_one_path_decides() -> None:
    infos = describe([{**GAUGE, "usage_page": 0xFF00, "usage": 1}, GAUGE])
    assert find(parse_target(parse_address("hid:fff0:00a1")), infos).is_keyboard


@pytest.mark.parametrize(
    ("address", "says"),
    [
        ("hid:", "the vendor in 'hid:' cannot be ''"),
        ("hid:fff0", "the product"),
        ("hid:fff0:", "the product"),
        ("hid:gauge:1", "the vendor"),
        ("hid:12345:1", "the vendor"),
        ("hid:-1:1", "the vendor"),
        ("hid:1:1?usage_page=vendor", "usage_page"),
        ("hid:1:1?interface=-1", "interface"),
        ("hid:1:1?interface=a", "interface"),
    ],
)
def test_an_address_that_cannot_be_used_is_refused(address: str, says: str) -> None:
    with pytest.raises(InputError) as caught:
        parse_target(parse_address(address))
    assert says in str(caught.value)
    assert "hexadecimal" in caught.value.hint
