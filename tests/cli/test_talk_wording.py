"""Every act and every event is said in one line."""

from __future__ import annotations

from typing import get_args

import pytest
from cli_bench import reading

from gaugelink.capture.acts import (
    Act,
    Completed,
    GaugeDone,
    Halted,
    MoreWanted,
    NotTaken,
    Repeated,
    Resumed,
    Skipped,
    Superseded,
    Taken,
    Undone,
)
from gaugelink.cli.talk import act_line, event_line
from gaugelink.model import (
    Fault,
    FaultKind,
    GaugeEvent,
    GaugeEventBody,
    Ident,
    LinkChange,
    UnitSwitch,
)
from gaugelink.units import LengthUnit, spoken

READING = reading("0.130")
ACTS: list[tuple[Act, str]] = [
    (
        Taken(gauge_id="g", elapsed_s=0.0, measurand="found_thickness", reading=READING),
        "taken   found thickness 0.130 mm",
    ),
    (
        Taken(gauge_id="g", elapsed_s=0.0, measurand="bore", reading=READING, note="far off"),
        "taken   bore 0.130 mm  (far off)",
    ),
    (
        NotTaken(gauge_id="g", elapsed_s=0.0, reason="Too wide.", displayed="254.0"),
        "refused 254.0: Too wide.",
    ),
    (NotTaken(gauge_id="g", elapsed_s=0.0, reason="Nothing to skip."), "Nothing to skip."),
    (
        Repeated(gauge_id="g", elapsed_s=0.0, displayed="1.92"),
        "once    1.92: duplicate reading ignored",
    ),
    (
        Undone(gauge_id="g", elapsed_s=0.0, measurand="found_height", displayed="1.55"),
        "undone  found height 1.55",
    ),
    (Undone(gauge_id="g", elapsed_s=0.0, measurand="lid"), "undone  lid"),
    (Skipped(gauge_id="g", measurand="found_height"), "skipped found height"),
    (
        Superseded(gauge_id="g", measurand="found_height"),
        "redone  found height: earlier readings no longer count",
    ),
    (
        MoreWanted(gauge_id="g", measurand="found_height", wanted=5, reason="Wide."),
        "checked found height: Wide.",
    ),
    (Completed(gauge_id="g", measurand="lid", n_readings=3), "done    lid, 3 readings"),
    (Halted(gauge_id="g", reason="It shows in."), "stopped It shows in."),
    (Resumed(gauge_id="g"), "resumed readings are taken again"),
    (GaugeDone(gauge_id="g"), "closed  last zero taken"),
]
EVENTS: list[tuple[GaugeEventBody, str]] = [
    (READING, ""),
    (
        Fault(kind=FaultKind.PARITY, reason="a bit is wrong", raw=b"x"),
        "not a reading: a bit is wrong",
    ),
    (Ident(text="SUCCESS", raw=b"SUCCESS"), "the gauge says: SUCCESS"),
    (LinkChange(connected=False, text="the cable is out"), "link lost: the cable is out"),
    (LinkChange(connected=True, text="g is back."), "g is back."),
    (
        UnitSwitch(before=LengthUnit.MM, now=LengthUnit.INCH, raw=b"x"),
        "unit changed from mm to in",
    ),
]


@pytest.mark.parametrize(("act", "line"), ACTS, ids=[type(act).__name__ for act, _ in ACTS])
def test_an_act_is_said(act: Act, line: str) -> None:
    assert act_line(act) == line


@pytest.mark.parametrize(("body", "line"), EVENTS, ids=[type(b).__name__ for b, _ in EVENTS])
def test_an_event_is_said(body: GaugeEventBody, line: str) -> None:
    assert event_line(GaugeEvent(gauge_id="g", elapsed_s=0.0, body=body)) == line


def test_no_act_and_no_event_is_forgotten() -> None:
    assert {type(act) for act, _ in ACTS} == set(get_args(Act))
    assert {type(body) for body, _ in EVENTS} == set(get_args(GaugeEventBody))


def test_measurands_are_spoken_in_words() -> None:
    assert spoken("found_thickness") == "found thickness"
