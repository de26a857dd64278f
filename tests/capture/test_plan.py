"""The plan: what is asked for, and that its limits serve the seekers."""

from __future__ import annotations

from collections import Counter
from decimal import Decimal

import pytest
from capture_bench import Bench, reading

from gaugelink.capture.lane import implausible
from gaugelink.capture.plan import MEASURANDS, make_plan
from gaugelink.errors import InputError
from gaugelink.model import DepthReference, Seek


def names(*args, **options) -> list[str]:
    return [step.measurand for step in make_plan(*args, **options).steps]


USUAL = ["bore", "depth", "lid", "arbor", "found_thickness", "found_height"]


@pytest.mark.parametrize(
    ("reference", "options", "expected"),
    [
        (DepthReference.RIM, {}, USUAL),
        (DepthReference.SEAT, {}, [name for name in USUAL if name != "lid"]),
        (DepthReference.SEAT, {"with_": ["lid"]}, USUAL),
        (DepthReference.RIM, {"with_": ["recess"]}, list(MEASURANDS)),
        (DepthReference.RIM, {"without": ["arbor"]}, [n for n in USUAL if n != "arbor"]),
        (DepthReference.RIM, {"with_": ["recess"], "without": ["recess"]}, USUAL),
    ],
)
def test_steps_of_a_plan(reference, options, expected):
    assert names(reference, **options) == expected
    assert make_plan(reference, **options).depth_reference is reference


def test_name_that_is_no_measurand_is_refused():
    with pytest.raises(InputError, match="'bores' is not a size the plan can measure"):
        make_plan(without=["bores"])


def test_inside_sizes_are_sought_as_maximum_and_outside_ones_as_minimum():
    seeks = {step.measurand: step.seek for step in make_plan().steps}
    assert (seeks["bore"], seeks["arbor"]) == (Seek.MAXIMUM, Seek.MINIMUM)


@pytest.mark.parametrize("step", make_plan(with_=["recess"]).steps, ids=lambda s: s.measurand)
def test_each_step_can_be_told_from_closed_jaws_and_is_said_in_full(step):
    assert 0.0 < step.low_mm < step.high_mm
    assert step.n_wanted >= 3
    assert step.instruction.format(reference="rim").endswith(".")


def test_an_arbor_is_asked_for_at_its_smallest_and_largest_width():
    (arbor,) = (step for step in make_plan().steps if step.measurand == "arbor")
    assert "its smallest width, its largest, and one between" in arbor.instruction
    assert arbor.n_wanted == 3


def test_the_words_for_seeking_are_those_that_journals_hold():
    assert [str(seek) for seek in Seek] == ["settled", "maximum", "minimum"]


# Common practice: from small ladies' movements to large pocket watches.
LIMITS = [
    ("bore", "3.00", "30.00"),
    ("depth", "0.50", "9.00"),
    ("lid", "0.10", "2.00"),
    ("recess", "0.02", "1.00"),
    ("arbor", "0.80", "15.00"),
    ("found_thickness", "0.03", "0.40"),
    ("found_height", "0.40", "8.00"),
]


@pytest.mark.parametrize(("measurand", "low", "high"), LIMITS)
def test_what_lies_a_thousandth_beyond_its_limits_is_refused(measurand, low, high):
    (step,) = (s for s in make_plan(with_=["recess"]).steps if s.measurand == measurand)
    step_mm = Decimal("0.001")
    for value in (Decimal(low), Decimal(high)):
        assert implausible(step, reading(str(value))) == ""
    for value in (Decimal(low) - step_mm, Decimal(high) + step_mm):
        assert "is not a likely" in implausible(step, reading(str(value)))


TYPICAL = {
    "bore": "11.02",
    "depth": "1.64",
    "lid": "0.31",
    "recess": "0.15",
    "arbor": "3.70",
    "found_thickness": "0.12",
    "found_height": "1.20",
}


def test_five_readings_where_it_matters_most_and_three_elsewhere():
    bench = Bench(*make_plan(with_=["recess"]).steps)
    bench.press("0.00")
    asked = []
    while (current := bench.lane.progress.current) is not None and len(asked) < 50:
        asked.append(current.measurand)
        bench.press(TYPICAL[current.measurand])
    readings = dict(Counter(asked))
    assert readings == dict.fromkeys(TYPICAL, 3) | {"bore": 5, "found_thickness": 5}
