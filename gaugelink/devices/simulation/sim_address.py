"""From a ``sim:NAME?...`` address to a simulated gauge.

``sim:caliper`` and ``sim:micrometer`` are walked through the measurements of an
invented barrel and its spring; ``sim:still`` stays closed on ``size_mm``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING

from gaugelink.devices import options
from gaugelink.devices.contract import Port
from gaugelink.devices.recordings.replay import ReplayTransport
from gaugelink.devices.simulation.bench_scenario import (
    CALIPER_MOVES,
    MICROMETER_MOVES,
    Leg,
    Move,
    stand_still,
    walk,
)
from gaugelink.devices.simulation.simulated import ENCODERS, Behaviour, simulate
from gaugelink.devices.virtual_clock import VirtualClock
from gaugelink.errors import InputError
from gaugelink.model import Sends
from gaugelink.units import LengthUnit

if TYPE_CHECKING:
    from gaugelink.devices.address import Address
    from gaugelink.devices.profiles import Profile


@dataclass(frozen=True, slots=True, kw_only=True)
class Simulation:
    """A gauge that can be simulated; without moves it stays closed on one size."""

    moves: tuple[Move, ...]
    steps: Mapping[LengthUnit, Decimal]
    noise_mm: float


CALIPER_STEPS = {LengthUnit.MM: Decimal("0.01"), LengthUnit.INCH: Decimal("0.0005")}
MICROMETER_STEPS = {LengthUnit.MM: Decimal("0.001"), LengthUnit.INCH: Decimal("0.00005")}

SIMULATIONS: Mapping[str, Simulation] = {
    "caliper": Simulation(moves=CALIPER_MOVES, steps=CALIPER_STEPS, noise_mm=0.004),
    "micrometer": Simulation(moves=MICROMETER_MOVES, steps=MICROMETER_STEPS, noise_mm=0.001),
    "still": Simulation(moves=(), steps=CALIPER_STEPS, noise_mm=0.0),
}


def build_port(address: Address, profile: Profile) -> Port:
    """Make a simulated gauge that speaks ``profile``, on a clock of its own.

    Raises:
        InputError: an unknown name, an option out of range, or a format that the
            simulation cannot speak.
    """
    simulation = _find(address)
    _refuse_idle_options(address, simulation)
    entries = simulate(_legs(address, simulation), _behaviour(address, simulation, profile.name))
    clock = VirtualClock(pace=options.number(address, "pace", 1.0))
    seed = address.options.get("seed")
    transport = ReplayTransport(
        entries,
        address=address.text,
        identity=f"sim:{address.target}" + (f"-{seed}" if seed else ""),
        clock=clock,
    )
    return Port(transport=transport, clock=clock)


def _find(address: Address) -> Simulation:
    if address.target not in SIMULATIONS:
        raise InputError(
            f"There is no simulated gauge {address.target!r}.",
            hint=f"Known: {', '.join(f'sim:{name}' for name in SIMULATIONS)}.",
        )
    return SIMULATIONS[address.target]


def _refuse_idle_options(address: Address, simulation: Simulation) -> None:
    """Refuse what this simulation would ignore."""
    idle = ("size_mm", "duration_s") if simulation.moves else ("start_s",)
    for option in idle:
        if option in address.options:
            raise InputError(
                f"{option!r} means nothing to sim:{address.target}.",
                hint=f"Leave {option} out, or simulate another gauge.",
            )


def _legs(address: Address, simulation: Simulation) -> tuple[Leg, ...]:
    if simulation.moves:
        return walk(simulation.moves, start_s=options.number(address, "start_s", 0.0, high=86400))
    size_mm = options.number(address, "size_mm", 10.0, high=1000.0)
    duration_s = options.number(address, "duration_s", 60.0, low=1.0, high=86400.0)
    return stand_still(size_mm, duration_s=duration_s)


def _behaviour(address: Address, simulation: Simulation, format_name: str) -> Behaviour:
    if format_name not in ENCODERS:
        raise InputError(
            f"A simulated gauge cannot send format {format_name!r}.",
            hint=f"It can send {', '.join(ENCODERS)}.",
        )
    unit = options.choice(address, "unit", LengthUnit.MM)

    def share(option: str) -> float:
        return options.number(address, option, 0.0, high=1.0)

    return Behaviour(
        step=simulation.steps[unit],
        encode=ENCODERS[format_name],
        unit=unit,
        seed=address.options.get("seed", "1"),
        noise_mm=options.number(address, "noise_mm", simulation.noise_mm, high=1.0),
        drift_mm=options.number(address, "drift_mm", 0.0, low=-1.0, high=1.0),
        outliers=share("outliers"),
        glitches=share("glitches"),
        dropouts=share("dropouts"),
        sends=options.choice(address, "sends", Sends.STREAM),
        rate_hz=options.number(address, "rate_hz", 10.0, low=0.1, high=1000.0),
    )
