"""One standard deviation from many short series."""

from __future__ import annotations

import math

import pytest
from stat_data import load

from gaugelink.statistics.pooled import pooled_std


def test_repeatability_of_the_aiag_example() -> None:
    study = load("stat_aiag_rr.json")
    pooled = pooled_std(study["groups"])
    published = study["published"]
    assert pooled.dof == published["repeatability_dof"]
    squares = pooled.std**2 * pooled.dof
    assert squares == pytest.approx(published["repeatability_ss"], abs=5e-5)
    assert squares == pytest.approx(study["recomputed"]["repeatability_ss"], abs=5e-9)
    assert pooled.std == pytest.approx(study["recomputed"]["pooled_std"], abs=5e-7)


def test_by_hand_and_groups_of_one_say_nothing() -> None:
    # squares 2 and 2 over one degree of freedom each
    pooled = pooled_std([[1.0, 3.0], [10.0, 12.0], [500.0], []])
    assert (pooled.std, pooled.dof) == (pytest.approx(math.sqrt(2.0)), 2)


def test_nothing_to_pool_is_refused() -> None:
    with pytest.raises(ValueError, match="two values"):
        pooled_std([[1.0], [2.0]])
