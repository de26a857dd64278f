"""All that a page says, once: the HTML page and the text for a terminal are both written from it.

::

    PageContent ──> page_words ──> page_html ──> templates, drawings of the wide and narrow sheet
                                └> page_text ──> lines, drawings in characters

Sentences stand here, and what is drawn is worked out here; the two writers only lay it out.
"""

from __future__ import annotations

import functools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from gaugelink.assembly.parts import Measured
from gaugelink.choosing.choice import Choice, Pick
from gaugelink.drawing.barrel_plan import BarrelPlan
from gaugelink.drawing.barrel_section import BarrelSection
from gaugelink.drawing.rules_plot import RulePanel
from gaugelink.drawing.torque_plot import TorquePlot
from gaugelink.jobbook.facts import Chosen, JobReference, Movement, Remark
from gaugelink.mechanics.arrangement import Arrangement
from gaugelink.model import GaugeKind
from gaugelink.report.page_answer import (
    Checks,
    PageAnswer,
    after_fitting,
    first_the_movement,
    foreseen_for,
    page_answer,
    page_doubts,
)
from gaugelink.report.page_content import PageContent, PageSpring, page_spring
from gaugelink.report.page_torque import half_a_turn_on, torque_plot
from gaugelink.report.plots import (
    Budget,
    ReadingsFigure,
    barrel_plan,
    barrel_section,
    barrel_sizes,
    budgets,
    readings_figures,
    rule_panels,
)
from gaugelink.report.table import (
    TAKING_OUT,
    ends,
    fitting_cautions,
    moment,
    opening_cautions,
    span,
)
from gaugelink.report.text_choice import reasons_of, refused_lines
from gaugelink.report.text_job import all_of, ends_text, particulars
from gaugelink.report.text_size import (
    TO_ORDER,
    chain_said,
    fusee_columns,
    fusee_said,
    springs_of,
)
from gaugelink.sizing.results import Question, SizeResult, Speaks, SpringFigures
from gaugelink.units import percent

