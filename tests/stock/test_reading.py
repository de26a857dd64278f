"""A whole list: doubles, files that are not there, and the short way that wants no faults."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from stock_lists import HEADINGS, SPRING, read_text, saved

from gaugelink.errors import FileFormatError
from gaugelink.stock import reading
from gaugelink.stock.reading import read_stock, sound_springs

GOOD = f"{HEADINGS},price\nA1,1.2,0.12,360,7\n"


def test_a_list_says_where_it_came_from_and_what_it_left(tmp_path: Path) -> None:
    read = read_text(tmp_path, GOOD)
    assert read.path == str(tmp_path / "list.csv")
    assert read.springs == (SPRING,)
    assert (read.unused, read.sheet, read.n_faulty_rows) == (("price",), "", 0)


@pytest.mark.parametrize("twin", ["A1", "a1", " A1 "])
def test_an_item_stands_once(twin: str, tmp_path: Path) -> None:
    read = read_text(tmp_path, f"{GOOD}{twin},1.3,0.13,380,\n")
    (fault,) = read.faults
    assert (fault.line, fault.column) == (3, "item")
    assert "is in line 2 already" in fault.fault
    assert read.springs == (SPRING,)


def test_faulty_rows_are_counted_once_each(tmp_path: Path) -> None:
    read = read_text(tmp_path, f"{GOOD}B2,1.2,9,9,\nC3,1.2,0.12,x,\n")
    assert len(read.faults) == 3
    assert read.n_faulty_rows == 2


@pytest.mark.parametrize(
    ("text", "message"),
    [("", "it is empty"), ("\n , \n", "it is empty"), (f"{HEADINGS}\n\n", "no spring")],
)
def test_a_list_without_springs_is_refused(text: str, message: str, tmp_path: Path) -> None:
    with pytest.raises(FileFormatError, match=message):
        read_text(tmp_path, text)


def test_a_file_that_cannot_be_read_is_refused(tmp_path: Path) -> None:
    for path in (tmp_path / "none.csv", tmp_path, tmp_path / "a\0b", tmp_path / ("x" * 5000)):
        with pytest.raises(FileFormatError, match="the list cannot be read") as caught:
            read_stock(path)
        assert "--demo" in caught.value.hint


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may read all")
def test_a_file_of_somebody_else_is_refused(tmp_path: Path) -> None:
    path = saved(tmp_path, GOOD)
    path.chmod(0)
    with pytest.raises(FileFormatError, match="Permission denied"):
        read_stock(path)


def test_a_file_that_is_too_long_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(reading, "MAX_BYTES", 2 * 1024 * 1024)
    with pytest.raises(FileFormatError, match="more than 2 MB"):
        read_text(tmp_path, GOOD + "\n" * 2 * 1024 * 1024)


def test_an_empty_count_is_none_and_counted(tmp_path: Path) -> None:
    rows = (
        "A1,1.2,0.12,360,\nB2,1.2,0.12,360, \nC3,1.2,0.12,360,2\nD4,1.2,0.12,360\nE5,x,0.12,360,\n"
    )
    read = read_text(tmp_path, f"item,height,thickness,length,on hand\n{rows}")
    assert [spring.on_hand for spring in read.springs] == [0, 0, 2, 0]
    assert (read.n_blank_counts, len(read.faults)) == (3, 1)
    silent = read_text(tmp_path, "item,height,thickness,length\nA1,1.2,0.12,360\n")
    assert (silent.springs[0].on_hand, silent.n_blank_counts) == (1, 0)


@pytest.mark.parametrize(("n_rows", "more"), [(20, []), (23, ["  and 3 more"])])
def test_the_short_way_names_every_fault_up_to_a_screenful(
    n_rows: int, more: list[str], tmp_path: Path
) -> None:
    rows = "".join(f"B{number},1.2,12,360\n" for number in range(n_rows))
    with pytest.raises(FileFormatError) as caught:
        sound_springs(saved(tmp_path, f"item,height,thickness,length\n{rows}"))
    head, *lines = str(caught.value).splitlines()
    assert head.endswith(f"there are {n_rows} faults, in {n_rows} of its rows:")
    assert [line.split(":")[0] for line in lines[:20]] == [
        f"  line {number}, thickness" for number in range(2, 22)
    ]
    assert "Is it 12/100 mm?" in lines[0]
    assert lines[20:] == more


def test_the_short_way_names_the_only_fault(tmp_path: Path) -> None:
    assert sound_springs(saved(tmp_path, GOOD)) == (SPRING,)
    path = saved(tmp_path, f"{GOOD}B2,1.2,12,360,\n")
    with pytest.raises(FileFormatError) as caught:
        sound_springs(path)
    assert f"{path}: line 3, thickness: 12 mm is not the thickness" in str(caught.value)
    assert caught.value.hint == "Is it 12/100 mm?"
