"""On which side of the truth a wrong reading lies, and what that follows from.

A settled reading may err either way: dirt under a jaw lifts it, a pressed jaw lowers
it. The reading of a sweep errs to one side. The largest reading of a rocked bore is
short whenever the jaws were not across the diameter or not square to the axis, and
hardly ever too long: nothing inside a barrel lets the jaws open past its wall. The
smallest reading of a swept arbor is too long in the same way.

So in a bore a low reading is to be suspected, and a high one is most likely the only
one that found the diameter. The mean of such readings still leans to the short side
by what the sweeps missed; no test of single readings takes that away.
"""

from __future__ import annotations

from enum import StrEnum

from gaugelink.model import Seek


class Side(StrEnum):
    """Where the wrong readings of a series are to be expected."""

    EITHER = "either"
    LOW = "low"
    HIGH = "high"

    def beyond(self, difference: float) -> float:
        """Return how far a difference from the centre points to this side.

        Args:
            difference: value minus centre, in any unit.

        Returns:
            The distance in the same unit; negative on the other side.

        >>> Side.LOW.beyond(-0.03), Side.EITHER.beyond(-0.03)
        (0.03, 0.03)
        """
        if self is Side.EITHER:
            return abs(difference)
        return difference if self is Side.HIGH else -difference


WRONG_SIDES = {  # where a reading lies that was not sought well
    Seek.SETTLED: Side.EITHER,
    Seek.MAXIMUM: Side.LOW,
    Seek.MINIMUM: Side.HIGH,
}
