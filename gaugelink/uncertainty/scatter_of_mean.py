"""The type A uncertainty of a mean where a check of the gauge tells of its scatter as well.

Three readings say little of their own scatter: t at 95 % is 4.3 for two degrees of
freedom. A gauge that was checked has shown its scatter with the nine of ten readings
or more, and that is knowledge beforehand of the scatter on a part:

    s_0^2 = (nu_c s_c^2 + nu s^2) / (nu_c + nu)

with nu_c + nu degrees of freedom. GUM 4.2.4 and EA-4/02, example S4, pool in this way
where one scatter holds for both. It does not quite: a part is held otherwise than a gauge
block. So the check counts for as many readings as say how well it foretells another
occasion: 1 / nu_c = 1 / nu_check + 1 / nu_b, with nu_b for the scatter from one occasion
to the next. G. K. Smyth, Statistical Applications in Genetics and Molecular Biology 3
(2004), article 3 (from memory) calls this the moderated t; it is exact where variances
differ between occasions as nu_b / chi^2 does.

Readings that scatter more than the check allows (an F test at 1 %) are not foretold by
it: a part out of round, a rough face, a shaky hold. They speak for themselves.
"""

from __future__ import annotations

import math

from gaugelink.gauge_record import GaugeRecord
from gaugelink.model import Summary
from gaugelink.uncertainty.estimate import Influence, Shape
from gaugelink.uncertainty.form_error import SEEN_ALPHA, f_tail
from gaugelink.uncertainty.own_scatter import checked_repeatability

# The scatter changes by a factor of about 1.5 from one occasion to the next (common
# practice), as ln s of four degrees of freedom does: sqrt(trigamma(nu / 2)) / 2 = 0.40.
DOF_BETWEEN = 4.0


def scatter_of_mean(summary: Summary, record: GaugeRecord | None) -> Influence:
    """Return the type A influence of the mean of two readings or more, in mm.

    Args:
        summary: readings of one measurand, reduced; its u must be known.
        record: what is known of the gauge.

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
