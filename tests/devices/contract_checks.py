"""What every transport must do, as one function of plain asserts.

Whoever writes a transport calls ``check_transport`` with a function that makes one.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import pytest

from gaugelink.devices.contract import Transport
from gaugelink.errors import GaugeDisconnected

PAYLOAD = b"+   11.52, MM\r\n"
SHORT_S = 0.01
LONG_S = 2.0  # an upper limit: a read returns as soon as something is there


@dataclass(frozen=True, slots=True, kw_only=True)
class Rig:
    """A transport that is not open yet, and a way to let ``PAYLOAD`` arrive at it.

    ``deliver`` is called after the transport was opened and found silent once.
    """

    transport: Transport
    deliver: Callable[[], None]


def check_transport(make: Callable[[], Rig]) -> None:
    """Run every check on fresh transports from ``make``."""
    for check in (_check_names, _check_closed, _check_bytes, _check_close_and_reopen):
        rig = make()
        try:
            check(rig)
        finally:
            rig.transport.close()


def _check_names(rig: Rig) -> None:
    address, identity = rig.transport.address, rig.transport.identity
    assert address
    assert identity
    rig.transport.open()
    assert (rig.transport.address, rig.transport.identity) == (address, identity)


def _check_closed(rig: Rig) -> None:
    rig.transport.close()
    with pytest.raises(GaugeDisconnected):
        rig.transport.read(64, SHORT_S)
    with pytest.raises(GaugeDisconnected):
        rig.transport.write(b"R\r")


def _check_bytes(rig: Rig) -> None:
    rig.transport.open()
    assert rig.transport.read(64, SHORT_S) == b"", "silence is no bytes and no error"
    rig.deliver()
    received = _receive(rig.transport, max_bytes=4)
    assert b"".join(received) == PAYLOAD
    assert max(len(piece) for piece in received) <= 4


def _check_close_and_reopen(rig: Rig) -> None:
    rig.transport.open()
    rig.transport.close()
    rig.transport.close()
    with pytest.raises(GaugeDisconnected):
        rig.transport.read(64, SHORT_S)
    rig.transport.open()
    assert rig.transport.read(64, SHORT_S) == b""
    rig.deliver()
    assert b"".join(_receive(rig.transport, max_bytes=64)) == PAYLOAD


def _receive(transport: Transport, *, max_bytes: int) -> list[bytes]:
    """Read until the payload is complete or a read stays silent."""
    received = [transport.read(max_bytes, LONG_S)]
    while received[-1] and len(b"".join(received)) < len(PAYLOAD):
        received.append(transport.read(max_bytes, LONG_S))
    return received
