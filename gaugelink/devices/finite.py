"""Sources that come to an end: a replay, a simulation, a closed standard input.

``ended`` is no part of the ``Transport`` contract, since a port never ends. A
transport that can end has this one property more.
"""

from __future__ import annotations

from gaugelink.devices.contract import Transport


def has_ended(transport: Transport) -> bool:
    """Tell whether ``transport`` can bring nothing more; always false for a port."""
    return bool(getattr(transport, "ended", False))
