"""What the old spring tells us: tired, the wrong one, original? A finding with its evidence.

Every clue says what was seen, what it speaks for, and on what ground. A clue that lies
within its uncertainty of a limit speaks for neither side.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence

from gaugelink.mechanics.motion import KNOCKING_FROM_DEG, LEAST_DEG, Position, Wind
from gaugelink.mechanics.signs import U_LOOSE_COILS, Sign
from gaugelink.mechanics.strength import FoundStrength
from gaugelink.sizing.checks import BORE_PER_THICKNESS, FILL, LEAST_EXCESS_MM, LEAST_FILL_UNBROKEN
from gaugelink.sizing.covered import refused_rules
from gaugelink.sizing.inputs import SizingInputs
from gaugelink.sizing.results import Answer, Clue, Finding, Leaning, Question, RuleDistance, Speaks
from gaugelink.uncertainty.estimate import Estimate

_TESTS = 'tests of the British Horological Institute as quoted by Wikipedia, "Mainspring"'
_PRACTICE = "common practice"
LEAST_FREE_PER_BORE = 2.5
MOST_LOOSE_COILS = 2.0
SURELY = 0.9  # judgement
SURELY_LOOSE_COILS = 4.0
# Strip is held to about +-0.002 mm (from memory) and a micrometer scatters as much:
# what goes beyond is wear, rust or a strip that was pulled. Judgement.
MOST_SPREAD_MM = 0.006
SPREAD_STEPS = 2  # and no less than what the display and the hand make of an even strip
MOST_BELOW_HEIGHT_MM = 0.1
_ROUNDING = 1e-9  # two readings of 0.13 and 0.11 mm are no more than 0.02 mm apart
_TWO_U = 2.0  # 95 % of a normal distribution
# How far from a documented size a spring may be and still be taken for it, beside what
# the measurement is uncertain by: the steps in which springs are sold. Common practice.
STEPS = {"height": 0.05, "thickness": 0.005}
STEP_OF_LENGTH = 0.10
_WORDS = {
    (Question.TIRED, Leaning.YES): "It looks tired.",
    (Question.TIRED, Leaning.NO): "It shows no sign of being tired.",
    (Question.TIRED, Leaning.MIXED): "There are signs for and against its being tired.",
    (Question.TIRED, Leaning.OPEN): "Nothing seen so far says for sure whether it is tired.",
    (Question.WRONG, Leaning.YES): "It does not look made for this barrel.",
    (Question.WRONG, Leaning.NO): "Its sizes suit this barrel.",
    (Question.WRONG, Leaning.MIXED): "Some of its sizes suit this barrel, others do not.",
    (Question.WRONG, Leaning.OPEN): "Too little is known to say whether it suits this barrel.",
    (Question.ORIGINAL, Leaning.YES): "It may be the original: it agrees with the document.",
    (Question.ORIGINAL, Leaning.NO): "It is not of the documented size, so hardly the original.",
    (Question.ORIGINAL, Leaning.MIXED): "The document speaks for and against the original.",
    (Question.ORIGINAL, Leaning.OPEN): "Nothing seen says whether it is the original.",
}
CLOSE = "This is a finding from what was seen, not a verdict."


def evidence(
    inputs: SizingInputs,
    estimates: Mapping[str, Estimate],
    above_height: RuleDistance | None,
    strength: FoundStrength | None = None,
) -> tuple[Clue, ...]:
    """Gather the clues that a found spring gives.

    Args:
        inputs: what was seen beside the sizes.
        estimates: inputs and outputs of the sizing by label.
        above_height: height of the found spring less the available one, None if not known.
        strength: what its signs come to; None where its length is not known.
    """
    return (
        *_condition(inputs, estimates, strength),
        *(() if refused_rules(inputs) else _sizes(estimates)),
        *_height(above_height),
        *_documented(estimates),
        *_running(inputs),
    )


def found_from(clues: Sequence[Clue], strength: FoundStrength | None = None) -> Finding:
    """Add up the clues, question by question."""
    answers = tuple(_answer(question, clues) for question in Question)
    text = " ".join((*(a.text for a in answers), CLOSE))
    return Finding(text=text, answers=answers, strength=strength, ask=_ask(strength))


# What a sign has to take off the uncertainty to be worth asking for: judgement.
_WORTH = 0.8
_HOW = {
    Sign.FREE_COILS: "Lay the old spring flat and free on glass, hands off, and count its coils "
    "from end to end; a part that curves the other way counts as negative "
    "(--found-free-coils)",
    Sign.EXTENT: "Lay the old spring flat and free on glass and measure its greatest extent "
    "(--found-free-diameter)",
    Sign.LOOSE_COILS: "With the old spring still in the barrel, let the click down slowly, jog the "
    "barrel, and count the inner coils that stay clear of the rest (--found-loose-coils)",
    Sign.TURNS: "Let the click down slowly, jog the barrel, then count the crown turns to full "
    "wind (--found-crown-turns)",
}


def _ask(strength: FoundStrength | None) -> str:
    """Ask for what would tell most of the strength of the found spring."""
    if strength is None or not strength.next:
        return ""
    sign, u_part = strength.next[0]
    if u_part > _WORTH * strength.u_part:
        return ""
    return (
        f"{_HOW[sign]}: its torque is then known to ±{200 * u_part:.0f} % instead of "
        f"±{200 * strength.u_part:.0f} %."
    )


def _answer(question: Question, clues: Sequence[Clue]) -> Answer:
    own = tuple(clue for clue in clues if clue.question is question)
    leaning = _leaning({clue.speaks for clue in own})
    return Answer(question=question, leaning=leaning, text=_WORDS[question, leaning], clues=own)


def _leaning(sides: set[Speaks]) -> Leaning:
    both = {Speaks.FOR, Speaks.AGAINST}
    if both <= sides:
        return Leaning.MIXED
    if Speaks.FOR in sides:
        return Leaning.YES
    return Leaning.NO if Speaks.AGAINST in sides else Leaning.OPEN


def _condition(
    inputs: SizingInputs, estimates: Mapping[str, Estimate], strength: FoundStrength | None
) -> Iterator[Clue]:
    free, seen = estimates.get("found.free_per_bore"), inputs.seen
    if free is not None:
        yield _free(free, strength)
    if seen is not None and seen.loose_coils is not None:
        yield _loose(seen.loose_coils, strength)
    if strength is not None and strength.used:
        yield _kept(strength)
    if seen is not None and seen.thickness_spread_mm is not None:
        yield _spread(seen.thickness_spread_mm, seen.thickness_step_mm or 0.0)


def _free(free: Estimate, strength: FoundStrength | None) -> Clue:
    """The published sign, and what a healthy spring of this size shows.

    Where the two disagree neither counts.
    """
    sign = _side(free, (-math.inf, LEAST_FREE_PER_BORE))
    seen = f"Lying free it is {free.value:.1f} bores wide; the sign of a tired spring is below "
    seen += f"{LEAST_FREE_PER_BORE:g}"
    if strength is None:
        return _tired("free-diameter", f"{seen}.", sign)
    low, high = strength.healthy_extent
    own = Speaks.NEITHER
    if free.high < low:
        own = Speaks.FOR
    elif free.low > (low + high) / 2:
        own = Speaks.AGAINST
    seen += f", and a healthy one of this size is {low:.1f} to {high:.1f}"
    return _weighed_signs("free-diameter", seen, sign, own)


def _loose(coils: float, strength: FoundStrength | None) -> Clue:
    if coils <= MOST_LOOSE_COILS:
        means, sign = "one or two are usual", Speaks.AGAINST
    elif coils < SURELY_LOOSE_COILS:
        means, sign = "more than two suggest a tired spring", Speaks.FOR
    else:
        means, sign = "four or five are a tired spring's", Speaks.FOR
    seen = f"{coils:g} inner coils were loose in the barrel; {means}"
    if strength is None:
        return _tired("loose-coils", f"{seen}.", sign)
    low, high = strength.healthy_loose
    off = 2 * U_LOOSE_COILS
    own = Speaks.NEITHER
    if coils - off > high:
        own = Speaks.FOR
    elif coils <= (low + high) / 2:
        own = Speaks.AGAINST
    seen += f", and a healthy one of this size has {low:.1f} to {high:.1f}"
    return _weighed_signs("loose-coils", seen, sign, own)


def _weighed_signs(code: str, seen: str, sign: Speaks, own: Speaks) -> Clue:
    """A sign of the trade counts where a healthy spring of this size does not show it as well."""
    if sign is own or sign is Speaks.NEITHER:
        return _tired(code, f"{seen}.", own)
    if own is Speaks.NEITHER:
        return _tired(code, f"{seen}: it says nothing of this one.", Speaks.NEITHER)
    return _tired(code, f"{seen}: the two disagree.", own)


def _tired(code: str, seen: str, speaks: Speaks) -> Clue:
    return Clue(question=Question.TIRED, code=code, seen=seen, speaks=speaks, basis=_TESTS)


def _kept(strength: FoundStrength) -> Clue:
    """Everything seen of its strength together: the posterior of ``mechanics.strength``."""
    p = strength.p_tired
    speaks = Speaks.NEITHER
    if p >= SURELY:
        speaks = Speaks.FOR
    elif p <= 1 - SURELY:
        speaks = Speaks.AGAINST
    share = "over 99" if p > 0.995 else "under 1" if p < 0.005 else f"{100 * p:.0f}"
    return Clue(
        question=Question.TIRED,
        code="strength-kept",
        seen=f"By {_listed(strength.used)} the chance that it has lost a tenth of its strength or "
        f"more is {share} %.",
        speaks=speaks,
        basis="the torque model and the strength of its material; what may be lost: judgement",
    )


def _listed(signs: Sequence[Sign]) -> str:
    *first, last = (f"the {sign}" for sign in signs)
    return f"{', '.join(first)} and {last}" if first else last


def _spread(spread_mm: float, step_mm: float) -> Clue:
    limit_mm = max(MOST_SPREAD_MM, SPREAD_STEPS * step_mm)
    uneven = spread_mm > limit_mm * (1 + _ROUNDING)
    means = "worn, rusted or pulled" if uneven else "no more than strip and gauge scatter"
    return Clue(
        question=Question.TIRED,
        code="thickness-spread",
        seen=f"Its thickness varies by {spread_mm:.3f} mm along its length: {means}.",
        speaks=Speaks.FOR if uneven else Speaks.NEITHER,
        basis=f"judgement: strip to 0.002 mm, from memory; limit {limit_mm:g} mm",
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


def _height(above: RuleDistance | None) -> Iterator[Clue]:
    if above is None:
        return
    margin = _TWO_U * above.u
    if above.difference - margin > 0:
        seen, speaks = f"It is {above.difference:.2f} mm higher than the barrel allows.", Speaks.FOR
    elif above.difference + margin < -MOST_BELOW_HEIGHT_MM:
        seen = (
            f"It is {-above.difference:.2f} mm lower than the barrel allows: the nearest to hand?"
        )
        speaks = Speaks.FOR
    elif -MOST_BELOW_HEIGHT_MM <= above.difference <= LEAST_EXCESS_MM:
        seen, speaks = "Its height is what the barrel allows, or up to 0.1 mm less.", Speaks.AGAINST
    else:
        seen = (
            f"Its height is {above.difference:+.2f} mm off what the barrel allows, too near to the "
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


def _difference(name: str, estimates: Mapping[str, Estimate]) -> tuple[float, float]:
    """Return found less documented size in mm, and its standard uncertainty."""
    found, document = (estimates[f"{spring}.{name}"] for spring in ("found", "documented"))
    return found.value - document.value, math.hypot(found.u, document.u)


def _off(name: str, estimates: Mapping[str, Estimate]) -> bool:
    away_mm, u_mm = _difference(name, estimates)
    allowed = STEPS.get(name, STEP_OF_LENGTH * estimates[f"documented.{name}"].value)
    return abs(away_mm) > allowed + _TWO_U * u_mm


def _off_by(name: str, estimates: Mapping[str, Estimate]) -> str:
    places = {"height": 2, "thickness": 3}.get(name, 0)
    return f"{name} by {_difference(name, estimates)[0]:+.{places}f} mm"
