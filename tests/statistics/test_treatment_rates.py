"""How often the treatment errs, by seeded simulation of a display step of one sigma."""

from __future__ import annotations

import math
import random

import pytest
from stat_data import codes

from gaugelink.statistics.known_scatter import ShownScatter, shown_by
from gaugelink.statistics.moments import Side
from gaugelink.statistics.treatment import treat

STEP_MM = 0.01
# What the rest of a job shows of such a hand.
HAND = ShownScatter(std=STEP_MM, dof=4.0)


def clean_series(rng: random.Random, n: int) -> list[float]:
    return [12.0 + STEP_MM * round(rng.gauss(0.0, 1.0)) for _ in range(n)]


@pytest.mark.parametrize(
    "n", [pytest.param(n, marks=pytest.mark.campaign if n % 6 else ()) for n in range(5, 13)]
)
def test_a_clean_series_loses_a_reading_in_less_than_two_percent(n: int) -> None:
    rng = random.Random(1000 + n)
    trials = 800
    alarms = sum(bool(treat(clean_series(rng, n), STEP_MM).rejected) for _ in range(trials))
    assert alarms / trials < 0.02


@pytest.mark.parametrize("n", [5, 6, 8, 12])
@pytest.mark.parametrize("shake", [2.0, 4.0])
@pytest.mark.parametrize("n_others", [0, 2])
def test_a_clean_hand_that_shakes_more_than_is_assumed_keeps_its_readings(
    n: int, shake: float, n_others: int
) -> None:
    """One series in a hundred, and not the 8 to 12 of a test that takes the assumed for known."""
    rng = random.Random(10 * n + n_others)
    trials = 1000
    alarms = 0
    for _ in range(trials):
        values, *others = (
            [12.0 + round(rng.gauss(0.0, 0.01 * shake), 3) for _ in range(n)]
            for _ in range(1 + n_others)
        )
        shown = shown_by(others, 0.001)
        alarms += bool(treat(values, 0.001, scatter_mm=0.01, others=shown).rejected)
    assert alarms / trials < 0.01 + 4.0 * math.sqrt(0.01 * 0.99 / trials)


@pytest.mark.campaign
@pytest.mark.parametrize("side", [Side.EITHER, Side.LOW])
@pytest.mark.parametrize("n", [5, 6, 8, 12])
@pytest.mark.parametrize("shake", [1.0, 2.0, 3.0, 6.0])
def test_the_whole_series_holds_one_percent_at_the_scatter_shown(
    side: Side, n: int, shake: float
) -> None:
    rng = random.Random(n)
    trials = 10_000
    series = (
        [12.0 + round(rng.gauss(0.0, 0.01 * shake), 3) for _ in range(n)] for _ in range(trials)
    )
    alarms = sum(bool(treat(v, 0.001, side=side, scatter_mm=0.01).rejected) for v in series)
    # Beyond three times the assumed scatter it is a little more: 1.4 % at six times, n = 8.
    nominal = 0.01 if shake <= 3.0 else 0.013
    assert alarms / trials < nominal + 3.5 * math.sqrt(nominal * (1 - nominal) / trials)


# A little below the power of the bare test: two suspects or a drift step in first.
@pytest.mark.parametrize(("n", "least"), [(6, 0.60), (8, 0.88), (10, 0.93), (12, 0.93)])
def test_a_reading_ten_sigma_off_is_found(n: int, least: float) -> None:
    rng = random.Random(2000 + n)
    trials = 300
    found = 0
    for _ in range(trials):
        values = clean_series(rng, n)
        wrong = rng.randrange(n)
        values[wrong] += 10.0 * STEP_MM
        found += treat(values, STEP_MM).rejected == {wrong}
    assert found / trials > least


@pytest.mark.parametrize(("n", "least"), [(6, 0.75), (8, 0.95), (12, 0.97)])
@pytest.mark.parametrize("second_steps", [10, 16])
def test_two_gross_readings_do_not_hide_one_another(
    n: int, least: float, second_steps: int
) -> None:
    rng = random.Random(3000 + n)
    trials = 200
    found = noticed = 0
    for _ in range(trials):
        values = clean_series(rng, n)
        first, second = rng.sample(range(n), 2)
        values[first] += 10 * STEP_MM
        values[second] += second_steps * STEP_MM
        treatment = treat(values, STEP_MM, others=HAND)
        found += treatment.rejected == {first, second}
        noticed += "two_suspects" in codes(treatment.advice)
    assert (found + noticed) / trials > least
    # Two that agree may be another size of the part: they are left out less often.
    assert found / trials > 0.55 if second_steps > 10 else found / trials < 0.75


# Three that are left of five say too little of their own scatter to find more.
@pytest.mark.parametrize(("n", "least"), [(5, 0.6), (8, 0.7), (12, 0.7)])
def test_a_fifth_of_wrong_readings_is_mostly_found(n: int, least: float) -> None:
    rng = random.Random(4000 + n)
    wrong_taken = wrong_found = good_lost = 0
    for _ in range(300):
        values = clean_series(rng, n)
        wrong = {i for i in range(n) if rng.random() < 0.2}
        for i in wrong:
            values[i] += STEP_MM * round(rng.choice([-1.0, 1.0]) * rng.uniform(6.0, 30.0))
        rejected = treat(values, STEP_MM, others=HAND).rejected
        wrong_taken += len(wrong)
        wrong_found += len(rejected & wrong)
        good_lost += len(rejected - wrong)
    assert wrong_found / wrong_taken > least
    assert good_lost / (300 * n) < 0.005
