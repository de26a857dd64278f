"""What the collector should make of a train of edges, worked out from the whole train at once.

The firmware goes edge by edge and can look neither back nor ahead. Here the glitches are
taken out first, then what is left is cut at the silences: the same rules, another way.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

TRUNCATED, EXTRA_EDGES, GLITCHES = 1, 2, 4
MAX_BITS = 96


@dataclass(frozen=True, slots=True, kw_only=True)
class Rules:
    """As ``collector_rules`` in the firmware; times in ticks."""

    n_bits: int
    sample_level: int
    min_pulse: int
    quiet: int
    patience: int = 1000


@dataclass(frozen=True, slots=True, kw_only=True)
class Edge:
    """A change of the clock to ``clock`` at ``at``, with DATA as it was then."""

    at: int
    clock: int
    data: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Burst:
    """What the collector gives out."""

    bits: tuple[int, ...]
    flags: int


def bursts_of(
    edges: Sequence[Edge], rules: Rules, *, level: int, start: int, expected: bool = False
) -> list[Burst]:
    """Return all bursts of a train that is followed by silence.

    Args:
        edges: in the order of time.
        rules: of the gauge.
        level: of the clock before the first edge.
        start: when the collector began to look.
        expected: it began because the gauge was asked; else it must first see silence.
    """
    real, glitches = without_glitches(edges, rules, level)
    found, since = [], start
    if expected:
        first = next((e.at for e in real if e.clock == rules.sample_level), None)
        if first is None or first - start >= rules.patience:
            since = start + rules.patience
            found.append(_burst([], [g for g in glitches if g < since], rules))
            real = [e for e in real if e.at >= since]
            glitches = [g for g in glitches if g >= since]
    return found + list(_cut(real, glitches, rules, since, synced=expected))


def without_glitches(
    edges: Sequence[Edge], rules: Rules, level: int
) -> tuple[list[Edge], list[int]]:
    """Leave out pulses that are too short, and edges that lead nowhere; return their times."""
    if rules.min_pulse == 0:
        return [e for e in edges if e.clock == rules.sample_level], []
    real: list[Edge] = []
    glitches: list[int] = []
    rest = list(edges)
    while rest:
        edge = rest.pop(0)
        if edge.clock == level:
            glitches.append(edge.at)
            continue
        came_back = False
        while rest and not came_back and rest[0].at - edge.at < rules.min_pulse:
            came_back = rest.pop(0).clock == level
            glitches.append(edge.at)
        if not came_back:
            real.append(edge)
            level = edge.clock
    return real, glitches


def _cut(
    real: Sequence[Edge], glitches: Sequence[int], rules: Rules, since: int, *, synced: bool
) -> Iterator[Burst]:
    """Cut a clean train at its silences; without one before, a burst may be a part of one."""
    bits: list[Edge] = []
    last = since
    for edge in [*real, Edge(at=2**62, clock=1 - rules.sample_level, data=0)]:
        if edge.at - last >= rules.quiet or len(bits) == MAX_BITS:
            if bits:
                endless = len(bits) == MAX_BITS
                end = last + (1 if endless else rules.quiet)
                yield _burst(bits, [g for g in glitches if since <= g < end], rules)
                bits, synced, since = [], not endless, end
            if not synced and edge.at - last >= rules.quiet:
                synced, since = True, last + rules.quiet
        last = edge.at
        if synced and edge.clock == rules.sample_level:
            bits.append(edge)


def _burst(edges: Sequence[Edge], glitches: Sequence[int], rules: Rules) -> Burst:
    flags = GLITCHES if glitches else 0
    if len(edges) < rules.n_bits:
        flags |= TRUNCATED
    if len(edges) > rules.n_bits:
        flags |= EXTRA_EDGES
    return Burst(bits=tuple(e.data for e in edges), flags=flags)
