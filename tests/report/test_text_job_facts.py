"""What was written down of a job, as text and JSON."""

from __future__ import annotations

import json

import pytest

from gaugelink.jobbook.facts import (
    After,
    Amplitude,
    ChoiceVersion,
    Chosen,
    Fact,
    ForeseenSpan,
    JobReference,
    Lay,
    Movement,
    Photograph,
    Remark,
    SizeVersion,
    StoredFact,
    TrainData,
    WindState,
)
from gaugelink.report.json_records import facts_json
from gaugelink.report.text_job import facts_text

HOURS = ForeseenSpan(low=36.0, high=42.0)


def stored(*facts: Fact) -> list[StoredFact]:
    return [
        StoredFact(job_id=3, number=n, written_utc=f"2026-11-{n:02d}T09:00:00+00:00", fact=fact)
        for n, fact in enumerate(facts, start=1)
    ]


def text(*facts: Fact) -> list[str]:
    return facts_text(stored(*facts)).splitlines()


def test_of_nothing_nothing_is_said() -> None:
    assert facts_text([]) == ""


def test_the_last_word_counts_and_every_note_stands() -> None:
    lines = text(
        Movement(text="lever"),
        Remark(text="hook worn"),
        Movement(text="cylinder"),
        JobReference(text="Mrs Example"),
        Remark(text="lid bent"),
        TrainData(teeth="80/10 75/12", hours_per_turn=7.5),
    )
    assert lines == [
        "",
        "ABOUT IT",
        "  movement: cylinder",
        "  reference: Mrs Example",
        "  train: 80/10 75/12, 7.5 h a turn of the barrel",
        "  note, 2026-11-02: hook worn",
        "  note, 2026-11-05: lid bent",
    ]


def test_a_photograph_that_is_gone_is_marked() -> None:
    facts = stored(Photograph(path="/a.jpg"), Photograph(path="/b.jpg"))
    shown = facts_text(facts, lost_photographs={"/b.jpg"})
    assert "photograph: /a.jpg\n" in shown
    assert "photograph: /b.jpg  (not there now)\n" in shown


RULE = {"rule": "half-area", "thickness": {"value": 0.1234}, "length": {"value": 361.4}}
OTHER = {"rule": "ratio-30", "thickness": {"value": 0.3}, "length": {"value": 300.0}}
SIZED = SizeVersion(result={"height": {"value": 1.234}, "rules": [OTHER, RULE]}, software="0.1")
UNSIZED = SizeVersion(result={"height": None}, software="0.1")
RANKED = ChoiceVersion(result={"picks": [{"item": item} for item in "ABCD"]}, software="0.1")
UNRANKED = ChoiceVersion(result={"picks": []}, software="0.1")
RESULTS = [
    (SIZED, "size", "height 1.23 mm; half-area: thickness 0.123 mm, length 361 mm"),
    (UNSIZED, "size", "height - mm"),
    (RANKED, "choice", "first A, then B, then C"),
    (UNRANKED, "choice", "nothing fits"),
]


@pytest.mark.parametrize(("fact", "name", "expected"), RESULTS)
def test_a_result_is_told_in_a_line(fact: Fact, name: str, expected: str) -> None:
    head, *lines = text(fact)[1:]
    assert head == "RESULTS SO FAR"
    told = " ".join(" ".join(lines).split())
    assert told == f"{name} 1, 2026-11-01, gaugelink 0.1: {expected}"


def test_what_was_foreseen_stands_beside_what_was_seen() -> None:
    chosen = Chosen(
        item="A17",
        height_mm=1.5,
        thickness_mm=0.125,
        hours=HOURS,
        turns=ForeseenSpan(low=6.0, high=6.0),
        amplitude_deg=ForeseenSpan(low=240.0, high=275.0),
        position=Lay.DIAL_UP,
    )
    after = After(
        crown_turns=28.0,
        hours_run=43.0,
        amplitudes=(Amplitude(deg=250.0, position=Lay.DIAL_UP, wind=WindState.WOUND),),
        noise="none",
    )
    shown = "\n".join(text(chosen, after))
    flowing = " ".join(shown.split())
    assert "spring: A17, 1.5 x 0.125 x ? mm; turns 6 expected; hours 36 to 42 expected;" in flowing
    assert "seen after: 28 turns of the crown; 43 h run; 250° dial-up wound; noise: none" in flowing
    rows = [line.split() for line in shown.splitlines()[-2:]]
    assert rows[0] == ["hours", "36", "to", "42", "h", "43", "h", "1.10", "outside"]
    assert rows[1][-3:] == ["0.97", "as", "expected"]


@pytest.mark.parametrize(
    ("span", "written"),
    [
        (ForeseenSpan(low=5.19839, high=6.70296), "5.2 to 6.7"),
        (ForeseenSpan(low=38.98793, high=50.27222), "39 to 50.3"),
        (ForeseenSpan(low=36.5, high=42.0), "36.5 to 42"),
        (ForeseenSpan(low=6.123456, high=6.123456), "6.123"),
    ],
)
def test_a_foreseen_span_is_written_no_finer_than_it_is_wide(
    span: ForeseenSpan, written: str
) -> None:
    assert f"hours {written} expected" in " ".join(text(Chosen(item="A17", hours=span)))


def test_what_was_seen_without_a_choice_is_shown_alone() -> None:
    assert text(After(hours_run=40.0))[1:] == ["FITTED", "  seen after: 40 h run"]
    assert text(Chosen(item="A17"))[1:] == ["FITTED", "  spring: A17"]


def test_no_line_is_wider_than_a_terminal() -> None:
    long = "word " * 60
    shown = text(Movement(text=long), Remark(text=long), Chosen(item=long, hours=HOURS))
    assert max(map(len, shown)) <= 78


def test_the_json_has_every_fact_and_every_comparison() -> None:
    facts = stored(Remark(text="é"), Chosen(item="A", hours=HOURS), After(hours_run=39.0))
    data = facts_json(facts)
    json.dumps(data, allow_nan=False)
    assert [each["fact"] for each in data["facts"]] == ["note", "chosen", "after"]
    assert data["facts"][0] == {
        "number": 1,
        "written_utc": "2026-11-01T09:00:00+00:00",
        "fact": "note",
        "text": "é",
    }
    assert data["compared"] == [
        {
            "job": 3,
            "figure": "hours",
            "foreseen": {"low": 36.0, "high": 42.0},
            "seen": 39.0,
            "ratio": 1.0,
            "inside": True,
        }
    ]
