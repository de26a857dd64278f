"""Goes through the settings of a port until the gauge there is identified.

A *visit* opens the port with one setting. Bytes are waited for, and asked for only where
none come by themselves, with read requests that are known to be harmless.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from gaugelink import errors
from gaugelink.devices import address as options
from gaugelink.devices.address import COMMON_OPTIONS, Address, parse_address
from gaugelink.devices.contract import Port, has_ended
from gaugelink.devices.gauge import MAX_BYTES
from gaugelink.devices.identify import verdict
from gaugelink.devices.identify.judge import identify, settings_text
from gaugelink.devices.identify.weighed import Heard, is_idle_bridge
from gaugelink.devices.ports.identity import PROBED_SCHEMES, is_pseudo
from gaugelink.devices.profiles.profile import PortSettings, Profile, as_opened, load_profiles
from gaugelink.devices.registry import bridge_port_of
from gaugelink.units import LengthUnit

_WITHOUT_SETTINGS = ("hid", "socket", "loop", "cp2110")
# More listening may answer these; any other question is for the person.
_GO_ON = (verdict.Ask.MORE, verdict.Ask.GAUGE)
_LOOK_S = 0.1  # how long a read may block: bounds how late a stop is noticed
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
# Tried besides the speeds of the profiles: gauges can be set to them.
USUAL_SPEEDS = (19200, 38400)
PRESS_S = 6.0  # from one press of a data button to the next, when somebody is asked to press
EXTRA_S = 90.0  # more time, once something was heard that no format explains
MOST_AGAIN = 5  # times that a speed is listened to once more, for another reading
# Answers of lines come at once; a bridge may wait 2.2 s for its gauge.
_LINE_ANSWER_S = 1.0


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
    total_s: float = 75.0


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


def identify_at(
    address: Address,
    *,
    folders: Sequence[Path] = (),
    shown: verdict.Shown | None = None,
    patience: Patience | None = None,
    tell: Callable[[str], None] = lambda text: None,
    is_over: Callable[[], bool] = lambda: False,
) -> verdict.Identification:
    """Listen at an address until the gauge is identified, or patience ends.

    Args:
        address: its options say what is known already: ``unit``, a bridge's ``port``,
            or a ``format`` that is then the only one tried.
        folders: the user's own folders of format profiles.
        shown: what the display shows now, if somebody said so.
        patience: how long to listen.
        tell: says what is being done.
        is_over: tells whether to end now; what was heard until then is assessed.

    Raises:
        InputError: gauges at such an address are not identified: their format is known.
        DeviceError: the port cannot be opened, or has gone.
        ProfileError: a profile of the user's cannot be used.
    """
    if address.scheme not in PROBED_SCHEMES:
        raise errors.InputError(
            f"The format at {address.text!r} has a fixed format: nothing to identify.",
            hint=f"Only {', '.join(f'{scheme}:' for scheme in PROBED_SCHEMES)} can be probed.",
        )
    wire = _wire_of(address)
    result = probe(
        lambda profile: _build_port(wire, profile),
        _profiles(address, folders),
        settings_matter=_settings_matter(wire),
        said=_said(address, shown),
        patience=patience,
        tell=tell,
        is_over=is_over,
    )
    return _sayable(result) if address.is_url else result


def probe(
    open_port: Callable[[Profile], Port],
    profiles: Sequence[Profile],
    *,
    settings_matter: bool = True,
    said: verdict.Said = verdict.NOTHING,
    patience: Patience | None = None,
    tell: Callable[[str], None] = lambda text: None,
    is_over: Callable[[], bool] = lambda: False,
) -> verdict.Identification:
    """Listen at a port until the gauge is identified, a question arises, or patience ends.

    ``open_port`` makes the port, not yet opened, with the settings of a profile.
    ``settings_matter`` is False for one that hears the same with any. The others are as in
    ``identify_at``.

    Raises:
        DeviceError: the port cannot be opened, or has gone.
    """
    limits = patience or Patience()
    visits = plan_visits(profiles, settings_matter=settings_matter, bridge_port=said.bridge_port)
    ahead = list(visits * limits.rounds)
    heard: list[Heard] = []
    result = identify(heard, profiles, said)
    left_s, n_again, is_extended = limits.total_s, 0, len(visits) == 1
    while ahead and left_s > 0.0 and not (is_over() or _is_settled(result)):
        visit = ahead.pop(0)
        port = open_port(visit.profile)
        begun_s = port.clock.now_s()
        told = list(listen(port, visit, replace(limits, total_s=left_s), tell, is_over))
        left_s -= port.clock.now_s() - begun_s
        heard += told
        result = identify(heard, profiles, said)
        if _wants_more(result) and any(each.data for each in told) and n_again < MOST_AGAIN:
            if not n_again and result.question:
                tell(result.question.text)
            n_again += 1
            ahead.insert(0, visit)
        elif result.verdict is verdict.FormatVerdict.UNKNOWN and not is_extended:
            # Somebody presses, at another speed: wait there for the next press, too.
            is_extended = True
            limits = replace(limits, first_s=max(limits.first_s, PRESS_S))
            left_s += 0.0 if patience else EXTRA_S
            ahead += visits
    return result


def _wants_more(result: verdict.Identification) -> bool:
    return result.question is not None and result.question.ask is verdict.Ask.MORE


def _is_settled(result: verdict.Identification) -> bool:
    if result.verdict is verdict.FormatVerdict.CLEAR:
        return True
    return result.question is not None and result.question.ask not in _GO_ON


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

    A setting that the port refuses brings nothing. ``tell`` is used once the port is open; when
    ``is_over``, what has come until then counts.

    Raises:
        DeviceError: the port cannot be opened, or has gone before anything came.
    """
    transport = port.transport
    try:
        transport.open()
    except errors.GaugeUnavailable as refused:
        if refused.reason is not errors.Unavailable.PLATFORM or visit.settings is None:
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
    except errors.GaugeTimeout:
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
        except errors.GaugeDisconnected:
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
        data = b""  # an echo is not an answer
    return Heard(data=data, settings=settings, request=turn.request, duration_s=last_s - begun_s)


