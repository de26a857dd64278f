"""The modified z-score: a hint, undefined where a coarse display makes it so."""

from __future__ import annotations

from typing import Any

import pytest
from stat_data import load

from gaugelink.statistics.hints import POTENTIAL_OUTLIER, modified_z_scores


@pytest.mark.parametrize("case", load("stat_modified_z.json")["cases"], ids=lambda c: c["set"])
def test_potential_outliers_of_the_nist_sets(case: dict[str, Any]) -> None:
    values = load(case["set"])["values"]
    scores = modified_z_scores(values)
    assert scores is not None
    found = {x: z for x, z in zip(values, scores, strict=True) if abs(z) > POTENTIAL_OUTLIER}
    assert sorted(found) == case["potential"]
    assert [found[x] for x in case["potential"]] == pytest.approx(case["scores"], abs=1e-4)


@pytest.mark.parametrize("values", [[], [12.0], [12.0, 12.0, 12.0, 12.01, 12.5]])
def test_no_score_where_most_readings_are_equal(values: list[float]) -> None:
    assert modified_z_scores(values) is None


def test_scores_keep_the_order_of_the_readings() -> None:
    assert modified_z_scores([3.0, 1.0, 2.0]) == pytest.approx((0.6745, -0.6745, 0.0))
