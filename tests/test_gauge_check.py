"""The numbers of a check, and the decision with its guard band."""

from __future__ import annotations

import math
from random import Random

import pytest
from gauge_samples import series

from gaugelink.errors import InputError, StatisticsError
from gaugelink.gauge_check import (
    GUARD_FACTOR,
    KnownLength,
    Standard,
    capability,
    capability_with_bias,
    decide,
    length_found,
    zero_found,
    zero_u_mm,
)
from gaugelink.gauge_record import CheckVerdict, Face, JawFlats, LengthFound, ZeroFound

PASS, UNDECIDED, FAIL = CheckVerdict.PASS, CheckVerdict.UNDECIDED, CheckVerdict.FAIL
ZEROS = (0.00, 0.01, 0.00, 0.01, 0.02)
READ = (5.01, 5.02, 5.01, 5.00, 5.01)


def zero(values: tuple[float, ...] = ZEROS) -> ZeroFound:
    return zero_found(series("zero", values))


def found(
    read: tuple[float, ...] = READ, *, mpe_mm: float = 0.02, zeros: tuple[float, ...] = ZEROS
) -> LengthFound:
    known = KnownLength(value_mm=5.0, u_mm=0.0003)
    return length_found(series("length", read), known, zero(zeros), mpe_mm=mpe_mm, tolerance_mm=0.1)


def test_zero_lies_midway_between_those_before_and_the_one_after() -> None:
    z = zero()
    assert (z.n, z.dof, z.resolution_mm) == (5, 3, 0.01)
    assert z.drift_mm == pytest.approx(0.015)
    assert z.mean_mm == pytest.approx(0.0125)
    assert z.std_mm == pytest.approx(0.01 / math.sqrt(3))  # of 0, 0.01, 0, 0.01


def test_zero_uncertainty_by_hand() -> None:
    """s_z^2 (1/4 + 1)/4 + (0.0075)^2/3 + 0.01^2/12."""
    variance = (0.01**2 / 3) * (0.25 + 1.0) / 4 + 0.0075**2 / 3 + 0.01**2 / 12
    assert zero_u_mm(zero()) == pytest.approx(math.sqrt(variance))


def test_a_single_zero_before_is_compared_with_the_one_after() -> None:
    z = zero((0.00, 0.02))
    assert (z.dof, z.mean_mm, z.drift_mm) == (1, pytest.approx(0.01), pytest.approx(0.02))
    assert z.std_mm == pytest.approx(0.02 / math.sqrt(2))


def test_bias_and_its_uncertainty_by_hand() -> None:
    each = found()
    assert each.mean_mm == pytest.approx(5.01)
    assert each.bias_mm == pytest.approx(5.01 - 0.0125 - 5.0)
    assert each.std_mm == pytest.approx(math.sqrt(0.0002 / 4))
    variance = 0.0002 / 4 / 5 + 0.01**2 / 12 + zero_u_mm(zero()) ** 2 + 0.0003**2
    # Two steels differ by 0.8e-6/K; 5 mm of it at 5.8 K is 0.02 um.
    assert each.u_bias_mm == pytest.approx(math.sqrt(variance), rel=1e-4)
    assert each.guard_mm == pytest.approx(1.645 * each.u_bias_mm)
    assert (each.n, each.known_mm, each.u_known_mm) == (5, 5.0, 0.0003)


def test_the_limit_itself_is_no_part_of_the_uncertainty() -> None:
    assert found(mpe_mm=0.5).u_bias_mm == found(mpe_mm=0.02).u_bias_mm


@pytest.mark.parametrize(
    ("bias_mm", "u_mm", "mpe_mm", "verdict"),
    [
        # ISO 14253-1: limits narrowed and widened by g = 1.645 u; here g = 0.00658.
        (0.0, 0.004, 0.02, PASS),
        (0.0133, 0.004, 0.02, PASS),
        (-0.0133, 0.004, 0.02, PASS),
        (0.0135, 0.004, 0.02, UNDECIDED),
        (0.0265, 0.004, 0.02, UNDECIDED),
        (-0.0265, 0.004, 0.02, UNDECIDED),
        (0.0267, 0.004, 0.02, FAIL),
        (-0.0267, 0.004, 0.02, FAIL),
        # Too rough a check proves nothing of a fine gauge, however small the bias.
        (0.0, 0.003, 0.004, UNDECIDED),
        # P(-0.004 .. 0.004) = 0.904 and 0.954: the two limits are closer than 4 u.
        (0.0, 0.0024, 0.004, UNDECIDED),
        (0.0, 0.0020, 0.004, PASS),
        (0.0, 0.004, 0.0001, UNDECIDED),
        (0.0, 0.004, 0.0, UNDECIDED),
        (0.0067, 0.004, 0.0, FAIL),
        (0.02, 0.0, 0.02, PASS),
        (0.021, 0.0, 0.02, FAIL),
    ],
)
def test_the_decision_keeps_its_guard_band(
    bias_mm: float, u_mm: float, mpe_mm: float, verdict: CheckVerdict
) -> None:
    assert decide(bias_mm, u_mm, mpe_mm) is verdict


