"""Statistics: what the repeated readings of one measurand say, and which are suspicious.

``summarise`` takes a ``Series`` and returns a ``Summary``: mean, standard
deviation, type A uncertainty with its degrees of freedom, marks and advice. Two
ideas hold throughout:

* rejecting is marking: a rejected reading stays in the series and carries the
  test, the figures and one plain sentence;
* a few readings on a coarse display say little, so a test alone never rejects.

The layers, each using only those before it::

    beta -> student --+
    moments ----------+-> grubbs -> esd --+
    steps ------------+-> drift ----------+
    wording ------------------------------+-> treatment -> summary

Everything is pure and needs the standard library only. ``t_quantile`` also
serves the uncertainty stage.
"""

from __future__ import annotations

from gaugelink.statistics.drift import drift_mm, trend_score
from gaugelink.statistics.esd import EsdStep, esd_outliers, esd_steps
from gaugelink.statistics.grubbs import grubbs_critical, most_extreme
from gaugelink.statistics.moments import mean, std
from gaugelink.statistics.student import normal_quantile, t_cdf, t_quantile
from gaugelink.statistics.summary import summarise
from gaugelink.statistics.suspects import Suspect
from gaugelink.statistics.treatment import Treatment, treat

__all__ = [
    "EsdStep",
    "Suspect",
    "Treatment",
    "drift_mm",
    "esd_outliers",
    "esd_steps",
    "grubbs_critical",
    "mean",
    "most_extreme",
    "normal_quantile",
    "std",
    "summarise",
    "t_cdf",
    "t_quantile",
    "treat",
    "trend_score",
]
