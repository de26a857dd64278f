"""The rules that turn a barrel into a spring, each with the ground it stands on.

All but ``wanted-turns`` take the thickness from the bore alone and differ in length.
None is blended with another: a result carries the name of the rule it came from.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from gaugelink.sizing import equations

HALF_AREA = "half-area"
WANTED_TURNS = "wanted-turns"


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """A rule for thickness and length, on floats and arrays alike.

    Args:
        name: stable identifier, as it stands in results and JSON.
        basis: one sentence that names the source or says that there is none.
        thickness: (bore, arbor) in mm -> thickness in mm.
        length: (bore, arbor, thickness) in mm -> length in mm.
    """

    name: str
    basis: str
    thickness: Callable[[Any, Any], Any]
    length: Callable[[Any, Any, Any], Any]


def _by_ratio(bore: Any, _arbor: Any) -> Any:
    return equations.thickness_by_ratio(bore)


FIXED_RULES = (
    Rule(
        name="ratio-30",
        basis="Thickness bore / 87 and length 30 x bore: common practice, no source.",
        thickness=_by_ratio,
        length=lambda bore, _arbor, _thickness: equations.length_by_ratio(bore, 30),
    ),
    Rule(
        name="ratio-35",
        basis="Thickness bore / 87 and length 35 x bore: common practice, no source.",
        thickness=_by_ratio,
        length=lambda bore, _arbor, _thickness: equations.length_by_ratio(bore, 35),
    ),
    Rule(
        name=HALF_AREA,
        basis=(
            "Thickness bore / 87 (common practice, no source) and the length that covers half "
            'the ring (Roze 1857, as given in "Die Zugfeder", mysterieuse-uhren.de, 5.6).'
        ),
        thickness=_by_ratio,
        length=equations.half_area_length,
    ),
    Rule(
        name="thirds-run-down",
        basis=(
            "Thickness bore / 87 (common practice, no source) and a run-down band of one third "
            "of the radius (Workshop Receipts, fourth series, London 1885, year from memory)."
        ),
        thickness=_by_ratio,
        length=lambda bore, _arbor, thickness: equations.run_down_third_length(bore, thickness),
    ),
    Rule(
        name="thirds-wound",
        basis=(
            "Thickness bore / 87 (common practice, no source) and a wound band of one third "
            "of the radius (Workshop Receipts, fourth series, London 1885, year from memory)."
        ),
        thickness=_by_ratio,
        length=equations.wound_third_length,
    ),
)


def rules_for(wanted_turns: float | None) -> tuple[Rule, ...]:
    """Return the rules to apply; the one for wanted turns only when turns are wanted.

    Args:
        wanted_turns: development turns asked for, above 0, or None.
    """
    if wanted_turns is None:
        return FIXED_RULES
    return (*FIXED_RULES, _wanted_turns_rule(wanted_turns))


def _wanted_turns_rule(turns: float) -> Rule:
    return Rule(
        name=WANTED_TURNS,
        basis=(
            f"Thickness that gives {turns:g} turns when the spring covers half the ring "
            '(Roze 1857, as given in "Die Zugfeder", mysterieuse-uhren.de, 5.6).'
        ),
        thickness=lambda bore, arbor: equations.thickness_for_turns(bore, arbor, turns),
        length=equations.half_area_length,
    )
