from __future__ import annotations

import math
from typing import Any

import pytest

from gaugelink.errors import InputError
from gaugelink.gauge_record import Repeatability
from gaugelink.model import GaugeInfo, GaugeKind, Sends, Summary
from gaugelink.uncertainty.estimate import Influence, Quantity, Shape, quantity_from_typed
from gaugelink.uncertainty.first_order import propagate
from gaugelink.uncertainty.gauge_error import ZeroCheck
from gaugelink.uncertainty.measurand import Face, quantity_from_summary

CALIPER = GaugeInfo(
    gauge_id="caliper",
    kind=GaugeKind.CALIPER,
    sends=Sends.BUTTON,
    address="sim:caliper",
    format="invented",
    mpe_mm=0.02,
    shift_mpe_mm=0.03,
    mpe_source="invented",
)
ZERO = ZeroCheck(before_mm=0.01, after_mm=0.03, resolution_mm=0.01)


def summary(measurand: str = "bore", **change: Any) -> Summary:
    fields: dict[str, Any] = {
        "measurand": measurand,
        "gauge_id": "caliper",
        "n_taken": 6,
        "n_used": 5,
        "mean_mm": 11.02,
        "mean_all_mm": 11.03,
        "std_mm": 0.01,
        "spread_mm": 0.02,
        "u_mean_mm": 0.0045,
        "dof": 4,
        "resolution_mm": 0.01,
    }
    return Summary(**(fields | change))


def influences(quantity: Quantity) -> dict[str, Influence]:
    return {term.influence.label: term.influence for term in quantity.terms}


def test_bore_has_every_influence_of_the_measurement_equation() -> None:
    bore = quantity_from_summary(summary(), CALIPER, ZERO, Face.INSIDE)
    us = {label: influence.u for label, influence in influences(bore).items()}
    assert us == pytest.approx(
        {
            "bore repeatability": 0.0045,
            "MPE ±0.02 mm (invented), caliper": 0.02 / math.sqrt(3),
            "caliper inside scale shift": 0.03 / math.sqrt(3),
            # Half of 0.02 mm, less what two closings differ by without a drift.
            "bore zero drift": math.sqrt((0.01**2 - 0.01**2 / 6) / 3),
            "caliper zero resolution": 0.01 / math.sqrt(12),
            # Two closings, one step either way each.
            "caliper zero repeatability (one step assumed)": 0.01 / math.sqrt(6),
        }
    )


def test_only_the_scatter_is_type_a_and_student() -> None:
    bore = influences(quantity_from_summary(summary(), CALIPER, ZERO, Face.INSIDE))
    scatter = bore.pop("bore repeatability")
    assert (scatter.kind, scatter.shape, scatter.dof) == ("A", Shape.STUDENT, 4.0)
    assert {(i.kind, i.shape, i.dof) for i in bore.values()} == {("B", Shape.RECTANGULAR, math.inf)}


@pytest.mark.parametrize(
    ("std_mm", "squares"),
    # In steps: 1 - 12 (s^2 - 0.4^2) / 5.
    [(0.0, 1.0), (0.0039, 1.0), (0.004, 1.0), (0.006, 0.52), (0.02, 0.0)],
)
def test_the_step_gives_way_to_the_scatter(std_mm: float, squares: float) -> None:
    found = summary(std_mm=std_mm, u_mean_mm=std_mm / math.sqrt(5))
    bore = influences(quantity_from_summary(found, CALIPER, ZERO, Face.INSIDE))
    left = bore["bore resolution"].u if "bore resolution" in bore else 0.0
    assert left**2 == pytest.approx(squares * 0.01**2 / 12)


@pytest.mark.parametrize("n", [2, 3, 5, 12])
def test_scatter_and_step_together_never_fall(n: int) -> None:
    before = 0.0
    for std_mm in (i / 5000 for i in range(100)):
        found = summary(std_mm=std_mm, u_mean_mm=std_mm / math.sqrt(n), n_used=n, dof=n - 1)
        bore = influences(quantity_from_summary(found, CALIPER, ZERO, Face.INSIDE))
        own = [bore[of].u for of in ("bore repeatability", "bore resolution") if of in bore]
        assert math.hypot(*own) >= before - 1e-12
        before = math.hypot(*own)


def test_the_mean_zero_is_subtracted() -> None:
    bore = quantity_from_summary(summary(), CALIPER, ZERO, Face.INSIDE)
    assert bore.value == pytest.approx(11.02 - 0.02)
    assert {t.factor for t in bore.terms if "zero" in t.influence.label} == {-1.0}


def test_a_zero_not_looked_at_again_may_have_strayed() -> None:
    """Five steps of 0.01 mm, a rectangle: GUM 4.3.7."""
    zero = ZeroCheck(before_mm=0.01, after_mm=None, resolution_mm=0.01)
    bore = quantity_from_summary(summary(), CALIPER, zero, Face.INSIDE)
    assert bore.value == pytest.approx(11.01)
    assert "bore zero drift" not in influences(bore)
    unseen = influences(bore)["bore zero drift, no zero after (±0.05 mm, judgement)"]
    assert unseen.u == pytest.approx(0.05 / math.sqrt(3))
    assert "caliper zero resolution" in influences(bore)
    closing = influences(bore)["caliper zero repeatability (one step assumed)"]
    assert closing.u == pytest.approx(0.01 / math.sqrt(3))


