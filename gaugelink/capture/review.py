"""What a look at a completed series asks for or says; who looks stands further right."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeAlias

from gaugelink.model import Series


@dataclass(frozen=True, slots=True, kw_only=True)
class Review:
    """What a look at a completed series asks for: ``n_more`` readings, for ``reason``.

    With ``n_more`` 0 it asks for nothing and ``reason`` says why more would not help.
    """

    n_more: int
    reason: str

    def __post_init__(self) -> None:
        if self.n_more < 0 or not self.reason:
            raise ValueError(f"a review has 0 or more readings and a reason, got {self}")


Reviewer: TypeAlias = Callable[[Series], Review | None]


def no_review(series: Series) -> Review | None:
    """Ask for nothing more and say nothing, whatever the series shows."""
    return None
