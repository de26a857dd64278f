"""One listening at a port: wait for bytes, and ask only where none come by themselves.

Asked is only with a read request that is known to be harmless.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from gaugelink.devices.contract import Port
from gaugelink.devices.finite import has_ended
from gaugelink.devices.gauge import MAX_BYTES
from gaugelink.devices.identify.findings import settings_text
from gaugelink.devices.identify.heard import Heard, is_idle_bridge
from gaugelink.devices.identify.visits import Visit
from gaugelink.devices.profiles.profile import PortSettings
from gaugelink.errors import GaugeDisconnected, GaugeTimeout, GaugeUnavailable, Unavailable

_LOOK_S = 0.1  # how long a read may block: bounds how late a stop is noticed


@dataclass(frozen=True, slots=True, kw_only=True)
class Patience:
    """How long to listen, in seconds.

    Args:
        first_s: for the first byte, at each setting.
        hear_s: from the first byte on, at most.
        quiet_s: a silence after which no more is awaited.
        rounds: how often all settings are gone through.
        total_s: altogether.
    """

    first_s: float = 2.0
    hear_s: float = 2.5
    quiet_s: float = 1.2
    rounds: int = 2
    total_s: float = 60.0


def _announcement(visit: Visit) -> str:
    where = f" at {settings_text(visit.settings)}" if visit.settings else ""
    return f"listening{where}; press the data button of the gauge now and then"


def listen(
    port: Port,
    visit: Visit,
    patience: Patience,
    tell: Callable[[str], None],
    is_over: Callable[[], bool],
) -> Iterator[Heard]:
    """Open a port and listen, then ask where nothing comes; the port is closed in any case.

    A setting that the port refuses brings nothing.

    Args:
        port: not opened.
        visit: how it is set, and what may be asked.
        patience: how long to listen.
        tell: says what is being done, once the port is open.
        is_over: tells whether to end now, with what has come.

    Raises:
        DeviceError: the port cannot be opened, or has gone before anything came.
    """
    transport = port.transport
    try:
        transport.open()
    except GaugeUnavailable as refused:
        if refused.reason is not Unavailable.PLATFORM or visit.settings is None:
            raise
        return
    tell(_announcement(visit))
    end_s = port.clock.now_s() + patience.total_s
    try:
        turn = _Turn(wait_s=patience.first_s, end_s=end_s, is_over=is_over)
        heard = _collect(port, visit.settings, patience, turn)
        yield heard
        for request in visit.requests:
            idle = not heard.data or is_idle_bridge(heard.data, visit.bridge_port)
            if not idle or is_over() or port.clock.now_s() >= end_s:
                return
            transport.write(request.data)
            turn = replace(turn, wait_s=request.answer_s, request=request.data)
            heard = _collect(port, visit.settings, patience, turn)
            yield heard
    except GaugeTimeout:
        return  # a port that takes no bytes gives no answer
    finally:
        transport.close()


@dataclass(frozen=True, slots=True, kw_only=True)
class _Turn:
    wait_s: float  # for the first byte
    end_s: float  # on the clock of the port, whatever comes
    is_over: Callable[[], bool]
    request: bytes | None = None


def _collect(port: Port, settings: PortSettings | None, patience: Patience, turn: _Turn) -> Heard:
    """Read until nothing has come in time, or what came has ended or is enough."""
    clock = port.clock
    data = b""
    until_s = min(turn.end_s, clock.now_s() + turn.wait_s)
    begun_s = last_s = enough_s = 0.0
    while (left_s := until_s - clock.now_s()) > 0.0 and not has_ended(port.transport):
        if turn.is_over():
            break
        try:
            chunk = port.transport.read(MAX_BYTES, min(left_s, _LOOK_S))
        except GaugeDisconnected:
            if data:
                break  # it may have said enough; if not, the next opening meets the loss
            raise
        if not chunk:
            continue
        last_s = clock.now_s()
        if not data:
            begun_s, enough_s = last_s, min(turn.end_s, last_s + patience.hear_s)
        data += chunk
        until_s = min(enough_s, last_s + patience.quiet_s)
    if data == turn.request:
        data = b""  # an echo is no answer
    return Heard(data=data, settings=settings, request=turn.request, duration_s=last_s - begun_s)
