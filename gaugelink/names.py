"""How the name of a measurand, an input or an influence is said."""

from __future__ import annotations

import re

_BEFORE_A_WORD = re.compile(r"\.(?=[a-z])")  # not the point of a number


def spoken(name: str) -> str:
    """Return a name in words; a number in it stays whole.

    >>> spoken("found_height"), spoken("ratio-30.turns_usable"), spoken("length_5.01_mm")
    ('found height', 'ratio-30 turns usable', 'length 5.01 mm')
    """
    return _BEFORE_A_WORD.sub(" ", name).replace("_", " ")
