"""Of many parts judged by one measurement each, how many are judged wrongly.

JCGM 106:2012, clause 9. Parts scatter by a *prior* distribution that earlier ones are
known to follow; a measurement of one errs normally by its standard uncertainty; a part
is accepted where its measured value lies in the acceptance zone. The consumer's risk is
that a part is outside its tolerance and accepted, the producer's that it is inside and
rejected.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Protocol

from gaugelink.errors import InputError
from gaugelink.uncertainty.conformity import Limits

_STRETCHES, _PIECES = 16, 100  # of the prior; of each for Simpson's rule: right to 1e-9
_TAIL = 9.0  # standard deviations beyond which a normal prior holds nothing
_HALVINGS = 45


class Prior(Protocol):
    """A distribution of parts before they are measured."""

    @property
    def support(self) -> Limits:
        """The finite zone that holds all but nothing of it."""

    def density(self, x: float) -> float:
        """Return the probability density at x, per unit of x."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NormalPrior:
    """Parts that scatter normally about ``mean``."""

    mean: float
    std: float

    @property
    def support(self) -> Limits:
        """The finite zone that holds all but nothing of it."""
        return Limits(low=self.mean - _TAIL * self.std, high=self.mean + _TAIL * self.std)

    def density(self, x: float) -> float:
        """Return the probability density at x, per unit of x."""
        z = (x - self.mean) / self.std
        return math.exp(-0.5 * z * z) / (self.std * math.sqrt(2.0 * math.pi))

    def updated(self, value: float, u: float) -> NormalPrior:
        """Return what is known of a part after one measurement of it: JCGM 106, clause 6.

        The mean weighs prior and measured value by their inverse variances, which add.

        Args:
            value: the measured value.
            u: its standard uncertainty.
        """
        weight = self.std**2 / (self.std**2 + u**2)
        return NormalPrior(mean=self.mean + weight * (value - self.mean), std=u * math.sqrt(weight))


@dataclass(frozen=True, slots=True, kw_only=True)
class GammaPrior:
    """Parts whose property cannot be negative; mean shape / rate, variance shape / rate^2."""

    shape: float
    rate: float

    @property
    def support(self) -> Limits:
        """The finite zone that holds all but nothing of it."""
        return Limits(low=0.0, high=(self.shape + 40.0 + 12.0 * math.sqrt(self.shape)) / self.rate)

    def density(self, x: float) -> float:
        """Return the probability density at x, per unit of x; shape 1 or more."""
        if x <= 0.0:
            return self.rate if x == 0.0 and self.shape == 1.0 else 0.0
        scaled = self.rate * x
        log_density = (self.shape - 1.0) * math.log(scaled) - scaled - math.lgamma(self.shape)
        return self.rate * math.exp(log_density)


@dataclass(frozen=True, slots=True, kw_only=True)
class Risks:
    """Probabilities for a part taken at random: out of tolerance, and judged wrongly."""

    out_of_tolerance: float
    consumers: float
    producers: float


def risks(prior: Prior, u: float, tolerance: Limits, acceptance: Limits) -> Risks:
    """Compute the global risks of a decision rule: JCGM 106, 9.5.2 and 9.5.3.

    Args:
        prior: how the parts scatter.
        u: standard uncertainty of the measurement, above zero.
        tolerance: where a part conforms.
        acceptance: where its measured value leads to acceptance, in the same unit.
    """
    support = prior.support
    low = min(max(tolerance.low, support.low), support.high)
    high = max(min(tolerance.high, support.high), support.low)
    edges = [end + by * _TAIL * u for end in (acceptance.low, acceptance.high) for by in (-1, 0, 1)]
    span = support.high - support.low
    edges += [support.low + k * span / _STRETCHES for k in range(_STRETCHES)]

    def part(function: Callable[[float], float], *stretches: tuple[float, float]) -> float:
        return sum(
            _integral(lambda x: prior.density(x) * function(x), *stretch, edges)
            for stretch in stretches
        )

    outside = ((support.low, low), (high, support.high))
    return Risks(
        out_of_tolerance=part(lambda _: 1.0, *outside),
        consumers=part(lambda x: _within(acceptance, x, u), *outside),
        producers=part(lambda x: 1.0 - _within(acceptance, x, u), (low, high)),
    )


def upper_acceptance_limit(prior: Prior, u: float, limit: float, consumers_risk: float) -> float:
    """Find the acceptance limit that holds the consumer's risk at an upper limit.

    Args:
        prior: how the parts scatter.
        u: standard uncertainty of the measurement, above zero.
        limit: upper tolerance limit.
        consumers_risk: the risk to be met, between 0 and 1.

    Returns:
        The measured value up to which parts are accepted, in the same unit.

    Raises:
        InputError: more parts are out of tolerance than the risk, or fewer, than can be.
    """
    tolerance = Limits(high=limit)

    def too_risky(accepted_to: float) -> bool:
        acceptance = Limits(high=accepted_to)
        return risks(prior, u, tolerance, acceptance).consumers > consumers_risk

    low, high = limit - _TAIL * u, limit + _TAIL * u
    if too_risky(low) or not too_risky(high):
        raise InputError(
            f"No acceptance limit gives a consumer's risk of {consumers_risk:g}.",
            hint="Ask for a risk below the share of parts that are out of tolerance.",
        )
    for _ in range(_HALVINGS):
        middle = (low + high) / 2.0
        low, high = (low, middle) if too_risky(middle) else (middle, high)
    return (low + high) / 2.0


def _within(zone: Limits, centre: float, u: float) -> float:
    below, above = (zone.low - centre) / u, (centre - zone.high) / u
    return 1.0 - 0.5 * (math.erfc(-below / math.sqrt(2.0)) + math.erfc(-above / math.sqrt(2.0)))


def _integral(
    function: Callable[[float], float], low: float, high: float, edges: Sequence[float]
) -> float:
    """Integrate by Simpson's rule in stretches that end where the function bends sharply."""
    ends = sorted({low, high, *(edge for edge in edges if low < edge < high)})
    return math.fsum(_simpson(function, a, b) for a, b in itertools.pairwise(ends))


def _simpson(function: Callable[[float], float], low: float, high: float) -> float:
    width = (high - low) / _PIECES
    inner = ((4.0 if k % 2 else 2.0) * function(low + k * width) for k in range(1, _PIECES))
    return (function(low) + function(high) + math.fsum(inner)) * width / 3.0
