"""The firmware's collector in C, run here, agrees with a second one that works otherwise."""

from __future__ import annotations

import json
import subprocess
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from random import Random
from typing import Any

import pytest
from collector_twin import EXTRA_EDGES, GLITCHES, MAX_BITS, TRUNCATED, Burst, Edge, Rules, bursts_of
from firmware_build import build_filter, missing_compiler

from gaugelink.devices.decoders.bits import BitFlag, pack
from gaugelink.devices.decoders.bridge_line import (
    FLAG_LETTERS,
    LINE_KINDS,
    BridgeRecord,
    read_record,
)
from gaugelink.devices.decoders.formats import bit_kind
from gaugelink.devices.profiles.profile import find_profile

pytestmark = [
    pytest.mark.campaign,
    pytest.mark.skipif(bool(missing_compiler()), reason=missing_compiler()),
]

WIRE = Path(__file__).parents[2] / "fixtures" / "wire"
VECTORS: list[dict[str, Any]] = [
    vector
    for vector in json.loads((WIRE / "bits.json").read_text(encoding="utf-8"))["vectors"]
    if vector["id"][0] in "ABCD"
]
LINES = json.loads((WIRE / "bridge.json").read_text(encoding="utf-8"))["vectors"]
N_BITS = {"N52": 52, "B24": 24, "B48": 48, "B7N": 28, "B21": 21}
SLOW = Rules(n_bits=52, sample_level=0, min_pulse=20, quiet=500)
FAST = Rules(n_bits=48, sample_level=0, min_pulse=0, quiet=500)
TRAINS = 150
WRAP = 2**32


