"""Which gauge is in hand: the one that was read, or that moves while the other rests."""

from __future__ import annotations

import itertools
import random

from capture_bench import DEPTH, LID, Bench, gauge, reading

from gaugelink.capture.session import REST_S, MovingHand
from gaugelink.model import GaugeKind, Sends

HZ = 20


def follow(
    hand: MovingHand, from_s: float, for_s: float, *, noise_steps: int = 0, **moving: bool
) -> list[str]:
    """Let two gauges stream, moving or at rest; return where the hand was at each frame."""
    noise = random.Random(1)
    seen = []
    for n in range(round(for_s * HZ)):
        now_s = from_s + n / HZ
        for gauge_id, is_moving in moving.items():
            at = 500 + (round(now_s * HZ) % 40) * 10 if is_moving else 500
            at += noise.randint(-noise_steps, noise_steps)
            hand.see(gauge_id, reading(f"{at / 100:.2f}"), now_s)
        seen.append(hand.gauge_id)
    return seen


def changes(seen: list[str]) -> int:
    return sum(a != b for a, b in itertools.pairwise(seen))


def test_two_gauges_in_motion_do_not_flap():
    hand = MovingHand()
    hand.take("a")
    seen = follow(hand, 0.0, 20.0, a=True, b=True)
    assert set(seen) == {"a"}


def test_the_hand_follows_once_the_first_has_rested():
    hand = MovingHand()
    follow(hand, 0.0, 2.0, a=True, b=False)
    assert hand.gauge_id == "a"
    seen = follow(hand, 2.0, 4.0, a=False, b=True)
    moved_on = seen.index("b") / HZ
    assert REST_S - 0.2 <= moved_on <= REST_S + 0.3
    assert changes(seen) == 1


def test_an_act_brings_the_hand_at_once_and_it_stays():
    hand = MovingHand()
    follow(hand, 0.0, 3.0, a=True, b=False)
    hand.take("b")
    assert hand.gauge_id == "b"
    assert set(follow(hand, 3.0, 1.0, a=True, b=False)) == {"b"}


def test_flicker_and_a_single_wrong_frame_move_nothing():
    hand = MovingHand()
    hand.take("a")
    assert set(follow(hand, 0.0, 10.0, noise_steps=2, a=False, b=False)) == {"a"}
    hand.see("b", reading("99.00"), 10.0)
    follow(hand, 10.1, 1.0, a=False, b=False)
    assert hand.gauge_id == "a"


def two() -> Bench:
    streams = [gauge(kind, Sends.STREAM) for kind in (GaugeKind.CALIPER, GaugeKind.MICROMETER)]
    return Bench(DEPTH, LID, gauges=streams)


def test_a_finished_gauge_gives_way_and_the_skip_is_of_the_gauge_in_hand():
    bench = two()
    assert bench.session.in_hand == "caliper"
    bench.rest("0.00")
    for _ in range(20):
        bench.send(reading("0.000"), 0.05, "micrometer")
    assert bench.session.in_hand == "micrometer"
    (skipped,) = bench.skip()
    assert skipped.measurand == "lid"
    for _ in range(20):
        bench.send(reading("0.000"), 0.05, "micrometer")
    bench.session.tick("micrometer", 1e9)
    assert bench.session.in_hand == "caliper"
