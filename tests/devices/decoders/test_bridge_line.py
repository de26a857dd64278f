"""The stream of bridge lines: numbering, repeats, restarts, heartbeats, damage."""

from __future__ import annotations

import json
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from bridge_lines import BurstKeeper, ident_line, line
from hypothesis import given
from hypothesis import strategies as st

from gaugelink.devices.decoders import make_decoder
from gaugelink.devices.decoders.bits import BitFrame, pack
from gaugelink.devices.decoders.bridge_line import MAX_LINE_BYTES, SILENT_BEATS, BridgeDecoder
from gaugelink.devices.profiles.profile import find_profile
from gaugelink.model import Fault, FaultKind, Frame, Ident, WireEvent

VECTORS: list[dict[str, Any]] = json.loads(
    (Path(__file__).parents[3] / "fixtures/wire/bridge.json").read_text(encoding="utf-8")
)["vectors"]
BITS = [1, 0, 1, 1] * 6


def decoder_of(kind: str = "B24", port: int | None = None) -> tuple[BridgeDecoder, BurstKeeper]:
    keeper = BurstKeeper()
    return BridgeDecoder(keeper, kind, port), keeper


def burst(number: int, *, kind: str = "B24", port: int = 0) -> bytes:
    return line(number, kind, bits=BITS, port=port)


def beat(number: int) -> bytes:
    return line(number, "HB")


def reasons(events: list[WireEvent]) -> list[str]:
    """The faults of a list of events, which must all be faults."""
    assert all(isinstance(event, Fault) for event in events)
    return [event.reason for event in events if isinstance(event, Fault)]


def play(data: bytes, cuts: list[int], kind: str = "B24") -> list[WireEvent]:
    decoder, _ = decoder_of(kind)
    edges = [0, *sorted(min(cut, len(data)) for cut in cuts), len(data)]
    events: list[WireEvent] = []
    for start, end in pairwise(edges):
        events += decoder.feed(data[start:end])
        assert len(decoder._pending) <= MAX_LINE_BYTES
    return events + decoder.flush()


def check_events(vector: dict[str, Any], events: list[WireEvent], bursts: list[BitFrame]) -> None:
    waiting = iter(bursts)
    for event, expected in zip(events, vector["events"], strict=True):
        if expected["event"] == "burst":
            given = next(waiting)
            assert (given.n_bits, given.packed.hex().upper(), given.raw) == (
                expected["n_bits"],
                expected["packed"],
                event.raw,
            )
            assert sorted(given.flags) == expected["flags"]
        else:
            assert isinstance(event, Fault)
            assert event.kind == expected["kind"]
            assert expected["says"] in event.reason
    assert not list(waiting)


@pytest.mark.parametrize("vector", VECTORS, ids=lambda vector: vector["id"])
def test_a_vector_gives_its_events_in_every_split(vector: dict[str, Any]) -> None:
    wire = vector["wire"].encode()
    for cut in range(len(wire)):
        decoder, keeper = decoder_of(vector["kind"])
        check_events(vector, decoder.feed(wire[:cut]) + decoder.feed(wire[cut:]), keeper.bursts)


def test_a_published_frame_comes_through_a_bridge_as_its_value() -> None:
    (vector,) = (each for each in VECTORS if "reads" in each)
    decoder = make_decoder(find_profile(vector["format"]))
    (frame,) = decoder.feed(vector["wire"].encode())
    assert isinstance(frame, Frame)
    assert f"{frame.value} {frame.unit}" == vector["reads"]
    assert frame.raw == vector["wire"].encode()


PIECES = [
    burst(0), burst(1), burst(2), burst(3), beat(1), beat(2), beat(3), beat(4), b"#", b"\n", b"\r",
    ident_line(0, "me"), line(2, "KEY"), burst(1, kind="N52"), burst(2, port=1), burst(1)[:20],
    b"\xff\x00", b"x" * 100, burst(2)[:-1], line(5, "B24"),
]  # fmt: skip


@given(
    wire=st.lists(st.sampled_from(PIECES) | st.binary(max_size=4), max_size=25).map(b"".join),
    cuts=st.lists(st.integers(0, 600), max_size=8),
    kind=st.sampled_from(["N52", "B24"]),
)
def test_any_bytes_in_any_split_give_the_same_events_and_invent_none(
    wire: bytes, cuts: list[int], kind: str
) -> None:
    whole = play(wire, [], kind)
    assert play(wire, cuts, kind) == whole
    position = 0
    for event in whole:  # the bytes of the events stand in the wire, in order and apart
        found = wire.find(event.raw, position)
        assert found >= position
        position = found + len(event.raw)


