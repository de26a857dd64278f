"""The HID transport on a stand-in driver: bytes, seconds, and every failure by its name."""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import Any

import contract_checks
import pytest
from hid_bench import BOOT_DESCRIPTOR, KEYS, down
from hid_stand_in import GAUGE, StandIn

from gaugelink.devices.address import parse_address
from gaugelink.devices.decoders.hid_descriptor import frame_descriptor, frame_report
from gaugelink.devices.ports import hid_port
from gaugelink.devices.ports.hid_finder import parse_target
from gaugelink.devices.ports.hid_port import HidTransport, list_hid_gauges
from gaugelink.devices.registry import open_gauge
from gaugelink.errors import (
    DeviceError,
    GaugeDisconnected,
    GaugeNotFound,
    GaugeUnavailable,
    InputError,
    Unavailable,
)
from gaugelink.model import Reading

ADDRESS = "hid:fff0:00a1?format=hid-keyboard"


@pytest.fixture
def plug(monkeypatch: pytest.MonkeyPatch):
    """Put a stand-in in the place of hidapi on a Linux system."""

    def put(*plugged: dict[str, Any], platform: str = "linux", **options: Any) -> StandIn:
        module = StandIn(*plugged, **options)
        monkeypatch.setattr(sys, "platform", platform)
        name, other = ("hidraw", "hid") if platform == "linux" else ("hid", "hidraw")
        monkeypatch.setitem(sys.modules, name, module)
        monkeypatch.setitem(sys.modules, other, None)
        return module

    return put


def transport(address: str = ADDRESS) -> HidTransport:
    return HidTransport(address=address, target=parse_target(parse_address(address)))


def kind_of(error: DeviceError) -> object:
    return error.reason if isinstance(error, GaugeUnavailable) else type(error)


def refusal(address: str = ADDRESS) -> DeviceError:
    with pytest.raises(DeviceError) as caught:
        transport(address).open()
    assert caught.value.hint
    return caught.value


@pytest.mark.parametrize("descriptor", [b"", BOOT_DESCRIPTOR], ids=["bare", "described"])
def test_the_transport_keeps_the_contract(
    plug, monkeypatch: pytest.MonkeyPatch, descriptor: bytes
) -> None:
    head = frame_descriptor(descriptor) if descriptor else b""
    monkeypatch.setattr(contract_checks, "PAYLOAD", head + frame_report(down(0x1E)))

    def make() -> contract_checks.Rig:
        module = plug(descriptor=descriptor)
        return contract_checks.Rig(
            transport=transport(), deliver=lambda: module.reports.put(down(0x1E))
        )

    contract_checks.check_transport(make)


def test_the_descriptor_goes_ahead_of_the_first_report_after_each_opening(plug) -> None:
    module = plug(descriptor=b"\x05\x01")
    port = transport()
    for _ in range(2):
        port.open()
        for report in (b"\x01", b"\x02\x03"):
            module.reports.put(report)
        assert port.read(64, 0.1) == b"\0\x02\0\x05\x01" + b"\x01\x01"
        assert port.read(64, 0.1) == b"\x02\x02\x03"
    assert module.n_open == 1, "opening again closes first"
    port.close()
    assert module.n_open == 0


def test_what_was_left_of_a_report_is_gone_after_reopening(plug) -> None:
    module = plug()
    port = transport()
    port.open()
    module.reports.put(b"\x01\x02\x03")
    assert port.read(2, 0.1) == b"\x03\x01"
    port.open()
    assert port.read(64, 0.01) == b""


def test_seconds_become_milliseconds_and_never_zero(plug) -> None:
    module = plug()
    port = transport()
    port.open()
    for timeout_s in (0.05, 0.0101, 0.0):
        assert port.read(64, timeout_s) == b""
    assert module.timeouts_ms == [50, 11, 1]


def test_what_is_written_goes_out_as_it_is(plug) -> None:
    module = plug()
    port = transport()
    port.open()
    port.write(b"\0\x01")
    assert module.written == [b"\0\x01"]


