"""The program that ``test_journal_kill`` kills: port -> gauge -> journal -> acknowledgement."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from gaugelink.capture.acts import Taken
from gaugelink.devices.address import parse_address
from gaugelink.devices.decoders.line import LineDecoder
from gaugelink.devices.gauge import Gauge
from gaugelink.devices.ports.serial_port import build_port
from gaugelink.devices.profiles.profile import find_profile
from gaugelink.jobbook.entries import Item
from gaugelink.jobbook.journal import Journal
from gaugelink.model import GaugeEvent, Reading

FORMAT = "line-9600-8N1-unit"


def open_gauge(journal: Journal, job_id: int, device: str) -> Gauge:
    profile = find_profile(FORMAT)
    address = parse_address(f"serial:{device}")
    (info,) = journal.load(job_id).gauges
    return Gauge(
        port=build_port(address, profile),
        decoder=LineDecoder(profile.line),
        info=replace(info, address=address.text, format=FORMAT),
    )


def with_act(event: GaugeEvent) -> list[Item]:
    if not isinstance(event.body, Reading):
        return [event]
    taken = Taken(
        gauge_id=event.gauge_id,
        elapsed_s=event.elapsed_s,
        measurand="bore",
        reading=event.body,
    )
    return [event, taken]


def take_readings(
    device: str, path: Path, job_id: int, acknowledge: Callable[[str], object]
) -> None:
    """Acknowledge that all is ready, then each reading once it is committed; never return."""
    with Journal.open(path) as journal, open_gauge(journal, job_id, device) as gauge:
        acknowledge("ready")
        while True:
            for event in gauge.poll(0.05):
                journal.write(job_id, with_act(event))
                journal.commit()
                if isinstance(event.body, Reading):
                    acknowledge(event.body.displayed)
