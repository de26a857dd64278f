"""Benches with springs of hidden strength: the truth, what the repairer sees, what is typed in.

Classes, their stresses and their moduli are drawn by the shipped table, class by class, also
where the product is told no more than "white" or nothing. What a spring of that strength does
is ``spring_physics``. All sizes are invented.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from spring_physics import Array, Strip

from gaugelink.mechanics.materials import Material, material_named, shipped_materials
from gaugelink.mechanics.signs import FoundSeen
from gaugelink.mechanics.train import Train, train_from_text
from gaugelink.sizing.inputs import DEFAULT_U, DEFAULT_U_OF_LENGTH, SizingInputs, given_spring
from gaugelink.sizing.inputs import typed_input as typed

NAMED, WHITE, UNKNOWN = "named", "white", "not known"
FREE, LOOSE, EXTENT, CROWN = "free coils", "loose coils", "extent", "crown turns"
FOUND, NEW = "found", "half-area"  # the springs, as the product labels them

# Half the watches have a carbon spring; of the white ones a quarter is stainless, half of a
# cobalt alloy, a quarter high-strength: the weights of the shipped spreads.
WEIGHTS = {
    "carbon-steel": 0.5,
    "stainless": 0.125,
    "cobalt-chromium-nickel": 0.125,
    "cobalt-nickel": 0.125,
    "high-strength-cobalt": 0.125,
}
CLASSES: tuple[Material, ...] = tuple(m for m in shipped_materials() if m.name in WEIGHTS)
HEALTHY_SHARE, LEAST_KEPT = 0.5, 0.55
STOPS_AT = (0.15, 0.40)
FRICTION = 0.08
SHAPE = 0.10  # of the extent, for what no even bend describes
U_EXTENT_MM = DEFAULT_U["found.free_diameter"]
U_FREE, U_LOOSE, U_CROWN, U_BARREL = 0.25, 0.5, DEFAULT_U["found.crown_turns"], 0.2
HOURS_PER_TURN = 7.5
WINDING: Train = train_from_text("60/15")
CLEARANCE_MM, BORE_PER_THICKNESS = 0.10, 87.0
SIZES = ("bore", "depth", "lid", "arbor", "found_thickness", "found_height", "found_length")
OUTPUTS = ("stress_full", "torque_half_turn", "turns_usable", "hours_to_stop", "loose_coils")


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """A scenario: what is known of the material, and which signs are looked for."""

    material: str
    signs: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        seen = "all four" if len(self.signs) == 4 else ", ".join(self.signs) or "nothing"
        return f"{self.material}, {seen} seen"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Hidden:
    """Strength of found and new spring, and the rest that nobody measures; array entries."""

    kind: npt.NDArray[np.int64]  # of the found spring, in CLASSES
    found_stress: Array
    found_modulus: Array
    new_stress: Array
    new_modulus: Array
    off: Array
    stops_at: Array
    kept_back: Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SpringBenches:
    """Benches of one scenario: what is true, and what is read, counted and told."""

    look: Look
    truth: Mapping[str, Array]
    kind: npt.NDArray[np.int64]
    read: Mapping[str, Array]
    seen: Mapping[str, Array]


def size_u(read: Mapping[str, Array]) -> dict[str, Array]:
    """Return the standard uncertainty of each reading in mm: those of typed sizes."""
    given = {name: DEFAULT_U.get(name.replace("_", "."), 0.0) for name in SIZES}
    scale = {name: np.full_like(read["bore"], u) for name, u in given.items()}
    return {**scale, "found_length": DEFAULT_U_OF_LENGTH * read["found_length"]}


def draw_sizes(count: int, rng: np.random.Generator) -> dict[str, Array]:
    """Draw barrels and found springs, from a lady's watch to a pocket watch."""
    bore = rng.uniform(6.0, 18.0, count)
    arbor = bore / 3.0 * rng.uniform(0.95, 1.05, count)
    thickness = bore / BORE_PER_THICKNESS * rng.uniform(0.95, 1.05, count)
    height, lid = bore / 9.0 * rng.uniform(0.9, 1.1, count), rng.uniform(0.3, 0.4, count)
    ring = np.pi * (bore**2 - arbor**2) / 4.0
    return {
        "bore": bore,
        "depth": height + lid + CLEARANCE_MM,
        "lid": lid,
        "arbor": arbor,
        "found_thickness": thickness,
        "found_height": height - rng.uniform(0.0, 0.04, count),
        "found_length": ring / thickness * rng.uniform(0.44, 0.56, count),
    }


