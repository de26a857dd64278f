"""A length in the wrong unit is asked about; it is neither taken nor converted.

Bytes go through decoder, gauge and session as they do at the bench; the sizes are invented.
"""

from __future__ import annotations

from collections.abc import Sequence

import pytest
from campaign import gauge_of
from scripted import ScriptedTransport
from senders import line_sender

from gaugelink.capture.acts import Act, Halted, NotTaken, Taken
from gaugelink.capture.plan import Plan, Step, make_plan
from gaugelink.capture.progress import no_review
from gaugelink.capture.session import CaptureSession
from gaugelink.units import MM_PER_INCH, LengthUnit

STEPS = {step.measurand: step for step in make_plan(with_=["recess"]).steps}
MM, INCH = LengthUnit.MM, LengthUnit.INCH


def act_on(
    texts: Sequence[str], step: Step, name: str = "text-input", unit: LengthUnit | None = None
) -> list[Act]:
    """Send lines two seconds apart to a job of one measurand; return what came of the last."""
    silence = [(None, b"")] * 2
    script = ScriptedTransport([s for t in texts for s in ((None, t.encode() + b"\r"), *silence)])
    gauge = gauge_of(line_sender(name), script, unit)
    session = CaptureSession(Plan(steps=(step,)), [gauge.info], no_review)
    acts: list[Act] = []
    gauge.open()
    for _ in texts:
        acts = [a for _ in range(3) for e in gauge.poll(1.0) for a in session.hear(e)]
    return acts


@pytest.mark.parametrize(
    ("texts", "unit", "why"),
    [
        (["0.00 mm", "254.00 mm"], None, "254.00 mm is not a likely bore (3 to 30 mm)."),
        (["0.000 in", "11.500 in"], None, "11.500 in is not a likely bore (3 to 30 mm)."),
        (["0.000", "11.500"], INCH, "11.500 in is not a likely bore (3 to 30 mm)."),
        (["0.0000", "0.4525"], MM, "0.4525 mm is not a likely bore (3 to 30 mm)."),
    ],
)
def test_bore_in_the_wrong_unit_is_refused_with_the_number_as_shown(
    texts: list[str], unit: LengthUnit | None, why: str
) -> None:
    (act,) = act_on(texts, STEPS["bore"], unit=unit)
    assert isinstance(act, NotTaken)
    assert act.reason == f"{why} Check the unit and the jaws."


def test_format_without_a_unit_takes_the_one_that_was_said_and_asks_about_the_size() -> None:
    (act,) = act_on(["+0.000", "+11.500"], STEPS["bore"], "line-4800-7E2-plain", INCH)
    assert isinstance(act, NotTaken)
    assert "11.500 in is not a likely bore" in act.reason


def test_bore_in_inches_is_taken_in_a_job_in_inches() -> None:
    (act,) = act_on(["0.0000 in", "0.4525 in"], STEPS["bore"])
    assert isinstance(act, Taken)
    assert act.reading.value_mm == pytest.approx(11.4935, abs=1e-9)


def test_other_unit_in_mid_job_halts_and_is_not_converted() -> None:
    (act,) = act_on(["0.00 mm", "11.50 mm", "0.4525 in"], STEPS["bore"])
    assert isinstance(act, Halted)


# The shallowest recess is 50 times less than the deepest, so a factor of 25.4 fits in;
# with the same gauge every other size of the job is refused before or after.
AMBIGUOUS = {"recess"}


@pytest.mark.parametrize("measurand", STEPS)
def test_no_likely_size_is_likely_in_the_other_unit_too(measurand: str) -> None:
    step = STEPS[measurand]
    may_be_both = step.high_mm / step.low_mm >= float(MM_PER_INCH)
    assert may_be_both is (measurand in AMBIGUOUS)
