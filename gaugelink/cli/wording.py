"""What is said about each act and event, in one line."""

from __future__ import annotations

from gaugelink.capture.acts import (
    Act,
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
from gaugelink.model import Fault, GaugeEvent, Ident, LinkChange, Reading, UnitSwitch
from gaugelink.names import spoken


def act_line(act: Act) -> str:
    """Say what the job did."""
    match act:
        case Taken():
            note = f"  ({act.note})" if act.note else ""
            reading = act.reading
            return f"taken   {spoken(act.measurand)} {reading.displayed} {reading.unit}{note}"
        case Refused():
            return f"refused {act.displayed}: {act.reason}" if act.displayed else act.reason
        case Repeated():
            return f"once    {act.displayed} came twice and counts once"
        case Undone():
            return f"undone  {spoken(act.measurand)} {act.displayed}".rstrip()
        case Skipped():
            return f"skipped {spoken(act.measurand)}"
        case MoreWanted():
            return f"judged  {spoken(act.measurand)}: {act.reason}"
        case Completed():
            return f"done    {spoken(act.measurand)}, {act.n_readings} readings"
        case Halted():
            return f"stopped {act.reason}"
        case Resumed():
            return "resumed readings are taken again"
        case GaugeDone():
            return "closed  last zero taken"


def event_line(event: GaugeEvent) -> str:
    """Say what a gauge sent that is not a reading; empty for a reading."""
    match event.body:
        case Reading():
            return ""
        case Fault():
            return f"not a reading: {event.body.reason}"
        case Ident():
            return f"the gauge says: {event.body.text}"
        case LinkChange():
            return event.body.text if event.body.connected else f"unplugged: {event.body.text}"
        case UnitSwitch():
            return f"unit changed from {event.body.before} to {event.body.now}"
