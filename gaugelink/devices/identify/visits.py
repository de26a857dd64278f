"""Which settings a port is opened with, one after the other, and what may be asked there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from gaugelink.devices.profiles.profile import PortSettings, Profile

# Published read requests, and the one of our own bridge. Nothing else is ever sent to a
# gauge that is not known: the same ports take commands that set zero, change the unit or
# switch the gauge off. A profile of the user's may ask with anything once it is chosen.
HARMLESS_REQUESTS = frozenset(
    {
        b"?\r",  # Opto-RS cable notes (Bowers/Sylvac); Mahr Millimar C1202 manual, 7.2
        b"R\r",  # Starrett IQ indicator manual, p. 17; CDI indicator protocol page
        b"R\r\n",  # Magnescale LT10A/LT11A manual, p. 37
        b"GA01\r\n",  # Mitutoyo ID-H manual 99MAH016B, section 4.2.4
        b"?0\r",  # a bridge: read the gauge on port 0
    }
)
# Answers of lines come at once; a bridge may wait 2.2 s for its gauge.
_LINE_ANSWER_S = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Request:
    """Bytes that ask for a reading, and how long the answer may take, in seconds."""

    data: bytes
    answer_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Visit:
    """One way to open a port.

    Args:
        profile: one whose port settings are used.
        settings: those settings; None where settings have no effect.
        requests: what may be asked if nothing comes by itself.
        bridge_port: the port of a bridge that is listened to; None for any.
    """

    profile: Profile
    settings: PortSettings | None
    requests: tuple[Request, ...]
    bridge_port: int | None = None


def plan_visits(
    profiles: Sequence[Profile], *, settings_matter: bool, bridge_port: int | None = None
) -> tuple[Visit, ...]:
    """Return one visit for each distinct setting, that of most formats of lines first.

    Stop bits make no difference to what is heard.

    Args:
        profiles: what may be there.
        settings_matter: False for a port that hears the same with any settings.
        bridge_port: the port of a bridge to ask; None asks port 0.
    """
    groups: dict[tuple[object, ...], list[Profile]] = {}
    for profile in profiles:
        port = profile.port
        key = (port.baud, port.data_bits, port.parity) if settings_matter else ()
        groups.setdefault(key, []).append(profile)
    ordered = sorted(groups.values(), key=lambda group: -sum(p.line is not None for p in group))
    return tuple(_visit(group, settings_matter, bridge_port) for group in ordered)


def _visit(group: Sequence[Profile], settings_matter: bool, bridge_port: int | None) -> Visit:
    waits: dict[bytes, float] = {}
    for profile in group:
        if profile.request in HARMLESS_REQUESTS:
            limit_s = _LINE_ANSWER_S if profile.line is not None else profile.reply_timeout_s
            wait_s = min(profile.reply_timeout_s, limit_s)
            data = profile.request.replace(b"?0", b"?%d" % (bridge_port or 0))
            waits[data] = max(wait_s, waits.get(data, 0.0))
    return Visit(
        profile=group[0],
        settings=group[0].port if settings_matter else None,
        requests=tuple(Request(data=data, answer_s=wait_s) for data, wait_s in waits.items()),
        bridge_port=bridge_port,
    )
