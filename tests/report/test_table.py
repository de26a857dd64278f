"""Tables and wrapped sentences line up."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gaugelink.report.table import (
    OPENING_CAUTIONS,
    SPRING_CAUTIONS,
    TAKING_OUT,
    WIDTH,
    table,
    wrapped,
)

words = st.text("abc0123.±", min_size=1, max_size=8)


def test_columns_line_up() -> None:
    text = table(("", "mean", "s"), [("bore", "11.520", "0.1"), ("lid", "0.3", "0.10")])
    assert text.splitlines() == [
        "          mean     s",
        "  bore  11.520   0.1",
        "  lid      0.3  0.10",
    ]


@given(st.lists(st.tuples(words, words, words), min_size=1, max_size=5))
def test_the_last_column_ends_in_one_place(rows: list[tuple[str, str, str]]) -> None:
    lines = table(("a", "b", "c"), rows).splitlines()
    assert [tuple(line.split()) for line in lines[1:]] == rows
    assert len({len(line) for line in lines}) == 1


def test_a_row_of_another_width_is_refused() -> None:
    with pytest.raises((ValueError, IndexError)):
        table(("a", "b"), [("only one",)])


def test_a_sentence_is_wrapped_under_its_lead() -> None:
    text = wrapped("a run-down band of one third. " * 8, lead="  ! ")
    first, *rest = text.splitlines()
    assert first.startswith("  ! a run-down")
    assert rest and all(line.startswith("    ") and line[4] != " " for line in rest)
    assert max(map(len, text.splitlines())) <= WIDTH


@pytest.mark.parametrize("indent", range(4, 24))
def test_a_number_and_its_per_cent_sign_stay_on_one_line(indent: int) -> None:
    text = wrapped("it is 95 % and no less. " * 8, lead=" " * indent)
    assert " ".join(text.split()) == ("it is 95 % and no less. " * 8).strip()
    assert text.count("95 %") == 8


@pytest.mark.parametrize("cautions", [OPENING_CAUTIONS, TAKING_OUT, SPRING_CAUTIONS])
def test_cautions_fit_the_width(cautions: str) -> None:
    assert max(map(len, cautions.splitlines())) <= WIDTH


@pytest.mark.parametrize(
    "word",
    [
        *("power down", "eye protection", "blued steel", "radium", "Solvents", "licensed practice"),
        *("Fusee", "Two barrels", "Motor barrel", "Self-winding"),
    ],
)
def test_the_cautions_before_opening_name_each_danger(word: str) -> None:
    assert word in " ".join(OPENING_CAUTIONS.split())


@pytest.mark.parametrize("word", ["eye protection", "loose", "slowly", "its edges cut"])
def test_the_cautions_before_the_old_spring_comes_out_name_each_danger(word: str) -> None:
    assert word in " ".join(TAKING_OUT.split())
