"""From an address to a gauge: defaults, options, and what is refused."""

from __future__ import annotations

from pathlib import Path

import pytest

from gaugelink.devices.address import PYSERIAL_SCHEMES, SCHEMES, parse_address
from gaugelink.devices.recordings.recording import read_recording
from gaugelink.devices.registry import DRIVERS, open_gauge
from gaugelink.errors import InputError
from gaugelink.model import GaugeInfo, GaugeKind, Reading, Sends, UnitSwitch
from gaugelink.units import LengthUnit

FORMAT = "format=line-9600-8N1-unit"


def info_of(address: str) -> GaugeInfo:
    return open_gauge(address).info


def test_every_scheme_has_a_driver_that_can_be_imported() -> None:
    assert set(DRIVERS) == {*SCHEMES, *PYSERIAL_SCHEMES}
    for driver in DRIVERS.values():
        module, _, function = driver.build_port.partition(":")
        assert callable(getattr(__import__(module, fromlist=[function]), function))


def test_a_caliper_is_assumed_with_its_usual_limits() -> None:
    assert info_of(f"serial:/dev/ttyNONE?{FORMAT}") == GaugeInfo(
        gauge_id="/dev/ttyNONE",
        kind=GaugeKind.CALIPER,
        sends=Sends.BUTTON,
        address=f"serial:/dev/ttyNONE?{FORMAT}",
        format="line-9600-8N1-unit",
        mpe_mm=0.02,
        shift_mpe_mm=0.02,
        mpe_source="DIN 862, digital caliper, 0.01 mm step; 0.02 mm more inside and in depth",
    )


def test_a_micrometer_has_its_own_limits() -> None:
    info = info_of(f"serial:/dev/ttyNONE?{FORMAT}&kind=micrometer&sends=stream")
    assert (info.kind, info.sends) == (GaugeKind.MICROMETER, Sends.STREAM)
    assert (info.mpe_mm, info.shift_mpe_mm) == (0.004, 0.0)
    assert "DIN 863-1" in info.mpe_source


def test_stated_limits_replace_the_usual_ones() -> None:
    info = info_of("sim:caliper?mpe_mm=0.03")
    assert (info.mpe_mm, info.shift_mpe_mm) == (0.03, 0.02)
    assert info.mpe_source == "stated in the address"


@pytest.mark.parametrize(
    ("address", "kind"),
    [
        ("sim:caliper", GaugeKind.CALIPER),
        ("sim:still", GaugeKind.CALIPER),
        ("sim:micrometer", GaugeKind.MICROMETER),
        ("sim:micrometer?kind=caliper", GaugeKind.CALIPER),
        ("keys:", GaugeKind.CALIPER),
    ],
)
def test_the_kind_follows_from_the_address(address: str, kind: GaugeKind) -> None:
    assert info_of(address).kind is kind


def test_an_address_may_come_parsed() -> None:
    assert open_gauge(parse_address("sim:still")).gauge_id == "sim:still"


@pytest.mark.parametrize(
    ("address", "words"),
    [
        ("caliper", ["is not a gauge address"]),
        ("serial:/dev/ttyNONE", ["does not say which format"]),
        ("serial:/dev/ttyNONE?format=none", ["none"]),
        (f"serial:/dev/ttyNONE?{FORMAT}&pace=1", ["'pace'", "serial:"]),
        (f"serial:/dev/ttyNONE?{FORMAT}&kind=ruler", ["kind=ruler"]),
        (f"serial:/dev/ttyNONE?{FORMAT}&sends=twice", ["sends=twice"]),
        (f"serial:/dev/ttyNONE?{FORMAT}&unit=ft", ["unit=ft"]),
        (f"serial:/dev/ttyNONE?{FORMAT}&mpe_mm=-1", ["mpe_mm=-1"]),
        (f"serial:/dev/ttyNONE?{FORMAT}&mpe_mm=inf", ["mpe_mm=inf"]),
        ("keys:?seed=1", ["'seed'", "keys:"]),
    ],
)
def test_what_cannot_be_used_is_refused_by_name(address: str, words: list[str]) -> None:
    with pytest.raises(InputError) as caught:
        open_gauge(address)
    assert all(word in str(caught.value) for word in words)
    assert caught.value.hint


def test_the_known_words_are_in_the_hint() -> None:
    with pytest.raises(InputError) as caught:
        open_gauge(f"serial:x?{FORMAT}&kind=ruler")
    assert caught.value.hint == "kind is one of caliper, micrometer."
    with pytest.raises(InputError) as caught:
        open_gauge("serial:x?fromat=y")
    assert "format" in caught.value.hint


def test_a_users_own_format_is_found_in_their_folder(tmp_path: Path) -> None:
    text = 'title = "t"\nsummary = "s"\nsource = "invented"\nsends = "stream"\n'
    text += "[line]\npattern = '=(?P<value>\\d+\\.\\d+)'\nline_end = \"\\n\"\nmax_line_bytes = 20\n"
    (tmp_path / "mine.toml").write_text(text)
    gauge = open_gauge("serial:/dev/ttyNONE?format=mine", folders=[tmp_path])
    assert (gauge.info.format, gauge.info.sends) == ("mine", Sends.STREAM)


def test_the_unit_of_the_address_is_the_unit_of_the_job() -> None:
    assert open_gauge("sim:still").job_unit is None
    assert open_gauge("sim:still?unit=in").job_unit is LengthUnit.INCH
    resumed = open_gauge("sim:still?unit=in&pace=0&duration_s=1", job_unit=LengthUnit.MM)
    with resumed:
        (event,) = resumed.poll(0.1)
    assert isinstance(event.body, UnitSwitch)


def test_only_gauges_that_can_hear_are_asked() -> None:
    with open_gauge("sim:still?pace=0&sends=button") as simulated:
        assert not simulated.ask()
    with open_gauge(f"loop://?{FORMAT}") as looped:
        assert looped.ask()


def test_a_session_is_recorded_and_can_be_replayed(tmp_path: Path) -> None:
    path = tmp_path / "session.jsonl"
    with open_gauge("sim:still?pace=0&size_mm=2.5&duration_s=2", record_to=path) as gauge:
        live = [event for _ in range(60) for event in gauge.poll(0.05)]
        assert gauge.ended
    assert read_recording(path).format == "line-9600-8N1-unit"
    with open_gauge(f"replay:{path}") as again:
        replayed = [event for _ in range(60) for event in again.poll(0.05)]
    assert [(e.elapsed_s, e.body) for e in replayed] == [(e.elapsed_s, e.body) for e in live]
    assert {type(event.body) for event in live} == {Reading}
    assert again.gauge_id == "replay:session"
