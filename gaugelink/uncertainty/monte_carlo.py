"""The Monte Carlo route: propagation of distributions, JCGM 101:2008, clauses 5.9 and 7.2 to 7.7.

Every influence draws from its own stream, seeded by the run's seed and the
influence's label. A run is therefore repeatable, and neither the order of the
quantities nor an influence added elsewhere changes the numbers of the others.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, NamedTuple

from gaugelink.errors import InputError, SizingError
from gaugelink.uncertainty.coverage import check_coverage, interval_of
from gaugelink.uncertainty.estimate import Influence, Model, Quantity, Shape, independent_influences

if TYPE_CHECKING:
    import numpy as np

    from gaugelink.uncertainty.estimate import Array
MIN_DRAWS = 1000  # below this, the 2.5 % tails hold fewer than 25 draws each
# Draws per call of the model. Some sixty arrays are alive at once (influences, inputs,
# intermediates); at 64 KiB each they stay in the processor's cache, and a numpy call
# still works several times longer than it costs to make. Speed is flat around this.
BLOCK = 8192
_KEPT_BYTES = 1 << 24  # more than the arrays of a block take together, see _keep_freed_memory


def simulate(
    model: Model, quantities: Sequence[Quantity], *, coverage: float, draws: int, seed: int
) -> tuple[OutputDistribution, ...]:
    """Propagate the distributions of the influences through a model by random draws.

    Args:
        model: plain function from arrays to arrays, by label.
        quantities: the inputs of the model.
        coverage: coverage probability of the interval, between 0 and 1.
        draws: number of draws, 1000 or more.
        seed: 0 or more; the same seed gives the same numbers.

    Returns:
        The outputs in the order of the model.

    Raises:
        InputError: coverage, draws or seed is out of range.
        SizingError: an output has no finite value in any draw.
        ValueError: labels of quantities or influences clash.
    """
    import numpy as np

    check_coverage(coverage)
    labels, rows = _sample(model, _Source(quantities, draws, seed))
    with np.errstate(all="ignore"):  # of draws that are not finite
        return tuple(reduced(label, row, coverage) for label, row in zip(labels, rows, strict=True))


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
    yield from _Source(quantities, draws, seed).blocks()


class _Source:
    """Joint draws of the quantities; asked again, it goes on where it stopped."""

    def __init__(self, quantities: Sequence[Quantity], draws: int, seed: int) -> None:
        _check(draws, seed)
        self.draws = draws
        self._quantities = quantities
        self._influences = independent_influences(quantities)
        self._streams = {i.label: _stream(seed, i) for i in self._influences}

    def blocks(self) -> Iterator[dict[str, float | Array]]:
        _keep_freed_memory()
        for start in range(0, self.draws, BLOCK):
            size = min(BLOCK, self.draws - start)
            drawn = {i.label: _draw(i, self._streams[i.label], size) for i in self._influences}
            yield {quantity.label: _assemble(quantity, drawn) for quantity in self._quantities}


def _keep_freed_memory() -> None:
    """Make the C library keep what is freed, where it learns that from large arrays as glibc does.

    Else the heap shrinks after each block and grows in the next, page by page, which costs
    more than half as much as the model. Freeing a large array raises the limit to twice its size:
    mallopt(3), M_TRIM_THRESHOLD and "dynamic mmap threshold".
    """
    import numpy as np

    np.empty(_KEPT_BYTES, dtype=np.uint8)


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


def _sample(model: Model, source: _Source) -> tuple[tuple[str, ...], Array]:
    import numpy as np

    labels: tuple[str, ...] = ()
    rows = np.empty((0, 0))
    start = 0
    with np.errstate(all="ignore"):  # a draw without a value is counted, not warned of
        for values in source.blocks():
            outputs = model(values)
            if start == 0:
                labels = tuple(outputs)
                rows = np.empty((len(labels), source.draws))
            stop = min(start + BLOCK, source.draws)
            for label, row in zip(labels, rows, strict=True):
                row[start:stop] = outputs[label]
            start = stop
    return labels, rows


def outputs_at(
    model: Model, points: Mapping[str, Sequence[float]]
) -> tuple[tuple[str, ...], list[list[float]]]:
    """Ask a model about many points in one call.

    Args:
        model: plain function from arrays to arrays, by label.
        points: the values of each input at the points; as many for every input.

    Returns:
        The labels of the outputs, and for each its values at the points; a value that
        does not exist is not a number.
    """
    import numpy as np

    arrays = {label: np.array(values, dtype=float) for label, values in points.items()}
    size = max((array.size for array in arrays.values()), default=1)
    with np.errstate(all="ignore"):
        outputs = model(arrays)
    values = [np.broadcast_to(output, size).tolist() for output in outputs.values()]
    return tuple(outputs), values


class OutputDistribution(NamedTuple):
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


def reduced(label: str, row: Array, coverage: float) -> OutputDistribution:
    """Reduce the draws of one output, which are reordered and overwritten on the way.

    Args:
        label: of the output.
        row: its draws; not all need be finite, so numpy must not warn of that.
        coverage: coverage probability, between 0 and 1.

    Raises:
        SizingError: no draw is finite.
    """
    used = _finite(row)
    if used.size == 0:
        raise SizingError(
            f"{label} has no value in any of {row.size} draws.",
            hint="Check the inputs against one another and their uncertainties.",
        )
    low, high = interval_of(used, coverage)
    mean = float(used.mean())
    used -= mean
    used *= used
    return OutputDistribution(
        label=label,
        mean=mean,
        std=math.sqrt(float(used.sum()) / max(used.size - 1, 1)),
        low=low,
        high=high,
        excluded_share=1.0 - used.size / row.size,
    )


def _finite(row: Array) -> Array:
    # A finite sum proves every draw finite at a fraction of the cost of asking each.
    return row if math.isfinite(float(row.sum())) else row[abs(row) < math.inf]


def tolerance_of(u: float) -> float:
    """Return the numerical tolerance of a standard uncertainty, in its unit: 7.9.2.

    delta = 10^l / 2 where u is rounded to c x 10^l with one digit in c. Zero where u is
    zero. It lies between a twentieth and half of u.

    Args:
        u: the standard uncertainty, not negative.

    >>> tolerance_of(0.0539)
    0.005
    """
    return 0.5 * 10.0 ** int(f"{u:.0e}".partition("e")[2]) if u else 0.0