def test_without_a_zero_check_nothing_is_corrected() -> None:
    bore = quantity_from_summary(summary(), CALIPER, None, Face.OUTSIDE)
    assert bore.value == 11.02
    assert set(influences(bore)) == {"bore repeatability", "MPE ±0.02 mm (invented), caliper"}


@pytest.mark.parametrize(
    ("face", "shift"),
    [
        (Face.OUTSIDE, set()),
        (Face.INSIDE, {"caliper inside scale shift"}),
        (Face.DEPTH, {"caliper depth scale shift"}),
    ],
)
def test_scale_shift_belongs_to_the_face(face: Face, shift: set[str]) -> None:
    found = influences(quantity_from_summary(summary(), CALIPER, ZERO, face))
    assert {label for label in found if "shift" in label} == shift


def test_depth_and_recess_share_all_but_their_own_readings() -> None:
    depth, recess = (
        quantity_from_summary(summary(name), CALIPER, ZERO, Face.DEPTH)
        for name in ("depth", "recess")
    )
    assert influences(depth).keys() & influences(recess).keys() == {
        "MPE ±0.02 mm (invented), caliper",
        "caliper depth scale shift",
        "caliper zero resolution",
        "caliper zero repeatability (one step assumed)",
    }
    (difference,) = propagate(lambda x: {"d": x["depth"] - x["recess"]}, [depth, recess])
    own = math.hypot(0.0045, math.sqrt((0.01**2 - 0.01**2 / 6) / 3))  # scatter, drift
    assert difference.u == pytest.approx(math.sqrt(2) * own, abs=1e-12)


def test_bore_and_depth_share_the_gauge_but_not_the_face() -> None:
    bore = quantity_from_summary(summary("bore"), CALIPER, ZERO, Face.INSIDE)
    depth = quantity_from_summary(summary("depth"), CALIPER, ZERO, Face.DEPTH)
    common = influences(bore).keys() & influences(depth).keys()
    assert common == {
        "MPE ±0.02 mm (invented), caliper",
        "caliper zero resolution",
        "caliper zero repeatability (one step assumed)",
    }


SINGLE = {"n_taken": 1, "n_used": 1, "std_mm": None, "u_mean_mm": None, "dof": 0}


@pytest.mark.parametrize("step_mm", [0.01, 0.001])
def test_a_single_reading_takes_what_the_gauge_repeats_to_and_says_so(step_mm: float) -> None:
    single = summary(resolution_mm=step_mm, **SINGLE)
    found = influences(quantity_from_summary(single, CALIPER, ZERO, Face.INSIDE))
    assumed = found["bore repeatability (one reading, 0.01 mm assumed)"]
    assert assumed.u == 0.01
    assert (assumed.kind, assumed.shape, assumed.dof) == ("B", Shape.NORMAL, math.inf)


@pytest.mark.parametrize(("hand_mm", "u_mm"), [(0.02, 0.02), (0.004, 0.01)])
def test_a_single_reading_of_a_shaky_hand_scatters_like_the_others(
    hand_mm: float, u_mm: float
) -> None:
    hand = Repeatability(std_mm=hand_mm, dof=6.0)
    found = quantity_from_summary(summary(**SINGLE), CALIPER, ZERO, Face.INSIDE, None, hand)
    (scatter,) = (i for label, i in influences(found).items() if "one reading" in label)
    assert scatter.u == u_mm
    assert (scatter.shape is Shape.STUDENT) == (hand_mm > 0.01)


def test_identical_readings_keep_the_uncertainty_of_the_step() -> None:
    same = summary(std_mm=0.0, spread_mm=0.0, u_mean_mm=0.0)
    found = influences(quantity_from_summary(same, CALIPER, None, Face.OUTSIDE))
    assert set(found) == {"bore resolution", "MPE ±0.02 mm (invented), caliper"}


def test_the_wrong_gauge_is_refused() -> None:
    with pytest.raises(ValueError, match="bore was not measured with caliper"):
        quantity_from_summary(summary(gauge_id="micrometer"), CALIPER, ZERO, Face.INSIDE)


def test_a_typed_value_is_normal_and_known() -> None:
    length = quantity_from_typed("length", 340.0, 6.0)
    (term,) = length.terms
    assert (length.value, length.unit, term.factor) == (340.0, "mm", 1.0)
    assert (term.influence.u, term.influence.kind) == (6.0, "B")
    assert (term.influence.shape, term.influence.dof) == (Shape.NORMAL, math.inf)


def test_a_typed_value_without_uncertainty_is_exact() -> None:
    assert quantity_from_typed("hours", 7.5, 0.0, "h") == Quantity(
        label="hours", value=7.5, unit="h"
    )


@pytest.mark.parametrize(
    ("value", "u"), [(math.nan, 0.1), (math.inf, 0.1), (1.0, -0.1), (1.0, math.nan)]
)
def test_impossible_typed_values_are_refused(value: float, u: float) -> None:
    with pytest.raises(InputError, match="length"):
        quantity_from_typed("length", value, u)
