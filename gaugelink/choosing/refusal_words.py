"""Refusals in plain words, a sentence a reason, made when somebody reads them."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import overload

from gaugelink.choosing.case import Case
from gaugelink.choosing.inputs import REFERENCE_TEXT
from gaugelink.choosing.refusals import Why
from gaugelink.choosing.wording import percent


@dataclass(frozen=True, slots=True, kw_only=True)
class Refused:
    """A spring that may not be fitted, and why: the headings and the sentences."""

    item: str
    why: tuple[Why, ...]
    reasons: tuple[str, ...]

    def reason_for(self, why: Why) -> str:
        """Return the sentence under one of its headings."""
        return self.reasons[self.why.index(why)]


class Refusals(Sequence[Refused]):
    """The springs of a case that are refused, in the order of the stock.

    Of a stock of a hundred thousand nearly all are refused and hardly one is asked about.
    """

    def __init__(self, case: Case) -> None:
        import numpy as np

        self._case = case
        self._at: list[int] = np.flatnonzero(case.judged.refused).tolist()

    def __len__(self) -> int:
        return len(self._at)

    @overload
    def __getitem__(self, index: int) -> Refused: ...
    @overload
    def __getitem__(self, index: slice) -> Sequence[Refused]: ...
    def __getitem__(self, index: int | slice) -> Refused | Sequence[Refused]:
        if isinstance(index, slice):
            return tuple(self._refused(at) for at in self._at[index])
        return self._refused(self._at[index])

    def counted(self) -> Iterator[tuple[Why, int, Refused]]:
        """Yield each reason, how many it hits, and the first of these."""
        for why, hit in self._case.judged.hit.items():
            if hit.any():
                yield why, int(hit.sum()), self._refused(int(hit.argmax()))

    def _refused(self, at: int) -> Refused:
        why = tuple(why for why, hit in self._case.judged.hit.items() if hit[at])
        return Refused(
            item=self._case.stock[at].item,
            why=why,
            reasons=tuple(_SENTENCES[each](self._case, at) for each in why),
        )


def _none(case: Case, at: int) -> str:
    return "There is none on hand."


def _high(case: Case, at: int) -> str:
    fits = case.judged.probability_fits
    by_depth = case.known.limit_from_depth
    allowed_by = "the barrel allows" if by_depth else f"{REFERENCE_TEXT[case.known.reference]} has"
    likely = "" if fits is None else f": it fits with a probability of {percent(float(fits[at]))}"
    high, over = case.stock[at].height_mm, max(float(case.judged.height_over_mm[at]), 0.0)
    return f"{high:.3g} mm high is {over:.2f} mm more than {allowed_by}{likely}."


def _low(case: Case, at: int) -> str:
    return (
        f"{case.stock[at].height_mm:.3g} mm high is {-case.judged.height_over_mm[at]:.2f} mm less "
        "than there is room for: its coils would tip, cone and rub."
    )


def _torque(case: Case, at: int) -> str:
    spring = case.stock[at]
    return (
        f"{spring.height_mm:.3g} x {spring.thickness_mm:.3g} mm gives about "
        f"{case.judged.torque[at]:.2f} times the torque of {REFERENCE_TEXT[case.known.reference]}."
    )


def _short(case: Case, at: int) -> str:
    return (
        f"{case.stock[at].length_mm:.0f} mm fills only {case.judged.fill[at]:.2f} of the ring; "
        "a third is the least."
    )


def _end(case: Case, at: int) -> str:
    springs = case.fitted.springs
    end = springs.ends[int(springs.end[at])]
    if end is not None and end.slips:
        return "It slips at its outer end, and the watch is wound by hand."
    return "Its outer end is fixed, and a self-winding watch needs one that slips."


def _stopwork(case: Case, at: int) -> str:
    return "Whatever its free shape, it has fewer turns than the stopwork and its set-up take."


def _knocks(case: Case, at: int) -> str:
    return "By the amplitude measured it makes the movement knock."


_SENTENCES: dict[Why, Callable[[Case, int], str]] = {
    Why.NONE_ON_HAND: _none,
    Why.TOO_HIGH: _high,
    Why.TOO_LOW: _low,
    Why.TOO_STRONG: _torque,
    Why.TOO_WEAK: _torque,
    Why.TOO_SHORT: _short,
    Why.OUTER_END: _end,
    Why.STOPWORK: _stopwork,
    Why.KNOCKS: _knocks,
}
