"""Telling the form of a part from the scatter of the gauge: oval bores, snail-shaped hubs.

The state model of readings taken around a part, all in mm::

    x_i = D + f_i + e_i

    D     the mean diameter
    f_i   form: for an oval bore a cos(2 theta_i), for a snail-shaped hub anything
          from -R/2 to R/2 alike
    e_i   the gauge's own scatter, standard deviation s_g with nu_g degrees of freedom

The readings are taken anywhere over half a turn, so their variance is that of form and
gauge together: s^2 estimates a^2/2 + s_g^2 for the bore and R^2/12 + s_g^2 for the hub.
Form is *seen* only where s^2 / s_g^2 exceeds what scatter alone reaches once in a
hundred series (an F test); a smaller spread is noise, and nothing is made of it.

How much a form that is seen may shift the mean is part of s / sqrt(n) already: readings
at places chosen at random sample the form as they sample the noise. A part that was not
turned shows none of its form, whatever is computed here.
"""

from __future__ import annotations

import math

from gaugelink.gauge_record import GaugeRecord, Repeatability
from gaugelink.model import GaugeKind, Summary
from gaugelink.statistics.student import log_incomplete_beta
from gaugelink.uncertainty.own_scatter import REPEATS_TO_MM, checked_repeatability

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

    Args:
        kind: what the gauge is.
        resolution_mm: digital step of the readings, > 0.
        record: what is known of the gauge.
    """
    least_mm = PART_ASSUMED * REPEATS_TO_MM[kind]
    check = checked_repeatability(resolution_mm, record)
    if check is None:
        return Repeatability(std_mm=max(least_mm, PART_ASSUMED * resolution_mm), dof=DOF_ASSUMED)
    return Repeatability(std_mm=max(least_mm, check.std_mm), dof=check.dof)


def form_std_mm(summary: Summary, own: Repeatability) -> float:
    """Return the standard deviation in mm that form adds to the readings; 0 where none is seen.

    sqrt(s^2 - s_g^2), the model at the top of this module.

    Args:
        summary: readings around the part.
        own: the scatter of the gauge on one place.
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
