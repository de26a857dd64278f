"""Each measurand by its equation: which influences it has, what they share, what they cover."""

from __future__ import annotations

import math
from random import Random

import pytest
from measurand_bench import (
    CALIPER,
    MICROMETER,
    ZERO,
    check,
    combined_u,
    contributions,
    found,
    influence,
    record,
)

from gaugelink.gauge_record import Anvils, GaugeRecord, JawFlats
from gaugelink.model import DepthReference, GaugeKind
from gaugelink.uncertainty.estimate import Quantity, Shape
from gaugelink.uncertainty.first_order import propagate
from gaugelink.uncertainty.gauge_error import ZeroCheck
from gaugelink.uncertainty.measurand_model import (
    form_found_mm,
    measured_quantity,
    used_readings_mm,
)
from gaugelink.uncertainty.monte_carlo import simulate

BORE = (11.52, 11.51, 11.53, 11.52, 11.51)
OVAL = (11.52, 11.47, 11.56, 11.53, 11.44)
SNAIL = (3.70, 3.80, 3.82)

COMMON = {"MPE ±0.02 mm (invented), caliper", "caliper zero resolution", "bench temperature"}
ASSUMED_ZERO = "caliper zero repeatability (one step assumed)"
OF_ITS_OWN = {
    "bore": {"caliper inside scale shift", "caliper inside jaw flats (0 to 0.3 mm assumed)"},
    "depth": {"caliper depth scale shift", "lid not flush with the rim"},
    "recess": {"caliper depth scale shift"},
    "lid": set(),
    "arbor": {"arbor hub shape (a rise not seen)"},
    "found_thickness": {"found_thickness film and cross-curvature (0 to 5 um high)"},
    "found_height": set(),
    "something else": set(),
}


@pytest.mark.parametrize("measurand", OF_ITS_OWN)
def test_each_measurand_has_the_influences_of_its_equation(measurand: str) -> None:
    quantity = measured_quantity(
        found(measurand, [1.50, 1.50, 1.50, 1.50, 1.51, 1.50, 1.50, 1.50], zero=ZERO)
    )
    own = {f"{measurand} repeatability", f"{measurand} resolution"}
    assert set(contributions(quantity)) == COMMON | {ASSUMED_ZERO} | own | OF_ITS_OWN[measurand]
    assert quantity.label == measurand


def test_a_bore_by_a_plain_caliper_is_known_to_a_fiftieth_of_a_millimetre() -> None:
    """About 0.02 mm: common practice."""
    for values in (BORE, [11.52] * 5, [3.21, 3.22, 3.20, 3.21, 3.21]):
        bore = measured_quantity(found("bore", values, zero=ZERO))
        assert 0.016 < combined_u(bore) < 0.022


def test_a_thickness_by_micrometer_is_known_to_a_few_micrometres() -> None:
    """0.002 to 0.003 mm: common practice."""
    values = [0.130, 0.131, 0.130, 0.129, 0.130]
    zero = ZeroCheck(before_mm=0.0, after_mm=0.001, resolution_mm=0.001)
    strip = measured_quantity(found("found_thickness", values, MICROMETER, 0.001, zero=zero))
    assert strip.value == pytest.approx(0.130 - 0.0005 - 0.0025)
    assert 0.002 < combined_u(strip) < 0.0035


def test_bore_and_depth_share_the_gauge_and_nothing_of_their_faces() -> None:
    bore = measured_quantity(found("bore", BORE, zero=ZERO))
    depth = measured_quantity(found("depth", [1.92, 1.93, 1.92], zero=ZERO))
    shared = {t.influence for t in bore.terms} & {t.influence for t in depth.terms}
    assert {each.label for each in shared} == COMMON | {ASSUMED_ZERO}


def test_two_bores_of_one_gauge_share_its_jaws() -> None:
    flats = record(jaw_flats=JawFlats(width_mm=0.4, u_mm=0.05))
    one, two = (measured_quantity(found("bore", v, record=flats)) for v in (BORE, OVAL))
    label = "caliper inside jaw flats"
    assert influence(one, label) == influence(two, label)


