"""What a page says: the recommendation, how sure it is, the doubts, the tables, the checks."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from page_markup import page_of, parsed, sample
from page_samples import STOCK, acts, barrel_of, content, each_case, record

from gaugelink.drawing.rules_plot import RowKind
from gaugelink.gauge_record import CheckVerdict, GaugeCheck, GaugeRecord, LengthFound, ZeroFound
from gaugelink.jobbook.facts import (
    After,
    Amplitude,
    Chosen,
    Fact,
    ForeseenSpan,
    Lay,
    SizeVersion,
    StoredFact,
    WindState,
)
from gaugelink.mechanics.arrangement import Arrangement, BarrelKind
from gaugelink.model import GaugeKind
from gaugelink.report.page_answer import (
    after_fitting,
    first_the_movement,
    foreseen_for,
    page_answer,
    page_doubts,
)
from gaugelink.report.page_content import PageContent, page_spring
from gaugelink.report.page_html import page_html
from gaugelink.report.page_text import page_text
from gaugelink.report.page_torque import half_a_turn_on, torque_plot
from gaugelink.report.page_words import gauge_lines, page_words, picks_table, springs_table
from gaugelink.report.plots import readings_figures, rule_panels
from gaugelink.report.table import BEFORE_CUTTING, span
from gaugelink.report.text_job import ends_text
from gaugelink.sizing.size_spring import size_spring


@pytest.mark.parametrize(
    ("case", "kind", "said"),
    [
        ("whole", RowKind.PICKED, ("Fitted: A17, 1.4 x 0.13 x 360 mm, cut from 400 mm, hole end",)),
        ("documented", RowKind.FOUND, ("Settle this first: ", "1.45 mm cannot go in")),
        ("large", RowKind.PICKED, ("Order 2.90 x 0.22 x 640 mm",)),
        ("by_rule", RowKind.PICKED, ("Order 1.45 x 0.13 x 390 mm",)),
        ("nothing_fits", RowKind.PICKED, ("Order 1.45 x 0.13 x 390 mm",)),
        ("unfinished", None, ("No size can be given: The bore has not been measured yet.",)),
    ],
)
def test_the_recommendation_is_one_sentence_of_what_to_do(
    case: str, kind: RowKind | None, said: tuple[str, ...]
) -> None:
    spring = page_spring(sample(case))
    assert (spring.kind if spring else None) is kind
    sentence = page_answer(sample(case)).sentence
    assert all(part in sentence for part in said)
    assert sentence.endswith(".")
    assert sentence in parsed(page_of(case)).one("main").text


def unfitted() -> PageContent:
    """The page of a whole job before a spring was taken."""
    return replace(sample("whole"), facts=())


def test_cutting_has_its_caution_where_the_page_says_to_cut(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    page = unfitted()
    answer = page.recommendation
    assert answer is not None
    assert answer.take is not None
    for cut_mm in (None, 360.0):
        told = replace(answer, take=replace(answer.take, cut_to_mm=cut_mm))
        monkeypatch.setattr(PageContent, "recommendation", told)
        assert (BEFORE_CUTTING in page_answer(page).grounds) is (cut_mm is not None)


def test_once_a_spring_was_fitted_it_heads_the_page_with_what_was_recommended_then() -> None:
    page = sample("whole")
    answer = page_answer(page)
    assert answer.heading == "Fitted"
    assert answer.sentence.endswith("hole end, 2026-03-02.")
    assert [(dial.name, dial.numeral) for dial in answer.dials] == [
        ("height", "1.4"),
        ("thickness", "0.13"),
        ("length", "360"),
    ]
    then = (
        "Recommended 2026-03-02: Take A17 (1.4 x 0.13 x 400 mm), cut to 360 mm.",
        "The size to order was 1.4 x 0.13 x 380 mm.",
        "Based on the documented size; height from depth and lid.",
    )
    now = page_answer(unfitted()).sentence
    assert answer.grounds == (*then, f"Now: {now}")
    # Whatever the stock comes to hold, what was fitted and recommended then stays.
    assert page.choice is not None
    gone = page_answer(replace(page, choice=replace(page.choice, picks=())))
    assert (gone.sentence, gone.grounds[:3]) == (answer.sentence, then)
    assert gone.grounds[3].startswith("Now: Order ")
    text = page_text(page, ascii_only=True)
    assert text.index("FITTED\n") < text.index("Fitted: A17") < text.index("Recommended 2026")
    assert parsed(page_of("whole")).all("h2")[0].text == "Fitted"


def test_what_would_be_recommended_now_is_said_only_where_it_differs() -> None:
    page = unfitted()
    assert page.recommendation is not None
    kept = {"recommendation": {"text": page.recommendation.text}}
    facts = (SizeVersion(result=kept, software="0"), Chosen(item="A17"))
    same = replace(page, facts=stored(*facts))
    assert page_answer(same).grounds == (f"Recommended 2026-03-02: {page_answer(page).sentence}",)
    # A result that was kept later is not what was recommended then, and an older one had none.
    for none_then in (
        stored(*reversed(facts)),
        stored(SizeVersion(result={}, software="0"), facts[1]),
    ):
        answer = page_answer(replace(page, facts=none_then))
        assert answer.grounds == (f"Recommended now: {page_answer(page).sentence}",)


def test_the_fitted_spring_is_drawn_as_it_was_kept_also_when_the_stock_has_it_no_more() -> None:
    page = sample("whole")
    assert page.choice is not None
    for content_now in (page, replace(page, choice=None)):
        spring = page_spring(content_now)
        assert spring is not None
        assert spring.height is not None and spring.length is not None
        sizes = (spring.height.value_mm, spring.thickness.value_mm, spring.length.value_mm)
        assert (spring.label, spring.end, sizes) == ("A17", "hole", (1.4, 0.13, 360))
        plot = torque_plot(content_now)
        assert plot is not None
        table = springs_table(content_now, plot)
        assert table is not None
        assert [row[0] for row in table.rows] == ["A17", "found", "documented"]
        hours = table.header.index("hours")
        assert table.rows[0][hours] == "36–50"  # as foreseen when it was chosen


def test_a_figure_without_a_source_is_marked_where_it_stands() -> None:
    words = page_words(unfitted())
    assert "will do (common practice and judgement)." in " ".join(words.answer.grounds)
    assert "5 to 15 % (from memory)" in words.torque_caption
    assert "15 to 40 % of a healthy spring's torque is left (judgement)" in words.springs_note
    assert "320° on (from memory)" in words.springs_note
    assert words.stock is not None
    assert "too little torque (judgement)" in words.stock.note
    assert dict(page_words(sample("no_arbor")).sizes)["arbor"].endswith(
        ", assumed: bore / 3 (common practice)"
    )


def test_what_speaks_of_a_spring_speaks_of_one_that_the_table_shows() -> None:
    for page in (unfitted(), sample("whole"), sample("by_rule"), sample("large")):
        words = page_words(page)
        assert words.springs is not None
        names = {row[0] for row in words.springs.rows}
        assert "half-area" not in names
        shown = page_spring(page)
        assert shown is not None
        assert ("size to order" in names) is (shown.name == "size to order")
        assert words.plot is not None
        assert words.plot.spring.name in names
        _, _, knocking = words.springs_note.partition("(from memory): ")
        said = {each.strip(" .").removesuffix(" (surely)") for each in knocking.split(",")}
        assert said - {""} <= names


def test_beside_a_spring_to_take_no_figure_is_of_the_size_to_order() -> None:
    page = unfitted()
    answer = page.recommendation
    assert answer is not None
    assert answer.take is not None
    grounds = page_answer(page).grounds
    assert grounds[0] == answer.sure
    assert grounds[1].startswith("In its place: order ")
    assert not any("turns" in each or "of play" in each for each in grounds)
    assert any("turns" in each for each in page_answer(sample("by_rule")).grounds)


def test_doubts_of_what_to_take_are_gone_once_a_spring_was_fitted() -> None:
    before = page_doubts(unfitted())
    assert any("another version of the movement" in doubt for doubt in before)
    after = page_doubts(sample("whole"))
    assert set(after) < set(before)
    assert not any("another version of the movement" in doubt for doubt in after)


CHECK = GaugeCheck(
    checked_utc="2026-02-20T08:00:00+00:00",
    job_id=2,
    zero=ZeroFound(n=5, mean_mm=0.0, std_mm=0.0, dof=4, drift_mm=0.0, resolution_mm=0.01),
    lengths=(
        LengthFound(
            known_mm=5.0,
            u_known_mm=0.0001,
            n=10,
            mean_mm=5.0,
            std_mm=0.004,
            bias_mm=0.001,
            u_bias_mm=0.002,
            mpe_mm=0.02,
            guard_mm=0.003,
            verdict=CheckVerdict.PASS,
            tolerance_mm=0.1,
            cg=None,
            cgk=None,
        ),
    ),
)


def test_the_head_of_the_record_and_the_gauges_stand_in_the_title_block() -> None:
    page = sample("whole")
    (caliper, micrometer) = (gauge.gauge_id for gauge in page.record.gauges)
    known = GaugeRecord(gauge_id=caliper, kind=GaugeKind.CALIPER, serial="C-1234", checks=(CHECK,))
    said = parsed(page_html(replace(page, gauges={caliper: known}))).one("footer").text
    for text in ("Bench One", "Mrs Example", "A. Hand", "20.5 °C"):
        assert text in said
    assert f"{caliper}, serial C-1234, checked 2026-02-20: pass" in said
    assert f"{micrometer}, never checked" in said


def test_where_no_rule_holds_the_reason_stands_in_place_of_a_size() -> None:
    job = record(acts(thickness=(), height=()))
    barrel = replace(barrel_of(job), arrangement=Arrangement(kind=BarrelKind.FUSEE))
    barrel = replace(barrel, hours_per_turn=None)
    page = content(job, barrel)
    assert page.result is not None
    assert page.result.rules == ()
    answer = page_answer(page)
    assert answer.sentence == f"{page.result.refused[0].reason} {page.result.refused[0].hint}"
    assert answer.dials == ()


@each_case("unfinished", "empty")
def test_the_dials_are_the_sizes_that_are_recommended(case: str) -> None:
    answer, spring = page_answer(sample(case)), page_spring(sample(case))
    assert spring is not None
    numerals = {dial.name: float(dial.numeral) for dial in answer.dials}
    if case in ("documented", "hostile"):  # stopped; fitted, and its size was not kept
        assert numerals == {}
        return
    for name in ("height", "thickness", "length"):
        size = getattr(spring, name)
        assert size is not None
        assert numerals[name] == pytest.approx(size.value_mm)


@each_case()
def test_every_doubt_stands_once_and_not_again_beside_the_movement(case: str) -> None:
    doubts = page_doubts(sample(case))
    assert len(doubts) == len(set(doubts))
    assert not set(doubts) & set(first_the_movement(sample(case)))


def test_doubts_and_what_belongs_to_the_movement_are_said() -> None:
    assert first_the_movement(sample("whole"))
    assert "third of the bore" in page_doubts(sample("no_arbor"))[0]


def test_columns_with_nothing_in_them_are_left_out() -> None:
    whole = springs_table(sample("whole"), torque_plot(sample("whole")))
    assert whole is not None
    assert whole.header == ("", "turns", "hours", "N mm", "after 24 h", "amplitude")
    by_rule = springs_table(sample("by_rule"), None)
    assert by_rule is not None
    assert [row[0] for row in by_rule.rows] == ["size to order"]
    assert "amplitude" not in by_rule.header
    choice = sample("no_lid").choice
    assert choice is not None
    picks = picks_table(choice)
    assert picks is not None
    assert "fits" not in picks.header


def test_the_torque_of_a_pick_ends_where_the_choice_says_it_ends() -> None:
    """The curve at the best values against the draws of the choice: other routes, one spring."""
    page = unfitted()
    plot, spring = torque_plot(page), page_spring(page)
    assert plot is not None
    assert spring is not None
    assert spring.pick is not None
    turns = spring.pick.turns_usable
    assert turns.low < plot.spring.turns[-1] < turns.high
    assert plot.spring.turns[-1] == pytest.approx(turns.value, abs=0.3)


def test_the_band_of_a_sized_curve_is_the_interval_of_its_torque() -> None:
    page = sample("by_rule")
    plot = torque_plot(page)
    assert plot is not None
    assert page.result is not None
    assert page.result.order_figures is not None
    model = page.result.order_figures.torque_model
    assert model is not None
    assert model.torque_full is not None
    full = model.torque_full
    drawn = plot.spring.low_nmm[0], plot.spring.high_nmm[0]
    assert drawn == pytest.approx((full.low, full.high), rel=0.01)


def test_a_stopwork_begins_its_curve_at_its_own_top() -> None:
    page = sample("large")
    plot = torque_plot(page)
    assert plot is not None
    assert page.sizing is not None
    stopwork = page.sizing.inputs.arrangement.stopwork
    assert stopwork is not None
    assert plot.spring.turns[0] == 0.0
    assert plot.spring.turns[-1] == pytest.approx(stopwork.turns)
    assert plot.spring.middle_nmm[-1] > 0
    # The curve's ends are those of the distribution, from which few draws stray in the tails.
    figures = size_spring(page.sizing.inputs, draws=100_000).order_figures
    assert figures is not None
    assert figures.torque_model is not None
    full = figures.torque_model.torque_full
    assert full is not None
    drawn = plot.spring.low_nmm[0], plot.spring.high_nmm[0]
    # What hub and hook make of the turns above the stop is in the interval, not in the curve.
    assert drawn == pytest.approx((full.low, full.high), rel=0.03)
    assert "Crown turns, between the stops" in checked(page)


def test_without_a_height_no_curve_is_drawn() -> None:
    job = record(acts(depth=(), lid=(), thickness=(), height=()))
    page = content(job, barrel_of(job))
    assert torque_plot(page) is None


FACTS = (
    Chosen(
        item="A17",
        turns=ForeseenSpan(low=6, high=7),
        crown_turns=ForeseenSpan(low=28, high=30),
        hours=ForeseenSpan(low=36, high=50),
        amplitude_deg=ForeseenSpan(low=250, high=290),
    ),
    After(
        crown_turns=29,
        hours_run=41,
        amplitudes=(
            Amplitude(deg=268, position=Lay.DIAL_UP, wind=WindState.WOUND),
            Amplitude(deg=241, position=Lay.DIAL_UP, wind=WindState.AFTER_24_H),
        ),
        noise="none",
    ),
)


def checked(page: PageContent) -> dict[str, tuple[str, str]]:
    stages = after_fitting(page)
    return {c.what: (c.foreseen, c.seen) for stage in stages for c in stage.checks}


def test_the_checks_say_what_is_foreseen_and_what_was_seen() -> None:
    job = record(acts())
    found = checked(content(job, barrel_of(job), facts=FACTS))
    assert found["Crown turns, rest to full"] == ("28 to 30", "29")
    assert found["Barrel turns, rest to full"] == ("6 to 7", "")
    assert found["Hours it runs"] == ("36 to 50 h", "41 h")
    assert found["Amplitude at full wind"] == ("250 to 290°", "268° dial-up")
    assert found["Amplitude after 24 h"][1] == "241° dial-up"
    assert found["Sound at full wind"] == ("no knocking", "none")


def test_the_checks_of_a_pick_are_foreseen_by_the_choice() -> None:
    page = unfitted()
    spring = page_spring(page)
    assert spring is not None
    assert spring.pick is not None
    assert spring.pick.hours_to_stop is not None
    found = checked(page)
    assert found["Hours it runs"][0] == f"{span(spring.pick.hours_to_stop, ' to ')} h"
    assert found["Amplitude at full wind"][0].startswith(f"{spring.pick.amplitude_deg.low:.0f} to")
    assert found["Spring below the lid"][0] == "0.13 mm of play"


def stored(*facts: Fact) -> tuple[StoredFact, ...]:
    day = "2026-03-02T10:00:00+00:00"
    return tuple(
        StoredFact(job_id=3, number=number, written_utc=day, fact=fact)
        for number, fact in enumerate(facts, start=1)
    )


def taken(page: PageContent, chosen: Chosen) -> PageContent:
    return replace(page, facts=stored(chosen))


def test_once_a_spring_was_taken_the_checks_are_of_it_and_of_no_other() -> None:
    recommended = replace(sample("whole"), facts=())
    assert recommended.choice is not None
    assert foreseen_for(recommended) == "Expected of A10."
    other = recommended.choice.picks[1]
    assert other.spring.height_mm != recommended.choice.picks[0].spring.height_mm
    page = taken(recommended, Chosen(item=other.spring.item))
    assert foreseen_for(page) == f"Expected of {other.spring.item}, the spring fitted."
    assert foreseen_for(page) in parsed(page_html(page)).one("main").text
    assert foreseen_for(page) in page_text(page)
    foremost = replace(recommended.choice, picks=recommended.choice.picks[1:])
    assert after_fitting(page) == after_fitting(replace(recommended, choice=foremost))


def test_the_size_that_was_kept_of_the_spring_taken_counts() -> None:
    page = taken(sample("whole"), Chosen(item="by hand", height_mm=1.2))
    found = checked(page)
    # A03, 0.2 mm higher, lies 0.18 mm below the lid.
    assert found["Spring below the lid"][0] == "0.38 mm of play"
    assert found["Hours it runs"][0] == "write it down"
    unknown = checked(taken(sample("whole"), Chosen(item="by hand")))
    assert unknown["Spring below the lid"][0] == "at least 0.10 mm of play"


def test_what_was_foreseen_is_rounded_as_with_the_facts() -> None:
    hours = ForeseenSpan(low=38.4217, high=44.9312)
    found = checked(taken(sample("whole"), Chosen(item="A17", hours=hours)))
    assert found["Hours it runs"][0] == f"{ends_text(hours)} h" == "38.4 to 44.9 h"


def test_a_spring_that_is_too_high_is_said_to_be() -> None:
    assert checked(sample("documented"))["Spring below the lid"][0] == "0.07 mm too high"


def test_nothing_is_to_be_checked_while_there_is_no_spring() -> None:
    assert after_fitting(sample("unfinished")) == ()


def test_rules_that_ask_for_one_size_share_a_row() -> None:
    panels = {panel.title: panel.rows for panel in rule_panels(sample("whole"))}
    assert panels["thickness in mm"][0].name == "every rule"
    assert len(panels["length in mm"]) == 5 + 3
    kinds = [row.kind for row in panels["height in mm"]]
    assert kinds == [RowKind.RULE, RowKind.FOUND, RowKind.DOCUMENTED, RowKind.PICKED]


def test_readings_stand_beside_the_size_that_the_sizing_used() -> None:
    page = sample("whole")
    assert page.result is not None
    used = {e.label: e for e in page.result.inputs}
    by_name = {figure.plot.measurand: figure.plot for figure in readings_figures(page)}
    assert by_name["bore"].mean.low_mm == used["bore"].low
    assert by_name["found thickness"].mean.high_mm == used["found.thickness"].high


def test_readings_stand_beside_what_they_gave_when_another_size_was_typed() -> None:
    job = record(acts())
    barrel = barrel_of(job)
    page = content(job, replace(barrel, bore=replace(barrel.bore, value=12.0)))
    (bore,) = (f.plot for f in readings_figures(page) if f.plot.measurand == "bore")
    assert bore.mean.value_mm == pytest.approx(11.515, abs=0.01)


def test_gauges_say_their_zero_and_their_limits() -> None:
    caliper, micrometer = gauge_lines(sample("whole"))
    assert caliper.zero == "+0.000 mm before, +0.010 mm after"
    assert "inside and in depth ±0.03 mm more" in caliper.limits
    assert micrometer.limits == "limit of error ±0.02 mm"
    assert gauge_lines(sample("unfinished"))[1].zero == "not checked"


def test_the_stock_of_the_samples_has_something_to_choose_from() -> None:
    choice = sample("whole").choice
    assert choice is not None
    assert choice.stock_size == len(STOCK)
    assert 0 < choice.ranked < len(STOCK)


def test_the_torque_of_a_pick_is_that_half_a_turn_after_full_wind() -> None:
    """Below that at full wind, which the curve begins with, and above that a whole turn on."""
    page = replace(sample("whole"), facts=())
    plot, spring = torque_plot(page), page_spring(page)
    assert plot is not None
    assert page.sizing is not None
    assert spring is not None
    assert spring.pick is not None
    for drawn, said in zip(
        (plot.spring.low_nmm, plot.spring.high_nmm),
        half_a_turn_on(page.sizing, spring),
        strict=True,
    ):
        on_the_way = np.interp((0.0, 0.5, 1.0), plot.spring.turns, drawn)
        assert on_the_way[0] > said > on_the_way[2]
        assert said == pytest.approx(on_the_way[1], rel=1e-3)
