"""A simulated gauge in the hands of a simulated repairer, at a ``sim:NAME?...`` address.

``sim:caliper`` and ``sim:micrometer`` are walked through the measurements of an invented
barrel and its spring, which belong to no watch; ``sim:block`` is checked on a block of
``size_mm``; ``sim:still`` stays closed on ``size_mm``.

A scenario is a plain tuple of moves, a move becomes legs, and a leg is the true size as a
function of time, exactly. From there the bytes are computed in steps, each a generator over
the one before: true size, shown size, line of text, and what damage makes of it. The result
is a sequence of entries as in a recording, and is played like one. The same options give
the same bytes on every machine.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from enum import StrEnum
from random import Random
from typing import TYPE_CHECKING

from gaugelink.devices import address as options
from gaugelink.devices.contract import Port
from gaugelink.devices.recordings.recording import EntryKind, RecordedEntry
from gaugelink.devices.recordings.replay import ReplayTransport, paced_clock
from gaugelink.errors import InputError
from gaugelink.model import GaugeKind, Sends
from gaugelink.units import LengthUnit, to_mm

if TYPE_CHECKING:
    from gaugelink.devices.address import Address
    from gaugelink.devices.profiles.profile import Profile

STEPS: Mapping[GaugeKind, Mapping[LengthUnit, Decimal]] = {
    GaugeKind.CALIPER: {LengthUnit.MM: Decimal("0.01"), LengthUnit.INCH: Decimal("0.0005")},
    GaugeKind.MICROMETER: {LengthUnit.MM: Decimal("0.001"), LengthUnit.INCH: Decimal("0.00005")},
}
NOISE_MM: Mapping[GaugeKind, float] = {GaugeKind.CALIPER: 0.004, GaugeKind.MICROMETER: 0.001}
_SCENE = frozenset({"size_mm", "duration_s", "start_s"})  # options of what is done, not of how
FLICKER_SHARE = 0.1  # of the noise between placings, seen while the gauge is held still
OUTLIER_MM = (0.05, 0.30)  # how far off a badly seated gauge reads
LINK_LOSS_SHARE = 0.1  # of the dropouts; the others lose one line
LINK_LOSS_S = (2.0, 4.0)
# Between two placings the jaws are opened (in a bore: closed) by about this much.
CLEAR_MM = 2.0
HOLD_S = 1.2  # how long a placed gauge is held still
LAST_HOLD_S = 5.0  # the closing zero stays: opening again within 3 s would be half an undo
REST_MM = 5.0  # where the jaws stand before the first move
BLOCK_ZEROS, BLOCK_READINGS = 5, 10  # of a gauge check, common practice


class Gesture(StrEnum):
    """How the gauge is brought to the part."""

    CLOSED = "closed"  # jaws or anvils together, held: the zero
    SETTLED = "settled"  # placed and held still
    INSIDE_SWEEP = "inside sweep"  # rocked across a bore; the largest reading is the bore
    OUTSIDE_SWEEP = "outside sweep"  # rocked around an arbor; the smallest is its diameter


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """Measure ``size_mm`` by one gesture, ``times`` times, and hold still for ``hold_s``."""

    measurand: str
    gesture: Gesture
    size_mm: float
    times: int = 1
    hold_s: float = HOLD_S


CALIPER_MOVES = (
    Move(measurand="zero", gesture=Gesture.CLOSED, size_mm=0.0),
    Move(measurand="bore", gesture=Gesture.INSIDE_SWEEP, size_mm=11.52, times=5),
    Move(measurand="depth", gesture=Gesture.SETTLED, size_mm=1.92, times=3),
    Move(measurand="lid", gesture=Gesture.SETTLED, size_mm=0.34, times=3),
    Move(measurand="arbor", gesture=Gesture.OUTSIDE_SWEEP, size_mm=3.80, times=3),
    Move(measurand="zero", gesture=Gesture.CLOSED, size_mm=0.0, hold_s=LAST_HOLD_S),
)
MICROMETER_MOVES = (
    Move(measurand="zero", gesture=Gesture.CLOSED, size_mm=0.0),
    Move(measurand="lid", gesture=Gesture.SETTLED, size_mm=0.34, times=3),
    Move(measurand="found thickness", gesture=Gesture.SETTLED, size_mm=0.13, times=5),
    Move(measurand="found height", gesture=Gesture.SETTLED, size_mm=1.55, times=3),
    Move(measurand="zero", gesture=Gesture.CLOSED, size_mm=0.0, hold_s=LAST_HOLD_S),
)


def block_moves(size_mm: float) -> tuple[Move, ...]:
    """Return the moves of a gauge check on one block: as many zeros and readings as are usual."""
    zero = Move(measurand="zero", gesture=Gesture.CLOSED, size_mm=0.0, times=BLOCK_ZEROS)
    block = Move(measurand="block", gesture=Gesture.SETTLED, size_mm=size_mm, times=BLOCK_READINGS)
    return (zero, block, replace(zero, times=1, hold_s=LAST_HOLD_S))


@dataclass(frozen=True, slots=True, kw_only=True)
class Leg:
    """A stretch of time in which the size goes smoothly from ``from_mm`` to ``to_mm``.

    ``placing`` counts from 0 how often the gauge was placed anew. In a ``held`` leg
    the gauge is still and its data button may be pressed.
    """

    measurand: str
    placing: int
    begin_s: float
    duration_s: float
    from_mm: float
    to_mm: float
    held: bool

    @property
    def end_s(self) -> float:
        """The moment at which the next leg begins, in seconds."""
        return self.begin_s + self.duration_s

    def size_at(self, t_s: float) -> float:
        """Return the true size in mm at ``t_s``, with no jerk at either end."""
        share = min(1.0, max(0.0, (t_s - self.begin_s) / self.duration_s))
        return self.from_mm + (self.to_mm - self.from_mm) * (1.0 - math.cos(math.pi * share)) / 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Sample:
    """The true size at one moment."""

    t_s: float
    true_mm: float
    measurand: str
    placing: int


def walk(moves: Iterable[Move], *, start_s: float = 0.0) -> tuple[Leg, ...]:
    """Return the legs of all moves, one after the other, after ``start_s`` seconds of rest."""
    legs = [_hold("rest", 0, 0.0, start_s, REST_MM)] if start_s > 0.0 else []
    placings = (move for move in moves for _ in range(move.times))
    size_mm, now_s = REST_MM, start_s
    for placing, move in enumerate(placings):
        for duration_s, until_mm in _placing(move):
            leg = _hold(move.measurand, placing, now_s, duration_s, size_mm)
            if until_mm is not None:
                leg = replace(leg, to_mm=until_mm, held=False)
            legs.append(leg)
            size_mm, now_s = leg.to_mm, leg.end_s
    return tuple(legs)


def stand_still(size_mm: float, *, duration_s: float) -> tuple[Leg, ...]:
    """Return a gauge left closed on one size; each second counts as a new placing."""
    seconds = range(math.ceil(duration_s))
    return tuple(_hold("still", n, float(n), 1.0, size_mm) for n in seconds)


def sample_stream(legs: Iterable[Leg], *, rate_hz: float) -> Iterator[Sample]:
    """Sample ``rate_hz`` times a second, as a gauge that sends all the time."""
    tick = 0
    for leg in legs:
        while (t_s := round(tick / rate_hz, 6)) < leg.end_s:
            yield _sample(leg, t_s)
            tick += 1


def sample_presses(legs: Iterable[Leg]) -> Iterator[Sample]:
    """Sample once in each held leg, as a gauge with a data button."""
    for leg in legs:
        if leg.held and leg.measurand != "rest":
            yield _sample(leg, round(leg.begin_s + 0.6 * leg.duration_s, 6))


def _hold(measurand: str, placing: int, begin_s: float, duration_s: float, at_mm: float) -> Leg:
    return Leg(
        measurand=measurand,
        placing=placing,
        begin_s=begin_s,
        duration_s=duration_s,
        from_mm=at_mm,
        to_mm=at_mm,
        held=True,
    )


def _placing(move: Move) -> Sequence[tuple[float, float | None]]:
    """Return (duration in s, size at its end in mm) of each leg of one placing; None holds."""
    size_mm = move.size_mm
    if move.gesture in (Gesture.CLOSED, Gesture.SETTLED):
        return [(0.5, size_mm + CLEAR_MM), (0.5, size_mm), (move.hold_s, None)]
    # A chord of a bore is shorter than its diameter, a slanted arbor is wider than its own.
    sign = -1.0 if move.gesture is Gesture.INSIDE_SWEEP else 1.0
    clear_mm = sign * min(CLEAR_MM, size_mm / 2.0)
    rocking = [(0.5, size_mm + sign * 0.20), (0.5, size_mm), (0.4, size_mm + sign * 0.15)]
    # Leaving stops halfway to where the next placing begins, so that the jaws never rest there.
    away = [(0.4, size_mm + clear_mm / 2.0)]
    return [(0.6, size_mm + clear_mm), *rocking, (0.5, size_mm), (2.0, None), *away]


def _sample(leg: Leg, t_s: float) -> Sample:
    return Sample(t_s=t_s, true_mm=leg.size_at(t_s), measurand=leg.measurand, placing=leg.placing)


@dataclass(frozen=True, slots=True, kw_only=True)
class Behaviour:
    """How the simulated gauge sends and misbehaves.

    ``noise_mm`` is the standard deviation from one placing to the next, ``drift_mm``
    what the zero moves by over the whole scenario. ``outliers`` is the share of
    placings that are badly seated, ``glitches`` and ``dropouts`` the share of lines
    that are damaged and lost.
    """

    step: Decimal
    encode: Callable[[Decimal, LengthUnit], bytes]
    unit: LengthUnit = LengthUnit.MM
    seed: str = "1"
    noise_mm: float = 0.0
    drift_mm: float = 0.0
    outliers: float = 0.0
    glitches: float = 0.0
    dropouts: float = 0.0
    sends: Sends = Sends.STREAM
    rate_hz: float = 10.0

    def random(self, purpose: str) -> Random:
        """Return a generator of its own for each purpose, so that they do not disturb another."""
        return Random(f"{self.seed} {purpose}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Indication:
    """What the display shows at one moment, in the unit and step of the gauge."""

    t_s: float
    value: Decimal


def simulate(legs: tuple[Leg, ...], behaviour: Behaviour) -> Iterator[RecordedEntry]:
    """Return everything that the gauge sends while ``legs`` are walked through."""
    if behaviour.sends is Sends.STREAM:
        samples = sample_stream(legs, rate_hz=behaviour.rate_hz)
    else:
        samples = sample_presses(legs)
    lines = _lines(indicate(samples, behaviour, total_s=legs[-1].end_s), behaviour)
    return _drop_out(lines, behaviour)


def indicate(
    samples: Iterable[Sample], behaviour: Behaviour, *, total_s: float
) -> Iterator[Indication]:
    """Add noise, drift and bad seating to true sizes, and round to the step of the display."""
    placing_random, flicker_random = behaviour.random("placing"), behaviour.random("flicker")
    step_mm = to_mm(behaviour.step, behaviour.unit)
    placing, seat_mm = -1, 0.0
    for sample in samples:
        if sample.placing != placing:
            placing, seat_mm = sample.placing, _seat_error_mm(placing_random, behaviour)
        drift_mm = behaviour.drift_mm * sample.t_s / total_s
        flicker_mm = flicker_random.gauss(0.0, FLICKER_SHARE * behaviour.noise_mm)
        shown_mm = sample.true_mm + seat_mm + drift_mm + flicker_mm
        yield Indication(t_s=sample.t_s, value=round(shown_mm / step_mm) * behaviour.step)


def _seat_error_mm(random: Random, behaviour: Behaviour) -> float:
    """Draw the error of one placing; always the same number of draws, whatever comes of them."""
    noise_mm = random.gauss(0.0, behaviour.noise_mm)
    badly_seated = random.random() < behaviour.outliers
    off_mm = random.choice((-1.0, 1.0)) * random.uniform(*OUTLIER_MM)
    return noise_mm + off_mm if badly_seated else noise_mm


def _lines(indications: Iterable[Indication], behaviour: Behaviour) -> Iterator[RecordedEntry]:
    random = behaviour.random("glitch")
    for each in indications:
        line = behaviour.encode(each.value, behaviour.unit)
        if random.random() < behaviour.glitches:
            line = _damage(line, random)
        yield RecordedEntry(t_s=each.t_s, kind=EntryKind.RECEIVED, data=line)


def _damage(line: bytes, random: Random) -> bytes:
    """Cut the line short, so that it runs into the next, or set the high bit of one byte."""
    at = random.randrange(len(line) - 2)
    if random.random() < 0.5:
        return line[: at + 1]
    return line[:at] + bytes([line[at] | 0x80]) + line[at + 1 :]


def _drop_out(lines: Iterable[RecordedEntry], behaviour: Behaviour) -> Iterator[RecordedEntry]:
    random = behaviour.random("dropout")
    back_s = None
    for line in lines:
        if back_s is not None:
            if line.t_s < back_s:
                continue
            yield RecordedEntry(t_s=back_s, kind=EntryKind.BACK)
            back_s = None
        if random.random() >= behaviour.dropouts:
            yield line
        elif random.random() < LINK_LOSS_SHARE:
            yield RecordedEntry(t_s=line.t_s, kind=EntryKind.LOST)
            back_s = round(line.t_s + random.uniform(*LINK_LOSS_S), 6)


def encode_with_unit(value: Decimal, unit: LengthUnit) -> bytes:
    """Write a value as format line-9600-8N1-unit does: sign, 8 characters, unit."""
    return f"{_sign(value)}{abs(value):>8f}, {_unit_name(unit)}\r\n".encode("ascii")


def encode_plain(value: Decimal, unit: LengthUnit) -> bytes:
    """Write a value as format line-4800-7E2-plain does; the unit is not sent."""
    return f"{_sign(value)}{abs(value):f}\r".encode("ascii")


ENCODERS: Mapping[str, Callable[[Decimal, LengthUnit], bytes]] = {
    "line-9600-8N1-unit": encode_with_unit,
    "line-4800-7E2-plain": encode_plain,
}


def _sign(value: Decimal) -> str:
    return "-" if value < 0 else "+"


def _unit_name(unit: LengthUnit) -> str:
    return "IN" if unit is LengthUnit.INCH else "MM"


@dataclass(frozen=True, slots=True, kw_only=True)
class SimulatedScene:
    """What is done with a simulated gauge, and what it is.

    ``minds`` are the options of the scene that mean something to ``legs``. The kind is
    that of the address where ``kind`` is None.
    """

    legs: Callable[[Address], tuple[Leg, ...]]
    minds: frozenset[str]
    kind: GaugeKind | None = GaugeKind.CALIPER
    noisy: bool = True

    def kind_at(self, address: Address) -> GaugeKind:
        """Return what is simulated at an address."""
        return self.kind or options.choice(address, "kind", GaugeKind.CALIPER)


def _job(moves: Sequence[Move]) -> Callable[[Address], tuple[Leg, ...]]:
    return lambda address: walk(moves, start_s=_start_s(address))


def _check(address: Address) -> tuple[Leg, ...]:
    size_mm = options.number(address, "size_mm", 5.0, low=0.1, high=1000.0)
    return walk(block_moves(size_mm), start_s=_start_s(address))


def _rest(address: Address) -> tuple[Leg, ...]:
    size_mm = options.number(address, "size_mm", 10.0, high=1000.0)
    duration_s = options.number(address, "duration_s", 60.0, low=1.0, high=86400.0)
    return stand_still(size_mm, duration_s=duration_s)


def _start_s(address: Address) -> float:
    return options.number(address, "start_s", 0.0, high=86400.0)


_START = frozenset({"start_s"})
SIMULATIONS: Mapping[str, SimulatedScene] = {
    "caliper": SimulatedScene(legs=_job(CALIPER_MOVES), minds=_START),
    "micrometer": SimulatedScene(
        legs=_job(MICROMETER_MOVES), minds=_START, kind=GaugeKind.MICROMETER
    ),
    "block": SimulatedScene(legs=_check, minds=_START | {"size_mm"}, kind=None),
    "still": SimulatedScene(legs=_rest, minds=frozenset({"size_mm", "duration_s"}), noisy=False),
}


def build_port(address: Address, profile: Profile) -> Port:
    """Make a simulated gauge that speaks ``profile``, on a clock of its own.

    Raises:
        InputError: an unknown name, an option out of range, or a format that the
            simulation cannot speak.
    """
    simulation = _find(address)
    _refuse_idle_options(address, simulation)
    behaviour = _behaviour(address, simulation, profile.name)
    entries = simulate(simulation.legs(address), behaviour)
    clock = paced_clock(address, 1.0)
    seed = address.options.get("seed")
    transport = ReplayTransport(
        entries,
        address=address.text,
        identity=f"sim:{address.target}" + (f"-{seed}" if seed else ""),
        clock=clock,
    )
    return Port(transport=transport, clock=clock)


def _find(address: Address) -> SimulatedScene:
    if address.target not in SIMULATIONS:
        raise InputError(
            f"Unknown simulated gauge {address.target!r}.",
            hint=f"Known: {', '.join(f'sim:{name}' for name in SIMULATIONS)}.",
        )
    return SIMULATIONS[address.target]


def _refuse_idle_options(address: Address, simulation: SimulatedScene) -> None:
    """Refuse what this simulation would ignore."""
    for option in sorted(_SCENE - simulation.minds):
        if option in address.options:
            raise InputError(
                f"{option!r} does not apply to sim:{address.target}.",
                hint=f"Leave {option} out, or simulate another gauge.",
            )


def _behaviour(address: Address, simulation: SimulatedScene, format_name: str) -> Behaviour:
    if format_name not in ENCODERS:
        raise InputError(
            f"A simulated gauge cannot send format {format_name!r}.",
            hint=f"It can send {', '.join(ENCODERS)}.",
        )
    kind, unit = simulation.kind_at(address), options.choice(address, "unit", LengthUnit.MM)
    noise_mm = NOISE_MM[kind] if simulation.noisy else 0.0

    def share(option: str) -> float:
        return options.number(address, option, 0.0, high=1.0)

    return Behaviour(
        step=STEPS[kind][unit],
        encode=ENCODERS[format_name],
        unit=unit,
        seed=address.options.get("seed", "1"),
        noise_mm=options.number(address, "noise_mm", noise_mm, high=1.0),
        drift_mm=options.number(address, "drift_mm", 0.0, low=-1.0, high=1.0),
        outliers=share("outliers"),
        glitches=share("glitches"),
        dropouts=share("dropouts"),
        sends=options.choice(address, "sends", Sends.STREAM),
        rate_hz=options.number(address, "rate_hz", 10.0, low=0.1, high=1000.0),
    )
