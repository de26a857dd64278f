"""Goes through the settings of a port until the gauge there is identified."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from gaugelink.devices.contract import Port
from gaugelink.devices.identify.heard import Heard
from gaugelink.devices.identify.judge import identify
from gaugelink.devices.identify.listening import Patience, listen
from gaugelink.devices.identify.shown import NOTHING, Said
from gaugelink.devices.identify.verdict import Ask, Identification, Verdict
from gaugelink.devices.identify.visits import plan_visits
from gaugelink.devices.profiles.profile import Profile

__all__ = ["Patience", "probe"]

# More listening may answer these; any other question is for the person.
_GO_ON = (Ask.MORE, Ask.GAUGE)


def probe(
    open_port: Callable[[Profile], Port],
    profiles: Sequence[Profile],
    *,
    settings_matter: bool = True,
    said: Said = NOTHING,
    patience: Patience | None = None,
    tell: Callable[[str], None] = lambda text: None,
    is_over: Callable[[], bool] = lambda: False,
) -> Identification:
    """Listen at a port until the gauge is identified, a question arises, or patience ends.

    Args:
        open_port: makes the port, not yet opened, with the settings of a profile.
        profiles: what may be there.
        settings_matter: False for a port that hears the same with any settings.
        said: what the person has said already.
        patience: how long to listen.
        tell: says what is being done.
        is_over: tells whether to end now; what was heard until then is judged.

    Raises:
        DeviceError: the port cannot be opened, or has gone.
    """
    limits = patience or Patience()
    visits = plan_visits(profiles, settings_matter=settings_matter, bridge_port=said.bridge_port)
    heard: list[Heard] = []
    result = identify(heard, profiles, said)
    left_s = limits.total_s
    for visit in visits * limits.rounds:
        if left_s <= 0.0 or is_over() or _is_settled(result):
            break
        port = open_port(visit.profile)
        begun_s = port.clock.now_s()
        heard += listen(port, visit, replace(limits, total_s=left_s), tell, is_over)
        left_s -= port.clock.now_s() - begun_s
        result = identify(heard, profiles, said)
    return result


def _is_settled(result: Identification) -> bool:
    if result.verdict is Verdict.CLEAR:
        return True
    return result.question is not None and result.question.ask not in _GO_ON
