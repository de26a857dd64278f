"""How stable the first place is, and what knowing one input exactly would be worth.

The value of knowing an input (the expected value of partial perfect information) is::

    min_j E[L_j] - E_x[ min_j E[L_j | x] ]

in the points of the loss L_j of spring j. E[L_j | x] is estimated by regression of the drawn
losses on the drawn input: M. Strong, J. E. Oakley, A. Brennan, Med. Decis. Making 34 (2014)
311 (from memory); here piecewise linear, with straight tails. The regression is made on one
half of the draws and its choices are paid for in the losses of the other half, so that chance
alone never looks like a gain: the estimate errs on the low side, if at all.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from gaugelink.choosing.ranking import TIE

if TYPE_CHECKING:
    from gaugelink.uncertainty.estimate import Array

_KNOTS = (0.05, 0.2, 0.35, 0.5, 0.65, 0.8, 0.95)  # quantiles of the draws
_SURE = 3.0  # standard errors from which a gain is more than chance


@dataclass(frozen=True, slots=True, kw_only=True)
class Informed:
    """What knowing something exactly would be worth.

    Args:
        gain: points by which the expected loss would fall, 0 or more.
        u_gain: standard uncertainty of it from the finite number of draws.
        right: share of draws in which the spring then chosen is the best, or as good.
    """

    gain: float
    u_gain: float
    right: float

    @property
    def is_sure(self) -> bool:
        """Whether the gain is more than chance."""
        return self.gain > _SURE * self.u_gain


def stability(losses: Array, first: int = 0) -> float:
    """Return the share of draws in which no spring is better than the first by a tie or more.

    Args:
        losses: points, draws by springs.
        first: position of the first.
    """
    return float((losses[:, first] <= losses.min(axis=1) + TIE).mean())


def shares_of_first(losses: Array, first: int = 0) -> Array:
    """Return for each spring the share of draws in which it is the best.

    Draws in which ``first`` is as good go to ``first``.
    """
    import numpy as np

    best = losses.argmin(axis=1)
    best[losses[:, first] <= losses.min(axis=1) + TIE] = first
    return np.bincount(best, minlength=losses.shape[1]) / len(losses)


def value_of_knowing(losses: Array, known: Array) -> Informed:
    """Compute what it would be worth to know something exactly.

    Args:
        losses: points, draws by springs.
        known: draws of what would be known: one column for all springs (one dimension), or
            for each spring something of its own (two dimensions).
    """
    import numpy as np

    halves = slice(None, None, 2), slice(1, None, 2)
    settled = int(losses.mean(axis=0).argmin())
    spared, right = [], []
    for learnt, paid in (halves, halves[::-1]):
        foreseen = _foreseen(losses[learnt], known[learnt], known[paid])
        chosen = foreseen.argmin(axis=1)
        price = losses[paid][np.arange(len(chosen)), chosen]
        spared.append(losses[paid][:, settled] - price)
        right.append(price <= losses[paid].min(axis=1) + TIE)
    gains = np.concatenate(spared)
    return Informed(
        gain=max(float(gains.mean()), 0.0),
        u_gain=float(gains.std() / np.sqrt(len(gains))),
        right=float(np.concatenate(right).mean()),
    )


def value_of_all(losses: Array) -> float:
    """Compute what it would be worth to know everything exactly, in points."""
    return float(losses.mean(axis=0).min() - losses.min(axis=1).mean())


def _foreseen(losses: Array, learnt: Array, asked: Array) -> Array:
    """Return E[L_j | x] at the x that are asked for, learnt from other draws."""
    import numpy as np

    if learnt.ndim == 1:
        return _fit(losses, learnt, asked)
    columns = [
        _fit(losses[:, [j]], learnt[:, j], asked[:, j])[:, 0] for j in range(losses.shape[1])
    ]
    return np.stack(columns, axis=1)


def _fit(losses: Array, learnt: Array, asked: Array) -> Array:
    import numpy as np

    middle, scale = learnt.mean(), learnt.std()
    if not scale > 0:
        return np.broadcast_to(losses.mean(axis=0), (len(asked), losses.shape[1]))
    x = (learnt - middle) / scale
    knots = np.quantile(x, _KNOTS)
    basis = _basis(x, knots)
    # The normal equations: nine unknowns, well apart, and thousands of draws. By einsum: the
    # threads of a linear algebra library cost more than so small a product.
    squares = np.einsum("id,kd->ik", basis, basis)
    weights = np.linalg.lstsq(squares, np.einsum("id,dj->ij", basis, losses), rcond=1e-12)[0]
    foreseen: Array = np.einsum("id,ij->dj", _basis((asked - middle) / scale, knots), weights)
    return foreseen


def _basis(x: Array, knots: Array) -> Array:
    import numpy as np

    return np.stack([np.ones_like(x), x, *np.maximum(x - knots[:, None], 0.0)])
