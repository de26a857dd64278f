"""The file format as tables: each kind, and the fields that its JSON holds.

These names stand in people's files, so none is changed without a new schema.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Any, TypeAlias

from gaugelink.capture.acts import (
    Completed,
    GaugeDone,
    Halted,
    MoreWanted,
    Refused,
    Repeated,
    Resumed,
    Skipped,
    Taken,
    Undone,
)
from gaugelink.capture.plan import JobSetup, Plan, Seek, Step
from gaugelink.model import (
    DepthReference,
    Fault,
    FaultKind,
    Flag,
    GaugeEvent,
    GaugeInfo,
    GaugeKind,
    Ident,
    LinkChange,
    Reading,
    Sends,
    UnitSwitch,
)
from gaugelink.units import LengthUnit

BODIES: dict[str, type] = {
    "reading": Reading,
    "fault": Fault,
    "ident": Ident,
    "link change": LinkChange,
    "unit switch": UnitSwitch,
}
ACTS: dict[str, type] = {
    "taken": Taken,
    "refused": Refused,
    "repeated": Repeated,
    "undone": Undone,
    "skipped": Skipped,
    "more wanted": MoreWanted,
    "completed": Completed,
    "halted": Halted,
    "resumed": Resumed,
    "gauge done": GaugeDone,
}
KIND_OF = {cls: kind for kind, cls in (BODIES | ACTS).items()}

_Fields: TypeAlias = Mapping[str, Callable[[Any], object]]


def plain(item: object) -> dict[str, Any]:
    """Return the fields of ``item`` that its JSON holds."""
    return {name: getattr(item, name) for name in _FIELDS[type(item)]}


def made(cls: type, values: Mapping[str, Any], **more: object) -> Any:
    """Return a ``cls`` from the values in its JSON and the fields that are kept elsewhere.

    Raises:
        KeyError, TypeError, ValueError: a field is unknown, missing or wrong.
    """
    fields = _FIELDS[cls]
    return cls(**{name: fields[name](value) for name, value in values.items()}, **more)


def _flags(values: Iterable[str]) -> frozenset[Flag]:
    return frozenset(map(Flag, values))


def _kinds(values: Iterable[str]) -> tuple[GaugeKind, ...]:
    return tuple(map(GaugeKind, values))


def _steps(values: Iterable[Mapping[str, Any]]) -> tuple[Step, ...]:
    return tuple(made(Step, value) for value in values)


def _plan(values: Mapping[str, Any]) -> Plan:
    plan: Plan = made(Plan, values)
    return plan


# Beside each name stands what turns its JSON value into the field again.
# Three fields are kept elsewhere: ``raw`` has a column of its own, and the codec
# puts in ``GaugeEvent.body`` and ``Taken.reading``, to which ``raw`` belongs.
_AT: _Fields = {"gauge_id": str, "elapsed_s": float}
_FIELDS: Mapping[type, _Fields] = {
    GaugeEvent: _AT,
    Reading: {
        "value_mm": float,
        "resolution_mm": float,
        "displayed": str,
        "unit": LengthUnit,
        "channel": str,
        "flags": _flags,
    },
    Fault: {"kind": FaultKind, "reason": str},
    Ident: {"text": str},
    LinkChange: {"connected": bool, "text": str},
    UnitSwitch: {"before": LengthUnit, "now": LengthUnit},
    Taken: {**_AT, "measurand": str, "note": str},
    Refused: {**_AT, "reason": str, "displayed": str},
    Repeated: {**_AT, "displayed": str},
    Undone: {**_AT, "measurand": str, "displayed": str},
    Skipped: {"gauge_id": str, "measurand": str},
    MoreWanted: {"gauge_id": str, "measurand": str, "wanted": int, "reason": str},
    Completed: {"gauge_id": str, "measurand": str, "n_readings": int},
    Halted: {"gauge_id": str, "reason": str},
    Resumed: {"gauge_id": str},
    GaugeDone: {"gauge_id": str},
    GaugeInfo: {
        "gauge_id": str,
        "kind": GaugeKind,
        "sends": Sends,
        "address": str,
        "format": str,
        "mpe_mm": float,
        "shift_mpe_mm": float,
        "mpe_source": str,
    },
    Step: {
        "measurand": str,
        "kinds": _kinds,
        "seek": Seek,
        "n_wanted": int,
        "low_mm": float,
        "high_mm": float,
        "instruction": str,
    },
    Plan: {"steps": _steps, "depth_reference": DepthReference},
    JobSetup: {"title": str, "plan": _plan},
}
