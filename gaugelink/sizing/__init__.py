"""What spring belongs in this barrel, and what the one at hand would do in it.

Seen from above a spring is a strip of area length x thickness, the same wound or run
down. It lives in the ring between arbor and wall: run down it is a band on the wall,
wound a band on the arbor. The turns it gives are the coils of the one band less the
coils of the other, and they are most when the strip covers half the ring.

``equations`` has that picture in formulas, ``rules`` what the trade makes of it;
``size_spring`` runs both with the uncertainty of every input.
"""

from gaugelink.sizing.inputs import (
    GivenSpring,
    SizingInputs,
    assumed_arbor,
    typed_input,
)
from gaugelink.sizing.results import (
    Band,
    ComparedSpring,
    RuleDistance,
    RuleResult,
    SizeResult,
    SizingWarning,
    SpringFigures,
)
from gaugelink.sizing.size import size_spring

__all__ = [
    "Band",
    "ComparedSpring",
    "GivenSpring",
    "RuleDistance",
    "RuleResult",
    "SizeResult",
    "SizingInputs",
    "SizingWarning",
    "SpringFigures",
    "assumed_arbor",
    "size_spring",
    "typed_input",
]
