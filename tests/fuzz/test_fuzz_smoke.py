"""The fuzz targets run on their seeds, and for a moment under atheris where there is one."""

from __future__ import annotations

import subprocess
import sys
from importlib.util import find_spec
from pathlib import Path

import pytest
from targets import MAX_HELD_BYTES, SEEDS, TARGETS, held_bytes, judge, play

from gaugelink.devices.decoders import make_decoder
from gaugelink.devices.profiles.profile import find_profile
from gaugelink.model import WireEvent

pytestmark = pytest.mark.campaign

HERE = Path(__file__).parent


class Hoarder:
    """A decoder that keeps all it is fed, which the targets must notice."""

    __module__ = "gaugelink.invented"

    def __init__(self) -> None:
        self.kept = bytearray()

    def feed(self, data: bytes) -> list[WireEvent]:
        self.kept += data
        return []

    def flush(self) -> list[WireEvent]:
        return []

    def reset(self) -> None:
        self.kept.clear()


@pytest.mark.parametrize("name", TARGETS)
def test_seeds_break_nothing(name: str) -> None:
    assert SEEDS[name]
    for seed in SEEDS[name]:
        for end in range(len(seed) + 1):
            TARGETS[name](seed[:end])


def test_memory_that_grows_is_noticed() -> None:
    with pytest.raises(AssertionError, match="holds"):
        play(Hoarder(), bytes(MAX_HELD_BYTES + 1), 0)


def test_what_is_no_event_is_noticed() -> None:
    with pytest.raises(AssertionError, match="not an event"):
        judge(["11.50"])  # type: ignore[list-item]


def test_held_bytes_reach_into_the_parts_of_a_decoder() -> None:
    decoder = make_decoder(find_profile("hid-keyboard"))
    before = held_bytes(decoder)
    decoder.feed(b"\xff" + bytes(99))
    assert held_bytes(decoder) == before + 100


@pytest.mark.skipif(find_spec("atheris") is None, reason="atheris is not installed here.")
@pytest.mark.parametrize("name", TARGETS)
def test_a_moment_of_fuzzing_finds_nothing(name: str, tmp_path: Path) -> None:
    command = [sys.executable, str(HERE / "fuzz.py"), name, "-runs=500"]
    run = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, check=False)
    assert run.returncode == 0, run.stderr[-2000:]