def test_every_line_but_heartbeats_and_repeats_appears() -> None:
    wire = [burst(1), b"noise\r\n", burst(2), beat(3), burst(4)[:9] + burst(5), burst(5), b"#00"]
    raws = [event.raw for event in play(b"".join(wire), []) if event.raw]
    assert raws == [burst(1), b"noise\r\n", burst(2), burst(4)[:9], burst(5), b"#00"]


def test_numbers_wrap_without_a_loss() -> None:
    decoder, keeper = decoder_of()
    for number in range(990, 1015):
        assert len(decoder.feed(burst(number % 1000))) == 1
    assert len(keeper.bursts) == 25


@pytest.mark.parametrize(
    ("last", "now", "lost"), [(1, 3, 1), (998, 1, 2), (5, 4, 998), (5, 5, 999)]
)
def test_a_jump_says_how_many_lines_were_lost(last: int, now: int, lost: int) -> None:
    decoder, keeper = decoder_of()
    decoder.feed(burst(last))
    (fault, _) = decoder.feed(line(now, "B24", bits=BITS[1:]))
    assert isinstance(fault, Fault)
    assert (fault.kind, fault.raw) == (FaultKind.INCOMPLETE, b"")
    assert f": {lost}, " in fault.reason
    assert f"{now:03d} came after {last:03d}" in fault.reason
    assert keeper.resets == 1  # it must not compare with a burst from before the gap


def test_a_line_that_came_damaged_is_not_reported_as_lost_too() -> None:
    decoder, keeper = decoder_of()
    decoder.feed(burst(1))
    damaged = burst(2).replace(b"B24", b"B34")
    assert len(reasons(decoder.feed(damaged))) == 1
    assert [event.raw for event in decoder.feed(burst(3))] == [burst(3)]
    assert keeper.resets == 1
    (lost, _) = decoder.feed(damaged + burst(6))[1:]
    assert isinstance(lost, Fault)
    assert ": 1, " in lost.reason


def test_noise_between_two_neighbours_is_no_loss() -> None:
    decoder, keeper = decoder_of()
    decoder.feed(burst(1) + b"noise\r\n")
    assert [event.raw for event in decoder.feed(burst(2))] == [burst(2)]
    assert keeper.resets == 0


def test_a_restart_is_no_loss_but_the_burst_before_is_forgotten() -> None:
    decoder, keeper = decoder_of()
    decoder.feed(burst(500))
    (ident,) = decoder.feed(ident_line(0, "gaugelink-bridge 1 B24"))
    assert ident == Ident(
        text="gaugelink-bridge 1 B24", raw=ident_line(0, "gaugelink-bridge 1 B24")
    )
    assert keeper.resets == 1
    assert [event.raw for event in decoder.feed(burst(1))] == [burst(1)]


def test_a_restart_in_the_middle_of_a_line_costs_only_that_line() -> None:
    decoder, _ = decoder_of()
    decoder.feed(burst(500))
    half, ident = decoder.feed(burst(501)[:17] + ident_line(0, "me"))
    assert isinstance(half, Fault)
    assert half.raw == burst(501)[:17]
    assert isinstance(ident, Ident)


def test_zero_without_an_ident_line_is_a_loss() -> None:
    decoder, _ = decoder_of()
    decoder.feed(burst(500))
    assert ": 499, " in reasons(decoder.feed(burst(0))[:1])[0]


def test_an_ident_line_when_asked_counts_like_any_other() -> None:
    decoder, keeper = decoder_of()
    assert len(decoder.feed(burst(6) + ident_line(7, "me") + burst(8))) == 3
    assert keeper.resets == 0


def test_a_repeat_is_dropped_whatever_it_is() -> None:
    decoder, keeper = decoder_of()
    for each in (burst(1), ident_line(2, "me"), line(3, "KEY")):
        assert len(decoder.feed(each + each + each)) == 1
    assert len(keeper.bursts) == 1


def test_reset_forgets_the_numbers_and_the_half_line() -> None:
    decoder, keeper = decoder_of()
    decoder.feed(burst(1) + burst(2)[:20])
    decoder.reset()
    assert [event.raw for event in decoder.feed(burst(700))] == [burst(700)]
    assert keeper.resets == 1


