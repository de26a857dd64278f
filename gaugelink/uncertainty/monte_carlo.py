"""The Monte Carlo route: propagation of distributions, JCGM 101:2008.

Every influence draws from its own stream, seeded by the run's seed and the
influence's label. A run is therefore repeatable, and neither the order of the
quantities nor an influence added elsewhere changes the numbers of the others.

When a Monte Carlo run has taken enough draws: JCGM 101:2008, 7.9.

Draws come in blocks. Each block gives a mean, a standard deviation and an interval of
its own; how far the blocks scatter tells how well their averages are known. The run is
stable when twice the standard deviation of each average is below the numerical
tolerance of u.

What the Monte Carlo draws of one output say, and how a row of draws is reduced to it.

How many digits of a standard uncertainty count: JCGM 101:2008, 7.9.2.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

from gaugelink.errors import InputError, SizingError
from gaugelink.statistics.moments import mean, std
from gaugelink.uncertainty.coverage import Interval, check_coverage
from gaugelink.uncertainty.estimate import Influence, Model, Quantity, Shape, independent_influences

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
) -> MonteCarloRun:
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
    return MonteCarloRun(
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
) -> MonteCarloRun:
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
    return MonteCarloRun(
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


LEAST_BLOCK = 10_000
LEAST_BEYOND = 100  # draws of a block that lie outside its interval
_ROUNDING = 1e-12  # part of a value below which a difference is float arithmetic


@dataclass(frozen=True, slots=True, kw_only=True)
class Adaptive:
    """Ask for as many draws as ``digits`` significant digits of u need, ``most`` at most.

    With two digits a run takes some 20 000 draws where u begins with 9 and a million
    where all its digits are 9; the slowest output decides.
    """

    digits: int = 2
    most: int = 1_000_000

    def __post_init__(self) -> None:
        """Refuse what cannot work."""
        if self.digits < 1 or self.most < LEAST_BLOCK:
            raise InputError(
                f"{self.most} draws for {self.digits} significant digits are not possible.",
                hint=f"Ask for one digit or two, and {LEAST_BLOCK} draws or more.",
            )


class BlockFigures(Protocol):
    """What one block of draws says of one output."""

    @property
    def mean(self) -> float:
        """Mean of the draws."""

    @property
    def std(self) -> float:
        """Standard deviation of the draws."""

    @property
    def low(self) -> float:
        """Lower end of the coverage interval."""

    @property
    def high(self) -> float:
        """Upper end of the coverage interval."""


def block_size(coverage: float) -> int:
    """Return the number of draws in a block: 7.9.4 b).

    M = max(J, 10 000), J the least whole number that is 100 / (1 - p) or more.
    """
    return max(LEAST_BLOCK, math.ceil(LEAST_BEYOND / (1.0 - coverage) - 1e-9))


def is_stable(blocks: Sequence[BlockFigures], digits: int, *, has_u: bool = True) -> bool:
    """Tell whether an output is known to the tolerance of its u: 7.9.4 f) to k).

    Args:
        blocks: figures of the blocks so far.
        digits: significant digits of u that count.
        has_u: whether mean and standard deviation exist. With an influence of one or
            two degrees of freedom they do not; then only the interval is looked at,
            and a quarter of it stands for u.
    """
    if len(blocks) < 2:
        return False
    followed = [[b.low for b in blocks], [b.high for b in blocks]]
    if has_u:
        followed += [[b.mean for b in blocks], [b.std for b in blocks]]
        u = math.sqrt(mean([b.std**2 for b in blocks]))
    else:
        u = mean([b.high - b.low for b in blocks]) / 4.0
    rounding = _ROUNDING * max(abs(blocks[0].low), abs(blocks[0].high))
    limit = max(tolerance_of(u, digits), rounding) * math.sqrt(len(blocks)) / 2.0
    return all(std(figures) <= limit for figures in followed)


@dataclass(frozen=True, slots=True, kw_only=True)
class OutputDistribution:
    """What the draws of one output say.

    ``low`` and ``high`` are the coverage interval of the kind that was asked for.
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


@dataclass(frozen=True, slots=True, kw_only=True)
class MonteCarloRun:
    """The outputs of a run, how many draws it took, and whether they were enough.

    ``stable`` says whether an adaptive run came to its tolerance; it is None where the
    number of draws was given.
    """

    outputs: tuple[OutputDistribution, ...]
    draws: int
    stable: bool | None


def reduced(label: str, row: Array, coverage: float, interval: Interval) -> OutputDistribution:
    """Reduce the draws of one output, which are reordered and overwritten on the way.

    Args:
        label: of the output.
        row: its draws; not all need be finite, so numpy must not warn of that.
        coverage: coverage probability, between 0 and 1.
        interval: which coverage interval.

    Raises:
        SizingError: no draw is finite.
    """
    used = _finite(row)
    if used.size == 0:
        raise SizingError(
            f"{label} has no value in any of {row.size} draws.",
            hint="Check the inputs against one another and their uncertainties.",
        )
    low, high = interval.of(used, coverage)
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


def tolerance_of(u: float, digits: int = 1) -> float:
    """Return the numerical tolerance of a standard uncertainty, in its unit.

    delta = 10^l / 2 where u is rounded to c x 10^l with ``digits`` digits in c. Zero
    where u is zero. It lies between a twentieth and half of u for one digit, a tenth
    of that for two.

    Args:
        u: the standard uncertainty, not negative.
        digits: significant digits that count, 1 or more; JCGM 101 uses 1 or 2.

    >>> tolerance_of(0.0539), tolerance_of(0.0539, 2)
    (0.005, 0.0005)
    """
    if u == 0.0:
        return 0.0
    rounded = f"{u:.{digits - 1}e}"
    exponent = int(rounded.partition("e")[2]) - (digits - 1)
    return 0.5 * 10.0**exponent
