"""Earlier jobs are found by their sizes, and what changed is made due again."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from jobbook_samples import begin, index_job, keep, taken

from gaugelink.errors import JobNotFound
from gaugelink.jobbook.facts import FactBook, Remark
from gaugelink.jobbook.journal import Journal
from gaugelink.jobbook.sizes import (
    LEAST_U_MM,
    KeptSize,
    SizeBook,
    likeness,
    nearest,
)

EARLIER: Mapping[int, Mapping[str, float]] = {
    1: {"bore": 11.00, "depth_rim": 1.60, "arbor": 3.60},
    2: {"bore": 11.02, "depth_rim": 1.61, "arbor": 3.61},
    3: {"bore": 11.02, "depth_seat": 1.61},
    4: {"arbor": 3.60, "found_thickness": 0.13},
    5: {"bore": 9.00, "depth_rim": 1.60, "arbor": 3.60},
}


def size(name: str, value_mm: float, u_mm: float = 0.02) -> KeptSize:
    return KeptSize(name=name, value_mm=value_mm, u_mm=u_mm)


def sizes(values: Mapping[str, float]) -> list[KeptSize]:
    return [size(*each) for each in values.items()]


@pytest.fixture(name="path")
def path_of_a_journal_with_sizes(tmp_path: Path) -> Path:
    path = tmp_path / "journal.sqlite"
    with Journal.open(path) as journal:
        for job, values in EARLIER.items():
            assert begin(journal) == job
            keep(journal, job, taken(1))
            index_job(path, job, sizes(values))
    return path


def due(path: Path) -> list[int]:
    with SizeBook(path) as book:
        return [state.job_id for state in book.due()]


def near(path: Path, value_mm: float, within_mm: float, *names: str) -> list[int]:
    with SizeBook(path) as book:
        found = book.near(names or ("bore",), value_mm, within_mm)
    return sorted(found)


def like(path: Path, values: Mapping[str, float], n: int = 9) -> list[int]:
    with SizeBook(path) as book:
        return [each.job_id for each in book.like(sizes(values), n)]


def test_a_job_is_due_until_its_sizes_are_made_and_again_when_it_grows(path: Path) -> None:
    assert due(path) == []
    with Journal.open(path) as journal:
        keep(journal, 2, taken(2))
        new = begin(journal)
    with FactBook(path) as book:
        book.add(4, Remark(text="changed"))
    assert due(path) == [2, 4, new]
    index_job(path, 2, [])
    assert due(path) == [4, new]


def test_sizes_made_of_an_older_job_leave_it_due(path: Path) -> None:
    with SizeBook(path) as book:
        before = book.state(1)
        with Journal.open(path) as journal:
            keep(journal, 1, taken(2))
        book.keep({before: ()})
    assert due(path) == [1]


def test_all_are_due_again_on_request(path: Path) -> None:
    with SizeBook(path) as book:
        book.forget()
        assert book.of(1)["bore"] == size("bore", 11.0)  # and found until then
    assert due(path) == [*EARLIER]


def test_new_sizes_take_the_place_of_the_old(path: Path) -> None:
    index_job(path, 1, [size("lid", 0.3)])
    with SizeBook(path) as book:
        assert book.of(1) == {"lid": size("lid", 0.3)}


def test_a_job_that_is_not_there_is_refused(path: Path) -> None:
    with pytest.raises(JobNotFound, match="No job 99"):
        index_job(path, 99, [])


@pytest.mark.parametrize(
    ("value_mm", "within_mm", "found"),
    [(11.0, 0.0, [1, 2, 3]), (11.05, 0.0, [2, 3]), (10.0, 1.0, [1, 5]), (20.0, 1.0, [])],
)
def test_near_counts_what_was_asked_for_or_twice_the_uncertainty(
    path: Path, value_mm: float, within_mm: float, found: list[int]
) -> None:
    assert near(path, value_mm, within_mm) == found


def test_any_of_several_sizes_may_be_near(path: Path) -> None:
    assert near(path, 1.6, 0.01, "depth_rim", "depth_seat") == [1, 2, 3, 5]
    assert near(path, 1.6, 0.01, "depth_rim") == [1, 2, 5]


def test_the_nearest_barrel_comes_first(path: Path) -> None:
    assert like(path, EARLIER[1]) == [1, 2, 3, 5]
    assert like(path, {"bore": 11.02, "depth_seat": 1.61}) == [3, 2, 1, 5]
    assert like(path, EARLIER[1], n=1) == [1]


def test_the_job_itself_is_left_out(path: Path) -> None:
    with SizeBook(path) as book:
        found = book.like(sizes(EARLIER[1]), 9, but=1)
    same = {each.job_id: each.is_same_size for each in found}
    assert same == {2: True, 3: False, 5: False}


def test_the_spring_in_it_does_not_tell_a_barrel(path: Path) -> None:
    assert like(path, {"bore": 11.0, "found_thickness": 0.13}) == like(path, {"bore": 11.0})


def test_a_difference_is_counted_in_the_uncertainty_of_both() -> None:
    wanted, found = size("bore", 11.0, 0.03), size("bore", 11.1, 0.04)
    compared = likeness(1, [wanted], {"bore": found})
    assert compared is not None
    assert compared.distance_in_u == pytest.approx(0.1 / (0.05**2 + LEAST_U_MM**2) ** 0.5)
    assert not compared.is_same_size  # one bore alone says nothing


@pytest.mark.parametrize(("arbor", "same"), [(3.60, True), (3.655, True), (3.66, False)])
def test_all_sizes_must_agree_within_twice_their_uncertainty(arbor: float, same: bool) -> None:
    wanted = sizes({"bore": 11.0, "arbor": 3.6})
    found = {each.name: each for each in sizes({"bore": 11.01, "arbor": arbor})}
    compared = likeness(1, wanted, found)
    assert compared is not None
    assert compared.is_same_size is same


def test_without_a_bore_in_common_nothing_is_like_it() -> None:
    assert likeness(1, [size("arbor", 3.6)], {"arbor": size("arbor", 3.6)}) is None


@given(
    st.lists(st.floats(min_value=5, max_value=20), min_size=1, max_size=20),
    st.floats(min_value=5, max_value=20),
)
def test_of_equal_uncertainty_the_smaller_difference_is_nearer(
    bores: list[float], wanted: float
) -> None:
    """Checked against a plain search."""
    likes = [
        likeness(n, [size("bore", wanted)], {"bore": size("bore", b)}) for n, b in enumerate(bores)
    ]
    (first,) = nearest([each for each in likes if each], 1)
    best = min(abs(bore - wanted) for bore in bores)
    assert abs(bores[first.job_id] - wanted) == pytest.approx(best, abs=1e-12)
