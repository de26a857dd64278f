"""Spreadsheets: numbers, text, formulas, dates, other sheets, and files that are none."""

from __future__ import annotations

import datetime
import io
import zipfile
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from stock_lists import SPRING, saved, write_sheets

from gaugelink.errors import FileFormatError, InputError
from gaugelink.stock import xlsx_file
from gaugelink.stock.reading import read_stock

HEAD = ("item", "height", "thickness (1/100 mm)", "length", "on hand", "note")


@pytest.fixture(name="path")
def path_of_sheet(tmp_path: Path) -> Path:
    return tmp_path / "list.xlsx"


def test_numbers_and_numbers_as_text_are_read_alike(path: Path) -> None:
    rows = [HEAD, ("A1", 1.2, 12, 360, 2, None), ("B2", "1,20", "12", "360 mm", "2", "x")]
    springs = read_stock(write_sheets(path, Springs=rows)).springs
    first = replace(SPRING, on_hand=2)
    assert springs == (first, replace(first, item="B2", note="x"))


@pytest.mark.parametrize(("value", "item"), [(101, "101"), (101.0, "101"), (1.5, "1.5")])
def test_an_item_may_be_a_number(value: float, item: str, path: Path) -> None:
    rows = [HEAD, (value, 1.2, 12, 360, 1, None)]
    assert [s.item for s in read_stock(write_sheets(path, S=rows)).springs] == [item]


def test_rows_are_numbered_as_the_spreadsheet_shows_them(path: Path) -> None:
    rows = [(), HEAD, (), ("A1", 1.2, 12, 360, 1), (), ("B2", 1.2, 1200, 360, 1)]
    read = read_stock(write_sheets(path, S=rows))
    assert [(fault.line, fault.column) for fault in read.faults] == [(6, "thickness (1/100 mm)")]


@pytest.mark.parametrize(
    ("value", "fault", "hint"),
    [
        ("=C2/100", "formula whose value was not saved", "save it"),
        (datetime.datetime(2026, 2, 1), "date", "'Text'"),  # noqa: DTZ001
        (datetime.time(1, 2), "date or time", "'Text'"),
        (True, "yes or no", "'Text'"),
        ("#DIV/0!", "error #DIV/0!", "Type the value"),
    ],
)
def test_a_cell_that_is_no_number_says_what_it_is(
    value: object, fault: str, hint: str, path: Path
) -> None:
    read = read_stock(write_sheets(path, S=[HEAD, ("A1", value, 12, 360, 1)]))
    (found,) = read.faults
    assert (found.line, found.column) == (2, "height")
    assert fault in found.fault
    assert hint in found.hint


def test_a_formula_is_read_by_the_value_saved_with_it(path: Path) -> None:
    write_sheets(path, S=[HEAD, ("A1", "=0.6*2", 12, 360, 1), ("B2", 1.2, 12, 360, 1)])
    path.write_bytes(with_part(path, "xl/worksheets/sheet1.xml", _save_value))
    assert [spring.height_mm for spring in read_stock(path).springs] == [1.2, 1.2]


