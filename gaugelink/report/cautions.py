"""The usual cautions, said once, where the work is about to be done.

Sources: letting down and opening, watch-school pages and the Chicago School of
Watchmaking, Home Study Course, lesson 6; radium, US EPA leaflet "Radioactive
Antiques"; solvents, general safety sheets; eye protection, common practice.
"""

from __future__ import annotations

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