def test_silence_ends_half_a_line_and_the_numbering_goes_on() -> None:
    decoder, _ = decoder_of()
    decoder.feed(burst(1) + burst(2)[:20])
    (fault,) = decoder.flush()
    assert isinstance(fault, Fault)
    assert (fault.kind, fault.raw) == (FaultKind.INCOMPLETE, burst(2)[:20])
    assert decoder.flush() == []
    assert len(decoder.feed(burst(3))) == 1
    assert len(decoder.feed(burst(5))) == 2


def test_endless_noise_is_one_fault_and_memory_stays_bounded() -> None:
    decoder, _ = decoder_of()
    events: list[WireEvent] = []
    for _ in range(2000):
        events += decoder.feed(b"#noise")
        assert len(decoder._pending) <= MAX_LINE_BYTES
    (fault,) = events
    assert isinstance(fault, Fault)
    assert (fault.kind, len(fault.raw)) == (FaultKind.OVERLONG, MAX_LINE_BYTES)
    assert decoder.feed(b"\r\n") == []
    assert len(decoder.feed(burst(1))) == 1


@pytest.mark.parametrize("length", range(MAX_LINE_BYTES - 2, MAX_LINE_BYTES + 4))
def test_a_line_at_the_limit_is_judged_alike_in_every_split(length: int) -> None:
    wire = b"x" * (length - 2) + b"\r\n" + burst(1)
    whole = play(wire, [])
    fault, last = whole
    assert isinstance(fault, Fault)
    assert (fault.kind is FaultKind.OVERLONG) is (length > MAX_LINE_BYTES)
    assert last.raw == burst(1)
    for cut in range(len(wire)):
        assert play(wire, [cut]) == whole


@pytest.mark.parametrize("kind", ["B24", "B48", "B7N", "B21"])
def test_heartbeats_alone_mean_that_a_streaming_gauge_is_silent(kind: str) -> None:
    decoder, _ = decoder_of(kind)
    decoder.feed(burst(0, kind=kind))
    heard = [decoder.feed(beat(number)) for number in range(1, 10)]
    assert [len(events) for events in heard] == [int(n == SILENT_BEATS) for n in range(1, 10)]
    assert "its gauge does not" in reasons(heard[SILENT_BEATS - 1])[0]
    assert len(decoder.feed(burst(10, kind=kind))) == 1
    again = [decoder.feed(beat(number)) for number in range(11, 20)]
    assert sum(map(len, again)) == 1


def test_a_gauge_that_answers_on_request_may_be_silent() -> None:
    decoder, _ = decoder_of("N52")
    assert [decoder.feed(beat(number)) for number in range(20)] == [[]] * 20


def test_a_request_without_an_answer_is_a_fault_that_says_so() -> None:
    decoder, keeper = decoder_of("N52")
    assert "did not answer" in reasons(decoder.feed(line(1, "N52")))[0]
    assert keeper.bursts == []


def test_bursts_of_another_kind_are_faults() -> None:
    decoder, keeper = decoder_of("N52")
    (reason,) = reasons(decoder.feed(burst(1)))
    assert "B24" in reason
    assert "N52" in reason
    assert keeper.bursts == []


def test_a_stated_port_hears_only_its_own_gauge() -> None:
    decoder, keeper = decoder_of(port=1)
    assert decoder.feed(burst(1) + line(2, "KEY") + burst(3, kind="N52")) == []
    (_, key) = decoder.feed(burst(4, port=1) + line(5, "KEY", port=1))
    assert len(keeper.bursts) == 1
    assert isinstance(key, Ident)
    assert "port 1" in key.text


def test_without_a_stated_port_two_gauges_are_not_read_as_one() -> None:
    decoder, keeper = decoder_of()
    decoder.feed(burst(1, port=2))
    (reason,) = reasons(decoder.feed(burst(2, port=1)))
    assert "port 1" in reason
    decoder.reset()
    assert len(reasons(decoder.feed(burst(3, port=1)))) == 1, "the port is kept over a reset"
    assert len(decoder.feed(burst(4, port=2))) == 1
    assert len(keeper.bursts) == 2


def test_the_bits_are_handed_on_as_they_were_on_the_wire() -> None:
    decoder, keeper = decoder_of()
    decoder.feed(burst(1))
    (given,) = keeper.bursts
    assert (given.bits(), given.packed) == (tuple(BITS), pack(BITS))


def test_an_unknown_kind_of_burst_cannot_be_decoded() -> None:
    with pytest.raises(ValueError, match="B99"):
        BridgeDecoder(BurstKeeper(), "B99")
