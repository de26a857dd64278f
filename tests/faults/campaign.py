"""Injects faults into every shipped format and counts what comes of each.

Run it by hand: ``python tests/faults/campaign.py [--n 1000] [--seed 1]``. A gauge sends a
value, a second one that is hit by one fault, and a third; the whole of it goes through
decoder, gauge and unit rule. Each trial ends in the right value, in none, or in a wrong
one. The first table takes values over the whole range, of both signs and in both units.
The second takes a bore of 11.4 to 11.6 mm and counts what is left of the wrong values
behind the later lines of defence: the plan's range, and the second look at what jumps. Of
those that are taken at once, the last figure is how many are off tenfold or by 10 mm.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from random import Random

from damage import ALIKE, BIT_FAULTS, WIRE_FAULTS, Way
from fault_tables import Table, Tally, report
from scripted import ScriptedTransport, Step
from senders import INCH, MM, SENDERS, Pieces, Sender, in_a_line

from gaugelink.capture.lane import implausible, lost_decimals
from gaugelink.capture.plan import make_plan
from gaugelink.capture.proportions import jump
from gaugelink.devices.decoders import make_decoder
from gaugelink.devices.gauge import Gauge
from gaugelink.errors import GaugeDisconnected
from gaugelink.model import GaugeInfo, GaugeKind, Reading
from gaugelink.units import LengthUnit

BORE_MM = (11.4, 11.6)
(BORE,) = (step for step in make_plan().steps if step.measurand == "bore")
SILENCE: Step = (None, b"")
ONE_PIECE = frozenset({"merged", "cut", "digit"})  # need a frame of several pieces
NO_TEXT = frozenset({"digit"})  # on the wire of a keyboard a digit is a key


@dataclass(frozen=True, slots=True, kw_only=True)
class Size:
    """A true value: so many digital steps in a unit."""

    steps: int
    unit: LengthUnit


def faults_of(sender: Sender) -> tuple[str, ...]:
    """Name the faults that mean something for a format."""
    left_out: frozenset[str] = frozenset()
    if sender.profile.hid:
        left_out = ONE_PIECE if sender.name == "hid-field" else NO_TEXT
    wire = tuple(name for name in WIRE_FAULTS if name not in left_out)
    if sender.bits is None:
        return wire
    return (*wire, *BIT_FAULTS, *(ALIKE if sender.needs_two else ()))


def draw(sender: Sender, dice: Random, *, bore: bool) -> Size:
    unit = MM if bore else dice.choice(list(sender.step))
    step_mm = sender.truth_mm(1, unit)
    if bore:
        return Size(steps=round(dice.uniform(*BORE_MM) / step_mm), unit=MM)
    longest = int(sender.longest_mm / step_mm)  # from 2 up: some refuse -1 count, all ones
    return Size(steps=dice.choice((-1, 1)) * dice.randint(2, longest), unit=unit)


def draw_two(sender: Sender, dice: Random, *, bore: bool) -> tuple[Size, Size]:
    """Draw two values that no small damage turns into one another."""
    while True:
        first, second = (draw(sender, dice, bore=bore) for _ in range(2))
        first = replace(first, unit=second.unit) if bore else first
        if first.unit is second.unit and _apart(sender, first, second):
            return first, second


def _apart(sender: Sender, first: Size, second: Size) -> bool:
    write = sender.bits or sender.pieces
    assert write is not None
    pairs = zip(write(first.steps, first.unit), write(second.steps, second.unit), strict=False)
    n_unlike = sum(a != b for a, b in pairs)
    return n_unlike >= 2 or (sender.name == "hid-field" and first != second)


class Trial:
    """One gauge, three values, one fault."""

    def __init__(self, sender: Sender, dice: Random) -> None:
        self._sender = sender
        self._dice = dice
        self._number = 0

    def frame(self, size: Size) -> Pieces:
        if self._sender.bits is not None:
            return self.burst(self._sender.bits(size.steps, size.unit))
        assert self._sender.pieces is not None
        return self._sender.pieces(size.steps, size.unit)

    def burst(self, bits: tuple[int, ...]) -> Pieces:
        self._number += 1
        return in_a_line(self._sender, self._number, bits)

    def whole(self, size: Size) -> list[Step]:
        times = 2 if self._sender.needs_two else 1
        return [
            step for _ in range(times) for step in ((None, b"".join(self.frame(size))), SILENCE)
        ]

    def hit(self, fault: str, size: Size, following: Size) -> list[Step]:
        """Send one frame under a fault; a gauge that streams repeats it without."""
        return [*self._damaged(fault, size, following), *self._repeated(size)]

    def _repeated(self, size: Size) -> list[Step]:
        return self.whole(size) if self._sender.needs_two else []

    def _damaged(self, fault: str, size: Size, following: Size) -> list[Step]:
        if fault in WIRE_FAULTS:
            damage, this = WIRE_FAULTS[fault], self.frame(size)
            n_bits = self._sender.piece_bits
            return list(self._steps(damage(this, self.frame(following), n_bits, self._dice)))
        assert self._sender.bits is not None
        spoil = BIT_FAULTS[ALIKE.get(fault, fault)]
        bits = spoil(self._sender.bits(size.steps, size.unit), self._dice)
        times = 2 if fault in ALIKE else 1
        return [s for _ in range(times) for s in ((None, b"".join(self.burst(bits))), SILENCE)]

    def _steps(self, way: Way) -> Iterator[Step]:
        for chunk in way.chunks:
            if chunk is None:
                yield (None, GaugeDisconnected("The port has gone."))
                yield (None, self._sender.opening)
            else:
                yield (None, b"".join(chunk))
        if not way.joined:
            yield SILENCE


def hear(
    sender: Sender, clean: Sequence[Step], rest: Sequence[Step]
) -> tuple[Reading, list[Reading]]:
    """Play the script; return the first, clean value and the readings that came after it."""
    opened: list[Step] = [(None, sender.opening)] if sender.opening else []
    script = ScriptedTransport([*opened, *clean, *rest])
    says_none = sender.profile.line is not None and INCH not in sender.step
    gauge = gauge_of(sender, script, MM if says_none else None)
    gauge.open()
    before = [event for _ in range(len(opened) + len(clean)) for event in gauge.poll(1.0)]
    whole = [event.body for event in before if isinstance(event.body, Reading)]
    assert whole, sender.name
    heard: list[Reading] = []
    while not gauge.ended:
        heard += [e.body for e in gauge.poll(1.0) if isinstance(e.body, Reading)]
    return whole[0], heard


def gauge_of(sender: Sender, script: ScriptedTransport, unit: LengthUnit | None) -> Gauge:
    """Put a gauge behind a script; ``unit`` is what its user says that it shows."""
    info = GaugeInfo(
        gauge_id="gauge",
        kind=GaugeKind.CALIPER,
        sends=sender.profile.sends,
        address="serial:scripted",
        format=sender.name,
        mpe_mm=0.02,
        shift_mpe_mm=0.02,
        mpe_source="invented",
    )
    decoder = make_decoder(sender.profile, unit=unit)
    return Gauge(port=script.port, decoder=decoder, info=info)


def run_trial(sender: Sender, fault: str, dice: Random, tally: Tally, *, bore: bool) -> None:
    """Let one fault happen and count what came of it."""
    first, second = draw_two(sender, dice, bore=bore)
    trial = Trial(sender, dice)
    clean = trial.whole(second)
    hit = trial.hit(fault, first, second)
    whole, heard = hear(sender, clean, [*hit, *trial.whole(second)])
    truths = {sender.truth_mm(size.steps, size.unit) for size in (first, second)}
    wrong = [each for each in heard if each.value_mm not in truths]
    passed = [each for each in wrong if not implausible(BORE, each)]
    tally.n += 1
    tally.wrong += bool(wrong)
    tally.right += not wrong and sender.truth_mm(first.steps, first.unit) in {
        each.value_mm for each in heard
    }
    tally.passed += bool(passed)
    others = [replace(whole, value_mm=mm) for mm in truths]
    at_once = [e for e in passed if not (jump(others, others, e) or lost_decimals(others, e))]
    tally.at_once += bool(at_once)
    tally.far += any(_is_far(each.value_mm, truths) for each in at_once)


def _is_far(value_mm: float, truths: set[float]) -> bool:
    """Tell whether a value is off tenfold, or by 10 mm, from all that was sent."""
    return all(
        abs(value_mm - mm) >= 10.0 or not abs(mm) / 10.0 < abs(value_mm) < abs(mm) * 10.0
        for mm in truths
    )


def run(n: int, seed: int, *, bore: bool, senders: Sequence[Sender] = SENDERS) -> Table:
    """Run ``n`` trials of each fault in each format; each cell has dice of its own."""
    table: Table = {}
    for sender in senders:
        for fault in faults_of(sender):
            dice = Random(f"{seed} {sender.name} {fault} {bore}")
            tally = table[sender.name, fault] = Tally()
            for _ in range(n):
                run_trial(sender, fault, dice, tally, bore=bore)
    return table


def main() -> None:
    """Run the campaign and print its tables."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--n", type=int, default=1000)
    options.add_argument("--seed", type=int, default=1)
    chosen = options.parse_args()
    tables = [run(chosen.n, chosen.seed, bore=bore) for bore in (False, True)]
    sys.stdout.write(report(chosen.n, *tables))


if __name__ == "__main__":
    main()
