"""The answer in a few lines, and before it what the movement itself asks for."""

from __future__ import annotations

import math
from collections.abc import Iterator

from gaugelink.mechanics.arrangement import Asked
from gaugelink.mechanics.band import Band
from gaugelink.mechanics.motion import POWER_SAYING
from gaugelink.report.numbers import decimals_for, plus_minus
from gaugelink.report.table import wrapped
from gaugelink.sizing.results import ComparedSpring, Motion, SizeResult, SpringFigures
from gaugelink.sizing.rules import HALF_AREA, WANTED_TURNS
from gaugelink.sizing.size import HEIGHT
from gaugelink.statistics.student import t_cdf
from gaugelink.uncertainty.conformity import PROVEN
from gaugelink.uncertainty.estimate import Estimate

_EXACT = 1e-6  # of the value: narrower intervals are rounding noise
_NOTHING = 1e-9  # of a turn, a coil, a N mm: rounding noise of what is none at all


def movement_section(result: SizeResult) -> str | None:
    """Say what the measured amplitude calls for before any spring; None without one."""
    motion = result.motion
    if motion is None:
        return None
    lines = [wrapped(each.text, lead="  ! ") for each in motion.advice]
    lines += [wrapped(text, lead="  ! ") for text in _knocking(result)]
    lines += [wrapped(text) for text in _wished(motion)]
    if not lines:
        measured = motion.measured
        lines = [
            wrapped(
                f"{measured.amplitude_deg:.0f} degrees ({measured.position}, {measured.wind}): "
                "nothing is wrong with that."
            )
        ]
    return "FIRST THE MOVEMENT\n" + "\n".join((*lines, wrapped(POWER_SAYING)))


def answer_section(result: SizeResult) -> str:
    """Say in a few lines how high, thick and long the spring should be, and what it gives."""
    return "THE ANSWER\n" + "\n".join(wrapped(text) for text in _answers(result))


def springs_of(result: SizeResult) -> dict[str, SpringFigures]:
    """Return the springs that somebody may go by: by rule the half-area ones, and the given."""
    named = {r.rule: r.figures for r in result.rules if r.rule in (HALF_AREA, WANTED_TURNS)}
    given = {"found": result.found, "documented": result.documented}
    return named | {name: each.figures for name, each in given.items() if each is not None}


def range_text(band: Band, places: int) -> str:
    """Write the two limits of a band, once where they are the same."""
    low, high = f"{band.low:.{places}f}", f"{band.high:.{places}f}"
    return low if low == high else f"{low} to {high}"


def span(estimate: Estimate, between: str = "..") -> str:
    """Write the ends of a coverage interval whose spread is mostly judgement: ``5.9..6.6``."""
    if estimate.high - estimate.low <= max(_EXACT * abs(estimate.value), _NOTHING):
        return f"{estimate.value:.4g}" if abs(estimate.value) > _NOTHING else "0"
    places = max(0, decimals_for((estimate.high - estimate.low) / 4) - 1)
    low, high = f"{estimate.low:.{places}f}", f"{estimate.high:.{places}f}"
    return low if low == high else f"{low}{between}{high}"


def _height_doubt(spring: ComparedSpring) -> str:
    """Say how surely a spring is higher than the height available; JCGM 106, clause 7."""
    heights = [away for away in spring.distances if away.rule == HEIGHT]
    if not heights or heights[0].difference <= 0:
        return ""
    too_high = t_cdf(heights[0].in_u, math.inf)
    if too_high >= PROVEN:
        return " TOO HIGH FOR THIS BARREL."
    return f" PERHAPS TOO HIGH FOR THIS BARREL (probability {100 * too_high:.0f} %)."


def _answers(result: SizeResult) -> Iterator[str]:
    if result.height is None:
        yield "Height: not worked out, which takes the depth and the lid."
    else:
        yield f"Height: up to {plus_minus(result.height)} mm."
    if result.documented is not None:
        figures = result.documented.figures
        yield f"Documented: {_size(figures)}{_gives(figures)}.{_height_doubt(result.documented)}"
    wanted = (HALF_AREA, WANTED_TURNS)
    for rule in (rule for rule in result.rules if rule.rule in wanted):
        yield f"By rule ({rule.rule}): {_size(rule.figures)}{_gives(rule.figures)}."
    for no in (no for no in result.refused if no.asked is Asked.SIZE):
        yield f"{no.reason} {no.hint}"


def _size(figures: SpringFigures) -> str:
    parts = ((figures.height, "high"), (figures.thickness, "thick"), (figures.length, "long"))
    return ", ".join(f"{plus_minus(size)} mm {word}" for size, word in parts if size is not None)


def _gives(figures: SpringFigures) -> str:
    model = figures.torque_model
    if model is None:
        return ""
    turns, hours = model.turns_usable, model.hours_usable
    lasting = f", {span(hours, ' to ')} h at most" if hours is not None else ""
    return f"; {span(turns, ' to ')} usable turns{lasting}"


def _knocking(result: SizeResult) -> Iterator[str]:
    foreseen = {
        name: figures.torque_model.foreseen
        for name, figures in springs_of(result).items()
        if figures.torque_model is not None
    }
    for name, each in foreseen.items():
        if each is not None and each.will_knock:
            yield f"The {name} spring makes the movement knock: do not fit it."
        elif each is not None and each.may_knock:
            yield (
                f"The {name} spring may make the movement knock, up to {each.high_deg:.0f} "
                "degrees: listen at full wind, or take a weaker one."
            )


def _wished(motion: Motion) -> Iterator[str]:
    wished = motion.wished
    if wished is None or motion.wished_deg is None:
        return
    yield (
        f"For {motion.wished_deg:.0f} degrees it takes {range_text(wished.torque_ratio, 2)} times "
        f"the torque of the found spring, a thickness of {range_text(wished.thickness_mm, 3)} mm, "
        "all else the same."
    )
