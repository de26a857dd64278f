"""A gauge over a script, for the tests of the gauge class."""

from __future__ import annotations

from collections.abc import Sequence

from scripted import ScriptedTransport, Step

from gaugelink.devices.decoders import make_decoder
from gaugelink.devices.gauge import Gauge, Requests
from gaugelink.devices.profiles.profile import find_profile
from gaugelink.errors import DeviceError
from gaugelink.model import GaugeEvent, GaugeEventBody, GaugeInfo, GaugeKind, Sends
from gaugelink.units import LengthUnit

POLL_S = 0.125  # a power of two, so that times on the virtual clock add up exactly


INFO = GaugeInfo(
    gauge_id="gauge-1",
    kind=GaugeKind.CALIPER,
    sends=Sends.BUTTON,
    address="serial:scripted",
    format="line-9600-8N1-unit",
    mpe_mm=0.02,
    shift_mpe_mm=0.02,
    mpe_source="invented",
)


def scripted_gauge(
    steps: Sequence[Step],
    *,
    opens: Sequence[DeviceError | None] = (),
    format: str = "line-9600-8N1-unit",
    requests: Requests | None = None,
    job_unit: LengthUnit | None = None,
) -> tuple[Gauge, ScriptedTransport]:
    script = ScriptedTransport(steps, opens=opens)
    gauge = Gauge(
        port=script.port,
        decoder=make_decoder(find_profile(format)),
        info=INFO,
        requests=requests,
        job_unit=job_unit,
    )
    return gauge, script


def events_of(gauge: Gauge, polls: int, timeout_s: float = POLL_S) -> list[GaugeEvent]:
    return [event for _ in range(polls) for event in gauge.poll(timeout_s)]


def bodies_of(gauge: Gauge, polls: int, timeout_s: float = POLL_S) -> list[GaugeEventBody]:
    return [event.body for event in events_of(gauge, polls, timeout_s)]
