"""What is remembered fills in what was not typed, and nothing else."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from gaugelink.cli.recall import Memory, RememberingKeeper, tell_remembered
from gaugelink.devices.ports import identity
from gaugelink.devices.ports.identity import PortInfo
from gaugelink.errors import InputError
from gaugelink.jobbook.gauge_book import GaugeBook, KnownGauge
from gaugelink.model import Fault, FaultKind, GaugeEvent, GaugeInfo, GaugeKind, Reading, Sends
from gaugelink.units import LengthUnit

USB = "usb-1234:5678-A1"
UNIT = "line-9600-8N1-unit"
PORT = PortInfo(
    device="/dev/ttyUSB7",
    identity=USB,
    description="an invented adapter",
    manufacturer="nobody",
    serial_number="A1",
    location="1-2",
    vid=0x1234,
    pid=0x5678,
)
SERIAL = KnownGauge(
    gauge_id=USB,
    address=f"serial:{USB}",
    format="line-4800-7E2-plain",
    kind=GaugeKind.MICROMETER,
    sends=Sends.BUTTON,
    unit=LengthUnit.INCH,
    options={"mpe_mm": "0.002", "baud": "9600"},
)
ALL = "format=line-4800-7E2-plain&kind=micrometer&sends=button&unit=in&mpe_mm=0.002&baud=9600"
BRIDGED = KnownGauge(
    gauge_id=f"{USB}#2",
    address=f"bridge:{USB}",
    format="bcd52",
    kind=None,
    sends=Sends.BUTTON,
    options={"port": "2"},
)
SOCKET = KnownGauge(
    gauge_id="socket://host:5",
    address="socket://host:5",
    format=UNIT,
    kind=GaugeKind.CALIPER,
    sends=Sends.STREAM,
)


@pytest.fixture(autouse=True)
def one_port(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(identity, "list_serial_ports", lambda: (PORT,))


def memory(folder: Path, *gauges: KnownGauge) -> Memory:
    path = folder / "journal.sqlite"
    with GaugeBook(path) as book:
        for gauge in gauges:
            book.remember(gauge)
    return Memory(path)


@pytest.mark.parametrize(
    ("typed", "full"),
    [
        (f"serial:{USB}", f"serial:{USB}?{ALL}"),
        ("serial:/dev/ttyUSB7", f"serial:/dev/ttyUSB7?{ALL}"),
        ("/dev/ttyUSB7", f"serial:{USB}?{ALL}"),
        (USB, f"serial:{USB}?{ALL}"),
        # What was typed wins; what belongs to the other format is left out.
        (f"serial:{USB}?unit=mm&sends=stream", None),
        (f"serial:{USB}?format={UNIT}", f"serial:{USB}?format={UNIT}&kind=micrometer&mpe_mm=0.002"),
        # Not this gauge.
        ("serial:/dev/ttyUSB8", "serial:/dev/ttyUSB8"),
        (f"bridge:{USB}", f"bridge:{USB}"),
        ("sim:caliper", "sim:caliper"),
        ("keys:", "keys:"),
    ],
)
def test_an_address_is_completed(typed: str, full: str | None, tmp_path: Path) -> None:
    completed = memory(tmp_path, SERIAL).completed(typed)
    if full is None:
        base, _, options = completed.partition("?")
        assert base == f"serial:{USB}"
        expected = ALL.replace("unit=in", "unit=mm").replace("sends=button", "sends=stream")
        assert sorted(options.split("&")) == sorted(expected.split("&"))
    else:
        base, _, options = full.partition("?")
        assert completed.partition("?")[0] == base
        assert sorted(completed.partition("?")[2].split("&")) == sorted(options.split("&"))


def test_afresh_only_what_belongs_to_the_gauge_is_kept(tmp_path: Path) -> None:
    completed = memory(tmp_path, SERIAL).completed(f"serial:{USB}", afresh=True)
    assert set(completed.partition("?")[2].split("&")) == {"kind=micrometer", "mpe_mm=0.002"}


def test_what_is_read_as_remembered_is_said_before_the_first_reading(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    known = memory(tmp_path, SERIAL)
    full = known.completed("serial:/dev/ttyUSB7")
    tell_remembered(known, ["serial:/dev/ttyUSB7"], [full])
    day = known.gauges[0].last_used_utc[:10]
    assert capsys.readouterr().err == (
        f"{USB} is read as remembered: line-4800-7E2-plain, unit in, last used {day}.\n"
    )
    typed = "serial:/dev/ttyUSB7?format=text-input"
    tell_remembered(known, [typed], [known.completed(typed)])
    assert capsys.readouterr().err == ""


def test_a_gauge_that_is_known_by_its_socket_is_said_to_be(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    here = replace(PORT, identity="usb-1234:5678@1-2", serial_number="0001")
    monkeypatch.setattr(identity, "list_serial_ports", lambda: (here,))
    known = memory(tmp_path, replace(SERIAL, gauge_id=here.identity))
    tell_remembered(known, [], ["serial:/dev/ttyUSB7"])
    assert "another gauge plugged in there would pass for it" in capsys.readouterr().err


def test_a_gauge_on_a_bridge_is_found_with_its_port_or_alone(tmp_path: Path) -> None:
    one = memory(tmp_path, BRIDGED)
    for typed in (f"bridge:{USB}", f"bridge:{USB}?port=2"):
        assert set(one.completed(typed).partition("?")[2].split("&")) == {
            "format=bcd52",
            "sends=button",
            "port=2",
        }
    assert one.completed(f"bridge:{USB}?port=3") == f"bridge:{USB}?port=3"
    other = KnownGauge(**{**fields(BRIDGED), "gauge_id": f"{USB}#3", "options": {"port": "3"}})
    two = memory(tmp_path, BRIDGED, other)
    assert two.completed(f"bridge:{USB}") == f"bridge:{USB}"
    assert "port=3" in two.completed(f"bridge:{USB}?port=3")
    assert [gauge.gauge_id for gauge in two.at(USB)] == [f"{USB}#3", f"{USB}#2"]


def test_a_gauge_behind_a_socket_is_known_and_never_plugged_in(tmp_path: Path) -> None:
    remembered = memory(tmp_path, SOCKET, SERIAL)
    completed = remembered.completed("socket://host:5")
    assert completed == f"socket://host:5?format={UNIT}&kind=caliper&sends=stream"
    (address,) = remembered.plugged_in()
    assert address.startswith(f"serial:{USB}?")


def test_an_address_that_is_none_is_refused_as_ever(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="'nowhere' is not a gauge address"):
        memory(tmp_path, SERIAL).completed("nowhere")


def test_without_a_journal_nothing_is_known_and_none_is_made(tmp_path: Path) -> None:
    empty = Memory(tmp_path / "none.sqlite")
    assert (empty.gauges, empty.completed(f"serial:{USB}")) == ((), f"serial:{USB}")
    assert not empty.forget(USB)
    assert os.listdir(tmp_path) == []


def test_whether_a_gauge_is_remembered_is_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert Memory(tmp_path / "journal.sqlite").remember(SERIAL)
    assert capsys.readouterr().err == ""
    (tmp_path / "file").touch()
    assert not Memory(tmp_path / "file" / "journal.sqlite").remember(SERIAL)
    assert capsys.readouterr().err.startswith("The gauge is not remembered: ")


class Kept:
    """A keeper that notes the order of what it is told."""

    def __init__(self) -> None:
        self.done: list[str] = []

    def write(self, items: Any) -> None:
        self.done += [type(item.body).__name__ for item in items]

    def commit(self) -> None:
        self.done.append("commit")


def info(gauge_id: str, address: str) -> GaugeInfo:
    return GaugeInfo(
        gauge_id=gauge_id,
        kind=GaugeKind.CALIPER,
        sends=Sends.BUTTON,
        address=address,
        format=UNIT,
        mpe_mm=0.02,
        shift_mpe_mm=0.02,
        mpe_source="invented",
    )


def event(gauge_id: str, body: Any) -> GaugeEvent:
    return GaugeEvent(gauge_id=gauge_id, elapsed_s=0.0, body=body)


def test_a_gauge_is_remembered_once_its_first_reading_is_safe(tmp_path: Path) -> None:
    path, kept = tmp_path / "journal.sqlite", Kept()
    infos = [info(USB, "serial:/dev/ttyUSB7?unit=mm"), info("sim:still", "sim:still")]
    keeper = RememberingKeeper(kept, Memory(path), infos)
    reading = Reading(
        value_mm=1.0, resolution_mm=0.01, displayed="1.00", unit=LengthUnit.MM, raw=b"1"
    )
    fault = Fault(kind=FaultKind.UNPARSED, reason="x", raw=b"?")

    keeper.write([event(USB, fault), event("sim:still", reading)])
    keeper.commit()
    assert not path.exists()
    keeper.write([event(USB, reading), event(USB, reading)])
    assert not path.exists()
    keeper.commit()
    (gauge,) = Memory(path).gauges
    assert (gauge.gauge_id, gauge.address, gauge.format) == (USB, f"serial:{USB}", UNIT)
    assert (gauge.kind, gauge.unit, gauge.options) == (GaugeKind.CALIPER, LengthUnit.MM, {})
    Memory(path).forget(USB)
    keeper.write([event(USB, reading)])
    keeper.commit()
    assert Memory(path).gauges == ()  # once is enough
    assert kept.done == [
        *("Fault", "Reading", "commit", "Reading", "Reading", "commit", "Reading", "commit"),
    ]


@pytest.mark.parametrize(
    ("gauge_id", "address", "expected"),
    [
        (f"{USB}#2", "bridge:/dev/ttyUSB7?port=2&format=bcd52", f"bridge:{USB}"),
        ("hid-fff0:00a1-A-1", "hid:fff0:00a1?layout=de", "hid:fff0:00a1:A-1"),
        ("socket://h:5", "socket://h:5?format=text-input", "socket://h:5"),
        ("/dev/ttyS0", "serial:/dev/ttyS0", "serial:/dev/ttyS0"),
    ],
)
def test_the_address_that_is_kept_does_not_depend_on_the_socket(
    gauge_id: str, address: str, expected: str, tmp_path: Path
) -> None:
    remembering = Memory(tmp_path / "j.sqlite")
    keeper = RememberingKeeper(Kept(), remembering, [info(gauge_id, address)])
    reading = Reading(
        value_mm=1.0, resolution_mm=0.01, displayed="1.00", unit=LengthUnit.MM, raw=b"1"
    )
    keeper.write([event(gauge_id, reading)])
    keeper.commit()
    (gauge,) = Memory(tmp_path / "j.sqlite").gauges
    assert (gauge.gauge_id, gauge.address) == (gauge_id, expected)


def fields(gauge: KnownGauge) -> dict[str, Any]:
    return {name: getattr(gauge, name) for name in KnownGauge.__slots__}