_MOST_PICKS = 6
_DASH = "—"
_SPRINGS_SAID = (
    "Turns and torque: from the stress at full wind (published strength of strip, and judgement). "
    "Hours: until 15 to 40 % of a healthy spring's torque is left (judgement)."
)
HEADINGS = {
    "opening": "Before you open the barrel",
    "taking_out": "Before the old spring comes out",
    "movement": "First the movement",
    "look": "Check first",
    "barrel": "Barrel and spring, to scale",
    "stock": "Stock choices",
    "torque": "Torque against turns",
    "fitting": "Before you fit it",
    "check": "Check after fitting",
    "notes": "Notes",
    "readings": "Readings",
    "rules": "Rules and springs side by side",
    "found": "What the old spring tells us",
    "budget": "Where the uncertainty comes from",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """A table; the first cell of a row is its heading, and ``caption`` says what it shows."""

    caption: str
    header: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Listed:
    """Sentences under a heading of their own."""

    heading: str
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class GaugeLine:
    """One gauge in words: what it is, its zero, and how far it may be off."""

    kind: str
    zero: str
    limits: str
    source: str

    @property
    def text(self) -> str:
        """All of it but the kind."""
        return f"zero {self.zero}; {self.limits} ({self.source})"


@dataclass(frozen=True, slots=True, kw_only=True)
class StockWords:
    """What the stock has: the springs that fit, a sentence about them, and why which."""

    picks: Table | None
    note: str
    why: Listed | None
    refused: Listed | None


@dataclass(frozen=True, slots=True, kw_only=True)
class PageWords:
    """What a page says, in its order; None or empty where there is nothing to say.

    ``mean`` is what is beside the readings; ``keep`` is the command that keeps what was
    seen after fitting.
    """

    job: int
    measured: str
    unfinished: str
    title: str
    answer: PageAnswer
    opening: str
    taking_out: str
    movement: tuple[str, ...]
    doubts: tuple[str, ...]
    plan: BarrelPlan | None
    plan_caption: str
    section: BarrelSection | None
    sizes: tuple[tuple[str, str], ...]
    sizes_note: str
    stock: StockWords | None
    plot: TorquePlot | None
    torque_caption: str
    springs: Table | None
    springs_note: str
    chain: str
    at_fusee: Table | None
    fusee_note: str
    fitting: str
    stages: tuple[Checks, ...]
    foreseen_for: str
    keep: str
    notes: tuple[str, ...]
    gauges: tuple[GaugeLine, ...]
    readings: tuple[ReadingsFigure, ...]
    mean: str
    nothing_measured: str
    rules: tuple[RulePanel, ...]
    bases: tuple[tuple[str, str], ...]
    found: tuple[Listed, ...]
    budgets: tuple[Budget, ...]
    budget_note: str
    title_block: tuple[tuple[str, str], ...]


@functools.lru_cache(maxsize=1)
def page_words(content: PageContent) -> PageWords:
    """Return what a page says; for one and the same content it is worked out once."""
    record, sizing, result = content.record, content.sizing, content.result
    spring, plot = page_spring(content), torque_plot(content)
    plan = None if sizing is None else barrel_plan(sizing, spring)
    named = spring.name if spring is not None and plan is not None and plan.spring else ""
    interval = f"{100 * (result.coverage if result else 0.95):.0f} % interval"
    arrangement = sizing.inputs.arrangement if sizing else Arrangement()
    return PageWords(
        job=record.job_id,
        measured=moment(record.created_utc),
        unfinished="" if record.closed else "measuring not finished",
        title=record.setup.title or "untitled",
        answer=page_answer(content),
        opening=_body(opening_cautions(arrangement)),
        taking_out=_body(TAKING_OUT),
        movement=first_the_movement(content),
        doubts=page_doubts(content),
        plan=plan,
        plan_caption=f"Plan: {named or 'the barrel alone'}.",
        section=None if sizing is None else barrel_section(sizing, spring),
        sizes=() if sizing is None else tuple(barrel_sizes(sizing)),
        sizes_note=f"Value ± half of the {interval}; ν degrees of freedom, k half of it over u.",
        stock=None if content.choice is None else _stock(content.choice),
        plot=plot,
        torque_caption=_torque_caption(content, plot),
        springs=springs_table(content, plot),
        springs_note=" ".join(filter(None, (_SPRINGS_SAID, _knocking(content)))),
        chain="" if result is None else chain_said(result),
        at_fusee=None if result is None else _at_fusee(result),
        fusee_note="" if result is None else fusee_said(result),
        fitting=_body(fitting_cautions(arrangement)),
        stages=after_fitting(content),
        foreseen_for=foreseen_for(content),
        keep=f'gaugelink jobs {record.job_id} --after "hours=… noise=…"',
        notes=tuple(note.text for note in all_of(content.facts, Remark)),
        gauges=gauge_lines(content),
        readings=readings_figures(content),
        mean=f"mean, corrected for zero, gauge and contact, with its {interval}.",
        nothing_measured="Nothing measured yet.",
        rules=rule_panels(content),
        bases=tuple((rule.rule, rule.basis) for rule in result.rules) if result else (),
        found=tuple(_found(result)),
        budgets=budgets(content),
        budget_note="Shares to first order; the intervals on this page are those of the Monte "
        "Carlo. Turns: of the size to order, else of the found spring. Stress at full wind, outer "
        "end and where the watch stops: partly judgement.",
        title_block=tuple((name, text) for name, text in _title_rows(content) if text),
    )


def springs_table(content: PageContent, plot: TorquePlot | None) -> Table | None:
    """Return what the springs known of give in this barrel; columns of nothing are left out.

    A spring of the stock takes the place of the size to order, with its torque from ``plot``.
    """
    result = content.result
    if result is None:
        return None
    shown = page_spring(content)
    rows = [(name, *_given(figures)) for name, figures in _springs(content).items()]
    if shown is not None and shown.figures is None:
        rows.insert(0, (shown.label, *_given_by_stock(content, shown, plot)))
    rows = [row for row in rows if any(cell != _DASH for cell in row[1:])]
    header = ("", "turns", "hours", "N mm", "after 24 h", "amplitude")
    caption = (
        "What the springs give: usable turns, hours until it stops, torque half a turn after full "
        "wind, friction left out"
    )
    return _used(caption, header, rows)


def _springs(content: PageContent) -> dict[str, SpringFigures]:
    """The springs of the sizing; one of the stock takes the place of the size to order."""
    shown, springs = page_spring(content), springs_of(content.result) if content.result else {}
    if shown is not None and shown.figures is None:
        springs.pop(TO_ORDER, None)
    return springs


def _at_fusee(result: SizeResult) -> Table | None:
    columns = fusee_columns(result)
    if not columns:
        return None
    return Table(
        caption="At the fusee, friction left out",
        header=tuple(columns),
        rows=tuple(zip(*columns.values(), strict=True)),
    )


def picks_table(choice: Choice) -> Table | None:
    """Return the springs of the stock that fit, the best first; None where none does."""
    if not choice.picks:
        return None
    sizes = ("", "H x T x L mm", "fits", "fill", "turns", "h to stop")
    header = (*sizes, "torque", "amplitude", "points")
    shown = choice.picks[:_MOST_PICKS]
    rows = [_pick_row(pick, shown) for pick in shown]
    more = choice.ranked - len(rows)
    rest = f", best first; {more} more fit" if more else ", best first"
    return _used(f"Springs in the stock that fit{rest}", header, rows)


def gauge_lines(content: PageContent) -> tuple[GaugeLine, ...]:
    """Return the gauges of the job in words."""
    return tuple(_gauge_line(part) for part in content.parts)


def _gauge_line(part: Measured) -> GaugeLine:
    gauge, zero = part.gauge, part.zero
    inside = f", inside and in depth ±{gauge.shift_mpe_mm:g} mm more"
    more = inside if gauge.kind is GaugeKind.CALIPER else ""
    if zero is None:
        said = "not checked"
    elif zero.after_mm is None:
        said = f"{zero.before_mm:+.3f} mm before, not checked after"
    else:
        said = f"{zero.before_mm:+.3f} mm before, {zero.after_mm:+.3f} mm after"
    return GaugeLine(
        kind=str(gauge.kind),
        zero=said,
        limits=f"limit of error ±{gauge.mpe_mm:g} mm{more}",
        source=gauge.mpe_source,
    )


def _stock(choice: Choice) -> StockWords:
    refused, why = None, None
    sizes = f"{choice.stock_size} {'size' if choice.stock_size == 1 else 'sizes'}"
    note = f"None of {sizes} fits as it is."
    if choice.picks:
        first = choice.picks[0]
        note = (
            "One point is the harm of one per cent too little torque (judgement). Torque: times "
            f"that of {choice.reference.text}. Hours: until it stops."
        )
        why = Listed(heading=f"Why {first.spring.item}", lines=tuple(reasons_of(first)))
    if choice.refused:
        heading = f"Refused: {len(choice.refused)} of {choice.stock_size}"
        refused = Listed(heading=heading, lines=tuple(refused_lines(choice)))
    return StockWords(picks=picks_table(choice), note=note, why=why, refused=refused)


def _torque_caption(content: PageContent, plot: TorquePlot | None) -> str:
    if plot is None:
        return "No curve: measure height and length of the spring first."
    stopwork = content.sizing is not None and content.sizing.inputs.arrangement.stopwork
    top = " Full wind here is the top of the stopwork." if stopwork else ""
    open_hours = "" if plot.hours_per_turn else " Hours per turn unknown: no 24 h mark."
    return (
        "Friction left out: it takes 5 to 15 % (from memory). Material and free shape make the "
        f"band (published strength of strip, and judgement).{top}{open_hours}"
    )


def _knocking(content: PageContent) -> str:
    """The springs known of that make, or may make, the movement knock."""
    models = {name: each.torque_model for name, each in _springs(content).items()}
    foreseen = {name: model.foreseen for name, model in models.items() if model is not None}
    names = (
        f"{name} (surely)" if each.will_knock else name
        for name, each in foreseen.items()
        if each is not None and (each.will_knock or each.may_knock)
    )
    said = ", ".join(names)
    return f"May knock, from 320° on (from memory): {said}." if said else ""


def _body(caution: str) -> str:
    """A caution without its heading, which the page gives its section."""
    return " ".join(caution.partition("\n")[2].split())


def _found(result: SizeResult | None) -> Iterator[Listed]:
    """Each question with its answer, and the clues that speak for yes or for no."""
    sides = {Speaks.FOR: "Yes:", Speaks.AGAINST: "No:"}
    finding = result.finding if result else None
    if finding is None:
        return
    for answer in finding.answers:
        clues = (f"{sides[c.speaks]} {c.seen}" for c in answer.clues if c.speaks in sides)
        ask = (finding.ask,) if answer.question is Question.TIRED and finding.ask else ()
        yield Listed(heading=f"{answer.question.capitalize()}?", lines=(answer.text, *clues, *ask))


def _title_rows(content: PageContent) -> Iterator[tuple[str, str]]:
    record = content.record
    movement, reference = content.last(Movement), content.last(JobReference)
    head = dict(particulars(content.facts))
    yield "Workshop", head.pop("workshop", "")
    yield "Customer", head.pop("customer", "")
    yield "Job", str(record.job_id)
    yield "Title", record.setup.title
    yield "Movement", movement.text if movement else ""
    yield "Reference", reference.text if reference else ""
    yield "Measured", f"{moment(record.created_utc)}{'' if record.closed else ', not finished'}"
    yield from ((name.capitalize(), text) for name, text in head.items())
    yield "Page made", moment(content.created_utc)
    for gauge in record.gauges:
        yield str(gauge.kind).capitalize(), _identified(content, gauge.gauge_id)
    yield "Record", content.identity.name
    yield "Software", f"gaugelink {content.software}"
    yield "SHA-256 of the record", content.identity.sha256


def _identified(content: PageContent, gauge_id: str) -> str:
    """A gauge with its number and its last check, by its record."""
    known = content.gauges.get(gauge_id)
    check = known.last_check if known else None
    serial = f"serial {known.serial}" if known and known.serial else ""
    checked = "never checked"
    if check is not None:
        checked = f"checked {check.checked_utc[:10]}: {check.verdict} {check.faces_in_words}"
    return ", ".join(filter(None, (gauge_id, serial, checked)))


def _given(figures: SpringFigures) -> tuple[str, ...]:
    model = figures.torque_model
    if model is None:
        return (_DASH,) * 5
    kept, swing = model.torque_kept, model.foreseen
    return (
        span(model.turns_usable, "–", _DASH),
        span(model.hours_to_stop, "–", _DASH),
        span(model.torque_half_turn, "–", _DASH),
        _DASH if kept is None else f"{ends(100 * kept.low, 100 * kept.high, 0, '–')} %",
        _DASH if swing is None else f"{ends(swing.low_deg, swing.high_deg, 0, '–')}°",
    )


def _given_by_stock(
    content: PageContent, shown: PageSpring, plot: TorquePlot | None
) -> tuple[str, ...]:
    """By the ranking now; of a spring that was fitted and is no more in it, as expected then."""
    pick, chosen = shown.pick, content.last(Chosen) or Chosen(item="")
    spans = (chosen.turns, chosen.hours, chosen.amplitude_deg)
    turns, hours, swing = (_DASH if each is None else ends_text(each, "–") for each in spans)
    torque, kept = _DASH, None
    if plot is not None and content.sizing is not None:
        torque = ends(*half_a_turn_on(content.sizing, shown), 0, "–")
        kept = plot.share_after_day
    return (
        span(pick.turns_usable, "–", _DASH) if pick else turns,
        span(pick.hours_to_stop, "–", _DASH) if pick else hours,
        torque,
        _DASH if kept is None else f"{100 * kept:.0f} %",
        _swing(pick) if pick else _DASH if swing == _DASH else f"{swing}°",
    )


def _pick_row(pick: Pick, shown: Sequence[Pick]) -> tuple[str, ...]:
    """Hours take the place of turns and the amplitude that of the fill, where they are known."""
    hours = any(each.hours is not None for each in shown)
    amplitude = any(each.amplitude_deg is not None for each in shown)
    spring = pick.spring
    length = f"{spring.length_mm:.5g}" if pick.cut_to_mm is None else f"cut to {pick.cut_to_mm:.0f}"
    return (
        spring.item,
        f"{spring.height_mm:.4g} x {spring.thickness_mm:.4g} x {length}",
        _DASH if pick.probability_goes_in is None else percent(pick.probability_goes_in),
        _DASH if amplitude else f"{pick.fill.value:.2f}",
        _DASH if hours else span(pick.turns_usable, "–"),
        span(pick.hours_to_stop, "–", _DASH),
        ends(pick.torque_ratio.low, pick.torque_ratio.high, 2, "–"),
        _swing(pick),
        f"{pick.score:.1f}",
    )


def _swing(pick: Pick) -> str:
    degrees = pick.amplitude_deg
    return _DASH if degrees is None else f"{ends(degrees.low, degrees.high, 0, '–')}°"


def _used(caption: str, header: Sequence[str], rows: Sequence[Sequence[str]]) -> Table | None:
    """Leave out empty columns, and a table that is empty."""
    kept = [i for i in range(len(header)) if i == 0 or any(row[i] != _DASH for row in rows)]
    if not rows or len(kept) == 1:
        return None
    return Table(
        caption=caption,
        header=tuple(header[i] for i in kept),
        rows=tuple(tuple(row[i] for i in kept) for row in rows),
    )
