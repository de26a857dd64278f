"""Simulated gauges: seeded bytes that their format decodes, with the faults asked for."""

from __future__ import annotations

from collections import Counter
from decimal import Decimal

import pytest

from gaugelink.devices.recordings.recording import EntryKind
from gaugelink.devices.registry import open_gauge
from gaugelink.devices.simulated import (
    CALIPER_MOVES,
    ENCODERS,
    Behaviour,
    encode_plain,
    encode_with_unit,
    indicate,
    sample_stream,
    simulate,
    walk,
)
from gaugelink.errors import InputError
from gaugelink.model import Fault, GaugeEvent, LinkChange, Reading, Sends
from gaugelink.units import LengthUnit

STEP_MM = 0.01
LEGS = walk(CALIPER_MOVES)


def behaviour(**changes: object) -> Behaviour:
    fields: dict[str, object] = {"step": Decimal("0.01"), "encode": encode_with_unit}
    return Behaviour(**(fields | changes))  # type: ignore[arg-type]


def run(address: str, *, timeout_s: float = 0.05) -> list[GaugeEvent]:
    events: list[GaugeEvent] = []
    with open_gauge(address) as gauge:
        while not gauge.ended:
            events += gauge.poll(timeout_s)
    return events


def readings(events: list[GaugeEvent]) -> list[Reading]:
    return [event.body for event in events if isinstance(event.body, Reading)]


FAULTY = {"noise_mm": 0.004, "outliers": 0.1, "glitches": 0.1, "dropouts": 0.05}


def test_one_seed_gives_one_sequence_of_bytes() -> None:
    first = list(simulate(LEGS, behaviour(seed="7", **FAULTY)))
    assert first == list(simulate(LEGS, behaviour(seed="7", **FAULTY)))
    assert first != list(simulate(LEGS, behaviour(seed="8", **FAULTY)))


def test_the_bytes_are_the_same_on_every_machine() -> None:
    lines = [entry.data for entry in simulate(LEGS, behaviour(seed="7", noise_mm=0.004))]
    assert lines[:3] == [b"+    5.00, MM\r\n", b"+    4.71, MM\r\n", b"+    3.96, MM\r\n"]


def test_damage_and_losses_do_not_change_what_the_display_shows() -> None:
    clean = list(simulate(LEGS, behaviour(noise_mm=0.004)))
    faulty = list(simulate(LEGS, behaviour(noise_mm=0.004, glitches=0.2, dropouts=0.1)))
    whole = {(entry.t_s, entry.data) for entry in clean}
    kept = [entry for entry in faulty if (entry.t_s, entry.data) in whole]
    assert len(clean) // 2 < len(kept) < len(clean)


@pytest.mark.parametrize("sends", list(Sends))
@pytest.mark.parametrize("format_name", list(ENCODERS))
@pytest.mark.parametrize("unit", list(LengthUnit))
@pytest.mark.parametrize("name", ["caliper", "micrometer"])
def test_every_simulated_line_is_a_reading_of_its_format(
    name: str, unit: LengthUnit, format_name: str, sends: Sends
) -> None:
    events = run(f"sim:{name}?pace=0&format={format_name}&unit={unit}&sends={sends}&rate_hz=5")
    assert {type(event.body) for event in events} == {Reading}
    assert {reading.unit for reading in readings(events)} == {unit}
    step_mm = {"caliper": 0.01, "micrometer": 0.001}[name]
    inch_step_mm = {"caliper": 0.0005 * 25.4, "micrometer": 0.00005 * 25.4}[name]
    wanted = step_mm if unit is LengthUnit.MM else inch_step_mm
    assert {round(reading.resolution_mm, 9) for reading in readings(events)} == {round(wanted, 9)}


@pytest.mark.parametrize("seed", range(5))
def test_the_largest_reading_in_the_bore_is_the_bore(seed: int) -> None:
    samples = [s for s in sample_stream(LEGS, rate_hz=10.0) if s.measurand == "bore"]
    shown = indicate(samples, behaviour(seed=str(seed), noise_mm=0.004), total_s=60.0)
    largest: dict[int, float] = {}
    for sample, indication in zip(samples, shown, strict=True):
        largest[sample.placing] = max(largest.get(sample.placing, 0.0), float(indication.value))
    assert len(largest) == 5
    # Four standard deviations of the noise, and half a step of the display.
    assert list(largest.values()) == pytest.approx([11.52] * 5, abs=4 * 0.004 + STEP_MM / 2)


def test_without_noise_the_display_shows_the_size_to_half_a_step() -> None:
    samples = list(sample_stream(LEGS, rate_hz=10.0))
    for sample, indication in zip(
        samples, indicate(samples, behaviour(), total_s=60.0), strict=True
    ):
        assert abs(float(indication.value) - sample.true_mm) <= STEP_MM / 2 + 1e-12


def test_noise_has_the_stated_standard_deviation() -> None:
    noise_mm = 0.05
    address = f"sim:still?pace=0&size_mm=10&noise_mm={noise_mm}&sends=button&duration_s=2000"
    events = run(address, timeout_s=1.0)
    values = [reading.value_mm for reading in readings(events)]
    mean_mm = sum(values) / len(values)
    std_mm = (sum((value - mean_mm) ** 2 for value in values) / (len(values) - 1)) ** 0.5
    # n = 2000: the standard deviation of s is 1.6 % of it; of the mean, 2.2 % of the noise.
    assert std_mm == pytest.approx(noise_mm, rel=0.06)
    assert mean_mm == pytest.approx(10.0, abs=4 * noise_mm / 2000**0.5)


