"""The usual cautions, said once, where the work is about to be done.

Sources: letting down and opening, watch-school pages and the Chicago School of
Watchmaking, Home Study Course, lesson 6; motor barrels, the same, sections 165 to 167;
radium, US EPA leaflet "Radioactive Antiques"; solvents, general safety sheets; eye
protection, fusees and twin barrels, common practice.
"""

from __future__ import annotations

from gaugelink.mechanics.arrangement import Arrangement, BarrelKind, Winding
from gaugelink.report.table import wrapped

OPENING_CAUTIONS = """\
BEFORE YOU OPEN THE BARREL
  Let the power down first: hold the crown, lift the click, let it turn back
  under control. Wear eye protection; open the barrel low, in a bag or under a
  cloth: the spring may follow the lid, its edges cut, and blued steel breaks
  without warning. Old glow paint may be radium: do not scrape, blow or brush
  it; gloves, no food, wash hands. Solvents are flammable: air, no flame,
  closed cans. Local rules and licensed practice come first.
"""

SPRING_CAUTIONS = """\
BEFORE YOU FIT IT
  Wind the new spring with a winder of the right size and direction, never by
  hand; wear eye protection. The spring must not be higher than the barrel
  allows. Blued steel breaks without warning. Local rules and licensed
  practice come first."""

_BY_KIND = {
    BarrelKind.MOTOR: "A motor barrel winds at the barrel and drives from its arbor: hook and "
    "hand of the spring are the other way round.",
    BarrelKind.FUSEE: "Chain and set-up of a fusee are under tension when it stands still: let "
    "the set-up down at the barrel arbor before anything else.",
    BarrelKind.TWIN: "There are two barrels: let down both before either is opened.",
}
_SELF_WINDING = (
    "Find the access to the click of a self-winding watch first, and never lever a bridge off "
    "a wound barrel. Its bridle goes to a smooth wall, greased for it."
)
_STOPWORK = "Note how the stopwork stood, and set it up again by as many turns."


def spring_cautions(arrangement: Arrangement) -> str:
    """Return the cautions for fitting a spring, those of a special barrel among them."""
    special = [_BY_KIND[arrangement.kind]] if arrangement.kind in _BY_KIND else []
    if arrangement.winding is Winding.AUTOMATIC:
        special.append(_SELF_WINDING)
    if arrangement.stopwork is not None:
        special.append(_STOPWORK)
    title, _, rest = SPRING_CAUTIONS.partition("\n")
    return "\n".join((title, *map(wrapped, special), rest))
