"""How much of some bytes one decoder explains."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from gaugelink.devices.contract import Decoder
from gaugelink.model import Fault, FaultKind, Frame, Ident, WireEvent

# What the gauge says in good form although it is no reading.
_IN_FORM = (FaultKind.GAUGE_ERROR, FaultKind.NO_UNIT)


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """What a decoder made of some bytes.

    Listening begins and ends anywhere, so a piece of a line before the first whole one
    and after the last is neither for nor against a format, unless it is too long to be
    a piece of such a line.

    Args:
        frames: the readings, in order.
        others: texts of what was explained besides: what the gauge calls itself, errors.
        faults: why bytes could not be explained.
        n_reading_bytes: bytes of the readings.
        n_explained: bytes of all that was explained.
        n_unexplained: bytes that are no line or frame of the format.
        wants_unit: a reading or a refused one lacks a unit.
    """

    frames: tuple[Frame, ...] = ()
    others: tuple[str, ...] = ()
    faults: tuple[str, ...] = ()
    n_reading_bytes: int = 0
    n_explained: int = 0
    n_unexplained: int = 0
    wants_unit: bool = False

    @property
    def share(self) -> float:
        """Share of the bytes that is explained, 0 to 1; 0 of none at all."""
        total = self.n_explained + self.n_unexplained
        return self.n_explained / total if total else 0.0

    def __add__(self, more: Evidence) -> Evidence:
        return Evidence(
            frames=self.frames + more.frames,
            others=self.others + more.others,
            faults=self.faults + more.faults,
            n_reading_bytes=self.n_reading_bytes + more.n_reading_bytes,
            n_explained=self.n_explained + more.n_explained,
            n_unexplained=self.n_unexplained + more.n_unexplained,
            wants_unit=self.wants_unit or more.wants_unit,
        )


def weigh(decoder: Decoder, data: bytes) -> Evidence:
    """Return what a fresh decoder makes of the bytes of one listening."""
    events = decoder.feed(data)
    frames = tuple(event for event in events if isinstance(event, Frame))
    longest = _longest_line(frames)
    head = [e for e in events[:1] if _is_piece(e, longest) and data.startswith(e.raw)]
    body = events[len(head) :] + [e for e in decoder.flush() if not _is_piece(e, longest)]
    return _counted(frames, body)


def _counted(frames: tuple[Frame, ...], body: Sequence[WireEvent]) -> Evidence:
    bad = [e for e in body if isinstance(e, Fault) and e.kind not in _IN_FORM]
    others = [e for e in body if isinstance(e, Fault | Ident) and e not in bad]
    n_reading = _bytes_of(frames)
    return Evidence(
        frames=frames,
        others=tuple(e.text if isinstance(e, Ident) else e.reason for e in others),
        faults=tuple(fault.reason for fault in bad),
        n_reading_bytes=n_reading,
        n_explained=n_reading + _bytes_of(others),
        n_unexplained=_bytes_of(bad),
        wants_unit=any(_lacks_unit(event) for event in body),
    )


def _longest_line(frames: Sequence[Frame]) -> int:
    """Return the length of the longest line; its readings divide it, each channel once."""
    lengths: list[int] = []
    channels: set[str] = set()
    for frame in frames:
        if not lengths or frame.channel in channels:
            lengths.append(0)
            channels.clear()
        lengths[-1] += len(frame.raw)
        channels.add(frame.channel)
    return max(lengths, default=0)


def _is_piece(event: WireEvent, longest: int) -> bool:
    is_bad = isinstance(event, Fault) and event.kind not in _IN_FORM
    return is_bad and len(event.raw) <= longest


def _lacks_unit(event: WireEvent) -> bool:
    if isinstance(event, Fault):
        return event.kind is FaultKind.NO_UNIT
    return isinstance(event, Frame) and event.unit is None


def _bytes_of(events: Sequence[WireEvent]) -> int:
    return sum(len(event.raw) for event in events)