def draw_kinds(material: str, count: int, rng: np.random.Generator) -> npt.NDArray[np.int64]:
    """Draw classes of springs; where white is known, white ones."""
    weights = np.array([WEIGHTS[m.name] * (m.white or material != WHITE) for m in CLASSES])
    return np.asarray(rng.choice(len(CLASSES), count, p=weights / weights.sum()), dtype=np.int64)


def draw_hidden(material: str, kind: npt.NDArray[np.int64], rng: np.random.Generator) -> Hidden:
    """Draw what is hidden of springs of some classes.

    New springs are of the strip of the found one where its material has a name, else of any.
    """
    count = len(kind)
    healthy, modulus = _strength(kind, rng)
    new = (healthy, modulus)
    if material != NAMED:
        new = _strength(draw_kinds(material, count, rng), rng)
    tired = rng.random(count) >= HEALTHY_SHARE
    kept = np.where(tired, rng.uniform(LEAST_KEPT, 1.0, count), 1.0)
    return Hidden(
        kind=kind,
        found_stress=healthy * kept,
        found_modulus=modulus,
        new_stress=new[0],
        new_modulus=new[1],
        off=rng.uniform(-1.0, 1.0, count),
        stops_at=rng.uniform(*STOPS_AT, count),
        kept_back=rng.uniform(0.0, FRICTION, count),
    )


def _strength(kind: npt.NDArray[np.int64], rng: np.random.Generator) -> tuple[Array, Array]:
    """Draw healthy stresses and moduli in MPa; what plastic bending forbids is drawn again."""

    def of(each: str, which: str) -> Array:
        return np.array([getattr(getattr(m, each), which) for m in CLASSES])[kind]

    stress = np.full(len(kind), np.inf)
    while np.any(over := stress > of("healthy_mpa", "most")):
        fresh = of("healthy_mpa", "spread") * rng.standard_normal(len(kind))
        stress = np.where(over, of("healthy_mpa", "median") * np.exp(fresh), stress)
    low, high = of("modulus_gpa", "low"), of("modulus_gpa", "high")
    return stress, 1000.0 * rng.uniform(low, high)


def strips(sizes: Mapping[str, Array], hidden: Hidden) -> dict[str, Strip]:
    """Return the found spring and the new one that the half-area rule asks for."""
    bore, arbor, thick = sizes["bore"], sizes["arbor"], sizes["bore"] / BORE_PER_THICKNESS
    barrel = {"bore": bore, "arbor": arbor, "off": hidden.off}
    return {
        FOUND: Strip(
            **barrel,
            thickness=sizes["found_thickness"],
            length=sizes["found_length"],
            height=sizes["found_height"],
            modulus=hidden.found_modulus,
            strain=hidden.found_stress / hidden.found_modulus,
        ),
        NEW: Strip(
            **barrel,
            thickness=thick,
            length=np.pi * (bore**2 - arbor**2) / 8.0 / thick,
            height=sizes["depth"] - sizes["lid"] - CLEARANCE_MM,
            modulus=hidden.new_modulus,
            strain=hidden.new_stress / hidden.new_modulus,
        ),
    }


