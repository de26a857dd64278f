"""From a ``sim:NAME?...`` address to a simulated gauge.

``sim:caliper`` and ``sim:micrometer`` are walked through the measurements of an
invented barrel and its spring; ``sim:block`` is checked on a block of ``size_mm``;
``sim:still`` stays closed on ``size_mm``.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING

from gaugelink.devices import address as options
from gaugelink.devices.contract import Port
from gaugelink.devices.recordings.replay import ReplayTransport, paced_clock
from gaugelink.devices.simulation.simulated import (
    CALIPER_MOVES,
    ENCODERS,
    MICROMETER_MOVES,
    Behaviour,
    Leg,
    Move,
    block_moves,
    simulate,
    stand_still,
    walk,
)
from gaugelink.errors import InputError
from gaugelink.model import GaugeKind, Sends
from gaugelink.units import LengthUnit

if TYPE_CHECKING:
    from gaugelink.devices.address import Address
    from gaugelink.devices.profiles.profile import Profile


STEPS: Mapping[GaugeKind, Mapping[LengthUnit, Decimal]] = {
    GaugeKind.CALIPER: {LengthUnit.MM: Decimal("0.01"), LengthUnit.INCH: Decimal("0.0005")},
    GaugeKind.MICROMETER: {LengthUnit.MM: Decimal("0.001"), LengthUnit.INCH: Decimal("0.00005")},
}
NOISE_MM: Mapping[GaugeKind, float] = {GaugeKind.CALIPER: 0.004, GaugeKind.MICROMETER: 0.001}
_SCENE = frozenset({"size_mm", "duration_s", "start_s"})  # options of what is done, not of how


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
            f"There is no simulated gauge {address.target!r}.",
            hint=f"Known: {', '.join(f'sim:{name}' for name in SIMULATIONS)}.",
        )
    return SIMULATIONS[address.target]


def _refuse_idle_options(address: Address, simulation: SimulatedScene) -> None:
    """Refuse what this simulation would ignore."""
    for option in sorted(_SCENE - simulation.minds):
        if option in address.options:
            raise InputError(
                f"{option!r} means nothing to sim:{address.target}.",
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