def test_a_bore_that_may_be_out_of_round_has_the_scatter_of_its_readings() -> None:
    oval = measured_quantity(found("bore", OVAL))
    assert form_found_mm(found("bore", OVAL)) == pytest.approx(0.1336, abs=0.0001)
    scatter = influence(oval, "bore repeatability")
    assert (scatter.kind, scatter.shape, scatter.dof) == ("A", Shape.STUDENT, 4.0)
    assert scatter.u == pytest.approx(0.0483 / math.sqrt(5), rel=0.01)
    # The mean, not the middle, and what the sweeps may miss at most, halved.
    missed_mm = 0.03 * math.sqrt(5) / 2
    assert oval.value == pytest.approx(sum(OVAL) / 5 + missed_mm / 2, abs=0.002)
    missed = influence(oval, "bore maximum missed by the sweep (judgement)")
    assert missed.u == pytest.approx(missed_mm / math.sqrt(12))


def test_a_snail_is_taken_at_its_mean_and_its_shape_was_seen() -> None:
    hub = measured_quantity(found("arbor", SNAIL))
    missed_mm = 0.03 * math.sqrt(5) / 2
    assert hub.value == pytest.approx(sum(SNAIL) / 3 - missed_mm / 2)  # a width is read too large
    shape = contributions(hub)
    assert shape["arbor hub shape (mean or middle of its widths)"] * math.sqrt(3) == pytest.approx(
        sum(SNAIL) / 3 - 3.76
    )
    assert shape["arbor hub shape (a rise not seen)"] * math.sqrt(3) == pytest.approx(0.05)


@pytest.mark.parametrize("reference", DepthReference)
def test_a_depth_says_which_plane_it_goes_to(reference: DepthReference) -> None:
    depth = measured_quantity(found("depth", [1.92], depth_reference=reference))
    planes = {"lid not flush with the rim", "beam on the narrow lid seat"}
    assert len(contributions(depth).keys() & planes) == 1


def test_a_record_replaces_what_was_assumed() -> None:
    known = record(
        mpe_mm=0.01,
        shift_mpe_mm=0.005,
        resolution_mm=0.03,
        jaw_flats=JawFlats(width_mm=0.5, u_mm=0.02),
        anvils=Anvils.BALL,
        checks=(check(0.004, zero_std_mm=0.003, zero_dof=9),),
    )
    bore = measured_quantity(found("bore", BORE, zero=ZERO, record=known))
    assert contributions(bore) == pytest.approx(
        {
            # s = 0.00837 with 4 degrees of freedom; of the check 0.004 with 10, which count
            # as 1 / (1/10 + 1/4) = 2.86.
            "bore repeatability": math.sqrt((2.857 * 0.004**2 + 4 * 0.00837**2) / 6.857 / 5),
            "bore resolution": 0.03 / math.sqrt(12),
            "MPE ±0.01 mm (stated in the gauge's record), caliper": 0.01 / math.sqrt(3),
            "caliper inside scale shift": 0.005 / math.sqrt(3),
            "caliper zero resolution": -0.01 / math.sqrt(12),
            "caliper zero repeatability": -0.003 / math.sqrt(2),
            # sqrt(5) / 2 of what 0.00837 is beyond a steady hand's 0.005.
            "bore maximum missed by the sweep (judgement)": 0.00750 / math.sqrt(12),
            "caliper inside jaw flats": 0.02 * 0.5 / 11.53,
            "bench temperature": -0.00054,
        },
        rel=0.01,
    )
    assert bore.value == pytest.approx(math.hypot(11.518 + 0.00375, 0.5), abs=1e-5)
    closing = influence(bore, "caliper zero repeatability")
    assert (closing.kind, closing.shape, closing.dof) == ("A", Shape.STUDENT, 9.0)
    strip = measured_quantity(found("found_thickness", [0.13], record=known))
    assert strip.value == pytest.approx(0.13 - 0.001)


def test_two_zeros_are_too_few_to_know_their_scatter() -> None:
    rough = record(checks=(check(0.004, zero_std_mm=0.05, zero_dof=2),))
    bore = measured_quantity(found("bore", BORE, zero=ZERO, record=rough))
    assert ASSUMED_ZERO in contributions(bore)


