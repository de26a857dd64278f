"""The sentences a person reads, with their numbers. The readings are invented."""

from __future__ import annotations

from stat_data import series

from gaugelink.statistics.summary import summarise
from gaugelink.statistics.treatment import treat


def test_a_rejected_reading_says_where_it_lies_and_why_it_is_left_out() -> None:
    values = [12.01, 12.00, 12.01, 12.02, 12.01, 12.90, 12.01]
    (mark,) = treat(values, 0.01).marks
    assert mark.reason == (
        "Reading 6 (12.90 mm) lies 0.89 mm above the mean of the 6 readings that agree; "
        "by chance that happens in fewer than 1 series in 100, so it is left out."
    )


def test_a_straggler_says_that_it_is_kept() -> None:
    values = [12.00, 12.02, 11.99, 12.01, 12.08, 12.03, 12.02, 12.00]
    (mark,) = treat(values, 0.01).marks
    assert mark.reason == (
        "Reading 5 (12.08 mm) lies 0.07 mm above the mean of the 7 readings that agree; "
        "by chance that happens in fewer than 1 series in 20, which is not rare enough to leave it "
        "out."
    )


def test_a_reading_beyond_what_the_gauge_repeats_to_says_so() -> None:
    first, second = treat([12.00, 12.50, 12.01, 12.00, 12.40, 12.01], 0.01).marks
    assert first.reason == (
        "Reading 2 (12.50 mm) lies 0.50 mm above the mean of the 4 readings that agree; "
        "by chance that happens in fewer than 1 series in 1000, given what the gauge repeats to, "
        "so it is left out."
    )
    assert second.reason.startswith("Reading 5 (12.40 mm) lies 0.40 mm above the mean of the 4")


def test_two_suspects_say_that_they_are_two() -> None:
    treatment = treat([12.00, 12.50, 12.01, 12.00, 12.50, 12.01], 0.01)
    assert treatment.advice[0].text == (
        "Readings 2 and 5 of 6 both lie apart, too many to tell which are wrong; clean the faces "
        "and measure again."
    )
    assert treatment.marks[0].reason.endswith("but another reading lies apart too, so it is kept.")


def test_drift_says_which_way_and_how_far() -> None:
    falling = treat([12.12, 12.10, 12.08, 12.06, 12.04, 12.02, 12.00], 0.01)
    assert falling.advice[0].text == (
        "The readings fall by about 0.12 mm from the first to the last; let part and gauge "
        "come to one temperature, check the zero and measure again."
    )
    rising = treat([12.00, 12.01, 12.02, 12.03, 12.04, 12.05, 13.00], 0.01)
    assert rising.advice[0].text.startswith("The readings rise by about ")
    assert rising.marks[0].reason.endswith("but the readings drift, so it is kept.")


def test_wide_spread_asks_for_two_more() -> None:
    (advice,) = treat([12.00, 12.06, 12.02], 0.01).advice
    assert advice.text == (
        "The 3 readings spread over 0.06 mm, more than the 0.03 mm that gauge and hand "
        "account for; take two more readings."
    )


def test_one_reading_and_equal_readings_are_explained() -> None:
    (single,) = summarise(series([12.0], 0.01)).advice
    assert single.text == "One reading cannot show its scatter; take at least two more."
    (coarse,) = summarise(series([12.0] * 5, 0.01)).advice
    assert coarse.text == (
        "All 5 readings used are equal because the display counts in steps of 0.01 mm; the "
        "value is not exact, and the step is added to the uncertainty as its resolution."
    )
