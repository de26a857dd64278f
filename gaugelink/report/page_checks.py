"""What to check after fitting: what is foreseen, and room to write what was seen."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from gaugelink.choosing.results import Pick
from gaugelink.drawing.rules_plot import RowKind
from gaugelink.jobbook.facts import After, Chosen, Wind, seen_after
from gaugelink.jobbook.predictions import fittings
from gaugelink.mechanics.band import Band
from gaugelink.report.answer_text import span
from gaugelink.report.facts_text import ends_text
from gaugelink.report.page_content import PageContent, Sizing
from gaugelink.report.page_spring import PageSpring, page_spring, picked_spring
from gaugelink.sizing.results import Foreseen, SpringFigures, TorqueModel
from gaugelink.uncertainty.estimate import Estimate

_NOT_FORESEEN = "write it down"


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """One thing to look at; ``seen`` is empty until it was looked at and written down."""

    what: str
    foreseen: str
    seen: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Checks:
    """The checks of one stage of the work."""

    when: str
    checks: tuple[Check, ...]


def after_fitting(content: PageContent) -> tuple[Checks, ...]:
    """Return what to look at, in the order of the work; nothing while there is no spring.

    What was foreseen when a spring was chosen stands, whatever is foreseen now.
    """
    spring, chosen, after = _checked(content), content.last(Chosen), _seen(content)
    if spring is None and chosen is None and after is None:
        return ()
    return (
        Checks(when="Barrel closed", checks=tuple(_with_the_lid(content.sizing, spring, chosen))),
        Checks(
            when="In the watch",
            checks=(
                *_wound(content.sizing, spring, chosen, after),
                *_running(spring, chosen, after),
            ),
        ),
    )


def foreseen_for(content: PageContent) -> str:
    """Say of which spring the checks foresee something; empty while there is none."""
    chosen, spring = content.last(Chosen), _checked(content)
    if chosen is not None:
        return f"Foreseen for {chosen.item}, the spring that was taken."
    if spring is None:
        return ""
    the = "" if spring.kind is RowKind.PICKED else "the "
    return f"Foreseen for {the}{spring.name}."


def _checked(content: PageContent) -> PageSpring | None:
    """The spring that was taken, as far as the choice knows it; the recommended one before."""
    chosen = content.last(Chosen)
    return page_spring(content) if chosen is None else picked_spring(content, chosen.item)


def _with_the_lid(
    sizing: Sizing | None, spring: PageSpring | None, chosen: Chosen | None
) -> Iterator[Check]:
    yield Check(what="Spring below the lid", foreseen=_play(sizing, spring, chosen))
    yield Check(what="Lid snaps home all round", foreseen="flush, no bulge")
    yield Check(what="Arbor free, end shake", foreseen="felt")


def _wound(
    sizing: Sizing | None, spring: PageSpring | None, chosen: Chosen | None, after: After | None
) -> Iterator[Check]:
    stops = sizing is not None and sizing.inputs.arrangement.stopwork is not None
    yield Check(what="Barrel turns, rest to full", foreseen=_turns(spring, chosen))
    yield Check(
        what=f"Crown turns, {'between the stops' if stops else 'rest to full'}",
        foreseen=_crown(spring, chosen),
        seen=_number(after.crown_turns if after else None),
    )


def _running(
    spring: PageSpring | None, chosen: Chosen | None, after: After | None
) -> Iterator[Check]:
    yield Check(
        what="Amplitude at full wind",
        foreseen=_amplitude(spring, chosen),
        seen=_amplitudes_seen(after, later=False),
    )
    yield Check(
        what="Sound at full wind",
        foreseen="no knocking",
        seen=(after.noise or "") if after else "",
    )
    yield Check(
        what="Hours it runs",
        foreseen=_hours(spring, chosen),
        seen=_number(after.hours_run if after else None, " h"),
    )
    yield Check(
        what="Amplitude after 24 h",
        foreseen=_kept(spring),
        seen=_amplitudes_seen(after, later=True),
    )


def _seen(content: PageContent) -> After | None:
    """What was seen of the last spring that was chosen, or of any before one was."""
    found = fittings(content.facts)
    return found[-1].after if found else seen_after(content.of_kind(After))


def _play(sizing: Sizing | None, spring: PageSpring | None, chosen: Chosen | None) -> str:
    height = None if sizing is None else sizing.result.height
    if sizing is None or height is None:
        return "some play above it"
    own_mm = _height_mm(spring, chosen)
    if own_mm is None:
        return f"at least {sizing.inputs.clearance.value:.2f} mm of play"
    play_mm = height.value + sizing.inputs.clearance.value - own_mm
    return f"{play_mm:.2f} mm of play" if play_mm > 0 else f"{-play_mm:.2f} mm too high"


def _height_mm(spring: PageSpring | None, chosen: Chosen | None) -> float | None:
    if chosen is not None and chosen.height_mm is not None:
        return chosen.height_mm
    if spring is None or spring.height is None or not spring.has_own_height:
        return None
    return spring.height.value_mm


def _turns(spring: PageSpring | None, chosen: Chosen | None) -> str:
    if chosen is not None and chosen.turns is not None:
        return ends_text(chosen.turns)
    pick, figures = _parts(spring)
    return _estimate(pick.turns if pick else figures.turns if figures else None)


def _crown(spring: PageSpring | None, chosen: Chosen | None) -> str:
    if chosen is not None and chosen.crown_turns is not None:
        return ends_text(chosen.crown_turns)
    model = _model(spring)
    return _estimate(model.crown_turns if model else None)


def _hours(spring: PageSpring | None, chosen: Chosen | None) -> str:
    if chosen is not None and chosen.hours is not None:
        return f"{ends_text(chosen.hours)} h"
    (pick, _), model = _parts(spring), _model(spring)
    hours = pick.hours if pick else model.hours_usable if model else None
    return _NOT_FORESEEN if hours is None else f"{_estimate(hours)} h at most"


def _amplitude(spring: PageSpring | None, chosen: Chosen | None) -> str:
    if chosen is not None and chosen.amplitude_deg is not None:
        return f"{ends_text(chosen.amplitude_deg)}°"
    (pick, _), model = _parts(spring), _model(spring)
    return _degrees(pick.amplitude_deg if pick else None, model.foreseen if model else None)


def _parts(spring: PageSpring | None) -> tuple[Pick | None, SpringFigures | None]:
    return (None, None) if spring is None else (spring.pick, spring.figures)


def _model(spring: PageSpring | None) -> TorqueModel | None:
    return spring.figures.torque_model if spring and spring.figures else None


def _degrees(band: Band | None, foreseen: Foreseen | None) -> str:
    if band is not None:
        return f"{band.low:.0f} to {band.high:.0f}°"
    if foreseen is not None:
        return f"{foreseen.low_deg:.0f} to {foreseen.high_deg:.0f}°"
    return _NOT_FORESEEN


def _kept(spring: PageSpring | None) -> str:
    model = _model(spring)
    kept = model.torque_kept if model else None
    if kept is None:
        return _NOT_FORESEEN
    return f"{100 * kept.low:.0f} to {100 * kept.high:.0f} % of the torque"


def _estimate(estimate: Estimate | None) -> str:
    return _NOT_FORESEEN if estimate is None else span(estimate, " to ")


def _number(value: float | None, unit: str = "") -> str:
    return "" if value is None else f"{value:g}{unit}"


def _amplitudes_seen(after: After | None, *, later: bool) -> str:
    read = after.amplitudes if after else ()
    return ", ".join(
        f"{each.deg:g}°{'' if each.position is None else f' {each.position}'}"
        for each in read
        if (each.wind is Wind.AFTER_24_H) is later
    )
