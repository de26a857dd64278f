"""Which turns of the spring a stopwork selects, the torque over them, and that of two compared.

Set-up is counted from the spring at rest. Before the stop goes on, the arbor is wound from
where it gives no torque, by the turns of set-up; there the stop ends every run, and the
turns that it allows lie above: common practice. So far the spring has been unwound by
``usable_turns``, not by ``ring_turns``: where its own curvature bears the inner coils away
from the wall the torque is gone before they reach it, and over the turns in between there
is nothing to wind against. A spring so straight that it presses every coil against the
wall is at rest there, with torque left, and the two counts are one. Counted from full wind::

    last  = usable - set-up
    first = last - allowed

A spring with fewer turns than both together is tight before the stop is reached: it begins
at full wind, and still ends where the set-up does.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

from gaugelink.errors import SizingError
from gaugelink.mechanics.arrangement import Arrangement, Stopwork, Winding
from gaugelink.mechanics.band import Band
from gaugelink.mechanics.spring import SpringInBarrel
from gaugelink.mechanics.torque import (
    RunDown,
    bend_after,
    torque_after,
    torque_at_bend,
    turns_until,
    usable_turns,
)
from gaugelink.model import Advice

if TYPE_CHECKING:
    from collections.abc import Callable

    from gaugelink.mechanics.arrangement import Stopwork
    from gaugelink.mechanics.band import Number
HALF_TURN = 0.5
_ROUNDING = 1e-9  # turns: a run that ends after a day has not ended before it


class WorkingTurns(NamedTuple):
    """The turns that do work, counted from full wind: ``first`` at the top, ``last`` at the end."""

    first: Number
    last: Number

    @property
    def turns(self) -> Number:
        """How many they are."""
        return self.last - self.first


def selected_turns(usable: Number, stopwork: Stopwork | None) -> WorkingTurns:
    """Return the turns that do work, with or without stopwork, of one spring or many.

    Set-up beyond the usable turns leaves none.

    Args:
        usable: turns from full wind until the torque ends, see ``usable_turns``.
        stopwork: what it allows, or None.
    """
    import numpy as np

    if stopwork is None:
        return WorkingTurns(first=0.0, last=usable)
    last = np.maximum(usable - stopwork.set_up_turns, 0.0)
    return WorkingTurns(first=np.maximum(last - stopwork.turns, 0.0), last=last)


def turns_worked(
    spring: SpringInBarrel,
    run: RunDown,
    usable: Number,
    stopwork: Stopwork | None,
    slip_loss: Number | None,
) -> tuple[WorkingTurns, Number]:
    """Return the turns that do work, and those of the spiral that a bridle gives away above them.

    Args:
        spring: one spring or many.
        run: what it gives.
        usable: its usable turns, counted with those that hub and hook add.
        stopwork: what it allows, or None.
        slip_loss: part of the torque at full wind that a bridle loses before it holds; None
            without one, and there is no stopwork beside one.
    """
    if slip_loss is None:
        return selected_turns(usable, stopwork), 0.0
    tight = turns_until(spring, (1 - slip_loss) * spring.full_wind_torque_nmm)
    return WorkingTurns(first=tight * usable / run.turns_usable, last=usable), tight


def working_turns(spring: SpringInBarrel, stopwork: Stopwork | None) -> WorkingTurns:
    """Return the turns of a single spring that do work; see ``selected_turns``.

    Raises:
        SizingError: set-up and turns together are more than the spring can use.
    """
    usable = usable_turns(spring)
    if stopwork is not None and usable < stopwork.set_up_turns + stopwork.turns:
        raise SizingError(
            f"A stopwork of {stopwork.turns:g} turns with {stopwork.set_up_turns:g} of set-up "
            f"asks for more than the {usable:.1f} usable turns of this spring.",
            inputs=("stopwork", "thickness", "length"),
            hint="Count the turns of the stopwork again, or take a thinner spring.",
        )
    return selected_turns(usable, stopwork)


def driving_torque(
    spring: SpringInBarrel, stopwork: Stopwork | None, turns: Number = 0.0
) -> Number:
    """Compute the torque in N mm so many turns after the watch was wound.

    ``torque_after``, counted from the first of the working turns; zero once the last is gone.

    Args:
        spring: one spring or many.
        stopwork: what it allows, or None.
        turns: barrel turns since then, 0 or more.
    """
    span = selected_turns(usable_turns(spring), stopwork)
    return torque_of_span(lambda turns: torque_after(spring, turns), span, turns)


def torque_of_span(torque: Callable[[Number], Number], span: WorkingTurns, turns: Number) -> Number:
    """Compute the torque in N mm so many turns after the top, zero once the last is gone.

    Args:
        torque: in N mm, by the turns from full wind.
        span: the turns that do work.
        turns: turns since the top, 0 or more.
    """
    import numpy as np

    stands = np.greater(turns, span.turns + _ROUNDING)
    left: Number = np.where(stands, 0.0, torque(span.first + turns))[()]
    return left


def turns_past_the_set(span: WorkingTurns) -> Number:
    """Return half a turn from full wind, or the top of working turns that begin below that.

    At full wind itself the torque depends on how the strip took its set, see ``strength``.
    """
    import numpy as np

    return np.maximum(span.first, HALF_TURN)


def turns_to_stop(
    spring: SpringInBarrel, run: RunDown, span: WorkingTurns, coils_off: Number, needs_nmm: Number
) -> Number:
    """Compute the turns from winding until the watch stops, those that hub and hook add alike.

    Args:
        spring: one spring or many.
        run: what it gives.
        span: the turns that do work, counted with those that hub and hook add.
        coils_off: turns that hub and hook add.
        needs_nmm: torque below which the watch stops.
    """
    import numpy as np

    until = turns_until(spring, needs_nmm)
    share = until / run.turns_usable
    turns: Number = np.maximum(np.minimum(until + share * coils_off, span.last) - span.first, 0.0)
    return turns


def stopwork_warnings(spring: SpringInBarrel, stopwork: Stopwork | None) -> tuple[Advice, ...]:
    """Say where a single spring has fewer usable turns than its stopwork asks for."""
    try:
        working_turns(spring, stopwork)
    except SizingError as error:
        return (Advice(code="stopwork-short", text=f"{error} {error.hint}"),)
    return ()


def winding_advice(arrangement: Arrangement) -> tuple[Advice, ...]:
    """List what the torque curve does not know of this arrangement."""
    if arrangement.winding is Winding.AUTOMATIC:
        return (
            Advice(
                code="slip-sets-full-wind",
                text="The bridle slips a little before the coils are tight: turns, torque and "
                "hours at full wind are upper limits.",
            ),
        )
    return ()


DAY_H = 24.0


def of_equal_shape(spring: SpringInBarrel, reference: SpringInBarrel) -> SpringInBarrel:
    """Return the spring with the full-wind bend of another: both of the one free shape.

    Its full-wind stress becomes E e c_0 / 2 with the c_0 of ``reference``.
    """
    half = spring.modulus_mpa * spring.thickness_mm / 2
    return replace(spring, full_wind_stress_mpa=half * reference.full_wind_bend_per_mm)


def torque_ratio(
    spring: SpringInBarrel,
    reference: SpringInBarrel,
    *,
    turns: Number = 0.0,
    stopwork: Stopwork | None = None,
    may_share_shape: bool = True,
) -> Band:
    """Compute the band of torque over that of a reference, so many turns after winding.

    One limit keeps the stress of each spring, so that full-wind torque goes with h e^2:
    both took their set on their own arbor. The other gives the spring the free shape of the
    reference, so that it goes with h e^3. A real pair of healthy springs lies between; a tired
    one has its own stress and no other's shape. With a stopwork each
    spring is counted from the first of its own working turns, of whatever shape it is.

    Args:
        spring: one spring or many.
        reference: the spring to compare with, or one for each.
        turns: turns since the watch was wound, the same for both.
        stopwork: what lets both springs work over some of their turns only, or None.
        may_share_shape: whether both may be of one free shape; not where one may be tired.
    """
    if stopwork is None:
        bend = bend_after(spring, turns)
        known = torque_after(reference, turns)
        return torque_ratio_at(spring, reference, bend, known, may_share_shape=may_share_shape)
    known = driving_torque(reference, stopwork, turns)
    own = driving_torque(spring, stopwork, turns) / known
    if not may_share_shape:
        return Band(low=own, high=own)
    equal = driving_torque(of_equal_shape(spring, reference), stopwork, turns) / known
    return _between(own, equal)


def torque_ratio_at(
    spring: SpringInBarrel,
    reference: SpringInBarrel,
    bend_per_mm: Number,
    reference_torque_nmm: Number,
    *,
    may_share_shape: bool = True,
) -> Band:
    """Compute the band of torque over that of a reference when both states are known.

    Args:
        spring: one spring or many.
        reference: the spring to compare with, or one for each.
        bend_per_mm: what the free part of ``spring`` has straightened by, see ``bend_after``.
        reference_torque_nmm: torque of the reference in its own state, N mm.
        may_share_shape: as in ``torque_ratio``.
    """
    own = torque_at_bend(spring, bend_per_mm) / reference_torque_nmm
    if not may_share_shape:
        return Band(low=own, high=own)
    equal = torque_at_bend(of_equal_shape(spring, reference), bend_per_mm) / reference_torque_nmm
    return _between(own, equal)


def _between(one: Number, other: Number) -> Band:
    import numpy as np

    return Band(low=np.minimum(one, other), high=np.maximum(one, other))
