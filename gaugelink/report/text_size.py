"""A sizing as text for a terminal: the answer first, its grounds, what to mind when it is done."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING

from gaugelink.mechanics.arrangement import Asked, BarrelKind, Winding
from gaugelink.mechanics.materials import OPEN
from gaugelink.mechanics.motion import POWER_SAYING
from gaugelink.recommending.recommend import recommend
from gaugelink.report.table import (
    PLAY,
    details,
    ends,
    named_table,
    plus_minus,
    range_text,
    share_bar,
    span,
    spring_cautions,
    table,
    under,
    wrapped,
)
from gaugelink.report.text_order import answer_lines
from gaugelink.sizing import results
from gaugelink.sizing.distances import HEIGHT
from gaugelink.sizing.inputs import ORDER
from gaugelink.sizing.measurement_model import OF_THE_TORQUE
from gaugelink.sizing.rules import GONE_BY
from gaugelink.statistics.student import t_cdf
from gaugelink.uncertainty.estimate import BudgetRow, Estimate
from gaugelink.units import spoken

if TYPE_CHECKING:
    from gaugelink.mechanics.found_length import FoundLength

_BUDGET_OUTPUTS = (
    *("height", "half-area.thickness", "half-area.length"),
    *(f"{ORDER}.turns_usable", "found.turns_usable"),
)
# Their spread is judgement and far from linear: that both routes differ is no news.
_ROUGH = OF_THE_TORQUE
_ASSUMED = (
    *("modulus", "full_wind_stress", "end_room", "coils_off", "stops_at", "slip_loss"),
    "fusee_hollow",
)
TORQUE_SAID = (
    "Torque is taken half a turn after full wind, where the set of the strip no longer matters. "
    "Coil friction takes 5 to 15 % of it on the way down and adds as much on winding (from "
    "memory). A watch stops when 15 to 40 % of a healthy spring's torque is left (judgement); "
    "hours to zero torque are an upper limit."
)
ARRANGED_SAID = {
    Winding.AUTOMATIC: "The bridle slips before the coils are tight: torque, turns and hours are "
    "upper limits. The slip costs up to 15 % of the torque at full wind (judgement: no published "
    "figure).",
    BarrelKind.MOTOR: "Torque is that of the barrel arbor, which drives the train; the hours go by "
    "the turns of the wheel on the arbor.",
}
_MOST_SHARES = 3
_LEAST_SHARE = 0.02
_MOST_NAMED = 3
TO_ORDER = "size to order"
_DISTANCES = ("thickness", "length", "fill", "turns")
_TITLES = {
    results.Question.TIRED: "Tired?",
    results.Question.WRONG: "The wrong one?",
    results.Question.ORIGINAL: "The original?",
}
_MARKS = {results.Speaks.FOR: "+", results.Speaks.AGAINST: "-", results.Speaks.NEITHER: "?"}


def size_text(result: results.SizeResult) -> str:
    """Render a sizing: the answer first, its grounds, and last what to mind where it is done."""
    head = "\n".join(answer_lines(recommend(result)))
    return "\n\n".join(filter(None, (head, *_sections(result)))) + "\n"


def springs_of(result: results.SizeResult) -> dict[str, results.SpringFigures]:
    """Return the springs that somebody may go by: the size to order, and the given ones."""
    order = to_order(result)
    named = {} if order is None else {TO_ORDER: order}
    return named | {name: each.figures for name, each in _given(result).items()}


def to_order(result: results.SizeResult) -> results.SpringFigures | None:
    """Return the figures of the size to order; None while a stop that nobody accepted is left."""
    left = any(stop.name not in result.accepted for stop in result.stops)
    return None if left or result.order is None else result.order_figures


def _given(result: results.SizeResult) -> dict[str, results.ComparedSpring]:
    given = {"found": result.found, "documented": result.documented}
    return {name: spring for name, spring in given.items() if spring is not None}


def _models(result: results.SizeResult) -> dict[str, results.TorqueModel]:
    models = {name: figures.torque_model for name, figures in springs_of(result).items()}
    return {name: model for name, model in models.items() if model is not None}


def _sections(result: results.SizeResult) -> Iterator[str]:
    """Yield each section, empty where there is nothing to say."""
    yield under("FIRST THE MOVEMENT", _movement(result))
    yield under("BY DOCUMENT AND RULE", map(wrapped, _answers(result)))
    if result.finding is not None:
        title = "WHAT THE OLD SPRING TELLS US (+ yes, - no, ? neither)"
        yield under(title, _finding(result.finding))
    if result.found_length is not None:
        used = result.found.figures.length if result.found is not None else None
        yield under("ITS LENGTH WITHOUT UNCOILING", _found_length(result.found_length, used))
    title = f"BARREL (value ± half of the {100 * result.coverage:g} % interval)"
    yield under(title, [table(("", "", "u", "ν", "k"), [*_inputs(result)])])
    if result.rules:
        yield _by_rule(result)
    if given := _given(result):
        springs = {name: spring.figures for name, spring in given.items()}
        yield f"SPRINGS COMPARED\n{_side_by_side(springs, high=True)}"
    if result.rules and result.found is not None:
        title = "THE FOUND SPRING AGAINST EACH RULE (in u, of the measurement alone)"
        yield under(title, _distances(result.found))
    title = "TORQUE AND ENERGY (half a turn after full wind, friction left out)"
    yield under(title, _torque(result))
    yield under("AT THE FUSEE (friction left out)", _at_fusee(result))
    title = "WHERE THE UNCERTAINTY COMES FROM (largest shares of the variance)"
    yield under(title, _budget(result.budget))
    refused = (wrapped(f"{no.asked}: {no.reason} {no.hint}") for no in result.refused)
    yield under("NOT WORKED OUT", refused)
    yield under("CHECK FIRST", (wrapped(text, lead="  ! ") for text in _warnings(result)))
    yield spring_cautions(result.watch.arrangement)


def _movement(result: results.SizeResult) -> Iterator[str]:
    """What the measured amplitude calls for before any spring; nothing without one."""
    motion = result.motion
    if motion is None:
        return
    alarms = [*(each.text for each in motion.advice), *_knocking(result)]
    yield from (wrapped(text, lead="  ! ") for text in alarms)
    if motion.wished is not None and motion.wished_deg is not None:
        yield wrapped(
            f"For {motion.wished_deg:.0f} degrees it takes "
            f"{range_text(motion.wished.torque_ratio, 2)} times the torque of the found spring, a "
            f"thickness of {range_text(motion.wished.thickness_mm, 3)} mm, all else the same."
        )
    elif not alarms:
        measured = motion.measured
        yield wrapped(
            f"{measured.amplitude_deg:.0f} degrees ({measured.position}, {measured.wind}): that is "
            "fine."
        )
    yield wrapped(POWER_SAYING)


def _knocking(result: results.SizeResult) -> Iterator[str]:
    for of, model in _models(result).items():
        foreseen, name = model.foreseen, of if of == TO_ORDER else f"{of} spring"
        if foreseen is not None and foreseen.will_knock:
            yield f"The {name} makes the movement knock: do not fit it."
        elif foreseen is not None and foreseen.may_knock:
            yield (
                f"The {name} may make the movement knock, up to {foreseen.high_deg:.0f} "
                "degrees: listen at full wind, or take a weaker one."
            )


def _answers(result: results.SizeResult) -> Iterator[str]:
    """How high, thick and long the spring should be, and what it gives."""
    if result.height is None:
        yield "Height: not worked out; measure depth and lid."
    else:
        yield f"Height: up to {plus_minus(result.height)} mm."
    if result.documented is not None:
        figures = result.documented.figures
        yield f"Documented: {_size(figures)}{_gives(figures)}.{_height_doubt(result.documented)}"
    for rule in (rule for rule in result.rules if rule.rule in GONE_BY):
        yield f"By rule ({rule.rule}): {_size(rule.figures)}{_gives(rule.figures)}."
    for no in (no for no in result.refused if no.asked is Asked.SIZE):
        yield f"{no.reason} {no.hint}"


def _size(figures: results.SpringFigures) -> str:
    parts = ((figures.height, "high"), (figures.thickness, "thick"), (figures.length, "long"))
    return ", ".join(f"{plus_minus(size)} mm {word}" for size, word in parts if size is not None)


def _gives(figures: results.SpringFigures) -> str:
    model = figures.torque_model
    if model is None:
        return ""
    hours = model.hours_to_stop
    most = "at most " if model.upper_limit else ""
    lasting = f", {most}{span(hours, ' to ')} h until it stops" if hours is not None else ""
    return f"; {most}{span(model.turns_usable, ' to ')} usable turns{lasting}"


def _height_doubt(spring: results.ComparedSpring) -> str:
    """Say how surely a spring is higher than the height available; JCGM 106, clause 7."""
    heights = [away for away in spring.distances if away.rule == HEIGHT]
    if not heights or heights[0].difference <= 0:
        return ""
    from gaugelink.uncertainty.conformity import PROVEN

    too_high = t_cdf(heights[0].in_u, math.inf)
    if too_high >= PROVEN:
        return " TOO HIGH FOR THIS BARREL."
    return f" PERHAPS TOO HIGH FOR THIS BARREL (probability {100 * too_high:.0f} %)."


def _finding(finding: results.Finding) -> Iterator[str]:
    for answer in finding.answers:
        yield wrapped(answer.text, lead=f"  {_TITLES[answer.question]} ")
        for clue in answer.clues:
            yield wrapped(f"{clue.seen} ({clue.basis})", lead=f"    {_MARKS[clue.speaks]} ")
    from gaugelink.sizing.evidence import CLOSE

    if finding.ask:
        yield wrapped(finding.ask, lead="  To know more: ")
    yield wrapped(CLOSE)


def _found_length(found: FoundLength, used: Estimate | None) -> Iterator[str]:
    """Each method and what they give together; ``used`` is what was reckoned with."""
    rows = [
        (m.method.value, f"{m.value_mm:.0f}", f"{m.u_mm:.1f}", f"{100 * m.weight:.0f} %")
        for m in found.methods
    ]
    rows.append(("together", f"{found.length.value:.0f}", f"{found.u_mm:.1f}", ""))
    yield table(("", "length mm", "u mm", "weight"), rows)
    if used is not None and used.value != found.length.value:
        yield wrapped(f"The typed length of {used.value:.0f} mm is used; this is to compare.")
    yield from (wrapped(each.text, lead="  ! ") for each in found.advice)


def _inputs(result: results.SizeResult) -> Iterator[tuple[str, ...]]:
    """Each size with its u, degrees of freedom and k; the play that is taken off has its line."""
    for e in result.inputs:
        if e.label not in _ASSUMED and "." not in e.label:
            name = PLAY if e.label == "clearance" else spoken(e.label)
            yield name, f"{plus_minus(e)} {'turns' if e.unit == '1' else e.unit}", *details(e)
    if result.height is not None:
        yield "AVAILABLE HEIGHT", f"{plus_minus(result.height)} mm", *details(result.height)


def _by_rule(result: results.SizeResult) -> str:
    springs = {rule.rule: rule.figures for rule in result.rules}
    bases = "\n".join(wrapped(rule.basis, lead=f"  {rule.rule}: ") for rule in result.rules)
    return f"THE SPRING BY RULE\n{_side_by_side(springs, high=False)}\n\n{bases}"


def _side_by_side(springs: Mapping[str, results.SpringFigures], *, high: bool) -> str:
    """What springs measure, and under it what they do; hours only where they are known."""
    sizes = {
        **({"height mm": [_cell(each.height) for each in springs.values()]} if high else {}),
        "thickness mm": [_cell(each.thickness) for each in springs.values()],
        "length mm": [_cell(each.length) for each in springs.values()],
        "fill": [_cell(each.fill) for each in springs.values()],
    }
    models = [each.torque_model for each in springs.values()]
    hours = [model.hours_to_stop if model else None for model in models]
    most = [model.hours_usable if model else None for model in models]
    effects = {
        "turns, rings": [_cell(each.turns) for each in springs.values()],
        "spiral": [_cell(each.turns_spiral) for each in springs.values()],
        "usable": [span(each.turns_usable) for each in springs.values()],
        **({"hours to stop": [span(each) for each in hours]} if any(hours) else {}),
        **({"to zero torque": [span(each) for each in most]} if any(most) else {}),
    }
    return "\n\n".join(named_table(springs, columns) for columns in (sizes, effects))


def _distances(spring: results.ComparedSpring) -> Iterator[str]:
    """How far a spring lies from each rule, in standard uncertainties."""
    by_rule: dict[str, dict[str, float]] = {}
    for d in spring.distances:
        by_rule.setdefault(d.rule, {})[d.output] = d.in_u
    height = by_rule.pop(HEIGHT, {}).get("height")
    rows = [
        (rule, *(_in_u(cells.get(output)) for output in _DISTANCES))
        for rule, cells in by_rule.items()
    ]
    yield table(("", *_DISTANCES), rows)
    if height is not None:
        yield f"  height against the available height: {_in_u(height)}"


def _in_u(value: float | None) -> str:
    return "-" if value is None else f"{value:+.1f} u"


def _cell(estimate: Estimate | None) -> str:
    return "-" if estimate is None else plus_minus(estimate).replace(" ± ", "±")


def _torque(result: results.SizeResult) -> Iterator[str]:
    """Torque, its fall in a day, energy and amplitude; nothing where no model has run."""
    models = _models(result)
    if not models:
        return
    columns = {
        "torque N mm": [span(m.torque_half_turn) for m in models.values()],
        "after 24 h": [_percent(m.torque_kept) for m in models.values()],
        "energy mJ": [span(m.energy) for m in models.values()],
        "loose coils": [span(m.loose_coils) for m in models.values()],
        "amplitude": [_degrees(m.foreseen) for m in models.values()],
    }
    used = {title: cells for title, cells in columns.items() if any(c != "-" for c in cells)}
    yield named_table(models, used)
    yield from map(wrapped, _ratios(result))
    yield from map(wrapped, _winding(models))
    yield wrapped(TORQUE_SAID)
    watch = result.watch.arrangement
    said = (ARRANGED_SAID.get(each) for each in (watch.kind, watch.winding))
    yield from map(wrapped, filter(None, said))
    yield from map(wrapped, _material(result))


def _at_fusee(result: results.SizeResult) -> Iterator[str]:
    if said := chain_said(result):
        yield wrapped(said)
    columns = fusee_columns(result)
    if columns:
        yield named_table(columns.pop(""), columns)
        yield wrapped(fusee_said(result))


def chain_said(result: results.SizeResult) -> str:
    """Say how long the chain of a fusee is and what it winds; empty without a cone."""
    chain = result.watch.fusee
    if chain is None:
        return ""
    return (
        f"The chain is {plus_minus(chain.length)} mm long and takes "
        f"{plus_minus(chain.barrel_turns)} turns of the barrel, and {plus_minus(chain.set_up)} are "
        f"set up. The watch is wound with {plus_minus(chain.turns)} turns of the fusee."
    )


def fusee_columns(result: results.SizeResult) -> dict[str, list[str]]:
    """Return by heading what each spring gives by way of the chain, under "" whose it is."""
    given = {n: m.fusee for n, m in _models(result).items() if m.fusee is not None}
    columns = {
        "": list(given),
        "top N mm": [span(each.top) for each in given.values()],
        "bottom": [span(each.bottom) for each in given.values()],
        "even": [_percent(each.evenness) for each in given.values()],
        "best set-up": [span(each.best_set_up) for each in given.values()],
        "even then": [_percent(each.best_evenness) for each in given.values()],
        "spare": [span(each.spare_turns) for each in given.values()],
    }
    return columns if given else {}


def fusee_said(result: results.SizeResult) -> str:
    """Say what the columns mean, and whether the shape of the cone was assumed."""
    assumed = any(each.label == "fusee_hollow" for each in result.inputs)
    hollow = " How hollow the cone is was assumed: give --fusee-middle." if assumed else ""
    return (
        "Even: least torque over most along the chain. Spare: turns of the spring beyond chain "
        "and set-up. At the best set-up both ends of the cone give the same torque, if the spring "
        f"has the turns.{hollow}"
    )


def _ratios(result: results.SizeResult) -> Iterator[str]:
    yield from new_spring_gives(result)
    spring = result.documented
    if spring is not None and (full := spring.ratio_full) is not None:
        day = spring.ratio_day
        later = f", {range_text(day.band, 2)} 24 h later" if day is not None else ""
        yield (
            f"Torque of the documented spring: {range_text(full.band, 2)} times at full wind "
            f"({range_text(full.whole, 2)} as measured){later}. {spring.torque_reference}"
        )


def new_spring_gives(result: results.SizeResult) -> Iterator[str]:
    """Say what a new spring gains on the found one, which may be tired; nothing without both."""
    spring = result.found
    if spring is None or spring.ratio_full is None:
        return
    full, day = spring.ratio_full.turned, spring.ratio_day
    later = f", 24 h later {range_text(day.turned.band, 2)}" if day is not None else ""
    yield (
        f"A new spring of the {spring.reference} size gives {range_text(full.whole, 2)} times the "
        f"torque of the one found at full wind ({range_text(full.band, 2)} at best values){later}. "
        f"{spring.torque_reference}"
    )


def _winding(models: dict[str, results.TorqueModel]) -> Iterator[str]:
    left = {name: model.turns_working for name, model in models.items()}
    stops = any(turns is not None for turns in left.values())
    wound = "between the stops" if stops else "from rest to full wind"
    counts = {
        "Turns that the stopwork leaves": left,
        f"Crown turns {wound}": {n: m.crown_turns for n, m in models.items()},
    }
    for what, by_name in counts.items():
        known = [f"{name} {span(each)}" for name, each in by_name.items() if each is not None]
        if known:
            yield f"{what}: {', '.join(known)}."


def _material(result: results.SizeResult) -> Iterator[str]:
    watch, found = result.watch, result.found
    stress = watch.material.full_wind_stress_mpa
    end = watch.arrangement.end
    named = "" if watch.material.name != OPEN else " Name the material to narrow it."
    room = f" Outer end: {end.title}." if end is not None else ""
    yield (
        f"New springs: {watch.material.title}, healthy. Their stress at full wind is "
        f"{stress.low:.0f} to {stress.high:.0f} MPa (published strength of strip, and judgement)."
        f"{named}{room}"
    )
    model = found.figures.torque_model if found is not None else None
    if model is not None:
        of = (watch.found_material or watch.material).title
        strength = result.finding.strength if result.finding else None
        seen = strength is not None and strength.used
        by = "from what you saw of it" if seen else "as nothing shows its strength"
        yield (
            f"The found spring: {of}, healthy or tired. Its stress at full wind is "
            f"{span(model.stress_full, ' to ')} MPa, {by}."
        )


def _percent(kept: Estimate | None) -> str:
    return "-" if kept is None else f"{ends(100 * kept.low, 100 * kept.high, 0)} %"


def _degrees(foreseen: results.Foreseen | None) -> str:
    return "-" if foreseen is None else ends(foreseen.low_deg, foreseen.high_deg, 0)


def _budget(rows: Sequence[BudgetRow]) -> Iterator[str]:
    for output in _BUDGET_OUTPUTS:
        largest = sorted((r for r in rows if r.output == output), key=lambda r: -r.share)
        shown = [r for r in largest[:_MOST_SHARES] if r.share >= _LEAST_SHARE]
        if shown:
            yield f"  {spoken(output)}"
        yield from (wrapped(spoken(r.influence), lead=share_bar(r.share)) for r in shown)


def _warnings(result: results.SizeResult) -> Iterator[str]:
    yield from (warning.text for warning in result.warnings)
    labels = [d.output for d in result.disagreements]
    labels = [label for label in labels if label.rpartition(".")[2] not in _ROUGH]
    if labels:
        first = ", ".join(spoken(label) for label in labels[:_MOST_NAMED])
        more = len(labels) - _MOST_NAMED
        yield (
            "The first-order interval is not confirmed by the Monte Carlo, whose interval is "
            f"shown, for {first}{f' and {more} more' if more > 0 else ''}."
        )
