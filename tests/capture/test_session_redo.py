"""One measurand measured anew: what was read before is kept and counts no more."""

from __future__ import annotations

from capture_bench import ARBOR, CALIPER, DEPTH, LID, MICROMETER, Bench, kinds, refusals
from hypothesis import given
from hypothesis import strategies as st
from test_progress_properties import DEEDS, IDS, SENDS, STEPS, done, serve

from gaugelink.capture.acts import Superseded
from gaugelink.capture.progress import Progress, Stage

BOTH = (CALIPER, MICROMETER)


def closed(*steps) -> Bench:
    bench = Bench(*steps)
    for value in ("0.00", *["2.31"] * 4, "0.00"):
        bench.press(value)
    bench.wait(4.0)
    assert bench.session.is_closed
    return bench


def anew(bench: Bench, *measurands: str, steps=(DEPTH, ARBOR), gauges=(CALIPER,)) -> Bench:
    acts = [Superseded(gauge_id=CALIPER.gauge_id, measurand=name) for name in measurands]
    return Bench(*steps, gauges=gauges, acts=[*bench.acts, *acts])


def test_only_the_redone_measurand_is_asked_for_and_the_job_closes_again():
    bench = anew(closed(DEPTH, ARBOR), "depth")
    assert not bench.session.is_closed
    assert bench.lane.progress.stage is Stage.OPENING
    for value in ("0.01", "2.40", "2.41"):
        bench.press(value)
    assert bench.lane.progress.stage is Stage.CLOSING
    bench.press("0.00")
    bench.wait(4.0)
    assert bench.session.is_closed
    assert bench.standing("depth") == ["2.40", "2.41"]
    assert bench.standing("arbor") == ["2.31", "2.31"]
    assert [r.displayed for r in bench.lane.progress.superseded("depth")] == ["2.31", "2.31"]


def test_the_redone_measurand_comes_before_what_was_never_measured():
    begun = Bench(DEPTH, LID, ARBOR)
    for value in ("0.00", *["2.31"] * 2, *["0.41"] * 2, "2.31"):
        begun.press(value)
    bench = anew(begun, "lid", steps=(DEPTH, LID, ARBOR))
    for value in ("0.00", "0.43"):
        bench.press(value)
    assert bench.standing("lid") == ["0.43"]


def test_an_undo_takes_back_the_new_readings_and_never_reaches_the_others():
    bench = anew(closed(DEPTH, ARBOR), "depth")
    for value in ("0.01", "2.40"):
        bench.press(value)
    assert kinds(bench.undo()) == ["Undone"]
    assert refusals(bench.undo()) == ["No reading to take back."]
    assert bench.standing("arbor") == ["2.31", "2.31"]


def test_a_skipped_measurand_may_be_measured_after_all():
    begun = Bench(DEPTH)
    begun.press("0.00")
    begun.skip()
    bench = anew(begun, "depth", steps=(DEPTH,))
    assert bench.lane.progress.current is DEPTH


def test_another_gauge_may_do_it():
    lid = Bench(LID)
    for value in ("0.00", "0.41", "0.41", "0.00"):
        lid.press(value)
    lid.wait(4.0)
    bench = anew(lid, "lid", steps=(LID,), gauges=BOTH)
    assert bench.session.lanes[MICROMETER.gauge_id].progress.current is LID
    assert bench.session.lanes[CALIPER.gauge_id].progress.steps == ()


def test_redone_twice_all_that_was_read_is_kept_in_order():
    bench = anew(closed(DEPTH, ARBOR), "depth")
    for value in ("0.01", "2.40", "2.41"):
        bench.press(value)
    again = anew(bench, "depth")
    shown = [r.displayed for r in again.lane.progress.superseded("depth")]
    assert shown == ["2.31", "2.31", "2.40", "2.41"]
    assert again.standing("depth") == []


@given(SENDS, SENDS, DEEDS, st.sampled_from(STEPS), st.lists(st.sampled_from(IDS), max_size=8))
def test_whatever_came_before_and_after_no_reading_is_lost(one, other, deeds, step, served):
    before = done(one, other, deeds)
    infos = [lane.info for lane in before.session.lanes.values()]
    acts = [Superseded(gauge_id=gauge_id, measurand=step.measurand) for gauge_id in IDS]
    bench = Bench(*STEPS, gauges=infos, acts=[*before.acts, *acts])
    for gauge_id in IDS:
        assert bench.standing(step.measurand, gauge_id) == []
    for gauge_id in served:
        serve(bench, gauge_id, 0)
    bench.undo()
    for gauge_id, lane in bench.session.lanes.items():
        live, folded = lane.progress, Progress(lane.progress.steps)
        for act in bench.acts:
            if act.gauge_id == gauge_id:
                folded.apply(act)
        stood = before.session.lanes[gauge_id].progress
        assert live.superseded(step.measurand) == stood.standing(step.measurand)
        assert live.last == folded.last
        for each in STEPS:
            name = each.measurand
            assert live.standing(name) == folded.standing(name)
            if name != step.measurand:
                n_before = len(stood.standing(name))
                assert live.standing(name)[:n_before] == stood.standing(name)
