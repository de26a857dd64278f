"""The Monte Carlo route: propagation of distributions, JCGM 101:2008, clauses 5.9 and 7.2 to 7.7.

Every influence draws from its own stream, seeded by the run's seed and the
influence's label. A run is therefore repeatable, and neither the order of the
quantities nor an influence added elsewhere changes the numbers of the others.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

from gaugelink.errors import InputError, SizingError
from gaugelink.uncertainty.coverage import (
    check_coverage,
    interval_positions,
    order_statistics,
)
from gaugelink.uncertainty.estimate import Influence, Model, Quantity, Shape, independent_influences

if TYPE_CHECKING:
    import numpy as np

    from gaugelink.uncertainty.estimate import Array
MAX_DRAWS = 10_000_000  # minutes; the tails are then known to a thousandth of themselves
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
        draws: number of draws, 1000 to ten million.
        seed: 0 or more; the same seed gives the same numbers.

    Returns:
        The outputs in the order of the model.

    Raises:
        InputError: coverage, draws or seed is out of range.
        SizingError: an output has no finite value in any draw.
        ValueError: labels of quantities or influences clash.
    """
    check_coverage(coverage)
    for keep_all in (False, True):
        tallies = _tallied(model, _Source(quantities, draws, seed), coverage, keep_all)
        drawn = [tally.distribution() for tally in tallies]
        if None not in drawn:
            break
    return tuple(output for output in drawn if output is not None)


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
    for _, block in _Source(quantities, draws, seed).blocks():
        yield block


class _Source:
    """Joint draws of the quantities; asked again, it goes on where it stopped."""

    def __init__(self, quantities: Sequence[Quantity], draws: int, seed: int) -> None:
        _check(draws, seed)
        self.draws = draws
        self._quantities = quantities
        self._influences = independent_influences(quantities)
        self._streams = {i.label: _stream(seed, i) for i in self._influences}

    def blocks(self) -> Iterator[tuple[int, dict[str, float | Array]]]:
        """Yield the number of draws of each block, and the draws."""
        _keep_freed_memory()
        for start in range(0, self.draws, BLOCK):
            size = min(BLOCK, self.draws - start)
            drawn = {i.label: _draw(i, self._streams[i.label], size) for i in self._influences}
            yield (
                size,
                {quantity.label: _assemble(quantity, drawn) for quantity in self._quantities},
            )


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
    if draws > MAX_DRAWS:
        raise InputError(
            f"{draws} draws would take all day and tell no more.",
            hint=f"Ask for {MAX_DRAWS} at most; 200000 is usual.",
        )
    if seed < 0:
        raise InputError(f"A seed of {seed} is not possible.", hint="Give 0 or a larger number.")


def _stream(seed: int, influence: Influence) -> np.random.Generator:
    import numpy as np

    return np.random.default_rng([seed, int.from_bytes(influence.label.encode(), "big")])


def _draw(influence: Influence, stream: np.random.Generator, size: int) -> Array:
    import numpy as np

    if influence.shape is Shape.RECTANGULAR:
        half_width = influence.u * math.sqrt(3.0)
        return stream.uniform(-half_width, half_width, size)
    if influence.shape is Shape.TABULATED:
        at = np.linspace(0.0, 1.0, len(influence.quantiles))
        return np.interp(stream.random(size), at, influence.quantiles)
    if influence.shape is Shape.STUDENT and math.isfinite(influence.dof):
        return influence.u * stream.standard_t(influence.dof, size)
    return influence.u * stream.standard_normal(size)


def _assemble(quantity: Quantity, drawn: Mapping[str, Array]) -> float | Array:
    value: float | Array = quantity.value
    for term in quantity.terms:
        if term.influence.label in drawn:
            value = value + term.factor * drawn[term.influence.label]
    return value


