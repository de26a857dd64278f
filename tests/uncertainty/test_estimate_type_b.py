from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import pytest
from published import load

from gaugelink.errors import InputError
from gaugelink.uncertainty import estimate


@pytest.mark.parametrize("case", load("gum_type_b")["cases"], ids=lambda c: c["clause"])
def test_published_type_b_examples(case: dict[str, Any]) -> None:
    u = getattr(estimate, case["function"])(*case["arguments"])
    assert u == pytest.approx(case["published"], abs=case["tolerance"])


def test_variance_of_copper_expansion_is_53_3e_15() -> None:
    # GUM 4.3.7, u^2 as printed
    assert estimate.rectangular(0.40e-6) ** 2 == pytest.approx(53.3e-15, abs=0.05e-15)


@pytest.mark.parametrize("bad", [-0.01, math.nan, math.inf])
@pytest.mark.parametrize("function", [estimate.rectangular, estimate.resolution])
def test_impossible_bounds_are_refused(function: Callable[[float], float], bad: float) -> None:
    with pytest.raises(InputError, match="not possible"):
        function(bad)


@pytest.mark.parametrize(("expanded_u", "k"), [(-1, 2), (1, 0), (1, -2), (1, math.nan)])
def test_impossible_certificate_is_refused(expanded_u: float, k: float) -> None:
    with pytest.raises(InputError, match="not possible"):
        estimate.stated(expanded_u, k)


def test_zero_bound_is_no_uncertainty() -> None:
    assert estimate.rectangular(0.0) == 0.0
