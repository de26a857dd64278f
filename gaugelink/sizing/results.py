"""What the sizing stage hands on: frozen figures, each an estimate with its uncertainty.

Three kinds of turns exist and are never mixed up: ``turns`` counts rings and is what
the literature quotes, ``turns_spiral`` counts true spirals and is about half a turn
less, and the turns a watch can use are fewer still and are not computed here.
"""

from __future__ import annotations

from dataclasses import dataclass

from gaugelink.uncertainty.estimate import BudgetRow, Estimate
from gaugelink.uncertainty.evaluate import Disagreement


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


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleResult:
    """What one rule asks for, and the sentence that names its source."""

    rule: str
    basis: str
    figures: SpringFigures


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """Two limits that judgement gives, not a coverage interval; ``low`` <= ``high``."""

    low: float
    high: float


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
class ComparedSpring:
    """A given spring, its torque against a reference, and its distance from each rule.

    ``torque_ratio`` spans the two ways torque may scale: ``torque_at_limit`` with
    h e^2, both springs strained to their elastic limit, and ``torque_of_equal_shape``
    with h e^3 / L, both of one free shape. The truth of a real pair lies between.
    ``torque_reference`` says what the reference is and what had to be assumed.
    """

    figures: SpringFigures
    torque_ratio: Band | None
    torque_at_limit: Estimate | None
    torque_of_equal_shape: Estimate | None
    torque_reference: str
    distances: tuple[RuleDistance, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SizingWarning:
    """Something doubtful that does not stop the sizing, with a stable code."""

    code: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SizeResult:
    """All that one sizing run found, and what is needed to repeat it.

    ``coverage`` is the coverage probability of every interval. ``height`` is the
    available height after clearance, None without a depth. ``disagreements`` are the
    outputs whose first-order interval the Monte Carlo does not confirm.
    """

    coverage: float
    inputs: tuple[Estimate, ...]
    height: Estimate | None
    rules: tuple[RuleResult, ...]
    found: ComparedSpring | None
    documented: ComparedSpring | None
    budget: tuple[BudgetRow, ...]
    warnings: tuple[SizingWarning, ...]
    draws: int
    seed: int
    disagreements: tuple[Disagreement, ...]
