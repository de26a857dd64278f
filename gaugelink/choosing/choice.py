"""What a choice hands on: frozen figures and sentences."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from gaugelink.choosing.refusals import Refusals
    from gaugelink.choosing.state import ReferenceKind
    from gaugelink.mechanics.band import Band
    from gaugelink.mechanics.motion import WishedThickness
    from gaugelink.model import Advice
    from gaugelink.sizing.order import Order
    from gaugelink.stock.stock_spring import StockSpring
    from gaugelink.uncertainty.estimate import Estimate


class Reach(StrEnum):
    """How the amplitudes to expect of a spring lie to the one wished for."""

    SHORT = "short"
    WITHIN = "within"
    BEYOND = "beyond"


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """An amplitude in degrees, in the state of the measured one, and what it takes."""

    amplitude_deg: float
    takes: WishedThickness


@dataclass(frozen=True, slots=True, kw_only=True)
class Reason:
    """A sentence for or against a spring, and the points that it costs; 0 for a mere remark."""

    text: str
    points: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Pick:
    """A spring that may be fitted, and what it does.

    Args:
        spring: as it is in the stock.
        score: expected loss in points, see ``loss``.
        probability_fits: that its height is no more than the limit; None without a limit.
        probability_goes_in: that it is no more than the room below the lid; None without one.
        cut_to_mm: length to shorten it to first; None where it is fitted as it is.
        turns: development of the bare barrel, coils as rings.
        turns_usable: turns that drive the watch, with its outer end and a stopwork.
        hours: ``turns_usable`` in h, an upper limit; None where the hours per turn are not known.
        hours_to_stop: hours until the torque no longer drives the train.
        fill: part of the ring that it covers.
        torque_ratio: torque when the watch is wound over that of the reference.
        torque_to_found: over that of the found spring, healthy or tired, when the watch is wound
            or in the state in which the amplitude was measured; None where nobody knows it.
        amplitude_deg: amplitude to expect; None where none was measured.
        reach: how it lies to the one wished for; None without a wish or an amplitude.
        reasons: why it is where it is.
        warnings: what to look at before it is fitted.
    """

    spring: StockSpring
    score: float
    probability_fits: float | None
    probability_goes_in: float | None
    cut_to_mm: float | None
    turns: Estimate
    turns_usable: Estimate
    hours: Estimate | None
    hours_to_stop: Estimate | None
    fill: Estimate
    torque_ratio: Band
    torque_to_found: Band | None
    amplitude_deg: Band | None
    reach: Reach | None
    reasons: tuple[Reason, ...]
    warnings: tuple[Advice, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Rival:
    """A spring that is better than the first in a share of the draws."""

    item: str
    share: float


@dataclass(frozen=True, slots=True, kw_only=True)
class BetterMeasured:
    """What knowing an input exactly would be worth.

    ``gain`` in points; ``right`` is the share of draws in which the choice would then be the
    best one, to compare with the stability.
    """

    input: str
    gain: float
    right: float
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Decision:
    """How sure the first place is.

    Args:
        stability: share of draws of everything measured in which no other spring is better.
        stability_with_strip: the same with the sizes of all springs drawn in their tolerances.
        gain_of_all: points that knowing everything measured exactly would gain.
        rivals: springs that are better in some draws, the most frequent first.
        better_measured: what to measure better, the most worth first.
        contenders: how many springs were compared draw by draw.
        draws: number of draws.
        seed: their seed.
    """

    stability: float
    stability_with_strip: float
    gain_of_all: float
    rivals: tuple[Rival, ...]
    better_measured: tuple[BetterMeasured, ...]
    contenders: int
    draws: int
    seed: int


@dataclass(frozen=True, slots=True, kw_only=True)
class LeastBad:
    """The change that is least bad where nothing fits: to which spring, and what to do."""

    item: str
    score: float
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ReferenceSpring:
    """What torque is compared with, sizes in mm; a rule is as high as the barrel allows."""

    kind: ReferenceKind
    text: str
    height_mm: float | None
    thickness_mm: float
    length_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """All that one choice found.

    Args:
        picks: the best of the springs that may be fitted, best first.
        ranked: how many may be fitted.
        refused: the others, in the order of the stock.
        stock_size: how many springs there are.
        limit: height that a spring may have; None where nothing is known of it.
        limit_from_depth: whether it comes from the depth of the barrel.
        reference: what torque is compared with.
        wish: the amplitude wished for, which moves no spring; None without one.
        decision: how sure the first place is; None where nothing fits.
        order: what to order instead, or besides; None where nothing tells it.
        least_bad: None where something fits, or no change would help.
        warnings: what is doubtful about barrel, stock or movement.
        coverage: coverage probability of the intervals.
    """

    picks: tuple[Pick, ...]
    ranked: int
    refused: Refusals
    stock_size: int
    limit: Estimate | None
    limit_from_depth: bool
    reference: ReferenceSpring
    wish: Wish | None
    decision: Decision | None
    order: Order | None
    least_bad: LeastBad | None
    warnings: tuple[Advice, ...]
    coverage: float
