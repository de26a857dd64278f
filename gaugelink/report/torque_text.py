"""What the springs drive the watch with: the torque model's figures, and torque compared."""

from __future__ import annotations

from collections.abc import Iterator

from gaugelink.mechanics.materials import OPEN
from gaugelink.report.answer_text import range_text, span, springs_of
from gaugelink.report.table import table, wrapped
from gaugelink.sizing.results import ComparedSpring, Foreseen, SizeResult, TorqueModel, Watch
from gaugelink.uncertainty.estimate import Estimate

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
        "torque N mm": [_cell(m.torque_full) for m in models.values()],
        "kept 24 h": [_percent(m.torque_kept) for m in models.values()],
        "energy mJ": [_cell(m.energy) for m in models.values()],
        "loose coils": [_cell(m.loose_coils) for m in models.values()],
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
    return "-" if kept is None else f"{100 * kept.low:.0f}..{100 * kept.high:.0f} %"


def _degrees(foreseen: Foreseen | None) -> str:
    return "-" if foreseen is None else f"{foreseen.low_deg:.0f}..{foreseen.high_deg:.0f}"


def _cell(estimate: Estimate | None) -> str:
    return "-" if estimate is None else span(estimate)
