"""What is written down of a job comes back exactly, and what came before it stays."""

from __future__ import annotations

import typing
from pathlib import Path

import pytest
from any_value import any_value
from hypothesis import given
from hypothesis import strategies as st
from jobbook_samples import begin

from gaugelink.errors import JobNotFound
from gaugelink.jobbook.codec import UnreadableRow, encode, wire_name
from gaugelink.jobbook.facts import (
    FACTS,
    After,
    Amplitude,
    ChoiceVersion,
    Chosen,
    Fact,
    FactBook,
    ForeseenSpan,
    Lay,
    Movement,
    Particulars,
    Remark,
    SizeVersion,
    WindState,
    chosen_from,
    decode_fact,
    record_choice,
    record_size,
    seen_after,
    who_and_where,
)
from gaugelink.jobbook.journal import Journal

VERSIONS = (SizeVersion, ChoiceVersion)
JSON_NUMBERS = st.floats(allow_nan=False, allow_infinity=False)
JSON = st.recursive(
    st.none() | st.booleans() | JSON_NUMBERS | st.text(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(), inner, max_size=3),
    max_leaves=8,
)
PLAIN = [cls for cls in FACTS.values() if cls not in VERSIONS]
UP, EDGE = Lay.DIAL_UP, Lay.VERTICAL


@pytest.fixture(name="path")
def path_of_a_journal_with_two_jobs(tmp_path: Path) -> Path:
    path = tmp_path / "journal.sqlite"
    with Journal.open(path) as journal:
        assert [begin(journal), begin(journal)] == [1, 2]
    return path


def finite(fact: Fact) -> bool:
    return "inf" not in repr(fact)


def test_the_table_names_every_fact() -> None:
    assert set(FACTS.values()) == set(typing.get_args(Fact))


@pytest.mark.parametrize("cls", PLAIN, ids=wire_name)
def test_every_fact_comes_back_exactly(cls: type) -> None:
    @given(any_value(cls).filter(finite))
    def comes_back(fact: Fact) -> None:
        detail = encode(fact)
        detail.encode("utf-8")  # SQLite takes nothing else
        assert repr(decode_fact(wire_name(cls), detail)) == repr(fact)

    comes_back()


@pytest.mark.parametrize("cls", VERSIONS, ids=wire_name)
@given(result=st.dictionaries(st.text(), JSON, max_size=4), software=st.text())
def test_a_result_comes_back_exactly_with_its_nulls(
    cls: type, result: dict[str, object], software: str
) -> None:
    fact = cls(result=result, software=software)
    assert decode_fact(wire_name(cls), encode(fact)) == fact


@pytest.mark.parametrize(
    ("name", "detail"),
    [
        ("mood", "{}"),
        ("note", "{"),
        ("note", "[]"),
        ("note", "{}"),
        ("note", '{"text":3}'),
        ("note", '{"text":"a","more":1}'),
        ("size", '{"result":[],"software":"1"}'),
        ("chosen", '{"item":"A","hours":{"low":1}}'),
        ("chosen", '{"item":"A","position":"upside"}'),
        ("after", '{"amplitudes":[{}]}'),
    ],
)
def test_a_row_that_is_not_ours_is_refused(name: str, detail: str) -> None:
    with pytest.raises(UnreadableRow):
        decode_fact(name, detail)


def test_facts_are_numbered_and_only_added(path: Path) -> None:
    with FactBook(path) as book:
        book.add(1, Movement(text="lever"), Remark(text="hook worn"))
        book.add(2, Remark(text="another job"))
        before = book.facts(1)
        book.add(1, Movement(text="cylinder"))
        after = book.facts(1)
        assert after[:2] == before
        assert [(stored.job_id, stored.number) for stored in after] == [(1, 1), (1, 2), (1, 3)]
        assert book.latest(1, Movement) == Movement(text="cylinder")
        assert book.latest(2, Movement) is None
        assert [s.job_id for s in book.of_kind(Remark, Movement)] == [1, 1, 1, 2]


def test_of_several_facts_all_are_kept_or_none(path: Path) -> None:
    with FactBook(path) as book:
        unfit = SizeVersion(result={"height": float("nan")}, software="0")  # JSON has no NaN
        with pytest.raises(ValueError, match="JSON compliant"):
            book.add(1, Remark(text="kept?"), unfit)
        assert book.facts(1) == ()


