"""Events and acts as rows of the ``entry`` table and back again.

Bytes from the wire keep a column of their own; all else is JSON. The names below stand in
people's files.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache
from typing import Any, NamedTuple, TypeAlias

from gaugelink import model
from gaugelink.capture import acts
from gaugelink.capture.plan import JobSetup, Plan, Step
from gaugelink.jobbook.codec import Form, declared, json_in, made, named, plain, refusing, wire_name
from gaugelink.units import LengthUnit, to_mm

Item: TypeAlias = model.GaugeEvent | acts.Act
GAUGE, JOB = "gauge", "job"  # where a row comes from

_FORM = Form(compact=True)
BODIES = declared(
    _FORM,
    {
        "reading": model.Reading,
        "fault": model.Fault,
        "ident": model.Ident,
        "link change": model.LinkChange,
        "unit switch": model.UnitSwitch,
    },
    apart=("raw",),
)
ACTS = declared(
    _FORM,
    {
        "taken": acts.Taken,
        "refused": acts.NotTaken,
        "repeated": acts.Repeated,
        "undone": acts.Undone,
        "skipped": acts.Skipped,
        "superseded": acts.Superseded,
        "more wanted": acts.MoreWanted,
        "completed": acts.Completed,
        "halted": acts.Halted,
        "resumed": acts.Resumed,
        "gauge done": acts.GaugeDone,
    },
    apart=("reading",),  # put in behind the others, where older files have it
)
declared(_FORM, {"event": model.GaugeEvent}, apart=("body",))
declared(_FORM, {"gauge": model.GaugeInfo, "setup": JobSetup, "plan": Plan, "step": Step})


_READING, _TAKEN = wire_name(model.Reading), wire_name(acts.Taken)
_SHOWN = ("value_mm", "displayed", "unit")
_ROUNDED = 1e-12  # relative: a number written and read again is the same to the last bit or two


class EntryColumns(NamedTuple):
    """How an event (origin ``GAUGE``) or act (``JOB``) lies in the ``entry`` table."""

    origin: str
    kind: str
    raw: bytes | None
    detail: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredEntry:
    """One stored event or act.

    ``number`` counts from 1 within the job. ``written_utc`` is ISO 8601. ``raw``
    holds the bytes from the wire; None where none belong to it.
    """

    number: int
    written_utc: str
    kind: str
    raw: bytes | None
    item: Item


def columns_of(item: Item) -> EntryColumns:
    """Return the columns that hold an event or act."""
    detail, raw = plain(item), None
    if isinstance(item, model.GaugeEvent):
        body = item.body
        raw = None if isinstance(body, model.LinkChange) else body.raw
        written = f'{_FORM.json(detail)[:-1]},"body":{_body_json(id(body), body)}}}'
        return EntryColumns(GAUGE, wire_name(type(body)), raw, written)
    if isinstance(item, acts.Taken):
        detail["reading"], raw = plain(item.reading), item.reading.raw
    return EntryColumns(JOB, wire_name(type(item)), raw, _FORM.json(detail))


@lru_cache(maxsize=256)
def _body_json(_: int, body: model.GaugeEventBody) -> str:
    """Write a body once while it comes again, told by its identity: 0.0 equals -0.0."""
    return _FORM.json(plain(body))


def item_of(columns: EntryColumns) -> Item:
    """Return the event or act that columns hold.

    Raises:
        UnreadableRow: unknown kind, or a field that is missing, unknown or wrong.
    """
    return _event_of(columns) if columns.origin == GAUGE else act_of(columns)


def act_of(columns: EntryColumns) -> acts.Act:
    """Return the act of columns whose origin is ``JOB``; raises as ``item_of``."""
    cls = named(columns.kind, ACTS, "kind")
    with refusing(columns.kind):
        values, apart = json_in(columns.detail), {}
        if cls is acts.Taken:
            apart["reading"] = made(model.Reading, values.pop("reading"), **_raw(columns))
        act: acts.Act = made(cls, values, **apart)
    return act


def _event_of(columns: EntryColumns) -> model.GaugeEvent:
    cls: type[model.GaugeEventBody] = named(columns.kind, BODIES, "kind")
    with refusing(columns.kind):
        values = json_in(columns.detail)
        body = made(cls, values.pop("body"), **_raw(columns))
        return made(model.GaugeEvent, values, body=body)


def fault_of(
    columns: EntryColumns, before: EntryColumns | None = None, item: Item | None = None
) -> str:
    """Say in what a stored reading contradicts itself; empty where it does not, or is none.

    A reading is kept as a number, and as the text that the gauge showed with its unit; one that was
    taken has a row of its own besides: where a disk changed one of them, the others tell. Changed
    bytes alone are not noticed. ``before`` is the row before it in its job, as a rule what the
    gauge sent: the same bytes are the same reading. ``item`` is what the columns hold, where they
    were read already.

    Raises:
        UnreadableRow: it is not written as readings are.
    """
    if columns.kind not in (_READING, _TAKEN):
        return ""
    with refusing(columns.kind):
        value_mm, displayed, unit = _shown_of(columns, item)
        shown_mm = _mm_per(unit) * float(displayed)
        if not abs(shown_mm - value_mm) <= _ROUNDED * abs(shown_mm):
            return f"it says {value_mm!r} mm where the gauge showed {displayed} {unit}"
        # What was sought, as the largest, was sent earlier: then the bytes differ as well.
        if before is None or columns.raw != before.raw or _is_copied(columns, before):
            return ""
        if (columns.kind, before.kind) != (_TAKEN, _READING):
            return ""
        (detail, reading), (event, sent) = _reading_in(columns), _reading_in(before)
        same = detail["gauge_id"] == event["gauge_id"]
        if same and any(sent[name] != reading[name] for name in _SHOWN):
            return "what was taken is not what the gauge sent with the same bytes"
    return ""


_mm_per = lru_cache(lambda unit: to_mm(Decimal(1), LengthUnit(unit)))


def _shown_of(columns: EntryColumns, item: Item | None) -> tuple[Any, Any, Any]:
    held = item.body if isinstance(item, model.GaugeEvent) else getattr(item, "reading", None)
    if isinstance(held, model.Reading):
        return held.value_mm, held.displayed, held.unit
    _, reading = _reading_in(columns)
    return reading["value_mm"], reading["displayed"], reading["unit"]


def _is_copied(taken: EntryColumns, sent: EntryColumns) -> bool:
    """Tell, without reading either, whether what was taken is written as it was sent."""
    _, found, reading = taken.detail.partition('"reading":')
    return bool(found) and reading == sent.detail.partition('"body":')[2]


def _reading_in(columns: EntryColumns) -> tuple[dict[str, Any], dict[str, Any]]:
    values = json_in(columns.detail)
    return values, values["reading" if columns.kind == _TAKEN else "body"]


def _raw(columns: EntryColumns) -> dict[str, bytes]:
    return {} if columns.raw is None else {"raw": bytes(columns.raw)}