@pytest.mark.parametrize(
    ("text", "wanted", "says"),
    [
        ("Failed to open a device with path '/x': Permission denied", "permission", "by you"),
        ("Failed to open a device with path '/x': Operation not permitted", "permission", "by you"),
        ("Failed to open a device with path '/x': Device or resource busy", "busy", "in use"),
        ("open_device: CreateFile: (0x00000005) Access is denied.", "busy", "in use"),
        ("the file ... is being used by another process", "busy", "in use"),
        ("Failed to open a device with path '/x': Input/output error", "unknown", "cannot be"),
        ("", "unknown", "cannot be opened"),
    ],
)
def test_each_reason_for_not_opening_is_told_apart(plug, text: str, wanted: str, says: str) -> None:
    module = plug()
    module.open_fails = text
    error = refusal()
    assert isinstance(error, GaugeUnavailable)
    assert error.reason is Unavailable(wanted)
    assert says in str(error)
    assert isinstance(error.__cause__, OSError)
    assert (error.address, "hid-fff0:00a1-A1B2C3" in str(error)) == ("hid:fff0:00a1:A1B2C3", True)


def test_a_device_that_may_not_be_opened_names_the_rule_to_install(plug) -> None:
    plug().open_fails = "Failed to open a device with path '/dev/hidraw0': Permission denied"
    assert "gaugelink gauges --udev" in refusal().hint


def test_rights_are_judged_by_the_path_when_the_backend_says_nothing(
    plug, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    node = tmp_path / "node"
    node.touch()
    plug({"path": bytes(node)}).open_fails = "hid_error is not implemented yet"
    assert kind_of(refusal()) is Unavailable.UNKNOWN
    monkeypatch.setattr(os, "access", lambda path, mode: mode == os.F_OK)
    assert kind_of(refusal()) is Unavailable.PERMISSION
    node.unlink()
    assert kind_of(refusal()) is Unavailable.UNKNOWN


def test_a_device_that_vanishes_while_it_is_opened_was_unplugged(plug) -> None:
    plug().open_fails = (
        "Failed to open a device with path '/dev/hidraw0': No such file or directory"
    )
    assert isinstance(refusal(), GaugeNotFound)


def test_a_device_that_is_not_plugged_in_is_not_found(plug) -> None:
    plug({"product_id": 0x00A2})
    error = refusal()
    assert isinstance(error, GaugeNotFound)
    assert str(error) == "hid-fff0:00a1 is not plugged in."


@pytest.mark.parametrize("platform", ["win32", "darwin"])
def test_a_keyboard_is_left_to_the_keys_address_where_it_cannot_be_opened(
    plug, platform: str
) -> None:
    module = plug(platform=platform)
    error = refusal()
    assert isinstance(error, GaugeUnavailable)
    assert error.reason is Unavailable.PLATFORM
    assert "keys:" in error.hint
    assert module.opened == []


@pytest.mark.parametrize("platform", ["win32", "darwin"])
def test_other_devices_open_everywhere(plug, platform: str) -> None:
    module = plug({"usage_page": 0xFF00, "usage": 1}, platform=platform)
    transport().open()
    assert module.opened == [GAUGE["path"]]


def test_macos_is_asked_for_input_monitoring(plug) -> None:
    module = plug({"usage_page": 0xFF00}, platform="darwin")
    module.open_fails = "hid_open_path: failed to open: (0xE00002E2) (iokit/common) not permitted"
    error = refusal()
    assert isinstance(error, GaugeUnavailable)
    assert error.reason is Unavailable.PERMISSION
    assert "Input Monitoring" in error.hint


@pytest.mark.parametrize("act", [lambda p: p.read(64, 0.01), lambda p: p.write(b"\0")])
def test_unplugging_is_a_disconnection_and_the_device_is_found_again(plug, act) -> None:
    module = plug()
    port = transport()
    port.open()
    module.lost = True
    with pytest.raises(GaugeDisconnected) as caught:
        act(port)
    assert "was unplugged" in str(caught.value)
    gone, module.plugged = module.plugged, []
    with pytest.raises(GaugeNotFound):
        port.open()
    module.plugged, module.lost = [{**gone[0], "path": b"/dev/hidraw9"}], False
    port.open()
    assert module.opened[-1] == b"/dev/hidraw9"
    assert port.read(64, 0.01) == b""


def test_the_serial_number_that_was_found_first_is_held_on_to(plug) -> None:
    module = plug()
    port = transport()
    assert port.identity == "hid-fff0:00a1-A1B2C3"
    module.plugged = [{**GAUGE, "serial_number": "OTHER", "path": b"/other"}]
    with pytest.raises(GaugeNotFound):
        port.open()
    module.plugged.append(dict(GAUGE))
    port.open()
    assert module.opened == [GAUGE["path"]]


def test_a_device_that_is_absent_has_the_identity_of_its_address(plug) -> None:
    module = plug()
    module.plugged = []
    assert transport().identity == "hid-fff0:00a1"
    soon = transport()
    module.plugged = [dict(GAUGE)]
    soon.open()
    module.plugged = []
    late = transport("hid:FFF0:0xA1:A1B2C3")
    assert late.identity == "hid-fff0:00a1-A1B2C3"
    module.plugged = [dict(GAUGE)]
    late.open()
    assert module.opened == [GAUGE["path"]] * 2


def test_a_hid_address_gives_readings_and_its_recording_gives_them_again(
    plug, tmp_path: Path
) -> None:
    module = plug(descriptor=BOOT_DESCRIPTOR)
    path = tmp_path / "typed.jsonl"
    with open_gauge(f"{ADDRESS}&unit=mm", record_to=path) as gauge:
        for report in KEYS[0]["reports"]:
            module.reports.put(bytes.fromhex(report))
        live = [event.body for _ in KEYS[0]["reports"] for event in gauge.poll(0.05)]
    (reading,) = live
    assert isinstance(reading, Reading)
    assert (reading.displayed, reading.value_mm, reading.resolution_mm) == ("-1.50", -1.5, 0.01)
    assert gauge.gauge_id == "hid-fff0:00a1-A1B2C3"
    with open_gauge(f"replay:{path}?pace=0&unit=mm") as again:
        replayed = [event.body for _ in range(60) for event in again.poll(0.05)]
    assert replayed == live


@pytest.mark.parametrize("name", ["text-input", "bcd52"])
def test_a_format_that_is_not_for_hid_is_refused(plug, name: str) -> None:
    plug()
    with pytest.raises(InputError) as caught:
        open_gauge(f"hid:fff0:00a1?format={name}")
    assert f"The format {name} is not one that a HID gauge sends." in str(caught.value)


def test_without_hidapi_the_error_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "hid", None)
    monkeypatch.setitem(sys.modules, "hidraw", None)
    with pytest.raises(GaugeUnavailable) as caught:
        list_hid_gauges()
    assert caught.value.reason is Unavailable.PLATFORM
    assert "keys:" in caught.value.hint


