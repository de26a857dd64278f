"""The Monte Carlo route: propagation of distributions, JCGM 101:2008.

Every influence draws from its own stream, seeded by the run's seed and the
influence's label. A run is therefore repeatable, and neither the order of the
quantities nor an influence added elsewhere changes the numbers of the others.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING

from gaugelink.errors import InputError
from gaugelink.uncertainty.adaptive import Adaptive, block_size, is_stable
from gaugelink.uncertainty.coverage import check_coverage
from gaugelink.uncertainty.distribution import OutputDistribution, Simulation, reduced
from gaugelink.uncertainty.estimate import Influence, Model, Quantity, Shape
from gaugelink.uncertainty.influences import independent_influences
from gaugelink.uncertainty.intervals import Interval

if TYPE_CHECKING:
    import numpy as np

    from gaugelink.uncertainty.estimate import Array

MIN_DRAWS = 1000  # below this, the 2.5 % tails hold fewer than 25 draws each

# Draws per call of the model. Some sixty arrays are alive at once (influences, inputs,
# intermediates); at 64 KiB each they stay in the processor's cache, and a numpy call
# still works several times longer than it costs to make. Speed is flat around this.
BLOCK = 8192


def simulate(
    model: Model,
    quantities: Sequence[Quantity],
    *,
    coverage: float,
    draws: int | Adaptive,
    seed: int,
    interval: Interval = Interval.SYMMETRIC,
) -> tuple[OutputDistribution, ...]:
    """Propagate distributions as ``run_simulation`` does; return the outputs alone."""
    return run_simulation(
        model, quantities, coverage=coverage, draws=draws, seed=seed, interval=interval
    ).outputs


def run_simulation(
    model: Model,
    quantities: Sequence[Quantity],
    *,
    coverage: float,
    draws: int | Adaptive,
    seed: int,
    interval: Interval = Interval.SYMMETRIC,
) -> Simulation:
    """Propagate the distributions of the influences through a model by random draws.

    JCGM 101:2008, clauses 5.9 and 7.2 to 7.7; with ``Adaptive`` draws 7.9 as well.

    Args:
        model: plain function from arrays to arrays, by label.
        quantities: the inputs of the model.
        coverage: coverage probability of the interval, between 0 and 1.
        draws: number of draws, 1000 or more, or as many as a tolerance needs.
        seed: 0 or more; the same seed gives the same numbers.
        interval: which coverage interval.

    Returns:
        The outputs in the order of the model, and how many draws they took.

    Raises:
        InputError: coverage, draws or seed is out of range.
        SizingError: an output has no finite value in any draw.
        ValueError: labels of quantities or influences clash.
    """
    check_coverage(coverage)
    if isinstance(draws, Adaptive):
        source = _Source(quantities, block_size(coverage), seed)
        return _adaptive(model, source, draws, coverage, interval)
    labels, rows = _sample(model, _Source(quantities, draws, seed))
    return Simulation(
        outputs=_summaries(labels, rows, coverage, interval), draws=draws, stable=None
    )


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

    @property
    def has_variance(self) -> bool:
        """Whether every influence has one; Student's t with one or two dof has none."""
        return all(i.dof > 2.0 or i.shape is not Shape.STUDENT for i in self._influences)

    def blocks(self) -> Iterator[dict[str, float | Array]]:
        for start in range(0, self.draws, BLOCK):
            size = min(BLOCK, self.draws - start)
            drawn = {i.label: _draw(i, self._streams[i.label], size) for i in self._influences}
            yield {quantity.label: _assemble(quantity, drawn) for quantity in self._quantities}


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


def _adaptive(
    model: Model, source: _Source, asked: Adaptive, coverage: float, interval: Interval
) -> Simulation:
    """Draw block after block until every output is stable: JCGM 101:2008, 7.9.4."""
    import numpy as np

    blocks: list[Array] = []
    figures: list[tuple[OutputDistribution, ...]] = []
    stable, enough = False, False
    while not enough:
        labels, rows = _sample(model, source)
        figures.append(_summaries(labels, rows.copy(), coverage, interval))
        blocks.append(rows)
        stable = _all_stable(figures, asked.digits, source.has_variance)
        enough = stable or (len(blocks) + 1) * source.draws > asked.most
    whole = np.concatenate(blocks, axis=1)
    return Simulation(
        outputs=_summaries(labels, whole, coverage, interval), draws=whole.shape[1], stable=stable
    )


def _all_stable(
    figures: Sequence[tuple[OutputDistribution, ...]], digits: int, has_u: bool
) -> bool:
    by_output = zip(*figures, strict=True)
    return all(is_stable(output, digits, has_u=has_u) for output in by_output)


def _summaries(
    labels: Sequence[str], rows: Array, coverage: float, interval: Interval
) -> tuple[OutputDistribution, ...]:
    import numpy as np

    with np.errstate(all="ignore"):  # of draws that are not finite
        return tuple(
            reduced(label, row, coverage, interval) for label, row in zip(labels, rows, strict=True)
        )


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