def test_drift_moves_the_last_zero() -> None:
    values = readings(run("sim:caliper?pace=0&noise_mm=0&drift_mm=0.05&sends=button"))
    assert values[0].value_mm == pytest.approx(0.0, abs=STEP_MM / 2 + 0.002)
    assert values[-1].value_mm == pytest.approx(0.05, abs=STEP_MM / 2 + 0.001)


def test_outliers_are_as_frequent_as_asked_and_far_off() -> None:
    address = "sim:still?pace=0&size_mm=10&outliers=0.2&sends=button&duration_s=1000"
    events = run(address, timeout_s=1.0)
    far = [abs(r.value_mm - 10.0) for r in readings(events) if abs(r.value_mm - 10.0) > 0.02]
    assert 150 < len(far) < 250  # 200 expected, standard deviation 12.6
    assert min(far) >= 0.04
    assert max(far) <= 0.31


def test_glitches_are_seen_as_faults_and_never_as_numbers() -> None:
    clean = run("sim:caliper?pace=0&seed=3")
    events = run("sim:caliper?pace=0&seed=3&glitches=0.2")
    true_values = {event.elapsed_s: event.body for event in clean}
    assert Counter(type(event.body) for event in events)[Fault] > 50
    for event in events:
        if isinstance(event.body, Reading):
            assert event.body == true_values[event.elapsed_s]


def test_dropouts_lose_lines_and_sometimes_the_link() -> None:
    clean = run("sim:caliper?pace=0&seed=3")
    events = run("sim:caliper?pace=0&seed=3&dropouts=0.05")
    links = [event.body.connected for event in events if isinstance(event.body, LinkChange)]
    assert links[:2] == [False, True]
    assert links == [at % 2 == 1 for at in range(len(links))]
    assert len(clean) * 0.5 < len(readings(events)) < len(clean) * 0.97


def test_lost_links_come_back_within_seconds() -> None:
    entries = list(simulate(LEGS, behaviour(dropouts=0.1)))
    lost = [entry.t_s for entry in entries if entry.kind is EntryKind.LOST]
    back = [entry.t_s for entry in entries if entry.kind is EntryKind.BACK]
    assert len(back) >= 2
    assert all(2.0 <= b - a <= 4.0 for a, b in zip(lost, back, strict=False))
    assert [entry.t_s for entry in entries] == sorted(entry.t_s for entry in entries)


@pytest.mark.parametrize(
    ("value", "unit", "with_unit", "plain"),
    [
        ("11.52", LengthUnit.MM, b"+   11.52, MM\r\n", b"+11.52\r"),
        ("-0.01", LengthUnit.MM, b"-    0.01, MM\r\n", b"-0.01\r"),
        ("0.00", LengthUnit.MM, b"+    0.00, MM\r\n", b"+0.00\r"),
        ("0.00005", LengthUnit.INCH, b"+ 0.00005, IN\r\n", b"+0.00005\r"),
        ("0.00000", LengthUnit.INCH, b"+ 0.00000, IN\r\n", b"+0.00000\r"),
    ],
)
def test_values_are_written_as_their_formats_write_them(
    value: str, unit: LengthUnit, with_unit: bytes, plain: bytes
) -> None:
    assert encode_with_unit(Decimal(value), unit) == with_unit
    assert encode_plain(Decimal(value), unit) == plain


@pytest.mark.parametrize(
    ("address", "word"),
    [
        ("sim:bench", "bench"),
        ("sim:caliper?size_mm=3", "size_mm"),
        ("sim:still?start_s=3", "start_s"),
        ("sim:block?duration_s=3", "duration_s"),
        ("sim:block?size_mm=0", "size_mm"),
        ("sim:caliper?noise_mm=much", "noise_mm"),
        ("sim:caliper?noise_mm=-1", "noise_mm"),
        ("sim:caliper?outliers=1.5", "outliers"),
        ("sim:caliper?rate_hz=0", "rate_hz"),
        ("sim:caliper?rate_hz=nan", "rate_hz"),
        ("sim:caliper?pace=-1", "pace"),
        ("sim:caliper?pace=100.1", "pace"),
        ("sim:caliper?pace=1e300", "pace"),
        ("sim:caliper?sends=often", "sends"),
        ("sim:caliper?unit=ligne", "unit"),
        ("sim:caliper?speed=3", "speed"),
        ("sim:caliper?format=text-input", "text-input"),
    ],
)
def test_what_cannot_be_simulated_is_refused_by_name(address: str, word: str) -> None:
    with pytest.raises(InputError, match=word) as caught:
        open_gauge(address)
    assert caught.value.hint


@pytest.mark.parametrize(("kind", "step_mm"), [("caliper", 0.01), ("micrometer", 0.001)])
def test_a_block_is_read_between_zeros_by_either_gauge(kind: str, step_mm: float) -> None:
    values = readings(run(f"sim:block?pace=0&size_mm=7.5&kind={kind}&sends=button"))
    zeros, block, last = values[:5], values[5:15], values[15:]
    assert len(last) == 1
    tolerance_mm = 4 * {"caliper": 0.004, "micrometer": 0.001}[kind] + step_mm / 2
    assert [r.value_mm for r in (*zeros, *last)] == pytest.approx([0.0] * 6, abs=tolerance_mm)
    assert [r.value_mm for r in block] == pytest.approx([7.5] * 10, abs=tolerance_mm)
    assert [r.resolution_mm for r in values] == pytest.approx([step_mm] * 16)


def test_gauges_with_different_seeds_are_different_gauges() -> None:
    names = [open_gauge(f"sim:still?seed={seed}").gauge_id for seed in (1, 2)]
    assert names == ["sim:still-1", "sim:still-2"]
    assert open_gauge("sim:still?pace=0").gauge_id == "sim:still"
