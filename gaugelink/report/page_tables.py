"""The tables of a page as rows of text: what springs do, the stock, and the title block."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from gaugelink.choosing.results import Choice, Pick, percent
from gaugelink.drawing.torque_plot import TorquePlot
from gaugelink.jobbook.facts import Chosen, Movement, Note, Reference
from gaugelink.mechanics.band import Band
from gaugelink.mechanics.stopwork import DAY_H
from gaugelink.report.page_content import PageContent, page_spring
from gaugelink.report.text_size import span, springs_of
from gaugelink.sizing.results import Foreseen, SpringFigures, TorqueModel
from gaugelink.uncertainty.estimate import Estimate

_MOST_PICKS = 6
_DASH = "—"


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """A table; the first cell of a row is its heading, and ``caption`` says what it shows."""

    caption: str
    header: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def springs_table(content: PageContent, plot: TorquePlot | None) -> Table | None:
    """Return what the springs known of give in this barrel; columns of nothing are left out.

    Args:
        content: the page's content.
        plot: its torque curves, from which a pick has its torque.
    """
    result = content.result
    if result is None:
        return None
    rows = [(name, *_given(figures)) for name, figures in springs_of(result).items()]
    shown = page_spring(content)
    if shown is not None and shown.pick is not None:
        rows.insert(0, (shown.label, *_given_by_pick(shown.pick, plot)))
    header = ("", "turns", "hours", "N mm", "24 h later", "amplitude")
    return _used("What the springs give, friction left out", header, rows)


def knocking_springs(content: PageContent) -> tuple[str, ...]:
    """Return the springs known of that make, or may make, the movement knock."""
    figures = {} if content.result is None else springs_of(content.result)
    models = {name: each.torque_model for name, each in figures.items()}
    foreseen = {name: model.foreseen for name, model in models.items() if model is not None}
    return tuple(
        f"{name} (surely)" if each.will_knock else name
        for name, each in foreseen.items()
        if each is not None and (each.will_knock or each.may_knock)
    )


def picks_table(choice: Choice) -> Table | None:
    """Return the springs of the stock that fit, the best first; None where none does."""
    if not choice.picks:
        return None
    header = ("", "H x T x L mm", "fits", "fill", "turns", "hours", "torque", "amplitude", "points")
    shown = choice.picks[:_MOST_PICKS]
    rows = [_pick_row(pick, shown) for pick in shown]
    more = choice.ranked - len(rows)
    rest = f", best first; {more} more fit" if more else ", best first"
    return _used(f"Springs in the stock that fit{rest}", header, rows)


def refused_lines(choice: Choice) -> tuple[str, ...]:
    """Return the reasons for which springs were refused, each with its first case."""
    return tuple(
        f"{count} {why.value}, such as {first.item}: {first.reason_for(why)}"
        for why, count, first in choice.refused.counted()
    )


def title_block(content: PageContent) -> tuple[tuple[str, str], ...]:
    """Return what stands in the title block: name and text, only what is known."""
    return tuple((name, text) for name, text in _title_rows(content) if text)


def notes(content: PageContent) -> tuple[str, ...]:
    """Return what was written down about the job."""
    return tuple(note.text for note in content.of_kind(Note))


def _fitted(content: PageContent) -> str:
    """Return the spring that was written down as fitted; empty when none was."""
    chosen = content.last(Chosen)
    if chosen is None:
        return ""
    sizes = (chosen.height_mm, chosen.thickness_mm, chosen.length_mm)
    if sizes == (None, None, None):
        return chosen.item
    told = " x ".join("?" if size is None else f"{size:g}" for size in sizes)
    return f"{chosen.item}, {told} mm"


def _title_rows(content: PageContent) -> Iterator[tuple[str, str]]:
    record = content.record
    movement, reference = content.last(Movement), content.last(Reference)
    yield "Job", str(record.job_id)
    yield "Title", record.setup.title
    yield "Movement", movement.text if movement else ""
    yield "Reference", reference.text if reference else ""
    yield "Fitted", _fitted(content)
    yield "Measured", f"{moment(record.created_utc)}{'' if record.closed else ', not finished'}"
    yield "Page made", moment(content.created_utc)
    for gauge in record.gauges:
        yield str(gauge.kind).capitalize(), gauge.gauge_id
    yield "Record", content.identity.name
    yield "Software", f"gaugelink {content.software}"
    yield "SHA-256 of the record", content.identity.sha256


def moment(utc: str) -> str:
    """Write a moment to the minute, such as ``2026-03-01 09:05 UTC``."""
    return f"{utc[:16].replace('T', ' ')} UTC"


def _given(figures: SpringFigures) -> tuple[str, ...]:
    model = figures.torque_model
    if model is None:
        return (_DASH,) * 5
    return (
        _span(model.turns_usable),
        _span(model.hours_usable),
        _span(model.torque_full),
        _kept(model),
        _degrees(model.foreseen),
    )


def _given_by_pick(pick: Pick, plot: TorquePlot | None) -> tuple[str, ...]:
    full, kept = _DASH, _DASH
    if plot is not None:
        spring, hours = plot.spring, plot.hours_per_turn
        full = f"{spring.low_nmm[0]:.0f}–{spring.high_nmm[0]:.0f}"
        if hours is not None:
            kept = f"{100 * spring.torque_at(DAY_H / hours) / spring.middle_nmm[0]:.0f} %"
    return (_span(pick.turns_usable), _span(pick.hours), full, kept, _band(pick.amplitude_deg))


def _pick_row(pick: Pick, shown: Sequence[Pick]) -> tuple[str, ...]:
    """Hours take the place of turns and the amplitude that of the fill, where they are known."""
    hours = any(each.hours is not None for each in shown)
    amplitude = any(each.amplitude_deg is not None for each in shown)
    spring = pick.spring
    length = f"{spring.length_mm:.5g}" if pick.cut_to_mm is None else f"cut to {pick.cut_to_mm:.0f}"
    return (
        spring.item,
        f"{spring.height_mm:.4g} x {spring.thickness_mm:.4g} x {length}",
        _DASH if pick.probability_fits is None else percent(pick.probability_fits),
        _DASH if amplitude else f"{pick.fill.value:.2f}",
        _DASH if hours else _span(pick.turns_usable),
        _span(pick.hours),
        f"{pick.torque_ratio.low:.2f}–{pick.torque_ratio.high:.2f}",
        _band(pick.amplitude_deg),
        f"{pick.score:.1f}",
    )


def _used(caption: str, header: Sequence[str], rows: Sequence[Sequence[str]]) -> Table | None:
    """Leave out the columns in which nothing stands, and a table in which nothing does."""
    kept = [i for i in range(len(header)) if i == 0 or any(row[i] != _DASH for row in rows)]
    if not rows or len(kept) == 1:
        return None
    return Table(
        caption=caption,
        header=tuple(header[i] for i in kept),
        rows=tuple(tuple(row[i] for i in kept) for row in rows),
    )


def _span(estimate: Estimate | None) -> str:
    return _DASH if estimate is None else span(estimate, "–")


def _band(degrees: Band | None) -> str:
    return _DASH if degrees is None else f"{degrees.low:.0f}–{degrees.high:.0f}°"


def _kept(model: TorqueModel) -> str:
    kept = model.torque_kept
    return _DASH if kept is None else f"{100 * kept.low:.0f}–{100 * kept.high:.0f} %"


def _degrees(foreseen: Foreseen | None) -> str:
    return _DASH if foreseen is None else f"{foreseen.low_deg:.0f}–{foreseen.high_deg:.0f}°"
