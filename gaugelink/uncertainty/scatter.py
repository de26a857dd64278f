"""What a gauge scatters by itself, and what the readings of a part tell beyond that.

A hand-held caliper repeats to about 0.01 mm and a micrometer to about 0.001 mm, one step of
their usual displays (common practice), whatever the last digit is: a finer display does not
make the hand steadier. A check of the gauge may find more.

**Form.** Readings taken around a part, all in mm::

    x_i = D + f_i + e_i

    D     the mean diameter
    f_i   form: for an oval bore a cos(2 theta_i), for a snail-shaped hub anything
          from -R/2 to R/2 alike
    e_i   the gauge's own scatter, standard deviation s_g with nu_g degrees of freedom

The readings are taken anywhere over half a turn, so their variance is that of form and
gauge together: s^2 estimates a^2/2 + s_g^2 for the bore and R^2/12 + s_g^2 for the hub.
Form is *seen* only where s^2 / s_g^2 exceeds what scatter alone reaches once in a
hundred series (an F test); a smaller spread is noise, and nothing is made of it. How much a
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
from collections.abc import Mapping

from gaugelink.gauge_record import GaugeRecord, Repeatability
from gaugelink.model import GaugeKind, Summary
from gaugelink.statistics.student import log_incomplete_beta
from gaugelink.uncertainty.estimate import Influence, Shape

SEEN_ALPHA = 0.01
# Of the most that a sound gauge shows: a gauge that was never checked is taken to scatter
# by half of it (common practice), and that is known to a quarter (dof: GUM G.4.2).
PART_ASSUMED = 0.5
DOF_ASSUMED = 8.0


def own_repeatability(
    kind: GaugeKind, resolution_mm: float, record: GaugeRecord | None
) -> Repeatability:
    """Return the gauge's own scatter in mm: from its last check, else what its kind repeats to.

    No check of one place makes the hand steadier that goes around a part: half of what
    the kind repeats to is the least in any case.
    """
    least_mm = PART_ASSUMED * REPEATS_TO_MM[kind]
    check = checked_repeatability(resolution_mm, record)
    if check is None:
        return Repeatability(std_mm=max(least_mm, PART_ASSUMED * resolution_mm), dof=DOF_ASSUMED)
    return Repeatability(std_mm=max(least_mm, check.std_mm), dof=check.dof)


def form_std_mm(summary: Summary, own: Repeatability) -> float:
    """Return the standard deviation in mm that form adds to the readings; 0 where none is seen.

    sqrt(s^2 - s_g^2), the model at the top of this module.
    """
    if summary.std_mm is None or summary.std_mm <= own.std_mm:
        return 0.0
    ratio = (summary.std_mm / own.std_mm) ** 2
    if f_tail(ratio, summary.dof, own.dof) >= SEEN_ALPHA:
        return 0.0
    return math.sqrt(summary.std_mm**2 - own.std_mm**2)


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


def scatter_of_mean(summary: Summary, record: GaugeRecord | None) -> Influence:
    """Return the type A influence of the mean of two readings or more, in mm.

    Raises:
        ValueError: a single reading has no scatter.
    """
    if summary.u_mean_mm is None or summary.std_mm is None:
        raise ValueError(f"{summary.measurand} has no scatter")
    u_mm, dof = summary.u_mean_mm, float(summary.dof)
    check = checked_repeatability(summary.resolution_mm, record)
    if check is not None and not _scatters_more(summary.std_mm, dof, check.std_mm, check.dof):
        known = 1.0 / (1.0 / check.dof + 1.0 / DOF_BETWEEN)
        variance = (known * check.std_mm**2 + dof * summary.std_mm**2) / (known + dof)
        allowed = u_mm**2 - summary.std_mm**2 / summary.n_used  # for doubt, see type_a
        u_mm, dof = math.sqrt(variance / summary.n_used + max(allowed, 0.0)), known + dof
    label = f"{summary.measurand} repeatability"
    return Influence(label=label, kind="A", u=u_mm, shape=Shape.STUDENT, dof=dof)


def _scatters_more(std: float, dof: float, own_std: float, own_dof: float) -> bool:
    return std > own_std and f_tail((std / own_std) ** 2, dof, own_dof) < SEEN_ALPHA
