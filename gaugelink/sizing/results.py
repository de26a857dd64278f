"""What the sizing stage hands on: frozen figures, each an estimate with its uncertainty.

Three kinds of turns exist and are never mixed up: ``turns`` counts rings and is what
the literature quotes, ``turns_spiral`` counts true spirals and is about half a turn
less, and ``turns_usable`` is those of the spiral until the torque ends, with what hub and hook
make of the count in its interval.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from typing import TYPE_CHECKING

from gaugelink.mechanics.arrangement import Arrangement
from gaugelink.mechanics.band import Band
from gaugelink.mechanics.materials import OPEN, Material, material_named
from gaugelink.model import Advice
from gaugelink.uncertainty.estimate import BudgetRow, Estimate

if TYPE_CHECKING:
    from gaugelink.mechanics.found_length import FoundLength
    from gaugelink.mechanics.motion import MeasuredAmplitude, WishedThickness
    from gaugelink.mechanics.strength import FoundStrength
    from gaugelink.mechanics.train import Train
    from gaugelink.sizing.covered import NotCovered
    from gaugelink.sizing.order import Order, Room
    from gaugelink.sizing.stops import Stop
    from gaugelink.uncertainty.evaluate import Disagreement


@dataclass(frozen=True, slots=True, kw_only=True)
class Foreseen:
    """The amplitude to expect with a spring, in degrees, from one measured with the found one.

    ``low_deg`` and ``high_deg`` take in what the torque ratio is uncertain by. ``may_knock``
    and ``will_knock`` say which of them reaches the angle where knocking begins;
    ``extrapolated`` that the torque changes by more than the law is good for.
    """

    low_deg: float
    high_deg: float
    may_knock: bool
    will_knock: bool
    extrapolated: bool
    advice: tuple[Advice, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class AtFusee:
    """What one spring gives at the fusee, friction left out.

    ``top`` and ``bottom`` are the torque in N mm at the fusee with all the chain on it and with
    none, None without a height. ``evenness`` is the least torque on the way over the most, as set
    up; ``best_set_up`` the turns of the barrel at which both ends give one torque, or as near to
    that as the spring allows, and ``best_evenness`` what comes of it. ``spare_turns`` the spring
    has beside chain and set-up; below 0 it has too few.
    """

    top: Estimate | None
    bottom: Estimate | None
    evenness: Estimate
    best_set_up: Estimate
    best_evenness: Estimate
    spare_turns: Estimate


@dataclass(frozen=True, slots=True, kw_only=True)
class TorqueModel:
    """What the torque model says of one spring in this barrel, friction left out.

    The intervals take in what the material and the free shape may be; ``stress_full`` is the
    full-wind stress in MPa. ``turns_usable`` counts from full wind until the torque ends,
    ``turns_working`` those that a stopwork leaves of them. ``hours_usable`` is an upper limit
    in h; ``hours_to_stop`` ends where the torque no longer drives the train. ``torque_full`` in
    N mm is at full wind, or at the top of the stopwork, ``torque_half_turn`` half a turn
    later; ``torque_kept`` is torque 24 h later over ``torque_full``; ``energy`` in mJ is given
    off over all usable turns.
    ``loose_coils`` stay off the wall at rest, ``stress_range`` in MPa is how far the stress
    of the innermost coil swings, and ``crown_turns`` wind the spring from rest. What is
    not known is None: torque without a height, hours without hours per turn. Where the bridle
    slips, ``upper_limit``, torque and turns are those at the slip, and no more than these; with
    the cone of a fusee ``hours_to_stop`` ends with the chain.
    """

    stress_full: Estimate
    turns_usable: Estimate
    loose_coils: Estimate
    stress_range: Estimate
    hours_usable: Estimate | None = None
    hours_to_stop: Estimate | None = None
    torque_full: Estimate | None = None
    torque_half_turn: Estimate | None = None
    torque_kept: Estimate | None = None
    energy: Estimate | None = None
    turns_working: Estimate | None = None
    crown_turns: Estimate | None = None
    foreseen: Foreseen | None = None
    fusee: AtFusee | None = None
    upper_limit: bool = False
    warnings: tuple[Advice, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class SpringFigures:
    """The dimensions of one spring and what they give in this barrel.

    Lengths in mm, ``hours`` in h (``turns`` times the hours per turn), the rest are
    numbers. ``length`` and all that follows from it is None only for a given spring
    whose length is not known; ``height`` is None for a rule, which gives none.
    """

    thickness: Estimate
    length: Estimate | None
    fill: Estimate | None
    turns: Estimate | None
    turns_spiral: Estimate | None
    coils_down: Estimate | None
    coils_wound: Estimate | None
    height: Estimate | None = None
    hours: Estimate | None = None
    torque_model: TorqueModel | None = None

    @property
    def turns_usable(self) -> Estimate | None:
        """Turns until the torque ends; None where the model has not run."""
        return None if self.torque_model is None else self.torque_model.turns_usable


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleResult:
    """What one rule asks for, and the sentence that names its source."""

    rule: str
    basis: str
    figures: SpringFigures


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleDistance:
    """How far a given spring lies from what a rule asks for.

    ``difference`` is spring minus rule in the unit of ``output``; ``u`` its standard
    uncertainty, shared influences counted once. ``in_u`` is difference / u, signed
    infinity when a difference is left and nothing is uncertain. ``rule`` is "height"
    for the available height, else the name of a rule.
    """

    rule: str
    output: str
    difference: float
    u: float
    in_u: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RatioInterval:
    """A torque ratio by the torque model: ``band`` at the best values of all sizes.

    Its limits are the two ways torque may scale, each spring set on its own arbor, and
    both of one free shape. ``whole`` spans the coverage intervals of both limits.
    """

    band: Band
    whole: Band

    @property
    def turned(self) -> RatioInterval:
        """The same ratio the other way round."""
        band, whole = (
            Band(low=1 / each.high, high=1 / each.low) for each in (self.band, self.whole)
        )
        return RatioInterval(band=band, whole=whole)


@dataclass(frozen=True, slots=True, kw_only=True)
class ComparedSpring:
    """A given spring, its torque against a reference, and its distance from each rule.

    ``torque_ratio`` spans the two ways torque may scale: ``torque_at_limit`` with
    h e^2, both springs strained to their elastic limit, and ``torque_of_equal_shape``
    with h e^3 / L, both of one free shape. The truth of a real pair lies between.
    ``torque_reference`` says what the reference is and what had to be assumed, ``reference`` is
    its name; None without one.
    ``ratio_full`` and ``ratio_day`` are the torque model's at full wind, or at the top of
    the stopwork, and 24 h later; the latter is None where one of the two may have run down
    by then.
    """

    figures: SpringFigures
    torque_ratio: Band | None
    torque_at_limit: Estimate | None
    torque_of_equal_shape: Estimate | None
    torque_reference: str
    distances: tuple[RuleDistance, ...]
    reference: str | None = None
    ratio_full: RatioInterval | None = None
    ratio_day: RatioInterval | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class FuseeChain:
    """The chain of a fusee: its length in mm, and the turns of the barrel that it takes.

    ``turns`` of it lie on the cone, ``hours_per_turn`` of the fusee are in h.
    """

    length: Estimate
    barrel_turns: Estimate
    turns: Estimate
    set_up: Estimate
    hours_per_turn: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Watch:
    """What was said of the watch around the barrel, as it was used."""

    arrangement: Arrangement = field(default_factory=Arrangement)
    material: Material = field(default_factory=lambda: material_named(OPEN))
    found_material: Material | None = None
    length_includes_end: bool = True
    train: Train | None = None
    hours_per_turn: float | None = None
    winding_train: Train | None = None
    fusee: FuseeChain | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Motion:
    """What an amplitude measured with the found spring says, before any spring is suggested.

    ``wished`` is what a wished amplitude takes, None where none was wished for or no
    found spring is known.
    """

    measured: MeasuredAmplitude
    advice: tuple[Advice, ...]
    wished_deg: float | None = None
    wished: WishedThickness | None = None


class Question(StrEnum):
    """What is asked of a found spring."""

    TIRED = "tired"
    WRONG = "wrong one"
    ORIGINAL = "original"


class Speaks(StrEnum):
    """Which side of its question a clue takes."""

    FOR = "for"
    AGAINST = "against"
    NEITHER = "neither"


class Leaning(StrEnum):
    """What the clues of a question add up to."""

    YES = "yes"
    NO = "no"
    MIXED = "mixed"
    OPEN = "open"


@dataclass(frozen=True, slots=True, kw_only=True)
class Clue:
    """One thing seen: ``seen`` says it in a sentence, ``basis`` why it means anything."""

    question: Question
    code: str
    seen: str
    speaks: Speaks
    basis: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What the clues to one question add up to, in words and with the clues themselves."""

    question: Question
    leaning: Leaning
    text: str
    clues: tuple[Clue, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """The reading of the found spring as a whole: a finding from what was seen, no verdict.

    ``strength`` is what its signs come to; None where its length is not known. ``ask`` says what
    to look for next and what that tells; empty where nothing would tell much more.
    """

    text: str
    answers: tuple[Answer, ...]
    strength: FoundStrength | None = None
    ask: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SizeResult:
    """All that one sizing run found, and what is needed to repeat it.

    ``coverage`` is the coverage probability of every interval. ``height`` is the
    available height after clearance, None without a depth. ``disagreements`` are the
    outputs whose first-order interval the Monte Carlo does not confirm. ``refused`` is
    what was asked and no rule covers; ``rules`` is then empty where thickness and length are
    among it. ``order`` is the size to order, ``order_figures`` what it gives, ``over_found`` its
    torque over that of the found spring; ``room`` the height below the lid without play.
    ``stops`` are what has to be settled before, of which some may be ``accepted``.
    """

    coverage: float
    inputs: tuple[Estimate, ...]
    height: Estimate | None
    rules: tuple[RuleResult, ...]
    found: ComparedSpring | None
    documented: ComparedSpring | None
    budget: tuple[BudgetRow, ...]
    warnings: tuple[Advice, ...]
    draws: int
    seed: int
    disagreements: tuple[Disagreement, ...]
    watch: Watch = field(default_factory=Watch)
    refused: tuple[NotCovered, ...] = ()
    motion: Motion | None = None
    found_length: FoundLength | None = None
    finding: Finding | None = None
    order: Order | None = None
    order_figures: SpringFigures | None = None
    over_found: RatioInterval | None = None
    room: Room | None = None
    stops: tuple[Stop, ...] = ()
    accepted: frozenset[str] = frozenset()