def _tallied(model: Model, source: _Source, coverage: float, keep_all: bool) -> list[_Tally]:
    import numpy as np

    tallies: list[_Tally] = []
    with np.errstate(all="ignore"):  # a draw without a value is counted, not warned of
        for size, values in source.blocks():
            outputs = model(values)
            rows = [_as_row(output, size) for output in outputs.values()]
            if not tallies:
                part = 1.0 if keep_all or size == source.draws else _part_kept(coverage, size)
                named = zip(outputs, rows, strict=True)
                tallies = [_Tally(label, row, coverage, part) for label, row in named]
            for tally, row in zip(tallies, rows, strict=True):
                tally.add(row)
    return tallies


def _as_row(output: Any, size: int) -> Array:
    import numpy as np

    row = np.asarray(output, dtype=float)
    return row if row.shape == (size,) else np.broadcast_to(row, size)


def _part_kept(coverage: float, draws: int) -> float:
    """Return which part of either tail to keep so that the end of the interval is in it.

    The first block says where the tail begins, give or take its binomial scatter; six
    standard deviations fail once in a billion runs.
    """
    tail = (1.0 - coverage) / 2.0
    return tail + 6.0 * math.sqrt(tail * (1.0 - tail) / draws) + 6.0 / draws


class _Tally:
    """The draws of one output, block by block: sums, and those draws that may be an end.

    Only the draws at least ``_half`` from ``_centre`` are kept, a fifteenth of them at 95 %: a
    million draws of every output need not be stored, and the ends are exact all the same.

    Args:
        label: of the output.
        first: its first block; not all draws need be finite.
        coverage: coverage probability, between 0 and 1.
        part: the part of the draws to keep on either side, half or more for all.
    """

    def __init__(self, label: str, first: Array, coverage: float, part: float) -> None:
        self._label, self._coverage = label, coverage
        self._centre, self._half = _window(_finite(first), part)
        self._kept: list[Array] = []
        self._drawn = self._used = 0
        self._sum = self._squares = 0.0

    def add(self, block: Array) -> None:
        import numpy as np

        self._drawn += block.size
        off = block - self._centre
        total = float(off.sum())
        if not math.isfinite(total):  # asking every draw would cost more
            block = _finite(block)
            off = block - self._centre
            total = float(off.sum())
        self._used += block.size
        self._sum += total
        self._squares += float(off.dot(off))
        if self._half:
            block = block.compress(np.abs(off, out=off) >= self._half)
        self._kept.append(block)

    def distribution(self) -> OutputDistribution | None:
        """Return what the draws say; None where those kept do not hold the ends of the interval.

        Raises:
            SizingError: no draw is finite.
        """
        import numpy as np

        used = self._used
        if used == 0:
            raise SizingError(
                f"{self._label} has no value in any of {self._drawn} draws.",
                hint="Check the inputs against one another and their uncertainties.",
            )
        low, high = interval_positions(used, self._coverage)
        kept = np.concatenate(self._kept)
        if self._half:
            below, from_high = int(np.count_nonzero(kept < self._centre)), used - high
            if low >= below or from_high > kept.size - below:
                return None
            ends = order_statistics(kept, low, kept.size - from_high)
        else:
            kept.sort()  # quicker than to select where many draws have one value
            ends = float(kept[low]), float(kept[high])
        variance = (self._squares - self._sum * self._sum / used) / max(used - 1, 1)
        return OutputDistribution(
            label=self._label,
            mean=self._centre + self._sum / used,
            std=math.sqrt(max(variance, 0.0)),
            low=ends[0],
            high=ends[1],
            excluded_share=1.0 - used / self._drawn,
        )


def _window(draws: Array, part: float) -> tuple[float, float]:
    """Return the middle and half the width of what leaves a part of the draws on either side.

    The width is zero where nothing can be left out.
    """
    if draws.size == 0:
        return 0.0, 0.0
    beyond = min(math.ceil(part * draws.size), (draws.size - 1) // 2)
    low, high = order_statistics(draws.copy(), beyond, draws.size - 1 - beyond)
    width = high - low
    # Float arithmetic must not put a value that many draws have on the wrong side of the edge.
    surely = part < 0.5 and width > 1e-6 * max(abs(low), abs(high))
    return low + width / 2.0, width / 2.0 * (1.0 - 1e-9) if surely else 0.0


def _finite(row: Array) -> Array:
    return row[abs(row) < math.inf]


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
