"""The equations of barrel and spring, and the rules that turn a barrel into a spring.

Every equation takes floats or numpy arrays alike and never branches on a value,
so the same text feeds the first-order budget and the Monte Carlo. Whether the
numbers make sense is asked beforehand, in ``checks``. All rules but ``wanted-turns`` take
the thickness from the bore alone and differ in length. None is blended with another: a
result carries the name of the rule it came from.

Symbols in the docstrings, all in mm: D bore, R = D/2, d arbor diameter, r = d/2,
e thickness, h height, L length of the spring; x = L e / pi, the edge area over pi.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import TYPE_CHECKING, Any, NamedTuple, TypeVar

if TYPE_CHECKING:
    from gaugelink.uncertainty.estimate import Array
X = TypeVar("X", float, "Array")
BORE_PER_THICKNESS = 87.0


def available_height_from_rim(depth_mm: X, lid_mm: X, recess_mm: X, clearance_mm: X) -> X:
    """Compute the height left for the spring in mm, depth taken from floor to rim.

    h = depth - (lid - recess) - clearance, where recess is the hollow turned into
    the inside of the lid. H. Jendritzki, "Die Zugfeder", Schweizerische
    Uhrmacher-Zeitung 12/1950, p. 49; a clearance of 0.1 mm is given there for a flat lid.
    """
    return depth_mm - (lid_mm - recess_mm) - clearance_mm


def available_height_from_seat(depth_mm: X, recess_mm: X, clearance_mm: X) -> X:
    """Compute the height left for the spring in mm, depth taken from floor to lid seat.

    h = depth + recess - clearance; source as for ``available_height_from_rim``.
    """
    return depth_mm + recess_mm - clearance_mm


def thickness_by_ratio(bore_mm: X) -> X:
    """Compute the thickness in mm as a fixed part of the bore: e = D / 87.

    Common practice, no source.
    """
    return bore_mm / BORE_PER_THICKNESS


def length_by_ratio(bore_mm: X, bores: float) -> X:
    """Compute the length in mm as a number of bores: L = 30 D or 35 D.

    Common practice, no source.
    """
    return bores * bore_mm


def half_area_length(bore_mm: X, arbor_mm: X, thickness_mm: X) -> X:
    """Compute the length in mm of the spring that covers half the ring, run down.

    L = pi (D^2 - d^2) / (8 e), which gives the most turns: the derivative of
    ``development_turns`` by L vanishes only where r^2 + x = R^2 - x.
    Roze 1857, as given in "Die Zugfeder", mysterieuse-uhren.de, section 5.6.
    """
    return math.pi * (bore_mm**2 - arbor_mm**2) / (8 * thickness_mm)


def run_down_third_length(bore_mm: X, thickness_mm: X) -> X:
    """Compute the length in mm whose run-down band is a third of the barrel's radius.

    The band lies between 2R/3 and R, so L = 5 pi D^2 / (36 e).
    "New Mainspring", Workshop Receipts, fourth series, Spon, London 1885 (year from
    memory), gives the spring a third of the diameter and leaves open which band is meant.
    """
    return 5 * math.pi * bore_mm**2 / (36 * thickness_mm)


def wound_third_length(bore_mm: X, arbor_mm: X, thickness_mm: X) -> X:
    """Compute the length in mm whose wound band is a third of the barrel's radius.

    The band lies between r and r + R/3, so L = pi D (6 d + D) / (36 e).
    The other reading of the source named in ``run_down_third_length``.
    """
    return math.pi * bore_mm * (6 * arbor_mm + bore_mm) / (36 * thickness_mm)


def thickness_for_turns(bore_mm: X, arbor_mm: X, turns: float) -> X:
    """Compute the thickness in mm that gives the wanted turns at half-area length.

    e = [sqrt(2 (D^2 + d^2)) - (D + d)] / (2 N): ``development_turns`` with
    ``half_area_length`` put in and solved for e. ``turns`` must be above 0.
    """
    return (_root(2 * (bore_mm**2 + arbor_mm**2)) - (bore_mm + arbor_mm)) / (2 * turns)


def run_down_inner_diameter(bore_mm: X, thickness_mm: X, length_mm: X) -> X:
    """Compute the clear diameter in mm inside the band of the run-down spring.

    2 sqrt(R^2 - x): the strip covers the same area however it lies.
    """
    return _root(bore_mm**2 - 4 * length_mm * thickness_mm / math.pi)


def wound_outer_diameter(arbor_mm: X, thickness_mm: X, length_mm: X) -> X:
    """Compute the outer diameter in mm of the band of the fully wound spring.

    2 sqrt(r^2 + x): the strip covers the same area however it lies.
    """
    return _root(arbor_mm**2 + 4 * length_mm * thickness_mm / math.pi)


def coils_run_down(bore_mm: X, thickness_mm: X, length_mm: X) -> X:
    """Compute the number of coils that lie against the wall: [R - sqrt(R^2 - x)] / e."""
    clear_mm = run_down_inner_diameter(bore_mm, thickness_mm, length_mm)
    return (bore_mm - clear_mm) / (2 * thickness_mm)


def coils_wound(arbor_mm: X, thickness_mm: X, length_mm: X) -> X:
    """Compute the number of coils that lie on the arbor: [sqrt(r^2 + x) - r] / e."""
    band_mm = wound_outer_diameter(arbor_mm, thickness_mm, length_mm)
    return (band_mm - arbor_mm) / (2 * thickness_mm)


def development_turns(bore_mm: X, arbor_mm: X, thickness_mm: X, length_mm: X) -> X:
    """Compute the turns of the barrel from wound to run down, coils taken as closed rings.

    N = coils wound - coils run down. Roze's theorem, in G. H. A. Hazlitt (ed.), The
    American Watchmaker and Jeweler, Chicago 1892, p. 237 (H. G. Abbott edition: p. 257).
    """
    wound = coils_wound(arbor_mm, thickness_mm, length_mm)
    return wound - coils_run_down(bore_mm, thickness_mm, length_mm)


def spiral_turns(bore_mm: X, arbor_mm: X, thickness_mm: X, length_mm: X) -> X:
    """Compute the turns of the barrel from wound to run down, coils taken as true spirals.

    A strip that begins on a round arbor and ends on a round wall leaves two wedges
    empty: ``development_turns`` with r + e/2 for r and R - e/2 for R, about half a turn
    less. Derived here from the arc length of the Archimedean spiral, whose small slope
    is left out (3e-4 turn); no source.
    """
    return development_turns(
        bore_mm - thickness_mm, arbor_mm + thickness_mm, thickness_mm, length_mm
    )


def fill(bore_mm: X, arbor_mm: X, thickness_mm: X, length_mm: X) -> X:
    """Compute the part of the free ring that the spring's edge covers: 4 x / (D^2 - d^2).

    One half gives the most turns; see ``half_area_length``.
    """
    return 4 * length_mm * thickness_mm / (math.pi * (bore_mm**2 - arbor_mm**2))


def torque_at_limit(height_mm: X, thickness_mm: X) -> X:
    """Compute h e^2 in mm^3, to which the torque at the elastic limit is proportional.

    M = sigma h e^2 / 6: every element reaches the same strain 2 p / e of curvature;
    J. Japan Soc. Precision Engineering 18 (1952) no. 205.
    """
    return height_mm * thickness_mm**2


def torque_of_equal_shape(height_mm: X, thickness_mm: X, length_mm: X) -> X:
    """Compute h e^3 / L in mm^3, to which the torque at equal turns and free shape is proportional.

    M = E h e^3 theta / (12 L), a strip in pure bending wound by the angle theta.
    """
    return height_mm * thickness_mm**3 / length_mm


def _root(area: X) -> X:
    root: X = area**0.5
    return root


HALF_AREA = "half-area"
WANTED_TURNS = "wanted-turns"
GONE_BY = (HALF_AREA, WANTED_TURNS)  # what an answer rests on; the others are shown beside it


class Rule(NamedTuple):
    """A rule for thickness and length, on floats and arrays alike.

    Args:
        name: stable identifier, as it is in results and JSON.
        basis: one sentence that names the source or says that there is none.
        thickness: (bore, arbor) in mm -> thickness in mm.
        length: (bore, arbor, thickness) in mm -> length in mm.
    """

    name: str
    basis: str
    thickness: Callable[[Any, Any], Any]
    length: Callable[[Any, Any, Any], Any]


def _by_ratio(bore: Any, _arbor: Any) -> Any:
    return thickness_by_ratio(bore)


FIXED_RULES = (
    Rule(
        name="ratio-30",
        basis="Thickness bore / 87 and length 30 x bore: common practice, no source.",
        thickness=_by_ratio,
        length=lambda bore, _arbor, _thickness: length_by_ratio(bore, 30),
    ),
    Rule(
        name="ratio-35",
        basis="Thickness bore / 87 and length 35 x bore: common practice, no source.",
        thickness=_by_ratio,
        length=lambda bore, _arbor, _thickness: length_by_ratio(bore, 35),
    ),
    Rule(
        name=HALF_AREA,
        basis=(
            "Thickness bore / 87 (common practice, no source) and the length that covers half "
            'the ring (Roze 1857, as given in "Die Zugfeder", mysterieuse-uhren.de, 5.6).'
        ),
        thickness=_by_ratio,
        length=half_area_length,
    ),
    Rule(
        name="thirds-run-down",
        basis=(
            "Thickness bore / 87 (common practice, no source) and a run-down band of one third "
            "of the radius (Workshop Receipts, fourth series, London 1885, year from memory)."
        ),
        thickness=_by_ratio,
        length=lambda bore, _arbor, thickness: run_down_third_length(bore, thickness),
    ),
    Rule(
        name="thirds-wound",
        basis=(
            "Thickness bore / 87 (common practice, no source) and a wound band of one third "
            "of the radius (Workshop Receipts, fourth series, London 1885, year from memory)."
        ),
        thickness=_by_ratio,
        length=wound_third_length,
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
        thickness=lambda bore, arbor: thickness_for_turns(bore, arbor, turns),
        length=half_area_length,
    )