def test_linux_falls_back_to_the_other_backend(plug, monkeypatch: pytest.MonkeyPatch) -> None:
    module = plug()
    monkeypatch.setitem(sys.modules, "hidraw", None)
    monkeypatch.setitem(sys.modules, "hid", module)
    assert [info.identity for info in list_hid_gauges()] == ["hid-fff0:00a1-A1B2C3"]


def test_the_list_names_devices_and_leaves_mice_and_volume_keys_out(plug) -> None:
    plug(
        {},
        {"usage": 0x02, "path": b"/mouse"},
        {"usage_page": 0x0C, "usage": 1, "path": b"/volume"},
        {"usage_page": 0xFF00, "usage": 1, "serial_number": None, "path": b"/vendor"},
    )
    vendor, keyboard = list_hid_gauges()
    assert (keyboard.path, keyboard.is_keyboard) == (GAUGE["path"], True)
    assert keyboard.address == "hid:fff0:00a1:A1B2C3"
    assert (vendor.path, vendor.is_keyboard) == (b"/vendor", False)
    assert vendor.address == "hid:fff0:00a1"


@pytest.mark.skipif(sys.platform != "linux", reason="Only Linux lets keys be grabbed.")
def test_keys_of_a_gauge_are_kept_from_other_windows_while_it_is_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    import fcntl

    (tmp_path / "sys/hidraw3/device/input/input9/event7").mkdir(parents=True)
    (tmp_path / "sys/hidraw3/device/input/input9/event8").mkdir()
    (tmp_path / "event7").touch()  # event8 may not be opened, or is not there
    asked: list[tuple[int, int]] = []
    monkeypatch.setattr(fcntl, "ioctl", lambda file, code, on: asked.append((code, on)))
    held = hid_port.grab_keys(b"/dev/hidraw3", tmp_path / "sys", tmp_path)
    assert [os.readlink(f"/proc/self/fd/{file}") for file in held] == [str(tmp_path / "event7")]
    assert asked == [(0x40044590, 1)]  # EVIOCGRAB, linux/input.h
    for file in held:
        os.close(file)


def test_gauge_that_is_no_keyboard_has_no_keys_to_grab(tmp_path: Path) -> None:
    assert hid_port.grab_keys(b"/dev/hidraw3", tmp_path, tmp_path) == []
