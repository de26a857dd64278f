"""What was measured and seen of the found spring, clue by clue."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from gaugelink.mechanics.motion import KNOCKING_FROM_DEG, LEAST_DEG, Position, Wind
from gaugelink.sizing.checks import BORE_PER_THICKNESS, FILL, LEAST_EXCESS_MM, LEAST_FILL_UNBROKEN
from gaugelink.sizing.covered import refused_rules
from gaugelink.sizing.finding import Clue, Question, Speaks
from gaugelink.sizing.inputs import SizingInputs
from gaugelink.uncertainty.estimate import Estimate

_TESTS = 'tests of the British Horological Institute as quoted by Wikipedia, "Mainspring"'
_PRACTICE = "common practice"
LEAST_FREE_PER_BORE = 2.5
MOST_LOOSE_COILS = 2.0
SURELY_LOOSE_COILS = 4.0
# Strip is held to about +-0.002 mm (from memory) and a micrometer scatters as much:
# what goes beyond is wear, rust or a strip that was pulled. Judgement.
MOST_SPREAD_MM = 0.006
MOST_BELOW_HEIGHT_MM = 0.1
_TWO_U = 2.0  # 95 % of a normal distribution
# How far from a documented size a spring may be and still be taken for it, beside what
# the measurement is uncertain by: the steps in which springs are sold. Common practice.
STEPS = {"height": 0.05, "thickness": 0.005}
STEP_OF_LENGTH = 0.10


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """A difference in mm and its standard uncertainty."""

    value_mm: float
    u_mm: float


def evidence(
    inputs: SizingInputs, estimates: Mapping[str, Estimate], above_height: Difference | None
) -> tuple[Clue, ...]:
    """Gather the clues that a found spring gives.

    Args:
        inputs: what was seen beside the sizes.
        estimates: inputs and outputs of the sizing by label.
        above_height: height of the found spring less the available one, None if not known.
    """
    return (
        *_condition(inputs, estimates),
        *(() if refused_rules(inputs) else _sizes(estimates)),
        *_height(above_height),
        *_documented(estimates),
        *_running(inputs),
    )


def _condition(inputs: SizingInputs, estimates: Mapping[str, Estimate]) -> Iterator[Clue]:
    free = estimates.get("found.free_per_bore")
    if free is not None:
        tired = _side(free, (-math.inf, LEAST_FREE_PER_BORE))
        yield Clue(
            question=Question.TIRED,
            code="free-diameter",
            seen=f"Lying free it is {free.value:.1f} bores wide; below "
            f"{LEAST_FREE_PER_BORE:g} is a tired spring.",
            speaks=tired,
            basis=_TESTS,
        )
    seen = inputs.seen
    if seen is not None and seen.loose_coils is not None:
        yield _loose(seen.loose_coils)
    if seen is not None and seen.thickness_spread_mm is not None:
        yield _spread(seen.thickness_spread_mm)


def _loose(coils: float) -> Clue:
    if coils <= MOST_LOOSE_COILS:
        means, speaks = "one or two are usual", Speaks.AGAINST
    elif coils < SURELY_LOOSE_COILS:
        means, speaks = "more than two suggest a tired spring", Speaks.FOR
    else:
        means, speaks = "four or five are a tired spring's", Speaks.FOR
    return Clue(
        question=Question.TIRED,
        code="loose-coils",
        seen=f"{coils:g} inner coils were loose in the barrel; {means}.",
        speaks=speaks,
        basis=_TESTS,
    )


def _spread(spread_mm: float) -> Clue:
    uneven = spread_mm > MOST_SPREAD_MM
    means = "worn, rusted or pulled" if uneven else "no more than strip and micrometer scatter"
    return Clue(
        question=Question.TIRED,
        code="thickness-spread",
        seen=f"Its thickness varies by {spread_mm:.3f} mm along its length: {means}.",
        speaks=Speaks.FOR if uneven else Speaks.NEITHER,
        basis=f"judgement: strip to 0.002 mm, from memory; limit {MOST_SPREAD_MM:g} mm",
    )


def _sizes(estimates: Mapping[str, Estimate]) -> Iterator[Clue]:
    fill, bores = estimates.get("found.fill"), estimates["found.bore_per_thickness"]
    if fill is not None:
        broken = fill.high < LEAST_FILL_UNBROKEN
        yield _suits(
            "fill",
            f"It fills {fill.value:.2f} of the ring, usual is {FILL[0]:g} to {FILL[1]:g}"
            f"{': is a piece of it missing?' if broken else '.'}",
            _inside(fill, FILL),
        )
    low, high = BORE_PER_THICKNESS
    yield _suits(
        "thickness",
        f"The bore is {bores.value:.0f} times its thickness, usual is {low:g} to {high:g}.",
        _inside(bores, BORE_PER_THICKNESS),
    )


def _height(above: Difference | None) -> Iterator[Clue]:
    if above is None:
        return
    margin = _TWO_U * above.u_mm
    if above.value_mm - margin > 0:
        seen, speaks = f"It is {above.value_mm:.2f} mm higher than the barrel allows.", Speaks.FOR
    elif above.value_mm + margin < -MOST_BELOW_HEIGHT_MM:
        seen = f"It is {-above.value_mm:.2f} mm lower than the barrel allows: the nearest to hand?"
        speaks = Speaks.FOR
    elif -MOST_BELOW_HEIGHT_MM <= above.value_mm <= LEAST_EXCESS_MM:
        seen, speaks = "Its height is what the barrel allows, or up to 0.1 mm less.", Speaks.AGAINST
    else:
        seen = (
            f"Its height is {above.value_mm:+.2f} mm off what the barrel allows, too near to the "
            "limit to say."
        )
        speaks = Speaks.NEITHER
    yield _suits("height", seen, speaks)


def _documented(estimates: Mapping[str, Estimate]) -> Iterator[Clue]:
    names = [n for n in ("height", "thickness", "length") if _both(n, estimates)]
    if not names:
        return
    off = [name for name in names if _off(name, estimates)]
    seen = (
        f"It is off the documented {' and '.join(_off_by(n, estimates) for n in off)}."
        if off
        else f"It has the documented {' and '.join(names)}, within a stock step."
    )
    basis = "stock steps of 0.05 and 0.005 mm, length within 10 %: common practice"
    differs, agrees = (Speaks.FOR, Speaks.AGAINST) if off else (Speaks.AGAINST, Speaks.FOR)
    for question, speaks in ((Question.WRONG, differs), (Question.ORIGINAL, agrees)):
        yield Clue(question=question, code="document", seen=seen, speaks=speaks, basis=basis)


def _running(inputs: SizingInputs) -> Iterator[Clue]:
    measured = inputs.amplitude
    at_top = (Position.HORIZONTAL, Wind.FULL)
    if measured is None or (measured.position, measured.wind) != at_top:
        return
    if LEAST_DEG[at_top] <= measured.amplitude_deg < KNOCKING_FROM_DEG:
        for question in (Question.TIRED, Question.WRONG):
            yield Clue(
                question=question,
                code="amplitude",
                seen=f"The watch swings {measured.amplitude_deg:.0f} degrees with it.",
                speaks=Speaks.AGAINST,
                basis="a watch that runs well is trusted before a rule: common practice",
            )


def _suits(code: str, seen: str, speaks: Speaks) -> Clue:
    return Clue(question=Question.WRONG, code=code, seen=seen, speaks=speaks, basis=_PRACTICE)


def _side(estimate: Estimate, limits: tuple[float, float]) -> Speaks:
    """FOR where the whole interval lies within the limits, AGAINST where it lies without."""
    if limits[0] <= estimate.low and estimate.high <= limits[1]:
        return Speaks.FOR
    outside = estimate.high < limits[0] or estimate.low > limits[1]
    return Speaks.AGAINST if outside else Speaks.NEITHER


def _inside(estimate: Estimate, usual: tuple[float, float]) -> Speaks:
    """Whether a size speaks for the wrong spring: only when all of its interval is unusual."""
    turned = {Speaks.FOR: Speaks.AGAINST, Speaks.AGAINST: Speaks.FOR}
    side = _side(estimate, usual)
    return turned.get(side, side)


def _both(name: str, estimates: Mapping[str, Estimate]) -> bool:
    return all(f"{spring}.{name}" in estimates for spring in ("found", "documented"))


def _difference(name: str, estimates: Mapping[str, Estimate]) -> Difference:
    found, document = (estimates[f"{spring}.{name}"] for spring in ("found", "documented"))
    return Difference(value_mm=found.value - document.value, u_mm=math.hypot(found.u, document.u))


def _off(name: str, estimates: Mapping[str, Estimate]) -> bool:
    away = _difference(name, estimates)
    allowed = STEPS.get(name, STEP_OF_LENGTH * estimates[f"documented.{name}"].value)
    return abs(away.value_mm) > allowed + _TWO_U * away.u_mm


def _off_by(name: str, estimates: Mapping[str, Estimate]) -> str:
    places = {"height": 2, "thickness": 3}.get(name, 0)
    return f"{name} by {_difference(name, estimates).value_mm:+.{places}f} mm"
