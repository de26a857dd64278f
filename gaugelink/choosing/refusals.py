"""Which springs of a stock are refused, and all that is said of it: a row of one table a reason.

A row says which springs the reason hits, its sentence, and for where nothing fits what would
have to be changed, what that costs, and which of the springs that it hits are beyond help.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from enum import Enum
from typing import TYPE_CHECKING, NamedTuple, overload

from gaugelink.choosing.acting import WatchSetting, in_barrel, spare_turns
from gaugelink.choosing.loss import probability_below
from gaugelink.choosing.measures import height_over, log_fill, log_torque
from gaugelink.choosing.springs import Mask, Positions, Springs
from gaugelink.choosing.state import REFERENCE_TEXT, KnownState
from gaugelink.mechanics.arrangement import Winding
from gaugelink.sizing.order import Room
from gaugelink.uncertainty.conformity import PROVEN
from gaugelink.units import percent

if TYPE_CHECKING:
    from gaugelink.choosing.case import Case
    from gaugelink.uncertainty.estimate import Array

_HIGHER_MM = 0.025  # half a step in which heights are sold
LEAST_OF_HEIGHT = 0.75  # of the limit: below, coils tip, cone and rub; judgement
# A step of 0.01 mm in thickness at 0.08 mm and more; two steps are another spring. Judgement.
TORQUE = (0.70, 1.40)
# "A third to a half of the free space": a clock-parts supplier's advice page, m-p.co.uk.
LEAST_FILL = 1 / 3
_ROUNDING = 1e-6
_STRONG_STRIP = 1.96  # standard uncertainties: all but the strongest 2.5 % of springs
# Where nothing fits, what may be made do with.
TORQUE_AT_ALL = (0.5, 2.0)  # beyond these it is another spring: judgement
CHANGED_END = 15.0  # points; a bridle made fixed, or a fixed end made to slip


class Why(Enum):
    """Why a spring is refused, in the words of a heading."""

    NONE_ON_HAND = "none on hand"
    TOO_HIGH = "too high for the barrel"
    TOO_LOW = "far too low for the barrel"
    TOO_STRONG = "far too strong"
    TOO_WEAK = "far too weak"
    TOO_SHORT = "too short"
    OUTER_END = "outer end does not go with the winding"
    STOPWORK = "too few turns for the stopwork"
    KNOCKS = "would make the watch knock"


class Judged:
    """What refusals are told from, a column each, and which springs each reason hits.

    ``probability_goes_in`` is None where depth and lid are not known, ``torque`` is over that
    of the reference at full wind.

    Args:
        known: barrel and reference.
        springs: as they would be fitted.
        watch: the watch around the barrel.
        will_knock: which springs make the movement knock; None where nobody can say.
        room: height below the lid without play; None where nobody measured it.
    """

    def __init__(
        self,
        known: KnownState,
        springs: Springs,
        watch: WatchSetting,
        will_knock: Mask | None,
        room: Room | None = None,
    ) -> None:
        import numpy as np

        self.known, self.springs, self.watch, self.will_knock = known, springs, watch, will_knock
        self.probability_goes_in = None if room is None else _goes_in(room, springs)
        self.height_over_mm = height_over(known.best, springs)
        self.torque: Array = np.exp(log_torque(known.best, springs))
        self.fill: Array = np.exp(log_fill(known.best, springs))
        self.hit = {why: row.hits(self) for why, row in _REFUSALS.items()}

    @property
    def refused(self) -> Mask:
        """Which springs are refused for any reason."""
        import numpy as np

        refused: Mask = np.any(list(self.hit.values()), axis=0)
        return refused

    @property
    def never(self) -> Mask:
        """A reason that hits no spring."""
        import numpy as np

        return np.zeros(len(self.springs), dtype=bool)


@dataclass(frozen=True, slots=True, kw_only=True)
class RefusedSpring:
    """A spring that may not be fitted, and why: the headings and the sentences."""

    item: str
    why: tuple[Why, ...]
    reasons: tuple[str, ...]

    def reason_for(self, why: Why) -> str:
        """Return the sentence under one of its headings."""
        return self.reasons[self.why.index(why)]


class Refusals(Sequence[RefusedSpring]):
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
    def __getitem__(self, index: int) -> RefusedSpring: ...
    @overload
    def __getitem__(self, index: slice) -> Sequence[RefusedSpring]: ...
    def __getitem__(self, index: int | slice) -> RefusedSpring | Sequence[RefusedSpring]:
        if isinstance(index, slice):
            return tuple(self._refused(at) for at in self._at[index])
        return self._refused(self._at[index])

    def counted(self) -> Iterator[tuple[Why, int, RefusedSpring]]:
        """Yield each reason, how many it hits, and the first of these."""
        for why, hit in self._case.judged.hit.items():
            if hit.any():
                yield why, int(hit.sum()), self._refused(int(hit.argmax()))

    def _refused(self, at: int) -> RefusedSpring:
        why = tuple(why for why, hit in self._case.judged.hit.items() if hit[at])
        return RefusedSpring(
            item=self._case.stock[at].item,
            why=why,
            reasons=tuple(_REFUSALS[each].says(self._case, at) for each in why),
        )


def may_be_helped(case: Case) -> Mask:
    """Tell which springs might be made to do."""
    import numpy as np

    judged = case.judged
    lost = [
        judged.hit[why] & (row.change is None or row.beyond_help(case))
        for why, row in _REFUSALS.items()
    ]
    helped: Mask = ~np.any(lost, axis=0)
    return helped


def changes_for(case: Case, at: int) -> list[str]:
    """Say what would have to be changed for a spring that may be helped."""
    hit = case.judged.hit
    return [row.change(case, at) for why, row in _REFUSALS.items() if row.change and hit[why][at]]


def cost_of_change(case: Case, at: Positions) -> Array:
    """Return the points that the changes of some springs cost."""
    import numpy as np

    cost: Array = np.sum([r.cost * case.judged.hit[w][at] for w, r in _REFUSALS.items()], axis=0)
    return cost


class _Refusal(NamedTuple):
    """One reason; a ``change`` of None says that nothing helps against it."""

    hits: Callable[[Judged], Mask]
    says: Callable[[Case, int], str]
    change: Callable[[Case, int], str] | None
    beyond_help: Callable[[Case], Mask | bool] = lambda _case: False
    cost: float = 0.0


def _goes_in(room: Room, springs: Springs) -> Array:
    left = room.value_mm - springs.height_mm
    return probability_below(left, room.u_mm, springs.height_tolerance_mm)


def _hits_high(judged: Judged) -> Mask:
    """What may jam below the lid; without depth and lid, what is higher than anything tells."""
    goes_in = judged.probability_goes_in
    if goes_in is not None:
        return goes_in < PROVEN - _ROUNDING
    if judged.known.best.limit_mm is None:
        return judged.never
    higher: Mask = judged.height_over_mm > _HIGHER_MM
    return higher


def _too_high(case: Case, at: int) -> str:
    goes_in, high = case.judged.probability_goes_in, case.stock[at].height_mm
    if goes_in is None:
        over = float(case.judged.height_over_mm[at])
        return f"{high:.3g} mm is {over:.2f} mm more than the barrel is known to take."
    return (
        f"{high:.3g} mm high has a chance of only {percent(float(goes_in[at]))} to go in below the "
        "lid."
    )


def _hits_low(judged: Judged) -> Mask:
    limit = judged.known.best.limit_mm
    if limit is None:
        return judged.never
    low: Mask = judged.springs.height_mm < LEAST_OF_HEIGHT * limit
    return low


def _too_low(case: Case, at: int) -> str:
    return (
        f"{case.stock[at].height_mm:.3g} mm high is {-case.judged.height_over_mm[at]:.2f} mm less "
        "than there is room for: its coils would tip, cone and rub."
    )


def _stands_low(case: Case, at: int) -> str:
    return f"accept that it is {-case.judged.height_over_mm[at]:.2f} mm low and may tip"


def _gives_torque(case: Case, at: int) -> str:
    spring = case.stock[at]
    return (
        f"{spring.height_mm:.3g} x {spring.thickness_mm:.3g} mm gives about "
        f"{case.judged.torque[at]:.2f} times the torque of {REFERENCE_TEXT[case.known.reference]}."
    )


def _strong(case: Case, at: int) -> str:
    return f"accept about {case.judged.torque[at]:.2f} times the torque, and listen for knocking"


def _weak(case: Case, at: int) -> str:
    return f"accept about {case.judged.torque[at]:.2f} times the torque"


def _fills_little(case: Case, at: int) -> str:
    return (
        f"{case.stock[at].length_mm:.0f} mm fills only {case.judged.fill[at]:.2f} of the ring; "
        "a third is the least."
    )


def _short(case: Case, at: int) -> str:
    return f"accept a fill of {case.judged.fill[at]:.2f} and fewer turns"


def _hits_end(judged: Judged) -> Mask:
    """A plain spring in a smooth wall does not hold, a bridle in a hooked barrel does not slip."""
    automatic = judged.watch.winding is Winding.AUTOMATIC
    return judged.springs.of_end(lambda end: end is not None and end.slips != automatic)


def _wrong_end(case: Case, at: int) -> str:
    springs = case.fitted.springs
    end = springs.ends[int(springs.end[at])]
    if end is not None and end.slips:
        return "It slips at its outer end, and the watch is wound by hand."
    return "Its outer end is fixed, and a self-winding watch needs one that slips."


def _new_end(case: Case, at: int) -> str:
    slips = case.watch.winding is Winding.AUTOMATIC
    return f"make it a new outer end that {'slips' if slips else 'holds'}"


def _hits_stopwork(judged: Judged) -> Mask:
    """Too few turns even for the straightest of the free shapes, which has the most.

    Where they may be enough the turns that are short cost points, and a doubt says so.
    """
    import numpy as np

    stopwork = judged.watch.stopwork
    if stopwork is None:
        return judged.never
    known, watch = judged.known.best, judged.watch
    strongest = watch.material.full_wind_stress_mpa.high
    straightest = replace(known, stress_mpa=strongest, other=_STRONG_STRIP)
    spare = spare_turns(in_barrel(straightest, judged.springs, judged.watch), stopwork)
    short: Mask = np.asarray(spare) < 0
    return short


_REFUSALS = {
    Why.NONE_ON_HAND: _Refusal(
        hits=lambda judged: ~judged.springs.on_hand,
        says=lambda _case, _at: "There is none on hand.",
        change=lambda _case, _at: "order one, there is none on hand",
    ),
    Why.TOO_HIGH: _Refusal(_hits_high, _too_high, change=None),
    Why.TOO_LOW: _Refusal(_hits_low, _too_low, _stands_low),
    Why.TOO_STRONG: _Refusal(
        hits=lambda judged: judged.torque > TORQUE[1],
        says=_gives_torque,
        change=_strong,
        beyond_help=lambda case: case.judged.torque > TORQUE_AT_ALL[1],
    ),
    Why.TOO_WEAK: _Refusal(
        hits=lambda judged: judged.torque < TORQUE[0],
        says=_gives_torque,
        change=_weak,
        beyond_help=lambda case: case.judged.torque < TORQUE_AT_ALL[0],
    ),
    Why.TOO_SHORT: _Refusal(lambda judged: judged.fill < LEAST_FILL, _fills_little, _short),
    Why.OUTER_END: _Refusal(_hits_end, _wrong_end, _new_end, cost=CHANGED_END),
    Why.STOPWORK: _Refusal(
        hits=_hits_stopwork,
        says=lambda _case, _at: (
            "Whatever its free shape, it has fewer turns than the stopwork and its set-up need."
        ),
        change=None,
    ),
    Why.KNOCKS: _Refusal(
        hits=lambda judged: judged.never if judged.will_knock is None else judged.will_knock,
        says=lambda _case, _at: "Going by the measured amplitude, it makes the movement knock.",
        change=None,
    ),
}
