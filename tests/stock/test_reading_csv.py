"""Text files as people's programs write them: delimiters, encodings, quotation marks."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from stock_lists import HEADINGS, SPRING, read_text

from gaugelink.errors import FileFormatError

B2 = replace(SPRING, item="B2", height_mm=1.25)
ENGLISH = "item,height,thickness,length\nA1,1.2,0.12,360\nB2,1.25,0.12,360\n"
GERMAN = "item;height;thickness;length\nA1;1,2;0,12;360\nB2;1,25;0,12;360\n"

SAME = {
    "comma": ENGLISH.encode(),
    "semicolon and decimal comma": GERMAN.encode(),
    "tab": ENGLISH.replace(",", "\t").encode(),
    "byte order mark": ENGLISH.encode("utf-8-sig"),
    "utf-16": ENGLISH.replace(",", "\t").encode("utf-16"),
    "line ends of Windows": ENGLISH.replace("\n", "\r\n").encode(),
    "line ends of old": ENGLISH.replace("\n", "\r").encode(),
    "no last line end": ENGLISH.strip().encode(),
    "blank rows": ENGLISH.replace("\n", "\n\n ,,\n").encode(),
    "blank rows first": b"\n,,,\n" + ENGLISH.encode(),
    "a delimiter that is said": b"sep=;\r\n" + GERMAN.encode(),
    "every cell quoted": ENGLISH.replace(",", '","').replace("\n", '"\n"').encode()[:-1],
    "blanks after the delimiter": ENGLISH.replace(",", ", ").encode(),
    "decimal commas in quotation marks": b'item,height,thickness,length\nA1,"1,2","0,12",360\n'
    b'B2, "1,25", "0,12",360\n',
    "delimiters at the end": ENGLISH.replace("\n", ",,\n").encode(),
}
SAME["every cell quoted"] = b'"' + SAME["every cell quoted"]


@pytest.mark.parametrize("data", SAME.values(), ids=SAME)
def test_the_same_list_is_read_however_it_is_written(data: bytes, tmp_path: Path) -> None:
    read = read_text(tmp_path, data)
    assert read.faults == ()
    assert read.springs == (SPRING, B2)


def test_a_cell_may_hold_delimiters_quotation_marks_and_lines(tmp_path: Path) -> None:
    text = f'{HEADINGS},note\n"A,1",1.2,0.12,360,"say ""hole"",\nthen count"\nB2,1.25,0.12,360,x\n'
    read = read_text(tmp_path, text)
    assert [spring.item for spring in read.springs] == ["A,1", "B2"]
    assert read.springs[0].note == 'say "hole",\nthen count'


def test_lines_are_counted_as_an_editor_counts_them(tmp_path: Path) -> None:
    text = (
        f'sep=,\n\n{HEADINGS},note\nA1,1.2,0.12,360,"two\nlines"\n\nB2,1.2,12,360,\nC3,,0.12,360,\n'
    )
    faults = read_text(tmp_path, text).faults
    assert [(fault.line, fault.column) for fault in faults] == [(7, "thickness"), (8, "height")]


def test_a_decimal_comma_between_commas_is_noticed(tmp_path: Path) -> None:
    (fault,) = read_text(tmp_path, f"{HEADINGS}\nA1,1.2,0.12,360\nB2,1,25,0,12,360\n").faults[:1]
    assert fault.line == 3
    assert "decimal comma" in fault.hint


@pytest.mark.parametrize(
    ("data", "message", "hint"),
    [
        (f'{HEADINGS}\n"A1,1.2,0.12,360\nB2,1,1,1\n'.encode(), "line 2", "quotation mark"),
        (f'{HEADINGS}\nB,1,1,1\n"A"1,1.2,0.12,360\n'.encode(), "line 3", "quotation mark"),
        (f"{HEADINGS}\nA1,1.2,0.12,360\nGr\xf6\xdfe,1,1,1\n".encode("latin-1"), "line 3", "UTF-8"),
        (f"{HEADINGS}\nA\0,1.2,0.12,360\n".encode(), "not a text file", "CSV"),
        (f"{HEADINGS}\n{'A' * 200_000},1,1,1\n".encode(), "line 2", "quotation mark"),
        (b"\xff\xfeA", "not UTF-8", "UTF-8"),
        (b"%PDF-1.7 and so on", "no columns", "none that is known"),
    ],
)
def test_a_text_file_that_cannot_be_read_says_where(
    data: bytes, message: str, hint: str, tmp_path: Path
) -> None:
    with pytest.raises(FileFormatError) as caught:
        read_text(tmp_path, data)
    assert message in str(caught.value)
    assert hint in caught.value.hint
