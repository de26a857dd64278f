"""What a page says: the recommendation, how sure it is, the doubts, the tables, the checks."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from page_markup import page_of, parsed, sample
from page_samples import STOCK, acts, barrel_of, content, each_case, record

from gaugelink.drawing.rules_plot import RowKind
from gaugelink.jobbook.facts import (
    After,
    Amplitude,
    Chosen,
    ForeseenSpan,
    Lay,
    StoredFact,
    WindState,
)
from gaugelink.mechanics.arrangement import Arrangement, BarrelKind
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
from gaugelink.report.page_words import gauge_lines, picks_table, springs_table
from gaugelink.report.plots import readings_figures, rule_panels
from gaugelink.report.text_job import ends_text
from gaugelink.uncertainty.conformity import probability_above


@pytest.mark.parametrize(
    ("case", "kind", "said"),
    [
        ("whole", RowKind.PICKED, ("Take A09", "probability", "no other spring is better in")),
        ("documented", RowKind.DOCUMENTED, ("documented spring", "but at most 1.22 mm high")),
        ("large", RowKind.DOCUMENTED, ("documented spring, 2.9 mm high", "over 99 % probability")),
        ("by_rule", RowKind.RULE, ("at most 1.42 mm high", "rule of thumb (half-area) only")),
        ("nothing_fits", RowKind.RULE, ("Nothing in the stock fits",)),
        ("no_lid", RowKind.PICKED, ("its height was not judged",)),
        ("unfinished", None, ("No size can be given: the bore has not been measured yet.",)),
    ],
)
def test_the_recommendation_is_one_sentence_that_says_how_sure_it_is(
    case: str, kind: RowKind | None, said: tuple[str, ...]
) -> None:
    spring = page_spring(sample(case))
    assert (spring.kind if spring else None) is kind
    sentence = page_answer(sample(case)).sentence
    assert all(part in sentence for part in said)
    assert sentence.endswith(".")
    assert sentence in parsed(page_of(case)).one("main").text


def test_without_a_lid_the_sentence_says_what_is_missing() -> None:
    job = record(acts(lid=(), thickness=(), height=()))
    by_rule = page_answer(content(job, barrel_of(job)))
    assert "which takes the depth and the lid" in by_rule.sentence
    assert [dial.name for dial in by_rule.dials] == ["thickness", "length"]
    known = page_answer(content(job, barrel_of(job, "1.45 0.13 370")))
    assert "whether it fits under the lid is not known" in known.sentence


def test_where_no_rule_holds_the_reason_stands_in_place_of_a_size() -> None:
    job = record(acts(thickness=(), height=()))
    barrel = replace(barrel_of(job), arrangement=Arrangement(kind=BarrelKind.FUSEE))
    barrel = replace(barrel, hours_per_turn=None)
    page = content(job, barrel)
    assert page.result is not None
    assert page.result.rules == ()
    answer = page_answer(page)
    assert answer.sentence.startswith("No size can be given: ")
    assert page.result.refused[0].hint in answer.sentence
    assert answer.dials == ()


@pytest.mark.parametrize("case", ["documented", "large"])
def test_a_documented_height_is_recommended_only_where_it_is_likely_to_fit(case: str) -> None:
    result, answer = sample(case).result, page_answer(sample(case))
    assert result is not None
    assert result.height is not None
    assert result.documented is not None
    assert result.documented.figures.height is not None
    height = result.documented.figures.height.value
    fits = probability_above(result.height, height) > 0.5
    assert ("at most" in answer.dials[0].name) is not fits
    if not fits:
        assert float(answer.dials[0].numeral) <= result.height.low


@each_case("unfinished", "empty")
def test_the_dials_are_the_sizes_that_are_recommended(case: str) -> None:
    answer, spring = page_answer(sample(case)), page_spring(sample(case))
    assert spring is not None
    if case != "nothing_fits":  # there the dials are a size to order
        numerals = {dial.name: float(dial.numeral) for dial in answer.dials}
        assert numerals["thickness"] == pytest.approx(spring.thickness.value_mm, rel=0.005)
        assert spring.length is not None
        assert numerals["length"] == pytest.approx(spring.length.value_mm, rel=0.005)
    assert len(answer.dials) == (3 if sample(case).result.height or case == "no_lid" else 2)


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
    assert whole.header == ("", "turns", "hours", "N mm", "kept 24 h", "amplitude")
    assert [row[0] for row in whole.rows] == ["A09", "half-area", "found", "documented"]
    by_rule = springs_table(sample("by_rule"), None)
    assert by_rule is not None
    assert "amplitude" not in by_rule.header
    choice = sample("no_lid").choice
    assert choice is not None
    picks = picks_table(choice)
    assert picks is not None
    assert "fits" not in picks.header


def test_the_torque_of_a_pick_ends_where_the_choice_says_it_ends() -> None:
    """The curve at the best values against the draws of the choice: other routes, one spring."""
    page = sample("whole")
    plot, spring = torque_plot(page), page_spring(page)
    assert plot is not None
    assert spring is not None
    assert spring.pick is not None
    turns = spring.pick.turns_usable
    assert turns.low < plot.spring.turns[-1] < turns.high
    assert plot.spring.turns[-1] == pytest.approx(turns.value, abs=0.3)


def test_the_band_of_a_sized_curve_is_the_interval_of_its_torque() -> None:
    page = sample("documented")
    plot = torque_plot(page)
    assert plot is not None
    assert page.result is not None
    assert page.result.documented is not None
    model = page.result.documented.figures.torque_model
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
    shown = page_spring(page)
    assert shown is not None
    assert shown.figures is not None
    assert shown.figures.torque_model is not None
    full = shown.figures.torque_model.torque_full
    assert full is not None
    drawn = plot.spring.low_nmm[0], plot.spring.high_nmm[0]
    assert drawn == pytest.approx((full.low, full.high), rel=0.02)
    assert "Crown turns, between the stops" in checked(page)


def test_without_a_height_no_curve_of_the_rule_is_drawn() -> None:
    job = record(acts(lid=(), thickness=(), height=()))
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
    page = replace(sample("whole"), facts=())
    spring = page_spring(page)
    assert spring is not None
    assert spring.pick is not None
    to_stop = spring.pick.hours_to_stop
    assert to_stop is not None
    found = checked(page)
    assert found["Hours it runs"][0] == f"{to_stop.low:.0f} to {to_stop.high:.0f} h"
    assert found["Amplitude at full wind"][0].startswith(f"{spring.pick.amplitude_deg.low:.0f} to")
    assert found["Spring below the lid"][0] == "0.18 mm of play"


def taken(page: PageContent, chosen: Chosen) -> PageContent:
    fact = StoredFact(job_id=3, number=1, written_utc="2026-03-02T10:00:00+00:00", fact=chosen)
    return replace(page, facts=(fact,))


def test_once_a_spring_was_taken_the_checks_are_of_it_and_of_no_other() -> None:
    recommended = replace(sample("whole"), facts=())
    assert recommended.choice is not None
    assert foreseen_for(recommended) == "Foreseen for A09."
    first, *others = recommended.choice.picks
    place, other = next(
        (place, each)
        for place, each in enumerate(others, 1)
        if each.spring.height_mm != first.spring.height_mm
    )
    page = taken(recommended, Chosen(item=other.spring.item))
    assert foreseen_for(page) == f"Foreseen for {other.spring.item}, the spring that was taken."
    assert foreseen_for(page) in parsed(page_html(page)).one("main").text
    assert foreseen_for(page) in page_text(page)
    foremost = replace(recommended.choice, picks=recommended.choice.picks[place:])
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
    page = sample("whole")
    plot, spring = torque_plot(page), page_spring(page)
    assert plot is not None
    assert page.sizing is not None
    assert spring is not None
    assert spring.pick is not None
    for drawn, said in zip(
        (plot.spring.low_nmm, plot.spring.high_nmm),
        half_a_turn_on(page.sizing, spring.pick),
        strict=True,
    ):
        on_the_way = np.interp((0.0, 0.5, 1.0), plot.spring.turns, drawn)
        assert on_the_way[0] > said > on_the_way[2]
        assert said == pytest.approx(on_the_way[1], rel=1e-3)