@pytest.fixture(scope="module")
def program(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return build_filter(tmp_path_factory.mktemp("collector"))


def run(program: Path, commands: Sequence[str]) -> list[str]:
    done = subprocess.run(
        [program], input="\n".join(commands) + "\n", capture_output=True, text=True, timeout=60
    )
    assert (done.returncode, done.stderr) == (0, "")
    return [line.rstrip() for line in done.stdout.splitlines()]


def script(
    edges: Sequence[Edge],
    rules: Rules,
    *,
    level: int = 1,
    start: int = 0,
    polls: Sequence[int] = (),
) -> list[str]:
    """Write the commands that show a train to the collector, then silence."""
    numbers = (rules.n_bits, rules.sample_level, rules.min_pulse, rules.quiet, rules.patience)
    looks = [(e.at, f"edge {e.at % WRAP} {e.clock} {e.data}") for e in edges]
    looks += [(at, f"quiet {at % WRAP}") for at in polls]
    last = max((at for at, _ in looks), default=start)
    ends = [
        last + rules.min_pulse,
        last + rules.min_pulse + rules.quiet,
        last + 10 * rules.patience,
    ]
    return [
        f"start {' '.join(map(str, numbers))} {level} {start % WRAP}",
        *(command for _, command in sorted(looks, key=lambda look: look[0])),
        *(f"quiet {at % WRAP}" for at in ends),
    ]


def printed(bursts: Sequence[Burst]) -> list[str]:
    return [f"burst {len(b.bits)} {b.flags} {pack(b.bits).hex().upper()}".rstrip() for b in bursts]


def clocked(bits: Sequence[int], at: int, *, low: int = 100, high: int = 100) -> Iterator[Edge]:
    for bit in bits:
        yield Edge(at=at, clock=0, data=bit)
        yield Edge(at=at + low, clock=1, data=bit)
        at += low + high


def bits_of(burst: dict[str, Any]) -> list[int]:
    packed = bytes.fromhex(burst["packed"])
    return [packed[i // 8] >> i % 8 & 1 for i in range(burst["n_bits"])]


def bits_of_a_frame(profile: str, kind: str) -> int:
    """Return what the firmware counts to; of a kind it does not know, what a reading takes."""
    read = [v for v in VECTORS if v["profile"] == profile and v["events"][0]["event"] == "frame"]
    assert kind in N_BITS or read, f"fixtures/wire/bits.json has no reading of {profile}"
    return N_BITS.get(kind) or read[0]["bursts"][0]["n_bits"]


@pytest.mark.parametrize("vector", VECTORS, ids=lambda vector: vector["id"])
def test_every_published_burst_comes_through_bit_for_bit(
    vector: dict[str, Any], program: Path
) -> None:
    fmt = find_profile(vector["profile"]).bits
    assert fmt is not None
    n_bits = bits_of_a_frame(vector["profile"], bit_kind(fmt).bridge)
    rules = Rules(n_bits=n_bits, sample_level=0, min_pulse=20, quiet=500)
    edges: list[Edge] = []
    for burst in vector["bursts"]:
        edges += clocked(bits_of(burst), at=(edges[-1].at if edges else 0) + 2000)
    out = run(program, script(edges, rules))
    assert [line.split()[1:] for line in out] == [
        [str(b["n_bits"]), _flags(b["n_bits"], n_bits), b["packed"]] for b in vector["bursts"]
    ]
    assert out == printed(bursts_of(edges, rules, level=1, start=0))


def _flags(found: int, n_bits: int) -> str:
    return str(TRUNCATED * (found < n_bits) | EXTRA_EDGES * (found > n_bits))


def random_train(random: Random, rules: Rules) -> list[Edge]:
    """Bits with glitches, repeats, lost edges, pauses and bouncing, in some trains few of them."""
    edges, at, clock = [], random.randrange(3 * rules.quiet), 1
    wild = random.choice((0.05, 1.0))
    for _ in range(random.choice((5, 60, 250))):
        kind = random.random() / wild
        if kind < 0.05:
            at += rules.quiet + random.choice((-1, 0, 1, 700))
        elif kind < 0.2:
            at += random.choice((1, 2, 5, rules.min_pulse + 1))  # mostly too short for a pulse
        elif kind < 0.25:
            at += random.choice((max(1, rules.min_pulse - 1), max(1, rules.min_pulse)))
        else:
            at += random.randrange(30, 200)
        clock = clock if random.random() < 0.03 * wild else 1 - clock  # or an edge was missed
        edges.append(Edge(at=at, clock=clock, data=random.randrange(2)))
    return edges


@pytest.mark.parametrize("min_pulse", [0, 20])
@pytest.mark.parametrize("sample_level", [0, 1])
def test_random_trains_give_the_same_bursts_whenever_the_clock_is_looked_at(
    min_pulse: int, sample_level: int, program: Path
) -> None:
    rules = Rules(n_bits=10, sample_level=sample_level, min_pulse=min_pulse, quiet=500)
    commands: list[str] = []
    expected: list[Burst] = []
    for seed in range(TRAINS):
        random = Random(seed)
        begun = random.choice((0, WRAP - 900))  # the time may wrap
        edges = [replace(e, at=e.at + begun) for e in random_train(random, rules)]
        polls = [random.randrange(begun, edges[-1].at) for _ in range(random.choice((0, 300)))]
        commands += script(edges, rules, start=begun, polls=polls)
        expected += bursts_of(edges, rules, level=1, start=begun)
    assert run(program, commands) == printed(expected)
    assert {len(burst.bits) for burst in expected} >= {1, 9, 10, 11, MAX_BITS}
    assert {burst.flags & GLITCHES for burst in expected} == {0, GLITCHES if min_pulse else 0}


def test_random_answers_to_a_request_agree_too(program: Path) -> None:
    commands: list[str] = []
    expected: list[Burst] = []
    for seed in range(TRAINS):
        edges = random_train(Random(seed), SLOW)
        first, *rest = script(edges, SLOW, polls=range(0, 3000, 97))
        commands += [first, "expect 0 0", *rest]
        expected += bursts_of(edges, SLOW, level=1, start=0, expected=True)
    assert run(program, commands) == printed(expected)
    assert () in [burst.bits for burst in expected], "one came too late to be an answer"


def test_a_lost_a_doubled_and_a_short_pulse_are_told_apart(program: Path) -> None:
    whole = list(clocked([1, 0] * 26, at=2000))
    glitch = [Edge(at=2150, clock=0, data=1), Edge(at=2155, clock=1, data=1)]
    for edges, n_bits, flags in (
        (whole, 52, 0),
        (whole[2:], 51, TRUNCATED),
        ([*whole, *clocked([1], at=whole[-1].at + 100)], 53, EXTRA_EDGES),
        ([*whole[:2], *glitch, *whole[2:]], 52, GLITCHES),
    ):
        (out,) = run(program, script(edges, SLOW))
        assert out.split()[1:3] == [str(n_bits), str(flags)]


def test_nothing_counts_before_the_first_silence(program: Path) -> None:
    part = list(clocked([1] * 10, at=100))
    whole = list(clocked([1, 0] * 26, at=part[-1].at + 600))
    (out,) = run(program, script([*part, *whole], SLOW))
    assert out.split()[1:3] == ["52", "0"]


def test_a_request_without_an_answer_gives_an_empty_burst_once(program: Path) -> None:
    lines = script([], SLOW)
    asked = [lines[0], "expect 0 32", "quiet 999", *["quiet 1000"] * 3]
    assert run(program, asked) == [f"burst 0 {TRUNCATED | 32}"]


def test_a_clock_that_only_goes_idle_is_no_answer_and_wins_no_time(program: Path) -> None:
    first, *_ = script([], SLOW, level=0)
    asked = [first, "expect 0 0", "edge 900 1 0", "quiet 999", "quiet 1000"]
    assert run(program, asked) == [f"burst 0 {TRUNCATED}"]


def test_marks_go_to_the_next_burst_and_no_further(program: Path) -> None:
    edges = [*clocked([1] * 52, at=2000), *clocked([1] * 52, at=20000)]
    first, *rest = script(edges, SLOW)
    flags = [int(line.split()[2]) for line in run(program, [first, "mark 16", "mark 8", *rest])]
    assert flags == [16, 0], "a mark of the button is kept until there is a burst, damage is not"


def test_endless_noise_ends_in_one_full_burst_and_then_needs_silence(program: Path) -> None:
    noise = list(clocked([1] * 500, at=2000))
    whole = list(clocked([0] * 52, at=noise[-1].at + 600))
    out = run(program, script([*noise, *whole], SLOW))
    assert [line.split()[1:3] for line in out] == [[str(MAX_BITS), "2"], ["52", "0"]]


@pytest.mark.parametrize("vector", LINES[:4], ids=lambda vector: vector["id"])
def test_the_firmware_writes_the_lines_of_the_fixture(
    vector: dict[str, Any], program: Path
) -> None:
    record = read_record(vector["wire"].encode())
    assert isinstance(record, BridgeRecord)
    assert run(program, [line_command(record)]) == [vector["wire"].strip()]


def line_command(record: BridgeRecord) -> str:
    letters = list(FLAG_LETTERS.values())
    flags = sum(1 << letters.index(flag) for flag in record.flags)
    text = record.packed.hex() or "-"
    return f"line {record.number} {record.port} {record.kind} {record.n_bits} {text} {flags}"


def test_whatever_line_the_firmware_writes_is_read_back(program: Path) -> None:
    random = Random(1)
    records = []
    for _ in range(200):
        n_bits = random.choice((0, 1, 24, 48, 52, 96, 255))
        packed = pack([random.randrange(2) for _ in range(n_bits)])
        records.append(
            BridgeRecord(
                number=random.randrange(1000),
                port=random.randrange(10),
                kind=random.choice(sorted(LINE_KINDS)),
                n_bits=n_bits,
                packed=packed,
                flags=frozenset(flag for flag in BitFlag if random.random() < 0.5),
                raw=b"",
            )
        )
    lines = run(program, [line_command(record) for record in records])
    for record, line in zip(records, lines, strict=True):
        found = read_record(line.encode() + b"\r\n")
        assert isinstance(found, BridgeRecord)
        assert (found.number, found.port, found.kind, found.n_bits, found.packed, found.flags) == (
            record.number, record.port, record.kind, record.n_bits, record.packed, record.flags,
        )  # fmt: skip


def test_line_numbers_go_round_at_a_thousand(program: Path) -> None:
    after = [int(out) for out in run(program, [f"after {number}" for number in range(1000)])]
    assert after == [*range(1, 1000), 0]


@pytest.mark.parametrize(
    ("sent", "obeyed"),
    [
        (r"?0\r", "1"),
        (r"I\r", "2"),
        (r"Q\rL\r", "34"),
        (r"?0\r\nI\r\n", "12"),
        (r"?1\r", ""),
        (r"?\r", ""),
        (r"?00\r", ""),
        (r"??0\r", ""),
        (r"II\rI\r", "2"),
        (r"xyz?0\r?0\r", "1"),
        (r"i\r", ""),
    ],
)
def test_only_a_whole_command_is_obeyed(sent: str, obeyed: str, program: Path) -> None:
    (out,) = run(program, [f"command 0 {sent}"])
    assert out.replace("0", "") == obeyed
