"""What is told of a step of the job: one signal for what happened, and a doubt never lost."""

from __future__ import annotations

import pytest
from capture_bench import reading

from gaugelink.capture.acts import (
    Act,
    Completed,
    GaugeDone,
    Halted,
    MoreWanted,
    NotTaken,
    Repeated,
    Resumed,
    Skipped,
    Taken,
    Undone,
)
from gaugelink.capture.signals import SIGNS, Signal, told_of, told_of_event
from gaugelink.model import GaugeEvent, LinkChange

TOOK = Taken(gauge_id="g", elapsed_s=0.0, measurand="bore", reading=reading("11.52"))
ODD = Taken(gauge_id="g", elapsed_s=0.0, measurand="bore", reading=reading("11.52"), note="far")
ALL = Completed(gauge_id="g", measurand="bore", n_readings=5)
MORE = MoreWanted(gauge_id="g", measurand="bore", wanted=7, reason="wide")
BACK = Undone(gauge_id="g", elapsed_s=0.0, measurand="bore", displayed="11.52")
REFUSAL = NotTaken(gauge_id="g", elapsed_s=0.0, reason="Unlikely (3 to 30 mm). Check it.")


@pytest.mark.parametrize(
    ("acts", "signals"),
    [
        ([], []),
        ([TOOK], ["taken"]),
        ([ODD], ["doubtful"]),
        ([TOOK, ALL], ["done"]),
        ([ODD, ALL], ["doubtful", "done"]),
        ([TOOK, MORE], ["more"]),
        ([TOOK, ALL, MORE], ["done", "doubtful"]),  # more would not help, and that is said
        ([BACK], ["undone"]),
        ([REFUSAL], ["refused"]),
        ([Halted(gauge_id="g", reason="It shows in.")], ["refused"]),
        ([Resumed(gauge_id="g"), TOOK], ["taken"]),
        ([Repeated(gauge_id="g", elapsed_s=0.0, displayed="1")], []),
        ([Skipped(gauge_id="g", measurand="bore")], ["skipped"]),
        ([TOOK, GaugeDone(gauge_id="g")], ["done"]),
    ],
)
def test_acts_make_signals(acts: list[Act], signals: list[str]) -> None:
    assert [str(each.signal) for each in told_of(acts)] == signals


def test_a_signal_has_its_figure_and_short_words() -> None:
    (done,) = told_of([TOOK, ALL])
    assert (done.text, done.said) == ("11.52", "bore done")
    (back,) = told_of([BACK])
    assert back.said == "taken back, bore 11.52"
    (refused,) = told_of([REFUSAL])
    assert refused.said == "refused, Unlikely (3 to 30 mm)"


def test_an_unplugged_gauge_is_told_and_one_that_is_back_is_not() -> None:
    told = [
        told_of_event(
            GaugeEvent(
                gauge_id="g", elapsed_s=0.0, body=LinkChange(connected=connected, text="cable")
            )
        )
        for connected in (False, True)
    ]
    assert told[0] is not None and told[0].signal is Signal.UNPLUGGED
    assert told[1] is None


def test_each_signal_has_a_sign_of_its_own() -> None:
    assert set(SIGNS) == set(Signal)
    assert len(set(SIGNS.values())) == len(Signal)
