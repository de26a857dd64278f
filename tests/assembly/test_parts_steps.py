"""The digital step of a series and of a zero: what a person types does not always show it."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from test_job import CALIPER, job, taken

from gaugelink.assembly.job import Job
from gaugelink.capture.acts import ZERO, Act
from gaugelink.model import GaugeInfo

TYPED = replace(CALIPER, gauge_id="keys:", address="keys:?unit=mm")
BORE = ("18.02", "18.03", "18.04", "18.02", "18.04")


def typed(zero: str, who: GaugeInfo = TYPED, **read: tuple[str, ...]) -> Job:
    acts: list[Act] = taken(who, ZERO, zero)
    for measurand, shown in read.items():
        acts += taken(who, measurand, *shown)
    return Job(job([*acts, *taken(who, ZERO, zero)], who))


def u_of(known: Job, measurand: str) -> dict[str, float]:
    return {t.influence.label: t.influence.u for t in known.quantities()[measurand].terms}


@pytest.mark.parametrize("who", [TYPED, CALIPER], ids=["typed", "sent"])
def test_a_zero_typed_as_0_does_not_set_the_step_of_the_job(who: GaugeInfo) -> None:
    plain, bare = typed("0.00", who, bore=BORE), typed("0", who, bore=BORE)
    assert bare.quantities() == plain.quantities()
    assert [part.zero and part.zero.resolution_mm for part in bare.parts()] == [0.01]
    (size,) = (each for each in bare.quantities().values())
    u_mm = math.hypot(*(term.factor * term.influence.u for term in size.terms))
    assert u_mm < 0.03  # it was 0.65 wide at 95 %


def test_a_value_with_fewer_decimals_is_as_coarse_as_its_own_step_only() -> None:
    fine, mixed = typed("0.00", bore=BORE), typed("0.00", bore=(*BORE, "18.0"))
    step_mm = (5 * 0.01 + 0.1) / 6
    assert fine.found()["bore"].summary.resolution_mm == 0.01
    assert mixed.found()["bore"].summary.resolution_mm == pytest.approx(step_mm)
    kept = mixed.parts()[0].series[0].readings
    assert [reading.resolution_mm for reading in kept] == [0.01] * 5 + [0.1]


def test_two_gauges_behind_one_typed_source_each_have_the_step_of_what_they_read() -> None:
    both = typed("0", bore=BORE, lid=("0.341", "0.342", "0.341"))
    bore, lid = u_of(both, "bore"), u_of(both, "lid")
    zeros = {u for label, u in bore.items() if "zero resolution" in label}
    assert [*zeros] == [pytest.approx(0.01 / math.sqrt(12))]
    assert lid["keys: zero resolution"] == pytest.approx(0.001 / math.sqrt(12))
    assert both.found()["bore"].summary.resolution_mm == 0.01
    assert both.found()["lid"].summary.resolution_mm == 0.001
