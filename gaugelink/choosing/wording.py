"""Probabilities as a person reads them."""

from __future__ import annotations


def percent(part: float) -> str:
    """Write a probability or a share, without claiming certainty: ``97 %``, ``over 99 %``.

    >>> percent(0.97), percent(0.9999), percent(0.0)
    ('97 %', 'over 99 %', 'under 1 %')
    """
    if part > 0.995:
        return "over 99 %"
    return "under 1 %" if part < 0.005 else f"{100 * part:.0f} %"
