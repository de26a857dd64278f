"""One fault in a frame: no wrong number where the format can tell, few where it cannot."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest
from campaign import faults_of, run
from fault_tables import Table, Tally, report
from senders import SENDERS, unsent
from structural_rates import STRUCTURAL

from gaugelink.devices.profiles.profile import find_profile

pytestmark = pytest.mark.campaign

N, SEED = 8, 5
NAMES = [sender.name for sender in SENDERS]
SIGMAS = 4


@pytest.fixture(scope="module")
def tables() -> tuple[Table, Table]:
    return run(N, SEED, bore=False), run(N, SEED, bore=True)


def most(share: float) -> int:
    """Return how many of ``N`` may happen by chance at a share; none at 0."""
    return math.floor(N * share + SIGMAS * math.sqrt(N * share * (1 - share)))


def cells(tables: tuple[Table, Table], name: str) -> list[tuple[str, Tally]]:
    return [(fault, tally) for table in tables for (n, fault), tally in table.items() if n == name]


def test_every_shipped_format_is_in_the_campaign() -> None:
    """A new format of text lines may wait for its figures; a format of bits needs an encoder."""
    missing = {name for name in unsent() if find_profile(name).line is None}
    assert not missing, f"tests/faults/senders.py writes none of {', '.join(sorted(missing))}"
    assert set(STRUCTURAL) <= set(NAMES)


@pytest.mark.parametrize("name", NAMES)
def test_without_a_fault_every_value_comes_through(tables: tuple[Table, Table], name: str) -> None:
    untouched = [tally for fault, tally in cells(tables, name) if fault == "none"]
    assert [(tally.right, tally.wrong) for tally in untouched] == [(N, 0)] * 2


@pytest.mark.parametrize("name", NAMES)
def test_wrong_numbers_stay_within_what_the_format_cannot_tell(
    tables: tuple[Table, Table], name: str
) -> None:
    shares = STRUCTURAL.get(name, {})
    beyond = {
        fault: tally.wrong
        for fault, tally in cells(tables, name)
        if tally.wrong > most(shares.get(fault, 0.0))
    }
    assert beyond == {}


@pytest.mark.parametrize("name", [sender.name for sender in SENDERS if sender.bits])
def test_behind_a_bridge_no_fault_on_the_way_and_no_miscount_makes_a_number(name: str) -> None:
    allowed = {"bit flip", "lost/n", "dbl/n"} | {f for f in STRUCTURAL[name] if f.endswith("×2")}
    assert set(STRUCTURAL[name]) <= allowed
    assert not {"bit lost ×2", "bit dbl ×2"} & set(STRUCTURAL[name])


@pytest.mark.parametrize("name", [n for n in NAMES if n.startswith("bcd52")])
def test_wrong_count_of_a_bore_in_52_bits_is_caught_by_the_plan(
    tables: tuple[Table, Table], name: str
) -> None:
    bores = tables[1]
    assert [bores[name, fault].passed for fault in ("lost/n", "dbl/n")] == [0, 0]


def test_campaign_does_find_wrong_numbers(tables: tuple[Table, Table]) -> None:
    any_size, bores = tables
    assert any_size["text-input", "digit"].wrong == N
    assert any_size["host-clocked-21", "bit flip"].wrong == N
    assert sum(tally.at_once for tally in bores.values()) > N


def test_nothing_far_off_is_taken_without_a_second_look(tables: tuple[Table, Table]) -> None:
    assert [key for key, tally in tables[1].items() if tally.far] == []


def test_parity_that_is_checked_ends_what_parity_that_is_not_lets_pass(
    tables: tuple[Table, Table],
) -> None:
    for name in ("line-4800-7E2-plain", "line-9600-7E2-multi"):
        unchecked = sum(table[f"{name} - parity", "flip"].wrong for table in tables)
        assert unchecked > 0 == sum(table[name, "flip"].wrong for table in tables)


def test_table_holds_every_format_and_fault_and_is_shown(
    tables: tuple[Table, Table], record_property: Callable[[str, object], None]
) -> None:
    text = report(N, *tables)
    assert all(name in text for name in NAMES)
    assert all(
        fault in text for sender in SENDERS for fault in faults_of(sender) if fault != "none"
    )
    record_property("table", text)
