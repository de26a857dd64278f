"""What a check proves: zeros and readings of known lengths, and a decision with guard band.

Blocks and pins check the outside faces, a ring or two pins or blocks held apart the inside ones,
a step or a stack of blocks the depth rod. All share the zero of the closed outside faces, as in a
job. In a ring of diameter D the inside jaws read the chord of their flats, D - T^2 / (2 D), by
``measurand_model``; what is not known of T opens the bias as it opens a bore.

All in mm, for one known length L with n readings and n_z zeros::

    bias    = mean - zero - L
    u^2(bias) = s^2/n + q^2/12 + u^2(zero) + u^2(L) + u^2(temperature)

    zero    = midway between the mean of the n_z zeros before and the one after
    u^2(zero) = s_z^2 (1/n_z + 1) / 4 + (drift/2)^2 / 3 + q_z^2/12

with s, s_z the standard deviations and q, q_z the digital steps of readings and zeros.
The gauge's own limit is not part of it: that is what is being decided on.

A stated limit holds, or does not, where the uncertainty leaves no doubt (ISO 14253-1): the
bias lies within +-MPE, or beyond one of the two, with a probability of 95 %, by
``uncertainty.conformity``. Where 2 MPE is more than some 4 u that is the guard band g = 1.645 u,

    pass where |bias| <= MPE - g,  fail where |bias| >= MPE + g,  undecided between;

a rougher check passes nothing.

Cg and Cgk are those of the type-1 study, common practice: for a tolerance T of what is
to be measured, Cg = 0.2 T / (6 s) and Cgk = (0.1 T - |bias|) / (3 s); 1.33 is the usual
demand. They are shown and decide nothing.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from gaugelink.errors import InputError, StatisticsError
from gaugelink.gauge_record import CheckVerdict, Face, JawFlats, LengthFound, ZeroFound
from gaugelink.model import GaugeKind, Reading, Series
from gaugelink.statistics.moments import mean, std
from gaugelink.uncertainty import conformity, estimate
from gaugelink.uncertainty.estimate import Estimate
from gaugelink.uncertainty.measurand_model import (
    BENCH,
    STEEL,
    Shortfall,
    assumed_shortfall,
    expansion_gap_per_k,
)

GUARD_FACTOR = round(conformity.guard_band(1.0), 3)  # 1.645, which ISO 14253-1 prints as 1.65
USUAL_CG = 1.33
# Blocks and pins that are typed without an uncertainty: common practice for a bench set.
KNOWN_LENGTH_U_MM = 0.001
# How closely a barrel and a spring need to be known, from end to end: common practice.
TOLERANCE_MM: Mapping[GaugeKind, float] = {GaugeKind.CALIPER: 0.10, GaugeKind.MICROMETER: 0.02}


class Standard(StrEnum):
    """What holds a known length; the name is that of its option and of its readings."""

    LENGTH = "length"  # a block or pin between the outside faces
    RING = "ring"
    GAP = "gap"  # between two pins or blocks held apart
    STEP = "step"  # or a stack of blocks beside a flat

    @property
    def face(self) -> Face:
        """The faces of a gauge that read it."""
        if self is Standard.STEP:
            return Face.DEPTH
        return Face.OUTSIDE if self is Standard.LENGTH else Face.INSIDE


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownLength:
    """A known length in mm with its standard uncertainty, and what holds it."""

    value_mm: float
    u_mm: float = KNOWN_LENGTH_U_MM
    standard: Standard = Standard.LENGTH

    def __post_init__(self) -> None:
        if not (math.isfinite(self.value_mm) and self.value_mm > 0.0):
            raise InputError(
                f"A known length of {self.value_mm:g} mm is not possible.",
                hint="Give a block or pin by its size, such as 5.000.",
            )


def zero_found(zeros: Series) -> ZeroFound:
    """Reduce the zero indications of a check, the last one taken after the lengths.

    A single zero before is compared with the one after for its scatter.

    Raises:
        StatisticsError: fewer than two.
    """
    *before_mm, after_mm = _values_mm(zeros)
    drift_mm = after_mm - mean(before_mm)
    repeated_mm = before_mm if len(before_mm) > 1 else [*before_mm, after_mm]
    return ZeroFound(
        n=len(before_mm) + 1,
        mean_mm=mean(before_mm) + drift_mm / 2.0,
        std_mm=std(repeated_mm),
        dof=len(repeated_mm) - 1,
        drift_mm=drift_mm,
        resolution_mm=_step_mm(zeros.readings),
    )


def zero_u_mm(zero: ZeroFound) -> float:
    """Return the standard uncertainty of the zero of a check, in mm: u(zero) above."""
    return math.hypot(
        zero.std_mm * math.sqrt(1.0 / (zero.n - 1) + 1.0) / 2.0,
        estimate.rectangular(abs(zero.drift_mm) / 2.0),
        estimate.resolution(zero.resolution_mm),
    )


def length_found(
    readings: Series,
    known: KnownLength,
    zero: ZeroFound,
    *,
    mpe_mm: float,
    tolerance_mm: float,
    flats: JawFlats | None = None,
) -> LengthFound:
    """Decide whether the readings of a known length, in mm, keep the limit of the gauge.

    The equations stand at the top of this module. Every reading counts: a check that
    leaves out what does not please it checks nothing.

    Args:
        readings: two or more of the known length.
        known: its size.
        zero: the zeros of the same check.
        mpe_mm: limit of these faces of the gauge, a half-width, not negative.
        tolerance_mm: tolerance for Cg and Cgk, above zero.
        flats: of the inside jaws, None when nobody measured them.

    Raises:
        StatisticsError: fewer than two readings.
    """
    values_mm = _values_mm(readings)
    std_mm = std(values_mm)
    short = _short_of(known, flats)
    bias_mm = mean(values_mm) - zero.mean_mm - (known.value_mm - short.mean_mm)
    u_mm = math.hypot(_u_of_bias_mm(readings, std_mm, known, zero), short.std_mm)
    return LengthFound(
        known_mm=known.value_mm,
        u_known_mm=known.u_mm,
        n=len(values_mm),
        mean_mm=mean(values_mm),
        std_mm=std_mm,
        bias_mm=bias_mm,
        u_bias_mm=u_mm,
        mpe_mm=mpe_mm,
        guard_mm=GUARD_FACTOR * u_mm,
        verdict=decide(bias_mm, u_mm, mpe_mm),
        tolerance_mm=tolerance_mm,
        cg=capability(std_mm, tolerance_mm),
        cgk=capability_with_bias(std_mm, bias_mm, tolerance_mm),
        face=known.standard.face,
    )


def _short_of(known: KnownLength, flats: JawFlats | None) -> Shortfall:
    """By how much inside jaws at best read short of a known length: only in a ring."""
    if known.standard is not Standard.RING:
        return Shortfall(mean_mm=0.0, std_mm=0.0)
    if flats is None:
        return assumed_shortfall(known.value_mm)
    chord_mm = math.sqrt(max(known.value_mm**2 - flats.width_mm**2, 0.0))
    slope = flats.width_mm / chord_mm if chord_mm else 1.0
    return Shortfall(mean_mm=known.value_mm - chord_mm, std_mm=slope * flats.u_mm)


def decide(bias_mm: float, u_mm: float, mpe_mm: float) -> CheckVerdict:
    """Decide whether a bias lies within a limit either way, proven at 95 %: ISO 14253-1.

    Beyond means beyond one limit: what is too rough to lie within two close ones has not failed.

    >>> [str(decide(bias_mm, 0.004, 0.020)) for bias_mm in (0.012, 0.020, -0.027)]
    ['pass', 'undecided', 'fail']
    """
    bias = Estimate(
        label="bias", value=bias_mm, u=u_mm, dof=math.inf, unit="mm", low=-math.inf, high=math.inf
    )
    limits = conformity.Zone(low=-mpe_mm, high=mpe_mm) if mpe_mm > 0.0 else None
    if limits and conformity.probability_within(bias, limits) >= conformity.PROVEN:
        return CheckVerdict.PASS
    above = conformity.probability_above(bias, mpe_mm)
    below = conformity.probability_below(bias, -mpe_mm)
    return CheckVerdict.FAIL if max(above, below) >= conformity.PROVEN else CheckVerdict.UNDECIDED


def capability(std_mm: float, tolerance_mm: float) -> float | None:
    """Return Cg = 0.2 T / (6 s), a pure number; None where all readings were equal."""
    return 0.2 * tolerance_mm / (6.0 * std_mm) if std_mm > 0.0 else None


def capability_with_bias(std_mm: float, bias_mm: float, tolerance_mm: float) -> float | None:
    """Return Cgk = (0.1 T - |bias|) / (3 s), a pure number; None where all were equal."""
    return (0.1 * tolerance_mm - abs(bias_mm)) / (3.0 * std_mm) if std_mm > 0.0 else None


def _u_of_bias_mm(readings: Series, std_mm: float, known: KnownLength, zero: ZeroFound) -> float:
    return math.hypot(
        std_mm / math.sqrt(len(readings.readings)),
        estimate.resolution(_step_mm(readings.readings)),
        zero_u_mm(zero),
        known.u_mm,
        known.value_mm * expansion_gap_per_k(STEEL) * BENCH.u,  # a steel block
    )


def _values_mm(series: Series) -> list[float]:
    if len(series.readings) < 2:
        raise StatisticsError(
            f"{len(series.readings)} reading of {series.measurand.replace('_', ' ')} is too few "
            "for a check.",
            hint="Take at least two; ten are usual.",
        )
    return [reading.value_mm for reading in series.readings]


def _step_mm(readings: Sequence[Reading]) -> float:
    return max(reading.resolution_mm for reading in readings)
