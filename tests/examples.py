"""How many examples of a property a run draws."""

from __future__ import annotations

from hypothesis import settings


def examples(many: int) -> int:
    """Return ``many``, or at the desk the share that the profile of conftest.py draws."""
    return many * settings.default.max_examples // 100
