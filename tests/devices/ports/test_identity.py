"""A gauge is known again by its identity, wherever it was plugged in since."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from serial.tools.list_ports_common import ListPortInfo

from gaugelink.devices.ports.identity import (
    callout,
    identity_of,
    is_by_socket,
    list_serial_ports,
    locate,
    same_port,
)
from gaugelink.devices.ports.serial_port import SerialTransport
from gaugelink.devices.profiles.profile import PortSettings
from gaugelink.errors import GaugeNotFound, SeveralGaugesFit


def port(
    device: str, serial_number: str | None = None, location: str | None = None
) -> ListPortInfo:
    """Describe a USB port with an invented vendor and product."""
    info = ListPortInfo(device)
    info.vid, info.pid = 0x1209, 0x0001
    info.serial_number, info.location = serial_number, location
    return info


def plug(monkeypatch: pytest.MonkeyPatch, *ports: ListPortInfo) -> None:
    monkeypatch.setattr("serial.tools.list_ports.comports", lambda: list(ports))


@pytest.mark.parametrize(
    ("ports", "identities"),
    [
        ([port("/dev/ttyUSB0", "A7", "1-2")], ["usb-1209:0001-A7"]),
        ([port("/dev/ttyUSB0", None, "1-2")], ["usb-1209:0001@1-2"]),
        ([port("/dev/ttyUSB0")], ["/dev/ttyUSB0"]),
        ([ListPortInfo("/dev/ttyS0")], ["/dev/ttyS0"]),
        # Two adapters with one serial number, as cheap ones have.
        (
            [port("/dev/ttyUSB0", "0001", "1-2"), port("/dev/ttyUSB1", "0001", "1-3")],
            ["usb-1209:0001@1-2", "usb-1209:0001@1-3"],
        ),
        # Nothing at all tells the two ports of this one apart.
        (
            [port("/dev/ttyUSB0", "0001", "1-2"), port("/dev/ttyUSB1", "0001", "1-2")],
            ["/dev/ttyUSB0", "/dev/ttyUSB1"],
        ),
    ],
)
def test_each_port_has_the_most_stable_name_that_is_its_own(
    monkeypatch: pytest.MonkeyPatch, ports: list[ListPortInfo], identities: list[str]
) -> None:
    plug(monkeypatch, *ports)
    assert [found.identity for found in list_serial_ports()] == identities


def test_a_gauge_is_found_under_its_new_name(monkeypatch: pytest.MonkeyPatch) -> None:
    plug(monkeypatch, port("/dev/ttyUSB0", "A7", "1-2"))
    identity = identity_of("/dev/ttyUSB0")
    plug(monkeypatch, port("/dev/ttyUSB0", "B8", "1-3"), port("/dev/ttyUSB4", "A7", "1-1"))
    assert locate(identity) == "/dev/ttyUSB4"
    assert identity_of(identity) == identity


def test_a_gauge_without_serial_number_is_found_in_its_socket(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    plug(monkeypatch, port("/dev/ttyUSB0", None, "1-2"))
    identity = identity_of("/dev/ttyUSB0")
    plug(monkeypatch, port("/dev/ttyUSB0", None, "1-3"), port("/dev/ttyUSB9", None, "1-2"))
    assert locate(identity) == "/dev/ttyUSB9"


def test_an_identity_outlives_a_twin_that_is_plugged_in_later(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    plug(monkeypatch, port("/dev/ttyUSB0", "B8", "1-2"))
    identity = identity_of("/dev/ttyUSB0")
    plug(monkeypatch, port("/dev/ttyUSB0", "B8", "1-2"), port("/dev/ttyUSB1", "B8", "1-3"))
    with pytest.raises(GaugeNotFound, match="2 ports answer") as caught:
        locate(identity)
    assert "usb-1209:0001@1-2 or usb-1209:0001@1-3" in caught.value.hint


@pytest.mark.parametrize("serial_number", ["0001", "0000", "1", "AAAAAA", "123456789", None])
def test_adapters_that_share_a_number_are_two_though_never_plugged_in_together(
    monkeypatch: pytest.MonkeyPatch, serial_number: str | None
) -> None:
    plug(monkeypatch, port("/dev/ttyUSB0", serial_number, "1-2"))
    one = identity_of("/dev/ttyUSB0")
    plug(monkeypatch, port("/dev/ttyUSB0", serial_number, "1-3"))
    assert (one, identity_of("/dev/ttyUSB0")) == ("usb-1209:0001@1-2", "usb-1209:0001@1-3")
    assert is_by_socket(one)


def test_a_name_remembered_with_a_shared_number_is_found_and_becomes_its_sockets(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    plug(monkeypatch, port("/dev/ttyUSB3", "0001", "1-2"))
    assert locate("usb-1209:0001-0001") == "/dev/ttyUSB3"
    assert identity_of("usb-1209:0001-0001") == "usb-1209:0001@1-2"
    assert not is_by_socket("usb-1209:0001-A7")


def test_two_with_the_same_number_are_told_from_one_that_is_not_there(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    two = (port("/dev/ttyUSB0", "A7", "1-1"), port("/dev/ttyUSB1", "A7", "1-2"))
    plug(monkeypatch, *two)
    with pytest.raises(SeveralGaugesFit, match="2 ports answer to usb-1209:0001-A7") as caught:
        locate("usb-1209:0001-A7")
    assert "usb-1209:0001@1-1 or usb-1209:0001@1-2" in caught.value.hint


def test_what_is_not_plugged_in_is_not_found(monkeypatch: pytest.MonkeyPatch) -> None:
    plug(monkeypatch)
    with pytest.raises(GaugeNotFound, match="usb-1209:0001-A7 is not plugged in"):
        locate("usb-1209:0001-A7")


@pytest.mark.parametrize("name", ["/dev/ttyACM3", "COM7", "socket://127.0.0.1:5000"])
def test_other_names_stand_for_themselves(monkeypatch: pytest.MonkeyPatch, name: str) -> None:
    plug(monkeypatch)
    assert identity_of(name) == name
    assert locate(name) == name


def test_a_link_to_a_port_has_the_identity_of_the_port(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    device, link = tmp_path / "ttyUSB0", tmp_path / "by-id"
    device.touch()
    link.symlink_to(device)
    plug(monkeypatch, port(str(device), "A7", "1-2"))
    assert identity_of(str(link)) == "usb-1209:0001-A7"


def test_what_the_system_does_not_know_is_left_empty(monkeypatch: pytest.MonkeyPatch) -> None:
    plug(monkeypatch, ListPortInfo("/dev/ttyS0"))
    (found,) = list_serial_ports()
    assert (found.description, found.serial_number, found.vid) == ("", "", None)


def test_the_transport_opens_the_port_its_gauge_has_moved_to(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    opened: list[str] = []

    def refuse(device: str, **_: object) -> object:
        opened.append(device)
        raise FileNotFoundError(2, "No such file or directory")

    monkeypatch.setattr("serial.serial_for_url", refuse)
    plug(monkeypatch, port("/dev/ttyUSB0", "A7", "1-2"))
    transport = SerialTransport(
        address="serial:/dev/ttyUSB0", target="/dev/ttyUSB0", settings=PortSettings()
    )
    plug(monkeypatch, port("/dev/ttyUSB4", "A7", "1-1"))
    with pytest.raises(GaugeNotFound, match="serial:/dev/ttyUSB4"):
        transport.open()
    assert opened == ["/dev/ttyUSB4"]
    assert transport.identity == "usb-1209:0001-A7"


@pytest.mark.parametrize(
    ("device", "other", "same"),
    [("com4", "COM4", True), ("\\\\.\\COM12", "COM12", True), ("COM4", "COM14", False)],
)
def test_names_of_windows_are_compared_and_never_followed(
    device: str, other: str, same: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(os.path, "realpath", lambda _: pytest.fail("this would open the port"))
    assert same_port(device, other, "win32") is same


def test_both_names_of_a_port_of_macos_are_one() -> None:
    assert callout("/dev/tty.usbserial-10", "darwin") == "/dev/cu.usbserial-10"
    assert callout("/dev/cu.usbserial-10", "darwin") == "/dev/cu.usbserial-10"
    assert callout("/dev/tty.usbserial-10", "linux") == "/dev/tty.usbserial-10"
    assert same_port("/dev/tty.usbserial-10", "/dev/cu.usbserial-10", "darwin")
    assert not same_port("/dev/ttys001", "/dev/cu.usbserial-10", "darwin")
