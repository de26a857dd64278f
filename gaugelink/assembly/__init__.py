"""Joins the stages: from a journaled job to summaries, and on to the inputs of the sizing.

``parts`` folds the acts of a job into series and summaries, ``quantities`` gives them
their uncertainty, ``doubts`` says what a result must say of the gauges and parts behind
it, and ``reviewing`` looks at a series while the gauge is still in the hand.
"""

from __future__ import annotations

from gaugelink.assembly.doubts import check_age_days, measured_doubts
from gaugelink.assembly.findings import Findings, findings_of
from gaugelink.assembly.parts import Measured, measured_parts, remaining_plan, unit_begun_in
from gaugelink.assembly.quantities import given_spring, measured_estimates, measured_quantities
from gaugelink.assembly.reviewing import JobInHand, review_series

__all__ = [
    "Findings",
    "JobInHand",
    "Measured",
    "check_age_days",
    "findings_of",
    "given_spring",
    "measured_doubts",
    "measured_estimates",
    "measured_parts",
    "measured_quantities",
    "remaining_plan",
    "review_series",
    "unit_begun_in",
]
