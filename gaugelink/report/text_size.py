"""A sizing result as text for the terminal: what was measured, what the rules say, how sure.

The answer in a few lines, and before it what the movement itself asks for.

The found spring read: the finding with its clues, and the length that nobody uncoiled.

Springs side by side: what they measure, and what they do in this barrel.

What the springs drive the watch with: the torque model's figures, and torque compared.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from gaugelink.mechanics.arrangement import Asked
from gaugelink.mechanics.found_length import FoundLength
from gaugelink.mechanics.materials import OPEN
from gaugelink.mechanics.motion import POWER_SAYING
from gaugelink.report.table import (
    ends,
    plus_minus,
    range_text,
    share_bar,
    span,
    spring_cautions,
    table,
    wrapped,
)
from gaugelink.sizing.finding import CLOSE, Answer, Finding, Question, Speaks
from gaugelink.sizing.results import (
    ComparedSpring,
    Foreseen,
    Motion,
    RuleResult,
    SizeResult,
    SpringFigures,
    TorqueModel,
    Watch,
)
from gaugelink.sizing.rules import HALF_AREA, WANTED_TURNS
from gaugelink.sizing.size import HEIGHT
from gaugelink.statistics.student import t_cdf
from gaugelink.uncertainty.conformity import PROVEN
from gaugelink.uncertainty.estimate import BudgetRow, Estimate
from gaugelink.units import spoken

_BUDGET_OUTPUTS = (
    "height",
    "half-area.thickness",
    "half-area.length",
    "half-area.turns",
    "half-area.turns_usable",
    "found.turns_usable",
)
# Their spread is judgement and far from linear: that both routes differ is no news.
_ROUGH = (
    *("turns_usable", "turns_working", "hours_usable", "torque_full", "torque_kept", "energy"),
    *("loose_coils", "stress_range", "crown_turns", "ratio_low", "ratio_high"),
    *("ratio_day_low", "ratio_day_high", "to_found_low", "to_found_high"),
)
_ASSUMED = ("modulus", "full_wind_stress", "end_room")  # said with the torque
_MOST_SHARES = 3
_LEAST_SHARE = 0.02
_MOST_NAMED = 3


def size_text(result: SizeResult) -> str:
    """Render a sizing result as text."""
    return "\n\n".join(_sections(result)) + "\n"


def _sections(result: SizeResult) -> Iterator[str]:
    """Yield the answer first, its grounds after it, and what to mind where it is done last."""
    yield from filter(None, (movement_section(result), answer_section(result)))
    if result.finding is not None:
        yield finding_section(result.finding)
    if result.found_length is not None:
        used = result.found.figures.length if result.found is not None else None
        yield found_length_section(result.found_length, used)
    yield _inputs(result)
    yield from _springs(result)
    yield from filter(None, (torque_section(result), _budget(result.budget), _refused(result)))
    if texts := tuple(_warnings(result)):
        yield "LOOK AT THIS\n" + "\n".join(wrapped(text, lead="  ! ") for text in texts)
    yield spring_cautions(result.watch.arrangement)


def _springs(result: SizeResult) -> Iterator[str]:
    if result.rules:
        yield rules_section(result.rules)
    springs = [
        (name, spring)
        for name, spring in (("found", result.found), ("documented", result.documented))
        if spring is not None
    ]
    if springs:
        yield springs_section(springs)
    if result.rules and result.found is not None:
        yield distances_section("found", result.found)


def _inputs(result: SizeResult) -> str:
    shown = (e for e in result.inputs if e.label not in _ASSUMED and "." not in e.label)
    rows = [(spoken(e.label), f"{plus_minus(e)} {e.unit}") for e in shown]
    if result.height is not None:
        rows.append(("AVAILABLE HEIGHT", f"{plus_minus(result.height)} mm"))
    title = f"BARREL (value ± half of the {100 * result.coverage:g} % interval)"
    return f"{title}\n{table(('', ''), rows)}"


def _refused(result: SizeResult) -> str | None:
    if not result.refused:
        return None
    texts = (f"{no.asked}: {no.reason} {no.hint}" for no in result.refused)
    return "NOT WORKED OUT\n" + "\n".join(wrapped(text) for text in texts)


def _budget(rows: Sequence[BudgetRow]) -> str | None:
    lines: list[str] = []
    for output in _BUDGET_OUTPUTS:
        largest = sorted((r for r in rows if r.output == output), key=lambda r: -r.share)
        shown = [_share(r) for r in largest[:_MOST_SHARES] if r.share >= _LEAST_SHARE]
        lines += [f"  {spoken(output)}", *shown] if shown else []
    title = "WHERE THE UNCERTAINTY COMES FROM (largest shares of the variance)"
    return "\n".join((title, *lines)) if lines else None


def _share(row: BudgetRow) -> str:
    return wrapped(spoken(row.influence), lead=share_bar(row.share))


def _warnings(result: SizeResult) -> Iterator[str]:
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


_TITLES = {
    Question.TIRED: "Tired?",
    Question.WRONG: "The wrong one?",
    Question.ORIGINAL: "The original?",
}
_MARKS = {Speaks.FOR: "+", Speaks.AGAINST: "-", Speaks.NEITHER: "?"}


def finding_section(finding: Finding) -> str:
    """Lay out what the found spring seems to be, and each clue with its ground."""
    lines = [line for answer in finding.answers for line in _answer(answer)]
    title = "THE FOUND SPRING READ (+ speaks for yes, - for no, ? for neither)"
    return "\n".join((title, *lines, wrapped(CLOSE)))


def found_length_section(found: FoundLength, used: Estimate | None = None) -> str:
    """Lay out the length of the found spring by each method, and what they give together.

    Args:
        found: the length from what was weighed and counted.
        used: the length that was reckoned with; another one where it was typed as well.
    """
    rows = [
        (m.method.value, f"{m.value_mm:.0f}", f"{m.u_mm:.1f}", f"{100 * m.weight:.0f} %")
        for m in found.methods
    ]
    rows.append(("together", f"{found.length.value:.0f}", f"{found.u_mm:.1f}", ""))
    advice = [wrapped(each.text, lead="  ! ") for each in found.advice]
    if used is not None and used.value != found.length.value:
        text = f"The typed length of {used.value:.0f} mm is used; this stands beside it."
        advice.insert(0, wrapped(text))
    title = "ITS LENGTH WITHOUT UNCOILING"
    return "\n".join((title, table(("", "length mm", "u mm", "weight"), rows), *advice))


def _answer(answer: Answer) -> Iterator[str]:
    yield wrapped(answer.text, lead=f"  {_TITLES[answer.question]} ")
    for clue in answer.clues:
        yield wrapped(f"{clue.seen} ({clue.basis})", lead=f"    {_MARKS[clue.speaks]} ")


_DISTANCES = ("thickness", "length", "fill", "turns")


def rules_section(rules: Sequence[RuleResult]) -> str:
    """Lay out the spring by every rule, with the ground each rule stands on."""
    sizes = [
        (r.rule, _cell(r.figures.thickness), _cell(r.figures.length), _cell(r.figures.fill))
        for r in rules
    ]
    effects = _effects([(r.rule, r.figures) for r in rules])
    bases = "\n".join(wrapped(r.basis, lead=f"  {r.rule}: ") for r in rules)
    header = ("", "thickness mm", "length mm", "fill")
    return f"THE SPRING BY RULE\n{table(header, sizes)}\n\n{effects}\n\n{bases}"


def springs_section(springs: Sequence[tuple[str, ComparedSpring]]) -> str:
    """Lay out the springs that exist or are written down, and what they do."""
    header = ("", "height mm", "thickness mm", "length mm", "fill")
    sizes = [
        (
            name,
            _cell(spring.figures.height),
            _cell(spring.figures.thickness),
            _cell(spring.figures.length),
            _cell(spring.figures.fill),
        )
        for name, spring in springs
    ]
    effects = _effects([(name, spring.figures) for name, spring in springs])
    return f"SPRINGS COMPARED\n{table(header, sizes)}\n\n{effects}"


def distances_section(name: str, spring: ComparedSpring) -> str:
    """Lay out how far a spring lies from each rule, in standard uncertainties."""
    by_rule: dict[str, dict[str, float]] = {}
    for d in spring.distances:
        by_rule.setdefault(d.rule, {})[d.output] = d.in_u
    height = by_rule.pop("height", {}).get("height")
    rows = [
        (rule, *(_in_u(cells.get(output)) for output in _DISTANCES))
        for rule, cells in by_rule.items()
    ]
    title = f"THE {name.upper()} SPRING AGAINST EACH RULE (in u, of the measurement alone)"
    tail = f"\n  height against the available height: {_in_u(height)}" if height is not None else ""
    return f"{title}\n{table(('', *_DISTANCES), rows)}{tail}"


def _effects(springs: Sequence[tuple[str, SpringFigures]]) -> str:
    """What the springs do; hours only where the hours per turn are known."""
    hours = [f.torque_model.hours_usable if f.torque_model else None for _, f in springs]
    with_hours = any(each is not None for each in hours)
    header = ("", "turns, rings", "turns, spiral", "turns, usable")
    rows = [
        (name, _cell(figures.turns), _cell(figures.turns_spiral), span(figures.turns_usable))
        for name, figures in springs
    ]
    if not with_hours:
        return table(header, rows)
    return table(
        (*header, "hours, usable"),
        [(*row, span(each)) for row, each in zip(rows, hours, strict=True)],
    )


def _in_u(value: float | None) -> str:
    return "-" if value is None else f"{value:+.1f} u"


def _cell(estimate: Estimate | None) -> str:
    return "-" if estimate is None else plus_minus(estimate).replace(" ± ", "±")


_TITLE = "WHAT THEY DRIVE WITH (friction left out)"


def torque_section(result: SizeResult) -> str | None:
    """Lay out torque, its fall in a day, energy and amplitude; None where no model has run."""
    models = {
        name: figures.torque_model
        for name, figures in springs_of(result).items()
        if figures.torque_model is not None
    }
    if not models:
        return None
    notes = (*_ratios(result), *_winding(models), _material(result.watch))
    return "\n".join((_TITLE, _table(models), *(wrapped(note) for note in notes)))


def _table(models: dict[str, TorqueModel]) -> str:
    columns = {
        "torque N mm": [span(m.torque_full) for m in models.values()],
        "kept 24 h": [_percent(m.torque_kept) for m in models.values()],
        "energy mJ": [span(m.energy) for m in models.values()],
        "loose coils": [span(m.loose_coils) for m in models.values()],
        "amplitude": [_degrees(m.foreseen) for m in models.values()],
    }
    used = {title: cells for title, cells in columns.items() if any(c != "-" for c in cells)}
    rows = zip(models, *used.values(), strict=True)
    return table(("", *used), [*rows])


def _ratios(result: SizeResult) -> Iterator[str]:
    for name, spring in (("found", result.found), ("documented", result.documented)):
        if spring is not None and spring.ratio_full is not None:
            yield f"Torque of the {name} spring: {_ratio(spring)}. {spring.torque_reference}"


def _ratio(spring: ComparedSpring) -> str:
    full, day = spring.ratio_full, spring.ratio_day
    if full is None:
        return "-"
    later = f", {range_text(day.band, 2)} 24 h later" if day is not None else ""
    sure = range_text(full.whole, 2)
    return f"{range_text(full.band, 2)} times at full wind ({sure} as measured){later}"


def _winding(models: dict[str, TorqueModel]) -> Iterator[str]:
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


def _material(watch: Watch) -> str:
    stress = watch.material.full_wind_stress_mpa
    end = watch.arrangement.end
    named = "" if watch.material.name != OPEN else " Naming the material narrows them."
    room = f" Outer end: {end.title}." if end is not None else ""
    return (
        f"Material of all springs: {watch.material.title}. Its stress at full wind stands for the "
        f"free shape, {stress.low:.0f} to {stress.high:.0f} MPa ({_ground(stress.source)}), and "
        f"makes most of these intervals; ratios of two springs hardly need it.{named}{room}"
    )


def _ground(source: str) -> str:
    """The first words of a source; the whole of it stands in the JSON."""
    return source.partition(":")[0].partition(",")[0].replace("spread over", "from") + (
        " and others" if source.startswith("spread over") else ""
    )


def _percent(kept: Estimate | None) -> str:
    return "-" if kept is None else f"{ends(100 * kept.low, 100 * kept.high, 0)} %"


def _degrees(foreseen: Foreseen | None) -> str:
    return "-" if foreseen is None else ends(foreseen.low_deg, foreseen.high_deg, 0)
