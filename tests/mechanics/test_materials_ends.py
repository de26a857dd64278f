from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from watch_springs import healthy

from gaugelink.errors import InputError
from gaugelink.mechanics.materials import end_named, room_of_end, shipped_ends, with_end
from gaugelink.mechanics.torque import ring_turns, usable_turns

# Common practice and memory: see gaugelink/mechanics/ends.toml. Length that does not act
# in a bore of 11 mm and room over it in mm for a thickness of 0.12 mm.
PRACTICE = {
    "hole": (math.pi * 11 / 8, math.pi * 11 / 4, 0.12, 0.12),
    "hook": (math.pi * 11 / 8, math.pi * 11 / 8, 0.12, 0.24),
    "tongue": (10, 20, 0.12, 0.24),
    "t-end": (0, 3, 0, 0),
    "brace": (10, 25, 0.12, 0.24),
    "slipping-bridle": (0.7 * math.pi * 11, math.pi * 11, 0.12, 0.144),
}


def bore_under(layer: float, covered: float) -> float:
    """By the area of the layer."""
    ring = math.pi * (5.5**2 - (5.5 - layer) ** 2) * covered / (math.pi * 11)
    return 2 * math.sqrt((math.pi * 5.5**2 - ring) / math.pi)


@pytest.mark.parametrize("end", shipped_ends(), ids=lambda end: end.name)
def test_room_of_every_end(end: object) -> None:
    least_dead, most_dead, least_room, most_room = PRACTICE[end.name]  # type: ignore[attr-defined]
    room = room_of_end(end, 11.0, 0.12)  # type: ignore[arg-type]
    assert (room.dead_mm.low, room.dead_mm.high) == pytest.approx((least_dead, most_dead))
    assert room.clear_bore_mm.high == pytest.approx(bore_under(least_room, least_dead))
    assert room.clear_bore_mm.low == pytest.approx(bore_under(most_room, most_dead))


def test_every_end_known_to_practice_is_shipped() -> None:
    assert {end.name for end in shipped_ends()} == PRACTICE.keys()
    assert {end.name for end in shipped_ends() if end.slips} == {"slipping-bridle"}


def test_layer_over_the_whole_wall_takes_its_thickness_off_the_radius() -> None:
    bridle = end_named("slipping-bridle")
    room = room_of_end(bridle, 11.0, 0.12)
    assert room.clear_bore_mm.low == pytest.approx(11 - 2 * 1.2 * 0.12)
    # 0.12 mm on the wall: 6.873 turns at half area: wall_layer of ring_model.py
    spring = healthy(bore_mm=11 - 2 * 0.12, length_mm=334.9)
    assert ring_turns(spring) == pytest.approx(6.873, abs=6e-4)


ROUNDING = 1e-12


@settings(deadline=None)
@given(st.floats(0.0, 1.0))
def test_end_that_takes_more_leaves_fewer_turns(part: float) -> None:
    bridle = end_named("slipping-bridle")
    bare = healthy()
    little = with_end(bare, bridle, length_includes_end=True, part=0.0)
    some = with_end(bare, bridle, length_includes_end=True, part=part)
    much = with_end(bare, bridle, length_includes_end=True, part=1.0)
    turns = [float(usable_turns(spring)) for spring in (much, some, little, bare)]
    assert turns[0] <= turns[1] + ROUNDING
    assert turns[1] <= turns[2] + ROUNDING
    assert turns[2] < turns[3]
    assert much.length_mm == pytest.approx(bare.length_mm - math.pi * 11)


def test_length_without_its_end_acts_whole() -> None:
    acting = with_end(healthy(), end_named("tongue"), length_includes_end=False)
    assert acting.length_mm == healthy().length_mm
    assert acting.bore_mm < 11.0


def test_ends_of_many_springs() -> None:
    thickness = np.array([0.10, 0.12])
    many = with_end(
        healthy(thickness_mm=thickness), end_named("brace"), length_includes_end=True, part=0.3
    )
    for index, e in enumerate(thickness.tolist()):
        alone = with_end(
            healthy(thickness_mm=e), end_named("brace"), length_includes_end=True, part=0.3
        )
        assert np.asarray(many.bore_mm)[index] == pytest.approx(alone.bore_mm)


def test_unknown_end_is_refused_with_the_known_ones() -> None:
    with pytest.raises(InputError) as refused:
        end_named("glue")
    assert all(name in refused.value.hint for name in PRACTICE)


@pytest.mark.parametrize("end", shipped_ends(), ids=lambda end: end.name)
def test_every_band_of_an_end_names_a_source(end: object) -> None:
    for band in (end.dead, end.room_thicknesses):  # type: ignore[attr-defined]
        unsourced = "memory" in band.source or band.source.startswith("common practice")
        assert band.from_memory == unsourced
