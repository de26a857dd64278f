"""Jobs as text: one with its readings and facts, many in a list, and rows for a spreadsheet.

Beside them what a search found alike, and how the bench's predictions came out.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from typing import Any, TypeVar

from gaugelink.assembly.measured import Findings
from gaugelink.assembly.parts import Measured
from gaugelink.capture.plan import JobRecord
from gaugelink.jobbook.facts import (
    After,
    Amplitude,
    ChoiceVersion,
    Chosen,
    Fact,
    ForeseenSpan,
    HowWound,
    JobReference,
    Movement,
    Particulars,
    Photograph,
    Remark,
    SizeVersion,
    StoredFact,
    TrainData,
    seen_after,
    who_and_where,
)
from gaugelink.jobbook.lookup import JobLine
from gaugelink.jobbook.predictions import LEAST_JOBS, Compared, Prediction, compare, fittings
from gaugelink.jobbook.sizes import Likeness, SizeDifference
from gaugelink.model import OutlierMark, Series, Summary
from gaugelink.report.table import (
    concise,
    decimals_for,
    length_mm,
    moment,
    one_line,
    table,
    wrapped,
)
from gaugelink.uncertainty.first_order import LinearOutput
from gaugelink.uncertainty.gauge_error import ZeroCheck
from gaugelink.units import spoken

_SIZES = (
    "SIZES  corrected for zero, gauge and contact; in brackets the standard uncertainty of the "
    "last digits"
)
_UNITS = {"hours": " h", "amplitude": "°", "crown turns": ""}
_RULE = "half-area"  # the rule by which versions are told apart in a line
_Kind = TypeVar("_Kind")
HEADER = (
    *("job", "title", "begun_utc", "closed", "reference", "movement", "chosen", "gauge"),
    *("kind", "measurand", "n_taken", "n_used", "mean_mm", "std_mm", "u_mean_mm", "dof"),
    *("value_mm", "u_mm", "readings", "superseded"),
    *("workshop", "customer", "measured_by", "temperature_c"),
)
_SAID = {
    "hours": "Your bench runs {:.2f} of the computed hours",
    "amplitude": "Your amplitudes come out at {:.2f} of what was computed",
    "crown turns": "The crown takes {:.2f} of the computed turns",
}
_OWN = (
    "These are your own bench's factors, from your own jobs. They are for you to weigh; no "
    "computation uses them."
)


def job_text(record: JobRecord, parts: Sequence[Measured], findings: Findings | None = None) -> str:
    """Render a job: its head, a table a gauge with every remark, its sizes and their doubts."""
    head = one_line(f"JOB {record.job_id}  {record.setup.title}".rstrip())
    begun, state = moment(record.created_utc), _state(closed=record.closed)
    reference = record.setup.plan.depth_reference
    lines = [head, f"  begun {begun}, {state}; depth measured to the {reference}"]
    lines += ["\n" + _gauge_text(part) for part in parts]
    if findings is not None:
        lines += _findings_lines(findings)
    return "\n".join(lines) + "\n"


def _gauge_text(part: Measured) -> str:
    gauge = part.gauge
    title = one_line(f"{str(gauge.kind).upper()}  {gauge.gauge_id}  ({gauge.format})")
    if not part.summaries:
        nothing = "  nothing measured yet"
        return "\n".join([title, *_zero_lines(part.zero), nothing, *_superseded_lines(part)])
    header = ("", "mean mm", "s mm", "spread mm", "u(A) mm", "dof", "used")
    rows = [_summary_row(summary) for summary in part.summaries]
    lines = [title, table(header, rows), *_zero_lines(part.zero)]
    lines += [line for summary in part.summaries for line in _remarks(summary)]
    return "\n".join([*lines, *_superseded_lines(part)])


def _superseded_lines(part: Measured) -> Iterator[str]:
    for series in part.superseded:
        shown = ", ".join(f"{reading.displayed} {reading.unit}" for reading in series.readings)
        yield wrapped(
            f"superseded, measured again, not counted: {shown}",
            lead=f"  {spoken(series.measurand)}: ",
        )


def _findings_lines(findings: Findings) -> Iterator[str]:
    if findings.sizes:
        yield "\n" + wrapped(_SIZES, lead="")
        rows = [(spoken(size.label), f"{concise(size)} {size.unit}") for size in findings.sizes]
        yield table(("", ""), rows)
    for number, doubt in enumerate(findings.doubts):
        yield ("" if number else "\n") + wrapped(doubt.text, lead="  ! ")


def _summary_row(summary: Summary) -> tuple[str, ...]:
    step_mm = summary.resolution_mm
    return (
        spoken(summary.measurand),
        length_mm(summary.mean_mm, step_mm / 10),
        _small(summary.std_mm),
        length_mm(summary.spread_mm, step_mm),
        _small(summary.u_mean_mm),
        str(summary.dof) if summary.dof else "-",
        f"{summary.n_used} of {summary.n_taken}",
    )


def _zero_lines(zero: ZeroCheck | None) -> Iterator[str]:
    if zero is None:
        yield "  zero: not checked"
    elif zero.after_mm is None:
        yield f"  zero: {zero.before_mm:+.3f} mm before; not checked after"
    else:
        drift = f"drift {zero.after_mm - zero.before_mm:+.3f} mm"
        yield f"  zero: {zero.before_mm:+.3f} mm before, {zero.after_mm:+.3f} mm after ({drift})"


def _remarks(summary: Summary) -> Iterator[str]:
    texts = (*map(_mark_text, summary.marks), *(advice.text for advice in summary.advice))
    yield from (wrapped(text, lead=f"  {spoken(summary.measurand)}: ") for text in texts)


def _mark_text(mark: OutlierMark) -> str:
    outcome = "rejected" if mark.rejected else "marked, kept"
    return (
        f"reading {mark.index + 1} {outcome}: {mark.reason} ({mark.test} {mark.statistic:.3f}, "
        f"critical value {mark.critical_value:.3f} at {100.0 * mark.alpha:g} %)"
    )


def _small(value_mm: float | None) -> str:
    if value_mm is None:
        return "-"
    return f"{value_mm:.{decimals_for(value_mm)}f}"


def facts_text(facts: Sequence[StoredFact], lost_photographs: Collection[str] = ()) -> str:
    """Render what is known of a job; empty when there is nothing.

    Args:
        facts: of one job, in the order they were added.
        lost_photographs: paths at which there is no file now.
    """
    sections = [_what_it_is(facts, lost_photographs), _versions(facts), _fitted(facts)]
    return "".join(f"\n{section}\n" for section in sections if section)


def all_of(facts: Iterable[StoredFact], kind: type[_Kind]) -> list[_Kind]:
    """Return the facts of one kind, in the order they were added."""
    found: list[Fact] = [stored.fact for stored in facts]
    return [fact for fact in found if isinstance(fact, kind)]


def last_of(facts: Iterable[StoredFact], kind: type[_Kind]) -> _Kind | None:
    """Return the fact of one kind that counts, the last one; None if there is none."""
    return next(reversed(all_of(facts, kind)), None)


def seen_of_last(facts: Sequence[StoredFact]) -> After | None:
    """Return what was seen of the last spring that was chosen, or of any before one was."""
    found = fittings(facts)
    return found[-1].after if found else seen_after(all_of(facts, After))


def particulars(facts: Sequence[StoredFact]) -> Iterator[tuple[str, str]]:
    """Yield what heads the record of a job, as far as somebody said it."""
    head = who_and_where(all_of(facts, Particulars))
    warmth = "" if head.temperature_c is None else f"{head.temperature_c:g} °C"
    said = (
        ("workshop", head.workshop),
        ("customer", head.customer),
        ("measured by", head.by),
        ("temperature", warmth),
    )
    yield from ((name, text) for name, text in said if text)


def chosen_size(chosen: Chosen) -> str:
    """Write item, size as fitted and outer end of the spring that was taken, as far as kept."""
    sizes = (chosen.height_mm, chosen.thickness_mm, chosen.length_mm)
    parts = [chosen.item]
    if sizes != (None, None, None):
        parts.append(f"{' x '.join('?' if mm is None else f'{mm:g}' for mm in sizes)} mm")
    if chosen.cut_from_mm is not None:
        parts.append(f"cut from {chosen.cut_from_mm:g} mm")
    if chosen.end is not None:
        parts.append(f"{chosen.end} end")
    return ", ".join(parts)


def ends_text(span: ForeseenSpan, to: str = " to ") -> str:
    """Write both ends no finer than the span is wide; what was typed in round figures stays."""
    if span.low == span.high:
        return f"{span.low:.4g}"
    places = decimals_for((span.high - span.low) / 4)
    return f"{round(span.low, places):g}{to}{round(span.high, places):g}"


def _what_it_is(facts: Sequence[StoredFact], lost: Collection[str]) -> str:
    lines = []
    if movement := last_of(facts, Movement):
        lines.append(wrapped(movement.text, lead="  movement: "))
    if reference := last_of(facts, JobReference):
        lines.append(wrapped(reference.text, lead="  reference: "))
    lines += [wrapped(text, lead=f"  {name}: ") for name, text in particulars(facts)]
    if train := last_of(facts, TrainData):
        lines.append(one_line(f"  train: {_train(train)}"))
    if wound := last_of(facts, HowWound):
        lines.append(one_line(f"  wound: {', '.join(filter(None, (wound.winding, wound.end)))}"))
    for stored in facts:
        if isinstance(stored.fact, Photograph):
            missing = "  (not there now)" if stored.fact.path in lost else ""
            lines.append(one_line(f"  photograph: {stored.fact.path}{missing}"))
        elif isinstance(stored.fact, Remark):
            lines.append(wrapped(stored.fact.text, lead=f"  note, {stored.written_utc[:10]}: "))
    return "\n".join(["ABOUT IT", *lines]) if lines else ""


def _versions(facts: Sequence[StoredFact]) -> str:
    lines = [*_results(facts, SizeVersion, "size", _size_line)]
    lines += _results(facts, ChoiceVersion, "choice", _choice_line)
    return "\n".join(["RESULTS SO FAR", *lines]) if lines else ""


def _results(facts: Sequence[StoredFact], kind: type, name: str, line: Any) -> Iterator[str]:
    versions = [stored for stored in facts if isinstance(stored.fact, kind)]
    for number, stored in enumerate(versions, start=1):
        fact = stored.fact
        assert isinstance(fact, SizeVersion | ChoiceVersion)
        lead = f"  {name} {number}, {stored.written_utc[:10]}, gaugelink {fact.software}: "
        yield wrapped(line(fact.result), lead=one_line(lead))


def _fitted(facts: Sequence[StoredFact]) -> str:
    lines = []
    if chosen := last_of(facts, Chosen):
        lines += [wrapped(_chosen(chosen), lead="  spring: ")]
    found, after = fittings(facts), seen_of_last(facts)
    if after is not None:
        lines += [wrapped(_seen(after), lead="  seen after: ")]
    if found and (compared := compare(found[-1])):
        header = ("", "expected", "seen", "ratio", "")
        lines.append(table(header, [_compared_row(each) for each in compared]))
    return "\n".join(["FITTED", *lines]) if lines else ""


def _compared_row(compared: Compared) -> tuple[str, ...]:
    unit = _UNITS[compared.name]
    foreseen, seen = f"{ends_text(compared.foreseen)}{unit}", f"{compared.seen:g}{unit}"
    verdict = "as expected" if compared.is_inside else "outside"
    return compared.name, foreseen, seen, f"{compared.ratio:.2f}", verdict


def _train(train: TrainData) -> str:
    hours = f"{train.hours_per_turn:g} h a turn of the barrel" if train.hours_per_turn else ""
    return ", ".join(filter(None, (train.teeth, hours)))


def _chosen(chosen: Chosen) -> str:
    foreseen = (
        _foreseen("turns", chosen.turns),
        _foreseen("hours", chosen.hours),
        _foreseen("crown turns", chosen.crown_turns),
        _foreseen("torque ratio", chosen.torque_ratio),
        _foreseen("amplitude", chosen.amplitude_deg, "°" + _lay(chosen)),
    )
    return "; ".join((chosen_size(chosen), *filter(None, foreseen)))


def _foreseen(name: str, span: ForeseenSpan | None, unit: str = "") -> str:
    return f"{name} {ends_text(span)}{unit} expected" if span else ""


def _seen(after: After) -> str:
    parts = (
        f"{after.crown_turns:g} turns of the crown" if after.crown_turns is not None else "",
        f"{after.hours_run:g} h run" if after.hours_run is not None else "",
        *(f"{a.deg:g}°{_lay(a)}" for a in after.amplitudes),
        f"noise: {after.noise}" if after.noise is not None else "",
    )
    return "; ".join(filter(None, parts))


def _lay(read: Amplitude | Chosen) -> str:
    words = (read.position, read.wind)
    return "".join(f" {word}" for word in words if word is not None)


def _size_line(result: Any) -> str:
    answer = result.get("recommendation")
    if isinstance(answer, dict) and answer.get("text"):
        return str(answer["text"])
    words = [f"height {_value(result.get('height'), 2)} mm"]
    rules = {rule.get("rule"): rule for rule in result.get("rules", ())}
    if rule := rules.get(_RULE):
        thickness, length = _value(rule.get("thickness"), 3), _value(rule.get("length"), 0)
        words.append(f"{_RULE}: thickness {thickness} mm, length {length} mm")
    return "; ".join(words)


def _choice_line(result: Any) -> str:
    picks = [str(pick.get("item")) for pick in result.get("picks", ())]
    return f"first {', then '.join(picks[:3])}" if picks else "nothing fits"


def _value(estimate: Any, decimals: int) -> str:
    value = estimate.get("value") if isinstance(estimate, dict) else None
    return f"{value:.{decimals}f}" if isinstance(value, int | float) else "-"


def jobs_text(lines: Sequence[JobLine]) -> str:
    """Render a list of jobs as a table."""
    header = ("title", "job", "begun (UTC)", "readings", "state")
    return table(header, [_job_cells(line) for line in lines])


def _job_cells(line: JobLine) -> tuple[str, ...]:
    begun, state = moment(line.created_utc).removesuffix(" UTC"), _state(closed=line.closed)
    return (line.title or "-", str(line.job_id), begun, str(line.n_standing), state)


def _state(*, closed: bool) -> str:
    return "complete" if closed else "open"


def likeness_text(likes: Sequence[Likeness], titles: Mapping[int, str]) -> str:
    """Render the most alike earlier jobs: whether one is the same size first, then by how much."""
    same = [like for like in likes if like.is_same_size]
    blocks = [wrapped(_likeness_answer(same, likes), lead="")]
    for like in likes:
        word = "the same within uncertainty" if like.is_same_size else "not the same"
        head = one_line(f"JOB {like.job_id}  {titles.get(like.job_id, '')}".rstrip())
        rows = [_difference_row(each) for each in like.differences]
        lines = [f"{head}  ({word})", table(("", "differs by mm", "in u", ""), rows)]
        blocks.append("\n".join(lines))
    return "\n\n".join(blocks) + "\n"


def _likeness_answer(same: Sequence[Likeness], likes: Sequence[Likeness]) -> str:
    if not likes:
        return "No earlier job has a bore to compare with."
    if not same:
        return "No earlier barrel is the same within uncertainty; the nearest were:"
    numbers = ", ".join(str(like.job_id) for like in same)
    return (
        f"Yes, or one of the same size: job{'s' if len(same) > 1 else ''} {numbers}. Sizes alone "
        "cannot tell two equal barrels apart."
    )


def _difference_row(difference: SizeDifference) -> tuple[str, ...]:
    return (
        difference.name.replace("depth_", "depth to the ").replace("_", " "),
        f"{difference.difference_mm:+.3f}",
        f"{difference.in_u:+.1f}",
        "agrees" if difference.agrees else "differs",
    )


def predictions_text(predictions: Sequence[Prediction]) -> str:
    """Render how good the predictions were, in plain words."""
    if not predictions:
        return (
            "No job has both expected and seen figures yet.\n"
            "Keep them with: gaugelink jobs JOB --chosen ... and, once it runs, --after ...\n"
        )
    blocks = [wrapped(" ".join(_sentences(each)), lead="") for each in predictions]
    return "\n\n".join([*blocks, wrapped(_OWN, lead="")]) + "\n"


def _sentences(prediction: Prediction) -> Iterator[str]:
    name, n = prediction.name, prediction.n
    if not prediction.tells_enough:
        yield (
            f"{name.capitalize()}: {n} job{'s' if n > 1 else ''} so far, too few for a "
            f"factor; {LEAST_JOBS} are needed."
        )
    else:
        yield _SAID[name].format(prediction.median_ratio) + (
            f", the median of {n} jobs; the interval {prediction.low_ratio:.2f} to "
            f"{prediction.high_ratio:.2f} holds the true median with "
            f"{100 * prediction.confidence:.0f} % confidence."
        )
        yield (
            f"Half of the jobs lie between {prediction.quarter_ratio:.2f} and "
            f"{prediction.three_quarter_ratio:.2f}."
        )
    yield f"{prediction.n_inside} of {n} were within what was expected."


def csv_rows(
    record: JobRecord,
    parts: Sequence[Measured],
    sizes: Sequence[LinearOutput],
    facts: Sequence[StoredFact],
) -> Iterator[tuple[str, ...]]:
    """Go through the rows of a job; a job in which nothing was measured has one.

    Of a size only value and u are written, which take no draws.
    """
    head, tail = _csv_head(record, facts), _csv_tail(facts)
    corrected = {size.label.replace(".", "_"): size for size in sizes}
    empty = ("",) * (len(HEADER) - len(head) - len(tail))
    rows = [
        (*head, part.gauge.gauge_id, str(part.gauge.kind), *row, *tail)
        for part in parts
        for row in _csv_part(part, corrected)
    ]
    yield from rows or [(*head, *empty, *tail)]


def _csv_tail(facts: Sequence[StoredFact]) -> tuple[str, ...]:
    head = who_and_where(all_of(facts, Particulars))
    warmth = "" if head.temperature_c is None else f"{head.temperature_c:g}"
    return head.workshop or "", head.customer or "", head.by or "", warmth


def _csv_part(part: Measured, corrected: Mapping[str, LinearOutput]) -> Iterator[tuple[str, ...]]:
    """Go through the measurands of a gauge, then those of which only superseded readings are."""
    before = {series.measurand: _csv_readings(series) for series in part.superseded}
    for summary, series in zip(part.summaries, part.series, strict=True):
        size = corrected.get(summary.measurand)
        old = before.pop(summary.measurand, "")
        yield (*_csv_summary(summary, size), _csv_readings(series), old)
    for name, old in before.items():
        yield (name, "0", "0", *("",) * 7, old)


def _csv_readings(series: Series) -> str:
    return " ".join(reading.displayed for reading in series.readings)


def _csv_head(record: JobRecord, facts: Sequence[StoredFact]) -> tuple[str, ...]:
    reference, movement = last_of(facts, JobReference), last_of(facts, Movement)
    chosen = last_of(facts, Chosen)
    begun = str(record.job_id), record.setup.title, record.created_utc
    known = (
        reference.text if reference else "",
        movement.text if movement else "",
        chosen.item if chosen else "",
    )
    return (*begun, "yes" if record.closed else "no", *known)


def _csv_summary(summary: Summary, size: LinearOutput | None) -> tuple[str, ...]:
    means = (summary.mean_mm, summary.std_mm, summary.u_mean_mm)
    corrected = (None, None) if size is None else (size.value, size.u)
    numbers = ["" if value is None else f"{value:.6g}" for value in (*means, *corrected)]
    counts = summary.measurand, str(summary.n_taken), str(summary.n_used)
    return (*counts, *numbers[:3], str(summary.dof), *numbers[3:])
