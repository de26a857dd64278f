"""A simulated gauge in the hands of a simulated repairer.

The bytes are computed in steps, each a generator over the one before: true size,
shown size, line of text, and what damage makes of it. The result is a sequence of
entries as in a recording, and is played like one. The same options give the same
bytes on every machine.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from random import Random

from gaugelink.devices.recordings.recording import Entry, EntryKind
from gaugelink.devices.simulation.bench_scenario import Leg, Sample, sample_presses, sample_stream
from gaugelink.model import Sends
from gaugelink.units import LengthUnit, to_mm

FLICKER_SHARE = 0.1  # of the noise between placings, seen while the gauge is held still
OUTLIER_MM = (0.05, 0.30)  # how far off a badly seated gauge reads
LINK_LOSS_SHARE = 0.1  # of the dropouts; the others lose one line
LINK_LOSS_S = (2.0, 4.0)


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


def simulate(legs: tuple[Leg, ...], behaviour: Behaviour) -> Iterator[Entry]:
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


def _lines(indications: Iterable[Indication], behaviour: Behaviour) -> Iterator[Entry]:
    random = behaviour.random("glitch")
    for each in indications:
        line = behaviour.encode(each.value, behaviour.unit)
        if random.random() < behaviour.glitches:
            line = _damage(line, random)
        yield Entry(t_s=each.t_s, kind=EntryKind.RECEIVED, data=line)


def _damage(line: bytes, random: Random) -> bytes:
    """Cut the line short, so that it runs into the next, or set the high bit of one byte."""
    at = random.randrange(len(line) - 2)
    if random.random() < 0.5:
        return line[: at + 1]
    return line[:at] + bytes([line[at] | 0x80]) + line[at + 1 :]


def _drop_out(lines: Iterable[Entry], behaviour: Behaviour) -> Iterator[Entry]:
    random = behaviour.random("dropout")
    back_s = None
    for line in lines:
        if back_s is not None:
            if line.t_s < back_s:
                continue
            yield Entry(t_s=back_s, kind=EntryKind.BACK)
            back_s = None
        if random.random() >= behaviour.dropouts:
            yield line
        elif random.random() < LINK_LOSS_SHARE:
            yield Entry(t_s=line.t_s, kind=EntryKind.LOST)
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
