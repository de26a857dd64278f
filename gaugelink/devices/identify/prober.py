"""Opens a port with one setting after the other and collects what comes.

It listens first. Only where nothing comes by itself is the gauge asked, and only with a
read request that is known to be harmless.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from gaugelink.devices.contract import Port
from gaugelink.devices.finite import has_ended
from gaugelink.devices.gauge import MAX_BYTES
from gaugelink.devices.identify.findings import settings_text
from gaugelink.devices.identify.heard import Heard, is_idle_bridge
from gaugelink.devices.identify.judge import identify
from gaugelink.devices.identify.shown import NOTHING, Said
from gaugelink.devices.identify.verdict import Ask, Identification, Verdict
from gaugelink.devices.identify.visits import Visit, plan_visits
from gaugelink.devices.profiles import Profile
from gaugelink.errors import GaugeDisconnected, GaugeUnavailable, Unavailable

# More listening may answer these; any other question is for the person.
_GO_ON = (Ask.MORE, Ask.GAUGE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Patience:
    """How long to listen, in seconds.

    Args:
        first_s: for the first byte, at each setting.
        hear_s: from the first byte on, at most.
        quiet_s: a silence after which no more is awaited.
        rounds: how often all settings are gone through.
        total_s: after so long no new listening begins.
    """

    first_s: float = 2.0
    hear_s: float = 2.5
    quiet_s: float = 1.2
    rounds: int = 2
    total_s: float = 60.0


def probe(
    open_port: Callable[[Profile], Port],
    profiles: Sequence[Profile],
    *,
    settings_matter: bool = True,
    said: Said = NOTHING,
    patience: Patience | None = None,
    tell: Callable[[str], None] = lambda text: None,
) -> Identification:
    """Listen at a port until the gauge is identified, a question arises, or patience ends.

    Args:
        open_port: makes the port, not yet opened, with the settings of a profile.
        profiles: what may be there.
        settings_matter: False for a port that hears the same with any settings.
        said: what the person has said already.
        patience: how long to listen.
        tell: says what is being done.

    Raises:
        DeviceError: the port cannot be opened, or has gone.
    """
    limits = patience or Patience()
    visits = plan_visits(profiles, settings_matter=settings_matter, bridge_port=said.bridge_port)
    heard: list[Heard] = []
    result = identify(heard, profiles, said)
    left_s = limits.total_s
    for visit in visits * limits.rounds:
        if left_s <= 0.0 or _is_settled(result):
            break
        port = open_port(visit.profile)
        begun_s = port.clock.now_s()
        heard += _listen(port, visit, limits, tell)
        left_s -= port.clock.now_s() - begun_s
        result = identify(heard, profiles, said)
    return result


def _is_settled(result: Identification) -> bool:
    if result.verdict is Verdict.CLEAR:
        return True
    return result.question is not None and result.question.ask not in _GO_ON


def _announcement(visit: Visit) -> str:
    where = f" at {settings_text(visit.settings)}" if visit.settings else ""
    return f"listening{where}; press the data button of the gauge now and then"


def _listen(
    port: Port, visit: Visit, patience: Patience, tell: Callable[[str], None]
) -> Iterator[Heard]:
    """Listen, then ask where nothing comes; a setting that the port refuses brings nothing."""
    transport = port.transport
    try:
        transport.open()
    except GaugeUnavailable as refused:
        if refused.reason is not Unavailable.PLATFORM or visit.settings is None:
            raise
        return
    tell(_announcement(visit))
    try:
        heard = _collect(port, visit, patience.first_s, patience)
        yield heard
        for request in visit.requests:
            if heard.data and not is_idle_bridge(heard.data, visit.bridge_port):
                return
            transport.write(request.data)
            heard = _collect(port, visit, request.answer_s, patience, request.data)
            yield heard
    finally:
        transport.close()


def _collect(
    port: Port, visit: Visit, first_s: float, patience: Patience, request: bytes | None = None
) -> Heard:
    """Read until ``first_s`` passed in silence, or what came has ended or is enough."""
    clock = port.clock
    data = b""
    until_s = clock.now_s() + first_s
    begun_s = last_s = enough_s = 0.0
    while (left_s := until_s - clock.now_s()) > 0.0 and not has_ended(port.transport):
        try:
            chunk = port.transport.read(MAX_BYTES, left_s)
        except GaugeDisconnected:
            if data:
                break  # it may have said enough; if not, the next opening meets the loss
            raise
        if not chunk:
            continue
        last_s = clock.now_s()
        if not data:
            begun_s, enough_s = last_s, last_s + patience.hear_s
        data += chunk
        until_s = min(enough_s, last_s + patience.quiet_s)
    if data == request:
        data = b""  # an echo is no answer
    return Heard(
        data=data, settings=visit.settings, request=request, duration_s=max(0.0, last_s - begun_s)
    )
