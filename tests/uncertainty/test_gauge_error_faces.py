"""What a check of one pair of faces does to what these faces read."""

from __future__ import annotations

import math
import random
from dataclasses import replace
from typing import Any

import pytest
from measurand_bench import CALIPER, check, record

from gaugelink.gauge_record import (
    CertificatePoint,
    CheckVerdict,
    Face,
    GaugeCheck,
    GaugeRecord,
    LengthFound,
)
from gaugelink.uncertainty.gauge_error import STRAYS_WITHIN_MM, face_correction

MPE, SHIFT = "MPE ±0.02 mm (invented), caliper", "caliper {} scale shift"
BIAS_MM, U_MM = 0.018, 0.003


def found(face: Face, **more: Any) -> LengthFound:
    (plain,) = check(0.004).lengths
    fields = {"known_mm": 11.0, "bias_mm": BIAS_MM, "u_bias_mm": U_MM, "guard_mm": 0.005}
    return replace(plain, **(fields | {"face": face} | more))


def checked(*lengths: LengthFound) -> GaugeCheck:
    return replace(check(0.004), lengths=lengths)


def corrected(
    size_mm: float, face: Face, known: GaugeRecord | None
) -> tuple[float, dict[str, float]]:
    """The correction in mm and the half-widths or u of its influences by label."""
    value_mm, terms = face_correction(size_mm, face, CALIPER, known, "bore")
    return value_mm, {t.influence.label: t.factor * t.influence.u for t in terms if t.influence.u}


LIMITS = {
    Face.OUTSIDE: {MPE: 0.02 / math.sqrt(3)},
    Face.INSIDE: {MPE: 0.02 / math.sqrt(3), SHIFT.format("inside"): 0.02 / math.sqrt(3)},
    Face.DEPTH: {MPE: 0.02 / math.sqrt(3), SHIFT.format("depth"): 0.02 / math.sqrt(3)},
}


@pytest.mark.parametrize("face", list(Face))
def test_a_check_that_was_passed_narrows_nothing_by_itself(face: Face) -> None:
    known = record(checks=(checked(found(face)),))
    assert corrected(11.0, face, None) == (0.0, pytest.approx(LIMITS[face]))
    assert corrected(11.0, face, known) == (0.0, pytest.approx(LIMITS[face]))


@pytest.mark.parametrize("face", list(Face))
def test_its_bias_is_taken_off_where_somebody_said_so(face: Face) -> None:
    known = record(checks=(checked(found(face)),), corrected=(face,))
    at = f"{face} check at 11 mm"
    assert corrected(11.0, face, known) == (-BIAS_MM, {f"caliper {at}": U_MM})
    away = {f"caliper {at}": U_MM, f"bore away from the {at}": pytest.approx(0.01 / math.sqrt(3))}
    assert corrected(11.0 + STRAYS_WITHIN_MM / 2, face, known) == (-BIAS_MM, away)
    far = corrected(60.0, face, known)[1]
    assert far[f"bore away from the {at}"] == pytest.approx(0.02 / math.sqrt(3))
    for other in set(Face) - {face}:
        assert corrected(11.0, other, known) == (0.0, pytest.approx(LIMITS[other]))


def test_the_nearest_length_corrects() -> None:
    two = checked(found(Face.INSIDE), found(Face.INSIDE, known_mm=18.0, bias_mm=-0.004))
    known = record(checks=(two,), corrected=(Face.INSIDE,))
    assert [corrected(mm, Face.INSIDE, known)[0] for mm in (10.0, 14.0, 15.0)] == [
        -BIAS_MM,
        -BIAS_MM,
        0.004,
    ]


def test_inside_faces_that_failed_open_what_they_read_until_they_pass() -> None:
    failed = checked(found(Face.INSIDE, bias_mm=-0.06, verdict=CheckVerdict.FAIL))
    passed = checked(found(Face.INSIDE))
    opened = {**LIMITS[Face.INSIDE], SHIFT.format("inside"): 0.065 / math.sqrt(3)}
    known = record(checks=(failed, passed), corrected=(Face.INSIDE,))
    assert corrected(11.0, Face.INSIDE, known) == (0.0, pytest.approx(opened))
    assert corrected(11.0, Face.DEPTH, known) == (0.0, pytest.approx(LIMITS[Face.DEPTH]))
    mended = record(checks=(passed, failed), corrected=(Face.INSIDE,))
    assert corrected(11.0, Face.INSIDE, mended)[0] == -BIAS_MM


def test_a_check_before_the_failure_corrects_no_more() -> None:
    failed = checked(found(Face.INSIDE, known_mm=18.0, bias_mm=-0.06, verdict=CheckVerdict.FAIL))
    known = record(checks=(failed, checked(found(Face.INSIDE))), corrected=(Face.INSIDE,))
    assert known.passed(Face.INSIDE) == ()
    assert corrected(11.0, Face.INSIDE, known)[0] == 0.0


def test_outside_faces_that_failed_open_all_faces() -> None:
    failed = checked(found(Face.OUTSIDE, bias_mm=0.03, verdict=CheckVerdict.FAIL))
    for face in Face:
        _, terms = corrected(5.0, face, record(checks=(failed,)))
        assert terms["MPE ±0.035 mm (failed its check), caliper"] == pytest.approx(
            0.035 / math.sqrt(3)
        )


def test_a_certificate_goes_before_a_check_of_the_outside_faces() -> None:
    point = CertificatePoint(size_mm=20.0, correction_mm=-0.004, expanded_u_mm=0.004)
    known = record(
        certificate=(point,),
        checks=(checked(found(Face.OUTSIDE), found(Face.INSIDE)),),
        corrected=(Face.OUTSIDE, Face.INSIDE),
    )
    assert corrected(10.0, Face.OUTSIDE, known)[0] == pytest.approx(-0.002)
    assert corrected(10.0, Face.INSIDE, known)[0] == -BIAS_MM


def test_a_corrected_size_covers_and_is_much_narrower() -> None:
    """Over 4000 gauges: error and shift anywhere within their limits, a check near the size.

    The error runs from the checked length to the size by what the model allows, at random.
    """
    draw = random.Random(5)
    held = narrow = 0
    n, size_mm, known_mm = 4000, 11.4, 11.0
    (u_uncorrected,) = {math.hypot(*LIMITS[Face.INSIDE].values())}
    for _ in range(n):
        scale_mm, shift_mm = draw.uniform(-0.02, 0.02), draw.uniform(-0.02, 0.02)
        run_mm = draw.uniform(-1.0, 1.0) * 0.02 * abs(size_mm - known_mm) / STRAYS_WITHIN_MM
        seen = found(Face.INSIDE, bias_mm=scale_mm + shift_mm + draw.gauss(0.0, U_MM))
        known = record(checks=(checked(seen),), corrected=(Face.INSIDE,))
        value_mm, terms = corrected(size_mm, Face.INSIDE, known)
        u_mm = math.hypot(*terms.values())
        held += abs(scale_mm + shift_mm + run_mm + value_mm) <= 1.96 * u_mm
        narrow += u_mm < u_uncorrected / 4
    assert held / n == pytest.approx(0.95, abs=0.011)
    assert narrow == n
