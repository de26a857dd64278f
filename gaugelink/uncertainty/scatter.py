"""What a gauge scatters by itself, and what the readings of a part tell beyond that.

A hand-held caliper repeats to about 0.01 mm and a micrometer to about 0.001 mm, one step of
their usual displays (common practice), whatever the last digit is: a finer display does not
make the hand steadier. A check of the gauge may find more.

**The hand.** What the series of one gauge scatter in a job, pooled, is how the hand uses it:

    s_h^2 = sum(nu_i s_i^2) / sum(nu_i)

Bore and arbor are read around the part, and their form is in their scatter: they count with no
more than the largest scatter of the other series. So a single reading, the closed faces of a zero
and the form of another part are not taken to scatter less than the hand was seen to.

**Form.** Readings taken around a part, all in mm::

    x_i = D + f_i + e_i

    D     the mean diameter
    f_i   form: for an oval bore a cos(2 theta_i), for a snail-shaped hub anything
          from -R/2 to R/2 alike
    e_i   the gauge's own scatter, standard deviation s_g with nu_g degrees of freedom

The readings are taken anywhere over half a turn, so their variance is that of form and
gauge together: s^2 estimates a^2/2 + s_g^2 for the bore and R^2/12 + s_g^2 for the hub.
Form is *seen* only where s^2 / s_g^2 exceeds what scatter alone reaches once in a
hundred series (an F test); a smaller spread is noise, and nothing is made of it. s_g is what the
gauge is stated to repeat to, taken as known, or what its check or the hand shows, if more.
Even then it is a possibility: a shaky hold looks the same. How much a
form that is seen may shift the mean is part of s / sqrt(n) already: readings at places chosen
at random sample the form as they sample the noise. A part that was not turned shows none of
its form, whatever is computed here.

**The mean.** Three readings say little of their own scatter: t at 95 % is 4.3 for two degrees
of freedom. A gauge that was checked has shown its scatter with the nine of ten readings
or more, and that is knowledge beforehand of the scatter on a part:

    s_0^2 = (nu_c s_c^2 + nu s^2) / (nu_c + nu)

with nu_c + nu degrees of freedom. GUM 4.2.4 and EA-4/02, example S4, pool in this way
where one scatter holds for both. It does not quite: a part is held otherwise than a gauge
block. So the check counts for as many readings as say how well it foretells another
occasion: 1 / nu_c = 1 / nu_check + 1 / nu_b, with nu_b for the scatter from one occasion
to the next. G. K. Smyth, Statistical Applications in Genetics and Molecular Biology 3
(2004), article 3 (from memory) calls this the moderated t; it is exact where variances
differ between occasions as nu_b / chi^2 does. Readings that scatter more than the check
allows (an F test at 1 %) are not foretold by it: a part out of round, a rough face, a shaky
hold. They speak for themselves.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import NamedTuple

from gaugelink.gauge_record import GaugeRecord, Repeatability
from gaugelink.model import GaugeKind, Summary
from gaugelink.statistics.student import log_incomplete_beta
from gaugelink.uncertainty.estimate import Influence, Shape

SEEN_ALPHA = 0.01
# Of the most that a sound gauge shows a steady hand scatters half: common practice.
PART_ASSUMED = 0.5
_KNOWN_DOF = 1e6  # as good as known


def own_repeatability(
    kind: GaugeKind,
    resolution_mm: float,
    record: GaugeRecord | None,
    hand: Repeatability | None = None,
) -> Repeatability:
    """Return what gauge and hand scatter by themselves, in mm, however round a part is.

    What its kind repeats to, taken as known; the last check, or the hand, where that is more.
    """
    stated_mm = repeats_to_mm(kind, resolution_mm)
    known = (checked_repeatability(resolution_mm, record), hand)
    return max(
        (Repeatability(std_mm=stated_mm, dof=math.inf), *(each for each in known if each)),
        key=lambda each: each.std_mm,
    )


class Around(NamedTuple):
    """The scatter of one series in mm with its degrees of freedom, and whether form is in it."""

    std_mm: float
    dof: int
    around: bool


def hand_of(series: Sequence[Around]) -> Repeatability | None:
    """Return how the hand uses a gauge, pooled over its series in a job; None where none tells."""
    told = [each for each in series if each.dof > 0]
    if not told:
        return None
    squares = []
    for i, each in enumerate(told):
        others = [other.std_mm for k, other in enumerate(told) if k != i]
        most_mm = max(others) if each.around and others else each.std_mm
        squares.append(each.dof * min(each.std_mm, most_mm) ** 2)
    dof = sum(each.dof for each in told)
    return Repeatability(std_mm=math.sqrt(math.fsum(squares) / dof), dof=dof)


# A miss of more than this by the mean of several sweeps is seen: judgement.
MOST_MISSED_MM = 0.03
# Mean over standard deviation of what an angle anywhere within bounds alike makes a sweep miss,
# which goes with its square: (1 / 3) / sqrt(1 / 5 - 1 / 9). Of a normal angle it is 0.71, of
# misses that are exponential 1.
MISSED_PER_SCATTER = math.sqrt(5.0) / 2.0


def missed_mm(kind: GaugeKind, std_mm: float, step_mm: float, record: GaugeRecord | None) -> float:
    """Return by how much at most, in mm, the mean of sweeps is short of what they sought.

    Each reading of a sweep lies on one side of the size, by its miss, so that misses show
    as scatter beyond the gauge's own: sqrt(s^2 - s_g^2). No hand is taken to be steadier than
    half of what the gauge's kind repeats to.

    Args:
        kind: of the gauge.
        std_mm: standard deviation of the readings.
        step_mm: display step.
        record: what is known of the gauge.
    """
    check = checked_repeatability(step_mm, record)
    own_mm = PART_ASSUMED * REPEATS_TO_MM[kind]
    if check is not None:
        own_mm = max(own_mm, check.std_mm)
    beyond_mm = math.sqrt(max(std_mm**2 - own_mm**2, 0.0))
    return MISSED_PER_SCATTER * min(beyond_mm, MOST_MISSED_MM)


def form_std_mm(std_mm: float, dof: float, own: Repeatability) -> float:
    """Return the standard deviation in mm that form adds to the readings; 0 where none is seen.

    sqrt(s^2 - s_g^2), the model at the top of this module.

    Args:
        std_mm: s of the readings, with ``dof`` degrees of freedom.
        dof: one less than the readings, 1 or more.
        own: what gauge and hand scatter by themselves.
    """
    if std_mm <= own.std_mm or f_tail((std_mm / own.std_mm) ** 2, dof, own.dof) >= SEEN_ALPHA:
        return 0.0
    return math.sqrt(std_mm**2 - own.std_mm**2)


def out_of_round_mm(form_std_mm: float) -> float:
    """Return largest less smallest diameter of an oval bore in mm, 2 a = 2 sqrt(2) s_form."""
    return 2.0 * math.sqrt(2.0) * form_std_mm


def hub_rise_mm(form_std_mm: float) -> float:
    """Return largest less smallest width of a snail-shaped hub in mm, R = sqrt(12) s_form."""
    return math.sqrt(12.0) * form_std_mm


def f_tail(ratio: float, dof: float, own_dof: float) -> float:
    """Return P(F > ratio) for two sample variances of one distribution, a probability.

    I_x(nu_2 / 2, nu_1 / 2) with x = nu_2 / (nu_2 + nu_1 F): Abramowitz and Stegun 26.6.2.

    Args:
        ratio: first variance over the second, > 0.
        dof: degrees of freedom of the first.
        own_dof: degrees of freedom of the second.
    """
    own_dof = min(own_dof, _KNOWN_DOF)
    a, b = own_dof / 2.0, dof / 2.0
    x = own_dof / (own_dof + dof * ratio)
    if x < (a + 1.0) / (a + b + 2.0):  # where the continued fraction converges
        return math.exp(log_incomplete_beta(a, b, x))
    return -math.expm1(log_incomplete_beta(b, a, 1.0 - x))


REPEATS_TO_MM: Mapping[GaugeKind, float] = {GaugeKind.CALIPER: 0.01, GaugeKind.MICROMETER: 0.001}


def repeats_to_mm(kind: GaugeKind, step_mm: float, record: GaugeRecord | None = None) -> float:
    """Return the largest standard deviation in mm that a sound gauge is expected to show.

    The scatter of the last check counts where it is larger.

    >>> repeats_to_mm(GaugeKind.MICROMETER, 0.0001)
    0.001
    """
    check = record.last_check if record else None
    found_mm = check.repeatability.std_mm if check else 0.0
    return max(step_mm, REPEATS_TO_MM[kind], found_mm)


def checked_repeatability(step_mm: float, record: GaugeRecord | None) -> Repeatability | None:
    """Return the scatter in mm that the last check of a gauge found; None without one.

    A display that never moved in its check still hides step / sqrt(12).
    """
    check = record.last_check if record else None
    if check is None:
        return None
    found = check.repeatability
    return Repeatability(std_mm=max(found.std_mm, step_mm / math.sqrt(12.0)), dof=found.dof)


# The scatter changes by a factor of about 1.5 from one occasion to the next (common
# practice), as ln s of four degrees of freedom does: sqrt(trigamma(nu / 2)) / 2 = 0.40.
DOF_BETWEEN = 4.0


def _dof_of_another_day(check: Repeatability) -> float:
    """Return what the scatter of a check is worth in a job, where it may be another."""
    return 1.0 / (1.0 / check.dof + 1.0 / DOF_BETWEEN)


def scatter_of_mean(summary: Summary, record: GaugeRecord | None) -> Influence:
    """Return the type A influence of the mean of two readings or more, in mm.

    Raises:
        ValueError: a single reading has no scatter.
    """
    if summary.u_mean_mm is None or summary.std_mm is None:
        raise ValueError(f"{summary.measurand} has no scatter")
    u_mm, dof = summary.u_mean_mm, float(summary.dof)
    check = checked_repeatability(summary.resolution_mm, record)
    if check is not None and not scatters_more(
        Repeatability(std_mm=summary.std_mm, dof=dof), check.std_mm, check.dof
    ):
        known = _dof_of_another_day(check)
        variance = (known * check.std_mm**2 + dof * summary.std_mm**2) / (known + dof)
        allowed = u_mm**2 - summary.std_mm**2 / summary.n_used  # for doubt, see type_a
        u_mm, dof = math.sqrt(variance / summary.n_used + max(allowed, 0.0)), known + dof
    label = f"{summary.measurand} repeatability"
    return Influence(label=label, kind="A", u=u_mm, shape=Shape.STUDENT, dof=dof)


def scatters_more(seen: Repeatability, own_std: float, own_dof: float) -> bool:
    """Return whether readings scatter more than is known of the gauge, by an F test at 1 %."""
    if seen.std_mm <= own_std:
        return False
    return own_std == 0.0 or f_tail((seen.std_mm / own_std) ** 2, seen.dof, own_dof) < SEEN_ALPHA


def scatter_of_one(
    label: str,
    kind: GaugeKind,
    step_mm: float,
    record: GaugeRecord | None,
    hand: Repeatability | None,
) -> Influence:
    """Return what stands in for the scatter of a single reading of a measurand, in mm.

    What the last check found, else what the gauge's kind repeats to; the hand in this job
    where that is more. A fine display does not make it less.
    """
    check = checked_repeatability(step_mm, record)
    if check is None:
        known = Repeatability(std_mm=repeats_to_mm(kind, step_mm), dof=math.inf)
    else:
        known = Repeatability(std_mm=check.std_mm, dof=_dof_of_another_day(check))
    if hand is not None and hand.std_mm > known.std_mm:
        return _assumed(f"{label} (one reading, as the hand scatters)", hand)
    return _assumed(f"{label} (one reading, {known.std_mm:.2g} mm assumed)", known)


def _assumed(label: str, known: Repeatability) -> Influence:
    shape = Shape.NORMAL if math.isinf(known.dof) else Shape.STUDENT
    return Influence(label=label, kind="B", u=known.std_mm, shape=shape, dof=known.dof)