def outputs(sizes: Mapping[str, Array], hidden: Hidden) -> dict[str, Array]:
    """Return what both springs do, by the label of the product."""
    both = strips(sizes, hidden)
    needs = hidden.stops_at * both[NEW].torque_after(0.5)
    found: dict[str, Array] = {}
    for name, strip in both.items():
        turns, loose = strip.rest()
        values = (
            strip.strain * strip.modulus,
            strip.torque_after(0.5),
            turns,
            strip.turns_until(needs) * HOURS_PER_TURN,
            loose,
        )
        found |= {f"{name}.{label}": value for label, value in zip(OUTPUTS, values, strict=True)}
    return found


def shown(signs: tuple[str, ...], sizes: Mapping[str, Array], hidden: Hidden) -> dict[str, Array]:
    """Return what the found spring would show to somebody who counts without an error."""
    strip = strips(sizes, hidden)[FOUND]
    turns, loose = strip.rest(hidden.kept_back)
    known = {FREE: strip.coils_free, EXTENT: strip.extent}
    known |= {LOOSE: lambda: loose, CROWN: lambda: turns * WINDING.ratio}
    return {sign: known[sign]() for sign in signs}


def spring_benches(look: Look, count: int, seed: int) -> SpringBenches:
    """Draw benches of a scenario; the same seed draws the same."""
    rng = np.random.default_rng([seed, int.from_bytes(look.name.encode(), "big")])
    sizes = draw_sizes(count, rng)
    hidden = draw_hidden(look.material, draw_kinds(look.material, count, rng), rng)
    u = size_u(sizes)
    return SpringBenches(
        look=look,
        truth=outputs(sizes, hidden),
        kind=hidden.kind,
        read={name: sizes[name] + u[name] * rng.standard_normal(count) for name in SIZES},
        seen=_counted(shown(look.signs, sizes, hidden), rng),
    )


def _counted(true: Mapping[str, Array], rng: np.random.Generator) -> dict[str, Array]:
    """Add what a person counts and measures wrong."""
    seen = {}
    for sign, value in true.items():
        off, other = rng.standard_normal((2, len(value)))
        if sign == EXTENT:
            seen[sign] = value * np.exp(SHAPE * off) + U_EXTENT_MM * other
        elif sign == CROWN:
            seen[sign] = value + U_CROWN * off + WINDING.ratio * U_BARREL * other
        elif sign == LOOSE:
            seen[sign] = np.maximum(value + U_LOOSE * off, 0.0)
        else:
            seen[sign] = value + U_FREE * off
    return seen


def sizing_inputs_of(benches: SpringBenches, index: int) -> SizingInputs:
    """Return what the sizing is told of one bench."""
    labels = {name: name.replace("_", ".") for name in SIZES}
    sizes = {n: typed(label, float(benches.read[n][index])) for n, label in labels.items()}
    named = CLASSES[benches.kind[index]].name
    told = {NAMED: named, WHITE: "white", UNKNOWN: "open"}[benches.look.material]
    return SizingInputs(
        bore=sizes["bore"],
        depth=sizes["depth"],
        lid=sizes["lid"],
        arbor=sizes["arbor"],
        found=given_spring("found", sizes),
        hours_per_turn=HOURS_PER_TURN,
        winding_train=WINDING,
        material=material_named(told),
        seen=_seen({sign: float(value[index]) for sign, value in benches.seen.items()}),
    )


def _seen(told: Mapping[str, float]) -> FoundSeen | None:
    if not told:
        return None

    def of(sign: str, label: str, unit: str = "1") -> dict[str, object]:
        name = f"found.{label}"
        return {label: typed(name, told[sign], unit=unit)} if sign in told else {}

    return FoundSeen(
        **of(FREE, "free_coils"),  # type: ignore[arg-type]
        **of(EXTENT, "free_diameter", "mm"),  # type: ignore[arg-type]
        **of(CROWN, "crown_turns"),  # type: ignore[arg-type]
        loose_coils=told.get(LOOSE),
    )