def plan_visits(
    profiles: Sequence[Profile], *, settings_matter: bool, bridge_port: int | None = None
) -> tuple[Visit, ...]:
    """Return one visit for each speed, that of most formats of lines first.

    A port is opened with eight data bits: of a gauge that sends seven, the eighth tells what
    its parity is. Stop bits make no difference to what is heard. ``bridge_port`` is the port
    of a bridge to ask; None asks port 0.
    """
    groups: dict[int, list[Profile]] = {}
    for profile in profiles:
        groups.setdefault(profile.port.baud if settings_matter else 0, []).append(profile)
    ordered = sorted(groups.items(), key=lambda item: -sum(p.line is not None for p in item[1]))
    if len(groups) > 1:
        usual = [p for p in profiles if p.bits is not None or p in ordered[0][1]]
        ordered += [(baud, usual) for baud in USUAL_SPEEDS if baud not in groups]
    return tuple(_visit(baud, group, bridge_port) for baud, group in ordered)


def _visit(baud: int, group: Sequence[Profile], bridge_port: int | None) -> Visit:
    """Plan the visit at a speed; 0 where settings have no effect."""
    waits: dict[bytes, float] = {}
    for profile in group:
        if profile.request in HARMLESS_REQUESTS:
            limit_s = _LINE_ANSWER_S if profile.line is not None else profile.reply_timeout_s
            wait_s = min(profile.reply_timeout_s, limit_s)
            # Behind something that sets the parity itself, the request is sent plain.
            sent = as_opened(profile).request if baud else profile.request
            data = (sent or b"").replace(b"?0", b"?%d" % (bridge_port or 0))
            waits[data] = max(wait_s, waits.get(data, 0.0))
    settings = PortSettings(baud=baud) if baud else None
    return Visit(
        profile=replace(group[0], port=settings) if settings else group[0],
        settings=settings,
        requests=tuple(Request(data=data, answer_s=wait_s) for data, wait_s in waits.items()),
        bridge_port=bridge_port,
    )


def _sayable(result: verdict.Identification) -> verdict.Identification:
    """Ask for a format file where the address is a URL, which cannot carry every option."""
    best = result.best
    if result.verdict is not verdict.FormatVerdict.CLEAR or best is None or best.scheme:
        return result
    foreign = [f"{key}={value}" for key, value in best.options.items() if key not in COMMON_OPTIONS]
    if not foreign:
        return result
    text = (
        f"An address with // cannot set {' and '.join(foreign)}. Set the port at the other end "
        "as the format has it, or write a copy of the format with these keys."
    )
    question = verdict.FormatQuestion(ask=verdict.Ask.FORMAT, text=text)
    return replace(result, verdict=verdict.FormatVerdict.AMBIGUOUS, question=question)


def _profiles(address: Address, folders: Sequence[Path]) -> list[Profile]:
    known = load_profiles(folders)
    if "format" in address.options:
        return [known.find(address.options["format"])]
    return [profile for profile in map(known.find, known.names) if _fits(address, profile)]


def _said(address: Address, shown: verdict.Shown | None) -> verdict.Said:
    unit = options.choice(address, "unit", LengthUnit.MM) if "unit" in address.options else None
    return verdict.Said(shown=shown, unit=unit, bridge_port=bridge_port_of(address))


def _fits(address: Address, profile: Profile) -> bool:
    """A bridge may be behind any serial address; its lines tell."""
    if address.scheme == "hid":
        return profile.hid is not None
    return profile.bits is not None or (profile.line is not None and address.scheme != "bridge")


def _wire_of(address: Address) -> Address:
    """Return the port that a bridge is on; other addresses are their own.

    The transport for bridges holds its silence for a lost link, which is no help here.
    """
    if address.scheme != "bridge":
        return address
    if "://" in address.target:
        return replace(parse_address(address.target), text=address.text)
    return replace(address, scheme="serial")


def _build_port(address: Address, profile: Profile) -> Port:
    if address.scheme == "hid":
        from gaugelink.devices.ports import hid_port

        return hid_port.build_port(address, profile)
    from gaugelink.devices.ports import serial_port

    return serial_port.build_port(address, profile)


def _settings_matter(address: Address) -> bool:
    """Tell whether the port hears another thing with other settings."""
    if address.scheme != "serial":
        return address.scheme not in _WITHOUT_SETTINGS
    return not is_pseudo(address.target)
