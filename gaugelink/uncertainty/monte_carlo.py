"""The Monte Carlo route: propagation of distributions, JCGM 101:2008.

Every influence draws from its own stream, seeded by the run's seed and the
influence's label. A run is therefore repeatable, and neither the order of the
quantities nor an influence added elsewhere changes the numbers of the others.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from gaugelink.errors import InputError, SizingError
from gaugelink.uncertainty.coverage import check_coverage
from gaugelink.uncertainty.estimate import Influence, Model, Quantity, Shape
from gaugelink.uncertainty.influences import independent_influences

if TYPE_CHECKING:
    import numpy as np

    from gaugelink.uncertainty.estimate import Array

MIN_DRAWS = 1000  # below this, the 2.5 % tails hold fewer than 25 draws each

# Draws per call of the model. Some sixty arrays are alive at once (influences, inputs,
# intermediates); at 64 KiB each they stay in the processor's cache, and a numpy call
# still works several times longer than it costs to make. Speed is flat around this.
BLOCK = 8192


@dataclass(frozen=True, slots=True, kw_only=True)
class OutputDistribution:
    """What the draws of one output say.

    ``low`` and ``high`` are the probabilistically symmetric coverage interval.
    Draws for which the output has no finite value are left out of every figure;
    ``excluded_share`` is their part of all draws, 0 to 1. With an influence of one
    or two degrees of freedom the variance does not exist, and ``std`` means nothing.
    """

    label: str
    mean: float
    std: float
    low: float
    high: float
    excluded_share: float


def simulate(
    model: Model, quantities: Sequence[Quantity], *, coverage: float, draws: int, seed: int
) -> tuple[OutputDistribution, ...]:
    """Propagate the distributions of the influences through a model by random draws.

    JCGM 101:2008, clauses 5.9 and 7.2 to 7.7.

    Args:
        model: plain function from arrays to arrays, by label.
        quantities: the inputs of the model.
        coverage: coverage probability of the interval, between 0 and 1.
        draws: number of draws, 1000 or more.
        seed: 0 or more; the same seed gives the same numbers.

    Returns:
        One ``OutputDistribution`` per output, in the order of the model.

    Raises:
        InputError: coverage, draws or seed is out of range.
        SizingError: an output has no finite value in any draw.
        ValueError: labels of quantities or influences clash.
    """
    check_coverage(coverage)
    labels, rows = _sample(model, quantities, draws, seed)
    return tuple(_summarise(label, row, coverage) for label, row in zip(labels, rows, strict=True))


def draw_blocks(
    quantities: Sequence[Quantity], *, draws: int, seed: int
) -> Iterator[dict[str, float | Array]]:
    """Yield joint draws of the quantities in blocks that stay in the processor's cache.

    Args:
        quantities: the quantities to draw together; what they share moves them together.
        draws: number of draws in all, 1000 or more.
        seed: 0 or more.

    Yields:
        By label, an array of at most ``BLOCK`` values, or a float where nothing varies.

    Raises:
        InputError: draws or seed is out of range.
        ValueError: labels of quantities or influences clash.
    """
    _check(draws, seed)
    influences = independent_influences(quantities)
    streams = {influence.label: _stream(seed, influence) for influence in influences}
    for start in range(0, draws, BLOCK):
        size = min(BLOCK, draws - start)
        drawn = {i.label: _draw(i, streams[i.label], size) for i in influences}
        yield {quantity.label: _assemble(quantity, drawn) for quantity in quantities}


def _check(draws: int, seed: int) -> None:
    if draws < MIN_DRAWS:
        raise InputError(
            f"{draws} draws are too few for a coverage interval.",
            hint=f"Ask for at least {MIN_DRAWS}; 200000 is usual.",
        )
    if seed < 0:
        raise InputError(f"A seed of {seed} is not possible.", hint="Give 0 or a larger number.")


def _stream(seed: int, influence: Influence) -> np.random.Generator:
    import numpy as np

    return np.random.default_rng([seed, int.from_bytes(influence.label.encode(), "big")])


def _draw(influence: Influence, stream: np.random.Generator, size: int) -> Array:
    if influence.shape is Shape.RECTANGULAR:
        half_width = influence.u * math.sqrt(3.0)
        return stream.uniform(-half_width, half_width, size)
    if influence.shape is Shape.STUDENT and math.isfinite(influence.dof):
        return influence.u * stream.standard_t(influence.dof, size)
    return influence.u * stream.standard_normal(size)


def _assemble(quantity: Quantity, drawn: Mapping[str, Array]) -> float | Array:
    value: float | Array = quantity.value
    for term in quantity.terms:
        if term.influence.label in drawn:
            value = value + term.factor * drawn[term.influence.label]
    return value


def _sample(
    model: Model, quantities: Sequence[Quantity], draws: int, seed: int
) -> tuple[tuple[str, ...], Array]:
    import numpy as np

    labels: tuple[str, ...] = ()
    rows = np.empty((0, 0))
    start = 0
    with np.errstate(all="ignore"):  # a draw without a value is counted, not warned of
        for values in draw_blocks(quantities, draws=draws, seed=seed):
            outputs = model(values)
            if start == 0:
                labels = tuple(outputs)
                rows = np.empty((len(labels), draws))
            stop = min(start + BLOCK, draws)
            for label, row in zip(labels, rows, strict=True):
                row[start:stop] = outputs[label]
            start = stop
    return labels, rows


def _summarise(label: str, row: Array, coverage: float) -> OutputDistribution:
    """Reduce one row of draws, which is reordered and overwritten on the way."""
    import numpy as np

    used = _finite(row)
    if used.size == 0:
        raise SizingError(
            f"{label} has no value in any of {row.size} draws.",
            hint="Check the inputs against one another and their uncertainties.",
        )
    low, high = _symmetric_interval(used, coverage)
    mean = float(used.mean())
    used -= mean
    np.square(used, out=used)
    return OutputDistribution(
        label=label,
        mean=mean,
        std=math.sqrt(float(used.sum()) / max(used.size - 1, 1)),
        low=low,
        high=high,
        excluded_share=1.0 - used.size / row.size,
    )


def _finite(row: Array) -> Array:
    import numpy as np

    with np.errstate(all="ignore"):
        total = float(row.sum())
    # A finite sum proves every draw finite at a fraction of the cost of asking each.
    return row if math.isfinite(total) else row[np.isfinite(row)]


def _symmetric_interval(row: Array, coverage: float) -> tuple[float, float]:
    """Return the order statistics y_(r) and y_(r+q) of JCGM 101:2008, 7.7.2."""
    q = math.floor(coverage * row.size + 0.5)
    r = max(math.floor((row.size - q + 1) / 2), 1)
    low, high = r - 1, min(r + q, row.size) - 1
    # One position at a time: numpy selects a single one with vector instructions,
    # two at once without, which takes three times as long.
    row.partition(low)
    if high > low:
        row[low + 1 :].partition(high - low - 1)
    return float(row[low]), float(row[high])
