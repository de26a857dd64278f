"""What both routes walk: the independent influences behind a set of quantities."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from gaugelink.uncertainty.estimate import Influence, Quantity


def independent_influences(quantities: Sequence[Quantity]) -> tuple[Influence, ...]:
    """Collect the influences of all quantities, each once, in order of appearance.

    Influences with u = 0 are left out: they move nothing.

    Args:
        quantities: input quantities with distinct labels.

    Raises:
        ValueError: two quantities have one label, or two different influences have one label.
    """
    if len({quantity.label for quantity in quantities}) < len(quantities):
        raise ValueError("two quantities have the same label")
    found: dict[str, Influence] = {}
    for quantity in quantities:
        for term in quantity.terms:
            known = found.setdefault(term.influence.label, term.influence)
            if known != term.influence:
                raise ValueError(f"two different influences are called {known.label!r}")
    return tuple(influence for influence in found.values() if influence.u > 0.0)


def factor_of(quantity: Quantity, influence: Influence) -> float:
    """Return the factor by which an influence enters a quantity, 0 if it does not."""
    return sum(term.factor for term in quantity.terms if term.influence.label == influence.label)


def best_values(quantities: Sequence[Quantity]) -> dict[str, float]:
    """Return the best value of each quantity by label."""
    return {quantity.label: quantity.value for quantity in quantities}


def moved_values(
    quantities: Sequence[Quantity], influence: Influence, by: float
) -> Mapping[str, float]:
    """Return the values of the quantities when one influence is ``by`` instead of zero."""
    return {
        quantity.label: quantity.value + factor_of(quantity, influence) * by
        for quantity in quantities
    }
