"""Events and acts as table rows and back again, exactly.

Bytes from the wire keep a column of their own; all else is JSON, in which a
float is its ``repr`` and so comes back bit for bit.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass

from gaugelink.capture.acts import Act, Taken
from gaugelink.capture.plan import JobSetup
from gaugelink.jobbook.fields import ACTS, BODIES, KIND_OF, made, plain
from gaugelink.jobbook.records import Item
from gaugelink.model import GaugeEvent, GaugeInfo, LinkChange, Reading

GAUGE, JOB = "gauge", "job"  # where a row comes from


class UnreadableRow(ValueError):
    """A row that this version did not write; the journal says which one it is."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """How an event (origin ``GAUGE``) or act (``JOB``) lies in the ``entry`` table."""

    origin: str
    kind: str
    raw: bytes | None
    detail: str


def encode(item: Item) -> Row:
    """Return the row that holds an event or act."""
    detail, raw = plain(item), None
    if isinstance(item, GaugeEvent):
        body = item.body
        detail["body"] = plain(body)
        raw = None if isinstance(body, LinkChange) else body.raw
        return Row(origin=GAUGE, kind=KIND_OF[type(body)], raw=raw, detail=_json(detail))
    if isinstance(item, Taken):
        detail["reading"], raw = plain(item.reading), item.reading.raw
    return Row(origin=JOB, kind=KIND_OF[type(item)], raw=raw, detail=_json(detail))


def decode(row: Row) -> Item:
    """Return the event or act that a row holds.

    Raises:
        UnreadableRow: unknown kind, or a field that is missing, unknown or wrong.
    """
    return decode_event(row) if row.origin == GAUGE else decode_act(row)


def decode_event(row: Row) -> GaugeEvent:
    """Return the event of a row whose origin is ``GAUGE``; raises as ``decode``."""
    cls = _class_of(row.kind, BODIES)
    with _unreadable(row.kind):
        values = json.loads(row.detail)
        body = made(cls, values.pop("body"), **_raw(row))
        event: GaugeEvent = made(GaugeEvent, values, body=body)
    return event


def decode_act(row: Row) -> Act:
    """Return the act of a row whose origin is ``JOB``; raises as ``decode``."""
    cls = _class_of(row.kind, ACTS)
    with _unreadable(row.kind):
        values, more = json.loads(row.detail), {}
        if cls is Taken:
            more["reading"] = made(Reading, values.pop("reading"), **_raw(row))
        act: Act = made(cls, values, **more)
    return act


def encode_gauge(info: GaugeInfo) -> str:
    """Return a gauge as JSON."""
    return _json(plain(info))


def decode_gauge(text: str) -> GaugeInfo:
    """Return the gauge that ``encode_gauge`` wrote; raises as ``decode``."""
    with _unreadable("gauge"):
        info: GaugeInfo = made(GaugeInfo, json.loads(text))
    return info


def encode_setup(setup: JobSetup) -> str:
    """Return a title and plan as JSON."""
    return _json(plain(setup))


def decode_setup(text: str) -> JobSetup:
    """Return the setup that ``encode_setup`` wrote; raises as ``decode``."""
    with _unreadable("setup"):
        setup: JobSetup = made(JobSetup, json.loads(text))
    return setup


def _nested(value: object) -> object:
    return sorted(value) if isinstance(value, frozenset) else plain(value)


# Made once, because json.dumps with options builds an encoder at every call.
# ASCII only: bytes that a terminal could not decode survive as escapes.
_json = json.JSONEncoder(separators=(",", ":"), default=_nested).encode


def _raw(row: Row) -> dict[str, bytes]:
    return {} if row.raw is None else {"raw": bytes(row.raw)}


def _class_of(kind: str, table: Mapping[str, type]) -> type:
    if kind not in table:
        raise UnreadableRow(f"unknown kind {kind!r}")
    return table[kind]


@contextmanager
def _unreadable(what: str) -> Iterator[None]:
    try:
        yield
    except (KeyError, TypeError, ValueError, AttributeError) as exc:
        raise UnreadableRow(f"{what}: {type(exc).__name__} {exc}") from exc