def test_a_gauge_at_its_limit_passes_and_fails_by_mistake_one_time_in_twenty() -> None:
    """What the one-sided 95 % of the guard band means, drawn."""
    rng, u_mm, trials = Random(5), 0.004, 20_000
    verdicts = [decide(0.02 + rng.gauss(0.0, u_mm), u_mm, 0.02) for _ in range(trials)]
    for wrong in (PASS, FAIL):
        assert verdicts.count(wrong) / trials == pytest.approx(0.05, abs=0.006)
    assert GUARD_FACTOR == 1.645


@pytest.mark.parametrize(
    ("read", "mpe_mm", "verdict"),
    [
        (READ, 0.05, PASS),
        (READ, 0.01, UNDECIDED),
        ((5.10, 5.11, 5.10, 5.10, 5.11), 0.02, FAIL),
        ((4.90, 4.91, 4.90, 4.90, 4.91), 0.02, FAIL),
    ],
)
def test_readings_lead_to_a_verdict(
    read: tuple[float, ...], mpe_mm: float, verdict: CheckVerdict
) -> None:
    assert found(read, mpe_mm=mpe_mm).verdict is verdict


def test_capability_by_its_definition() -> None:
    """Type-1 study: Cg = 0.2 T / 6 s, Cgk = (0.1 T - |bias|) / 3 s; computed by hand."""
    assert capability(0.002, 0.12) == pytest.approx(2.0)
    assert capability_with_bias(0.002, -0.003, 0.12) == pytest.approx(1.5)
    assert capability_with_bias(0.002, 0.015, 0.12) == pytest.approx(-0.5)
    each = found()
    assert each.cg == pytest.approx(0.2 * 0.1 / (6 * each.std_mm))
    assert each.cgk == pytest.approx((0.01 - abs(each.bias_mm)) / (3 * each.std_mm))


def test_equal_readings_have_no_capability_and_keep_the_uncertainty_of_the_step() -> None:
    each = found((5.01,) * 5, zeros=(0.0,) * 5)
    assert (each.cg, each.cgk, each.std_mm) == (None, None, 0.0)
    assert each.u_bias_mm > 0.01 / math.sqrt(6)


@pytest.mark.parametrize("values", [(), (5.0,)])
def test_fewer_than_two_readings_are_no_check(values: tuple[float, ...]) -> None:
    with pytest.raises(StatisticsError, match="too few") as caught:
        found(values)
    assert caught.value.hint
    with pytest.raises(StatisticsError, match="too few"):
        zero(values)


def test_a_reading_far_off_is_not_left_out() -> None:
    clean = (5.00,) * 6
    assert found((*clean, 5.30)).mean_mm == pytest.approx(5.0 + 0.30 / 7)


@pytest.mark.parametrize("value_mm", [0.0, -5.0, math.nan, math.inf])
def test_a_known_length_is_above_zero(value_mm: float) -> None:
    with pytest.raises(InputError, match="not possible"):
        KnownLength(value_mm=value_mm)


def with_standard(
    standard: Standard, read: tuple[float, ...], flats: JawFlats | None = None
) -> LengthFound:
    known = KnownLength(value_mm=11.0, u_mm=0.0003, standard=standard)
    return length_found(
        series("x", read), known, zero(), mpe_mm=0.04, tolerance_mm=0.1, flats=flats
    )


READ_INSIDE = (11.01, 11.02, 11.01, 11.00, 11.01)


@pytest.mark.parametrize(
    ("standard", "face"),
    [
        (Standard.LENGTH, Face.OUTSIDE),
        (Standard.RING, Face.INSIDE),
        (Standard.GAP, Face.INSIDE),
        (Standard.STEP, Face.DEPTH),
    ],
)
def test_what_holds_the_length_tells_the_faces(standard: Standard, face: Face) -> None:
    assert with_standard(standard, READ_INSIDE).face is face


def test_inside_jaws_read_the_chord_of_a_ring_and_the_whole_of_a_gap() -> None:
    gap, ring = (with_standard(s, READ_INSIDE) for s in (Standard.GAP, Standard.RING))
    known = with_standard(Standard.RING, READ_INSIDE, JawFlats(width_mm=0.5, u_mm=0.02))
    assert gap.bias_mm == pytest.approx(11.01 - 0.0125 - 11.0)
    assert ring.bias_mm - gap.bias_mm == pytest.approx(0.3**2 / 6 / 11.0, rel=1e-3)
    assert ring.u_bias_mm > gap.u_bias_mm
    assert known.bias_mm - gap.bias_mm == pytest.approx(0.5**2 / 2 / 11.0, rel=1e-3)
    slope = 0.5 / 11.0
    assert known.u_bias_mm**2 - gap.u_bias_mm**2 == pytest.approx((slope * 0.02) ** 2, rel=1e-2)