def test_formulas_are_found_across_the_border_of_two_blocks(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    packed = io.BytesIO()
    block = 1 << 20
    with zipfile.ZipFile(packed, "w") as archive:
        archive.writestr("with", b" " * (block - 1) + b"<f>1</f>")
        archive.writestr("without", b" " * (block - 1) + b"<fonts>")
    with zipfile.ZipFile(packed) as archive:
        assert xlsx_file._has_formula(archive, "with")
        assert not xlsx_file._has_formula(archive, "without")


def test_the_first_sheet_is_read_and_the_others_are_named(path: Path) -> None:
    rows = [HEAD, ("A1", 1.2, 12, 360, 1)]
    write_sheets(path, Springs=rows, Prices=[("a", 1)], Old=[HEAD, ("C3", 1.5, 15, 400, 0)])
    read = read_stock(path)
    assert (read.sheet, read.other_sheets) == ("Springs", ("Prices", "Old"))
    assert [spring.item for spring in read_stock(path, sheet="old").springs] == ["C3"]
    with pytest.raises(InputError) as caught:
        read_stock(path, sheet="New")
    assert caught.value.hint == "It has 'Springs', 'Prices', 'Old'."
    with pytest.raises(FileFormatError, match="sheet 'Prices': line 1: no columns called"):
        read_stock(path, sheet="Prices")


def test_an_empty_sheet_points_at_the_others(path: Path) -> None:
    write_sheets(path, Empty=[], Springs=[HEAD])
    with pytest.raises(FileFormatError) as caught:
        read_stock(path)
    assert "'Springs'" in caught.value.hint
    assert "--sheet" in caught.value.hint


def test_a_text_file_has_no_sheets(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="has no sheets"):
        read_stock(saved(tmp_path, "item"), sheet="S")


def test_the_kind_of_a_file_is_told_from_its_bytes(path: Path, tmp_path: Path) -> None:
    write_sheets(path, S=[HEAD, ("A1", 1.2, 12, 360, 1)])
    misnamed = saved(tmp_path, path.read_bytes(), "list.csv")
    assert read_stock(misnamed).springs == read_stock(path).springs


OLE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(504)


@pytest.mark.parametrize(
    ("data", "message"),
    [
        (OLE, "old .xls kind"),
        (OLE + "EncryptedPackage".encode("utf-16-le"), "locked with a password"),
        (b"PK\x03\x04 and no more", "cannot be read"),
    ],
)
def test_other_spreadsheets_are_told_apart(data: bytes, message: str, tmp_path: Path) -> None:
    with pytest.raises(FileFormatError, match=message) as caught:
        read_stock(saved(tmp_path, data, "list.xlsx"))
    assert "CSV UTF-8" in caught.value.hint


def test_an_open_document_is_named(tmp_path: Path) -> None:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        archive.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
    with pytest.raises(FileFormatError, match="OpenDocument"):
        read_stock(saved(tmp_path, packed.getvalue(), "list.ods"))


def test_a_zip_that_is_no_spreadsheet_is_refused(tmp_path: Path) -> None:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        archive.writestr("readme.txt", "hello")
    with pytest.raises(FileFormatError, match="cannot be read"):
        read_stock(saved(tmp_path, packed.getvalue(), "list.xlsx"))


def test_what_unpacks_to_an_absurd_size_is_refused_unopened(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write_sheets(path, S=[HEAD, ("A1", 1.2, 12, 360, 1)])
    monkeypatch.setattr(xlsx_file, "MAX_UNPACKED_BYTES", 1000)
    with pytest.raises(FileFormatError, match="too large"):
        read_stock(path)


def test_a_row_number_beyond_every_sheet_ends_the_reading(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write_sheets(path, S=[HEAD, ("A1", 1.2, 12, 360, 1), ("B2", 1.2, 12, 360, 1)])
    path.write_bytes(
        with_part(
            path,
            "xl/worksheets/sheet1.xml",
            lambda xml: xml.replace(b'<row r="3"', b'<row r="999999999999"'),
        )
    )
    monkeypatch.setattr(xlsx_file, "MAX_ROWS", 5000)
    assert [spring.item for spring in read_stock(path).springs] == ["A1"]


def test_a_wrong_size_of_the_sheet_hides_no_row(path: Path) -> None:
    write_sheets(path, S=[HEAD, ("A1", 1.2, 12, 360, 1), ("B2", 1.2, 12, 360, 1)])
    small = with_part(
        path, "xl/worksheets/sheet1.xml", lambda xml: xml.replace(b'ref="A1:F3"', b'ref="A1:E2"')
    )
    path.write_bytes(small)
    assert [spring.item for spring in read_stock(path).springs] == ["A1", "B2"]


@pytest.mark.filterwarnings("error")
def test_what_openpyxl_warns_of_is_not_passed_on(path: Path) -> None:
    """A file without styles, and a number in the format of a date that is none."""
    write_sheets(path, S=[HEAD, ("A1", 1.2, 12, 360, datetime.datetime(2026, 2, 1))])  # noqa: DTZ001
    path.write_bytes(
        with_part(path, "xl/worksheets/sheet1.xml", lambda xml: xml.replace(b"46054", b"-99999999"))
    )
    (fault,) = read_stock(path).faults
    assert fault.column == "on hand"


def with_part(path: Path, name: str, change: Callable[[bytes], bytes]) -> bytes:
    """Return the spreadsheet with one part of it changed."""
    packed = io.BytesIO()
    with zipfile.ZipFile(path) as before, zipfile.ZipFile(packed, "w") as after:
        for part in before.infolist():
            data = before.read(part)
            if part.filename == name:
                changed = change(data)
                assert changed != data
                data = changed
            after.writestr(part, data)
    return packed.getvalue()


def _save_value(xml: bytes) -> bytes:
    return xml.replace(b"<f>0.6*2</f><v />", b"<f>0.6*2</f><v>1.2</v>").replace(
        b"<f>0.6*2</f><v></v>", b"<f>0.6*2</f><v>1.2</v>"
    )
