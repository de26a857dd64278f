"""Statistics: what the repeated readings of one measurand say, and which are suspicious.

``summarise`` takes a ``Series`` and returns a ``Summary``: mean, standard
deviation, type A uncertainty with its degrees of freedom, marks and advice. Two
ideas hold throughout:

* rejecting is marking: a rejected reading stays in the series and carries the
  test, the figures and one plain sentence;
* a few readings on a coarse display say little, so a test alone never rejects.

The layers, each using only those before it::

    beta -> student --+
    moments ----------+
    side, suspects ---+-> grubbs -> esd --+
                      +-> dixon ----------+-> outlier_method --+
    steps ------------+-> drift -------------------------------+
    normal_range -----+-> known_scatter -----------------------+
    wording ---------------------------------------------------+-> treatment --+
    type_a --------------------------------------------------------------------+-> summary

Beside them stand ``enough`` (whether more readings help), ``pooled`` (one standard
deviation from many series) and ``hints`` (robust figures to show).

Everything is pure and needs the standard library only. ``t_quantile`` also
serves the uncertainty stage.
"""

from __future__ import annotations

from gaugelink.statistics.dixon import DixonRatio, dixon_critical, dixon_ratio, dixon_suspect
from gaugelink.statistics.drift import drift_mm, trend_score
from gaugelink.statistics.enough import MoreReadings, more_readings
from gaugelink.statistics.esd import EsdStep, esd_outliers, esd_steps
from gaugelink.statistics.grubbs import grubbs_critical, most_extreme
from gaugelink.statistics.hints import modified_z_scores
from gaugelink.statistics.known_scatter import apart_from_known
from gaugelink.statistics.moments import mean, std
from gaugelink.statistics.normal_range import range_cdf, range_quantile
from gaugelink.statistics.outlier_method import OutlierMethod
from gaugelink.statistics.pooled import PooledStd, pooled_std
from gaugelink.statistics.side import Side, Sought
from gaugelink.statistics.student import normal_quantile, t_cdf, t_quantile
from gaugelink.statistics.summary import summarise
from gaugelink.statistics.suspects import JudgedSuspect, Suspect
from gaugelink.statistics.treatment import Treatment, treat

__all__ = [
    "DixonRatio",
    "EsdStep",
    "JudgedSuspect",
    "MoreReadings",
    "OutlierMethod",
    "PooledStd",
    "Side",
    "Sought",
    "Suspect",
    "Treatment",
    "apart_from_known",
    "dixon_critical",
    "dixon_ratio",
    "dixon_suspect",
    "drift_mm",
    "esd_outliers",
    "esd_steps",
    "grubbs_critical",
    "mean",
    "modified_z_scores",
    "more_readings",
    "most_extreme",
    "normal_quantile",
    "pooled_std",
    "range_cdf",
    "range_quantile",
    "std",
    "summarise",
    "t_cdf",
    "t_quantile",
    "treat",
    "trend_score",
]