def test_a_job_that_is_not_there_is_refused(path: Path) -> None:
    with FactBook(path) as book:
        with pytest.raises(JobNotFound, match="No job 3"):
            book.add(3, Remark(text="whose?"))
        with pytest.raises(JobNotFound):
            book.add_version(3, SizeVersion(result={}, software="0"))
        assert book.facts(3) == ()


def test_a_result_is_a_new_version_only_when_it_differs(path: Path) -> None:
    first, second = {"height": {"value": 1.2}}, {"height": {"value": 1.3}}
    numbers = [record_size(path, 1, each, "0.1") for each in (first, first, second, first)]
    assert numbers == [1, 1, 2, 3]
    assert record_choice(path, 1, first, "0.1") == 1  # counted by itself
    assert record_size(path, 2, first, "0.1") == 1
    with FactBook(path) as book:
        results = [s.fact.result for s in book.of_kind(SizeVersion) if s.job_id == 1]
    assert results == [first, second, first]


RANKING = ChoiceVersion(
    result={
        "picks": [
            {"item": "A16", "height": 1.5, "length": 400.0, "cut_to": 380.0},
            {
                "item": "A17",
                "height": 1.55,
                "thickness": 0.13,
                "length": 370,
                "turns": {"value": 6.2, "low": 6.0, "high": 6.4},
                "hours": {"value": 40.0, "low": 38.0, "high": 42.0},
                "torque_ratio": {"low": 0.9, "high": 1.1},
                "amplitude": None,
            },
        ]
    },
    software="0.1",
)


def test_a_chosen_spring_takes_its_figures_from_the_ranking() -> None:
    assert chosen_from(RANKING, "A17") == Chosen(
        item="A17",
        height_mm=1.55,
        thickness_mm=0.13,
        length_mm=370.0,
        turns=ForeseenSpan(low=6.0, high=6.4),
        hours=ForeseenSpan(low=38.0, high=42.0),
        torque_ratio=ForeseenSpan(low=0.9, high=1.1),
    )
    assert chosen_from(RANKING, "A16") == Chosen(
        item="A16", height_mm=1.5, length_mm=380.0, cut_from_mm=400.0
    )
    assert chosen_from(RANKING, "A18") is None


def test_what_was_seen_in_pieces_is_put_together() -> None:
    first = After(
        crown_turns=27.0, amplitudes=(Amplitude(deg=260.0, position=UP, wind=WindState.WOUND),)
    )
    later = After(
        hours_run=41.0,
        amplitudes=(
            Amplitude(deg=265.0, position=UP, wind=WindState.WOUND),
            Amplitude(deg=230.0, position=EDGE, wind=WindState.AFTER_24_H),
        ),
        noise="none",
    )
    assert seen_after([first, later]) == After(
        crown_turns=27.0, hours_run=41.0, amplitudes=later.amplitudes, noise="none"
    )
    assert seen_after([later, first]) == After(
        crown_turns=27.0,
        hours_run=41.0,
        amplitudes=(*first.amplitudes, later.amplitudes[1]),
        noise="none",
    )
    assert seen_after([]) is None


def test_the_head_of_the_record_comes_in_pieces_and_the_last_word_counts() -> None:
    pieces = (
        Particulars(workshop="Bench One", by="A. Hand"),
        Particulars(customer="Mrs Example", temperature_c=20.5),
        Particulars(by="B. Hand"),
    )
    assert who_and_where(pieces) == Particulars(
        workshop="Bench One", customer="Mrs Example", by="B. Hand", temperature_c=20.5
    )
    assert who_and_where(()) == Particulars()


def test_a_spring_that_is_cut_is_kept_as_fitted_with_what_it_was_and_its_end() -> None:
    pick = {"item": "A17", "height": 1.2, "thickness": 0.125, "length": 400, "end": "hole"}
    ranking = ChoiceVersion(result={"picks": [{**pick, "cut_to": 345}]}, software="0")
    chosen = chosen_from(ranking, "A17")
    assert chosen is not None
    assert (chosen.length_mm, chosen.cut_from_mm, chosen.end) == (345, 400, "hole")
    whole = chosen_from(ChoiceVersion(result={"picks": [pick]}, software="0"), "A17")
    assert whole is not None
    assert (whole.length_mm, whole.cut_from_mm) == (400, None)
