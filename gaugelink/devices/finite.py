"""Sources that come to an end: a replay, a simulation, a closed standard input.

``ended`` is no part of the ``Transport`` contract, since a port never ends. A
transport that can end has this one property more.
"""

from __future__ import annotations

from typing import Protocol, runtime_checkable

from gaugelink.devices.contract import Transport


@runtime_checkable
class Finite(Protocol):
    """Something that may come to an end."""

    @property
    def ended(self) -> bool:
        """True once no further byte can come."""


def has_ended(transport: Transport) -> bool:
    """Tell whether ``transport`` can bring nothing more; always false for a port."""
    return isinstance(transport, Finite) and transport.ended
