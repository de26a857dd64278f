"""What to check after fitting: what is foreseen, and room to write what was seen."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from gaugelink.choosing import Pick
from gaugelink.jobbook.facts import After, Chosen, Span, Wind, seen_after
from gaugelink.jobbook.predictions import fittings
from gaugelink.mechanics import Band
from gaugelink.report.answer_text import span
from gaugelink.report.page_content import PageContent, Sizing
from gaugelink.report.page_spring import PageSpring, page_spring
from gaugelink.sizing.results import Foreseen, SpringFigures, TorqueModel
from gaugelink.uncertainty import Estimate

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
    spring, chosen, after = page_spring(content), content.last(Chosen), _seen(content)
    if spring is None and chosen is None and after is None:
        return ()
    return (
        Checks(when="Barrel closed", checks=tuple(_with_the_lid(content.sizing, spring))),
        Checks(when="In the watch", checks=tuple(_with_the_watch(spring, chosen, after))),
    )


def _with_the_lid(sizing: Sizing | None, spring: PageSpring | None) -> Iterator[Check]:
    yield Check(what="Spring below the lid", foreseen=_play(sizing, spring))
    yield Check(what="Lid snaps home all round", foreseen="flush, no bulge")
    yield Check(what="Arbor free, end shake", foreseen="felt")


def _with_the_watch(
    spring: PageSpring | None, chosen: Chosen | None, after: After | None
) -> Iterator[Check]:
    yield Check(what="Barrel turns, rest to full", foreseen=_turns(spring, chosen))
    yield Check(
        what="Crown turns, rest to full",
        foreseen=_crown(spring, chosen),
        seen=_number(after.crown_turns if after else None),
    )
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


def _play(sizing: Sizing | None, spring: PageSpring | None) -> str:
    height = None if sizing is None else sizing.result.height
    if sizing is None or height is None or spring is None or spring.height is None:
        return "some play above it"
    room_mm = height.value + sizing.inputs.clearance.value
    if not spring.has_own_height:
        return f"at least {sizing.inputs.clearance.value:.2f} mm of play"
    play_mm = room_mm - spring.height.value_mm
    return f"{play_mm:.2f} mm of play" if play_mm > 0 else f"{-play_mm:.2f} mm too high"


def _turns(spring: PageSpring | None, chosen: Chosen | None) -> str:
    if chosen is not None and chosen.turns is not None:
        return _ends(chosen.turns)
    pick, figures = _parts(spring)
    return _estimate(pick.turns if pick else figures.turns if figures else None)


def _crown(spring: PageSpring | None, chosen: Chosen | None) -> str:
    if chosen is not None and chosen.crown_turns is not None:
        return _ends(chosen.crown_turns)
    model = _model(spring)
    return _estimate(model.crown_turns if model else None)


def _hours(spring: PageSpring | None, chosen: Chosen | None) -> str:
    if chosen is not None and chosen.hours is not None:
        return f"{_ends(chosen.hours)} h"
    (pick, _), model = _parts(spring), _model(spring)
    hours = pick.hours if pick else model.hours_usable if model else None
    return _NOT_FORESEEN if hours is None else f"{_estimate(hours)} h at most"


def _amplitude(spring: PageSpring | None, chosen: Chosen | None) -> str:
    if chosen is not None and chosen.amplitude_deg is not None:
        return f"{_ends(chosen.amplitude_deg)}°"
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


def _ends(foreseen: Span) -> str:
    low, high = f"{foreseen.low:.4g}", f"{foreseen.high:.4g}"
    return low if low == high else f"{low} to {high}"


def _number(value: float | None, unit: str = "") -> str:
    return "" if value is None else f"{value:g}{unit}"


def _amplitudes_seen(after: After | None, *, later: bool) -> str:
    read = after.amplitudes if after else ()
    return ", ".join(
        f"{each.deg:g}°{'' if each.position is None else f' {each.position}'}"
        for each in read
        if (each.wind is Wind.AFTER_24_H) is later
    )