def test_a_height_from_one_caliper_keeps_what_does_not_cancel() -> None:
    depth = measured_quantity(found("depth", [1.92, 1.93, 1.92], zero=ZERO))
    lid = measured_quantity(found("lid", [0.34, 0.34, 0.35], zero=ZERO))
    (line,) = propagate(lambda x: {"h": x["depth"] - x["lid"]}, [depth, lid])
    shares = {row.influence: row.share for row in line.rows}
    assert shares["MPE ±0.02 mm (invented), caliper"] == pytest.approx(0.0, abs=1e-12)
    assert shares["caliper depth scale shift"] > 0.5


def test_readings_that_were_rejected_do_not_pull_a_hub() -> None:
    each = found("arbor", [3.80, 3.81, 3.80, 3.81, 3.80, 3.80, 4.60])
    assert used_readings_mm([3.8, 4.6], each.summary) == (3.8, 4.6)
    assert each.used_mm == (3.80, 3.81, 3.80, 3.81, 3.80, 3.80)


def covered(quantity: Quantity, truth_mm: float, seed: int) -> bool:
    (drawn,) = simulate(dict, [quantity], coverage=0.95, draws=1500, seed=seed)
    return drawn.low <= truth_mm <= drawn.high


def rounded(value_mm: float, step_mm: float) -> float:
    return round(value_mm / step_mm) * step_mm


def bench_bore(rng: Random, half_span_mm: float) -> tuple[Quantity, float]:
    """A bore read with jaws of unknown flats by a gauge that is off in every way it may be."""
    truth_mm = rng.uniform(5.0, 15.0)
    off_mm = rng.uniform(-0.02, 0.02) + rng.uniform(-0.02, 0.02)  # error and shift
    flats_mm, noise_mm = rng.uniform(0.0, 0.3), 0.004
    zero_mm, drift_mm = rng.uniform(-0.02, 0.02), rng.uniform(-0.01, 0.01)

    def shown(value_mm: float, share: float) -> float:
        seat_mm = rng.gauss(0.0, noise_mm)
        return rounded(value_mm + zero_mm + share * drift_mm + seat_mm, 0.01)

    begin = rng.uniform(0.0, math.pi)
    values = []
    for i in range(5):
        turn = begin + math.pi / 5 * (i + rng.uniform(-0.3, 0.3))
        diameter_mm = truth_mm + half_span_mm * math.cos(2 * turn)
        chord_mm = math.sqrt(diameter_mm**2 - flats_mm**2)
        values.append(shown(chord_mm + off_mm, rng.uniform(0.1, 0.9)))
    zero = ZeroCheck(before_mm=shown(0.0, 0.0), after_mm=shown(0.0, 1.0), resolution_mm=0.01)
    return measured_quantity(found("bore", values, CALIPER, zero=zero)), truth_mm


@pytest.mark.parametrize("half_span_mm", [0.0, 0.03])
def test_intervals_of_simulated_bores_cover_the_truth(half_span_mm: float) -> None:
    rng = Random(7)
    trials = 400
    hits = sum(covered(*bench_bore(rng, half_span_mm), seed=i) for i in range(trials))
    assert hits / trials > 0.95 - 3 * math.sqrt(0.95 * 0.05 / trials)


def bench_strip(rng: Random) -> tuple[Quantity, float]:
    truth_mm = rng.uniform(0.08, 0.20)
    off_mm = rng.uniform(-0.004, 0.004) + rng.uniform(0.0, 0.005)  # the gauge, and a film
    values = [rounded(truth_mm + off_mm + rng.gauss(0.0, 0.0008), 0.001) for _ in range(5)]
    zero = ZeroCheck(before_mm=0.0, after_mm=0.0, resolution_mm=0.001)
    flat = GaugeRecord(gauge_id="micrometer", kind=GaugeKind.MICROMETER, anvils=Anvils.FLAT)
    each = found("found_thickness", values, MICROMETER, 0.001, zero=zero, record=flat)
    return measured_quantity(each), truth_mm


def test_intervals_of_simulated_springs_cover_the_truth() -> None:
    rng = Random(11)
    trials = 400
    hits = sum(covered(*bench_strip(rng), seed=i) for i in range(trials))
    assert hits / trials > 0.95 - 3 * math.sqrt(0.95 * 0.05 / trials)
