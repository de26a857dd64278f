"""Whatever a gauge and a person do: nothing is raised, and the acts tell the whole story."""

from __future__ import annotations

from capture_bench import (
    ARBOR,
    BORE,
    CALIPER,
    DEPTH,
    LID,
    MICROMETER,
    THICKNESS,
    Bench,
    gauge,
    reading,
    state,
)
from hypothesis import given, settings
from hypothesis import strategies as st

from gaugelink.capture.acts import Taken
from gaugelink.capture.progress import Progress, Review, Stage
from gaugelink.model import (
    Fault,
    FaultKind,
    Flag,
    GaugeKind,
    LinkChange,
    Sends,
    Series,
    UnitSwitch,
)
from gaugelink.units import LengthUnit

IDS = (CALIPER.gauge_id, MICROMETER.gauge_id)
STEPS = (BORE, DEPTH, LID, ARBOR, THICKNESS)
# Few sizes, so that rests, closings and repeats come about; each is near some limit.
VALUES = (
    *("0.00", "0.01", "0.05", "0.12", "0.35", "1.00", "2.31", "2.32", "2.60"),
    *("11.00", "11.02", "25.00", "-0.03", "99.99"),
)
FRAMES = st.builds(
    reading,
    st.sampled_from(VALUES),
    st.sampled_from([LengthUnit.MM, LengthUnit.MM, LengthUnit.MM, LengthUnit.INCH]),
    st.sampled_from([(), (), (), (Flag.HELD,)]),
)
BODIES = st.one_of(
    FRAMES,
    FRAMES,
    st.sampled_from(
        [
            LinkChange(connected=False, text="unplugged"),
            LinkChange(connected=True, text="back"),
            UnitSwitch(before=LengthUnit.MM, now=LengthUnit.INCH, raw=b""),
            Fault(kind=FaultKind.UNPARSED, reason="noise", raw=b"\xff"),
        ]
    ),
)
WAITS_S = st.sampled_from([0.0, 0.05, 0.05, 0.33, 1.0, 3.1, 100.0])
SIZES = {
    "bore": ("11.02", "11.03"),
    "depth": ("2.31", "2.60"),
    "lid": ("0.41", "0.42"),
    "arbor": ("3.68", "3.69"),
    "found_thickness": ("0.12", "0.13"),
}
DEEDS = st.lists(
    st.one_of(
        *[st.tuples(st.just("serve"), st.sampled_from(IDS), st.integers(0, 1))] * 3,
        st.tuples(st.just("send"), st.sampled_from(IDS), BODIES, WAITS_S, st.integers(1, 30)),
        st.tuples(st.just("wait"), WAITS_S),
        st.tuples(st.just("undo")),
        st.tuples(st.just("skip")),
    ),
    max_size=40,
)
SENDS = st.sampled_from(list(Sends))


def wants_more(series: Series) -> Review | None:
    return Review(n_more=2, reason="They differ.") if len(series.readings) < 3 else None


def serve(bench: Bench, gauge_id: str, n: int) -> None:
    """Do with a gauge what it asks for."""
    lane = bench.session.lanes[gauge_id]
    step = lane.progress.current
    measuring = step is not None and lane.progress.stage is Stage.MEASURING
    size = SIZES[step.measurand][n] if measuring else "0.00"
    rocking = [size] * 2 + [f"{float(size) - 0.1:.2f}"] * 6
    sweep = ["1.50"] * 3 + (rocking if step is BORE else []) + [size] * 40
    streams = lane.info.sends is Sends.STREAM
    for value in sweep if streams else [size]:
        bench.send(reading(value), 0.05 if streams else 1.0, gauge_id)


def done(caliper_sends: Sends, micrometer_sends: Sends, deeds) -> Bench:
    gauges = (gauge(sends=caliper_sends), gauge(GaugeKind.MICROMETER, micrometer_sends))
    bench = Bench(*STEPS, gauges=gauges, review=wants_more)
    for name, *arguments in deeds:
        if name == "send":
            gauge_id, body, wait_s, times = arguments
            for _ in range(times):
                bench.send(body, wait_s, gauge_id)
        elif name == "serve":
            serve(bench, *arguments)
        else:
            getattr(bench, name)(*arguments)
    return bench


@settings(deadline=None)
@given(SENDS, SENDS, DEEDS)
def test_acts_fold_to_the_live_state(caliper_sends, micrometer_sends, deeds):
    bench = done(caliper_sends, micrometer_sends, deeds)
    for gauge_id, lane in bench.session.lanes.items():
        folded = Progress(lane.progress.steps)
        for act in bench.acts:
            if act.gauge_id == gauge_id:
                folded.apply(act)
        assert state(folded) == state(lane.progress)


@settings(deadline=None)
@given(SENDS, SENDS, DEEDS)
def test_only_plausible_readings_in_the_unit_of_the_job_are_taken(
    caliper_sends, micrometer_sends, deeds
):
    bench = done(caliper_sends, micrometer_sends, deeds)
    by_name = {each.measurand: each for each in STEPS}
    for act in bench.acts:
        if isinstance(act, Taken) and not act.is_zero:
            step = by_name[act.measurand]
            assert step.low_mm <= act.reading.value_mm <= step.high_mm
            assert act.reading.unit is bench.session.lanes[act.gauge_id].progress.unit


@settings(deadline=None)
@given(SENDS, SENDS, DEEDS)
def test_continued_at_any_point_a_job_keeps_its_readings(caliper_sends, micrometer_sends, deeds):
    bench = done(caliper_sends, micrometer_sends, deeds)
    infos = [lane.info for lane in bench.session.lanes.values()]
    again = Bench(*STEPS, gauges=infos, acts=bench.acts)
    for step in STEPS:
        for gauge_id in IDS:
            assert again.standing(step.measurand, gauge_id) == bench.standing(
                step.measurand, gauge_id
            )
