"""Lengths in cells and headings: the unit of the cell, then that of the heading, then mm."""

from __future__ import annotations

import pytest

from gaugelink.errors import InputError
from gaugelink.stock.columns import MILLIMETRE, HeadingUnit, cell_mm, heading_unit

HUNDREDTHS = HeadingUnit(text="1/100 mm", size_mm=0.01, is_part=True)
INCH = HeadingUnit(text="in", size_mm=25.4)

CELLS = [
    ("1.20", MILLIMETRE, 1.2),
    ("1,20", MILLIMETRE, 1.2),
    ("12/100", MILLIMETRE, 0.12),
    ("12 / 100 mm", MILLIMETRE, 0.12),
    ("12.5/100", MILLIMETRE, 0.125),
    ("120 um", MILLIMETRE, 0.12),
    ("1e-1", MILLIMETRE, 0.1),
    ("36 cm", MILLIMETRE, 360.0),
    ("12", HUNDREDTHS, 0.12),
    ("12,5", HUNDREDTHS, 0.125),
    ("57", HUNDREDTHS, 0.57),  # 57 x 0.01 is 0.5700000000000001 in binary fractions
    ("0.433", INCH, 10.9982),
    # what stands in the cell comes before the heading
    ("0.12 mm", HUNDREDTHS, 0.12),
    ("1.2e-1mm", HUNDREDTHS, 0.12),
    ("1.20 mm", INCH, 1.2),
    ("0.0047 in", HUNDREDTHS, 0.11938),
    # a fraction of a fraction is nobody's way of writing; of an inch it is
    ("12/100", HUNDREDTHS, 0.12),
    ("3/8", INCH, 9.525),
    ("1 7/16", INCH, 36.5125),
    ('.0122"', MILLIMETRE, 0.30988),
    ("0.0473\u201d", HUNDREDTHS, 1.20142),
    ("12 1/2", HUNDREDTHS, 0.125),  # twelve and a half of them, not 12.5 mm
]


@pytest.mark.parametrize(("text", "unit", "expected_mm"), CELLS)
def test_a_cell_is_read_in_mm(text: str, unit: HeadingUnit, expected_mm: float) -> None:
    assert cell_mm(text, unit) == expected_mm


@pytest.mark.parametrize(
    "text", ["", "abc", "1.2.3", "1,234.5", "1'000", "1.2 kg", "nan", "inf", "12/0", "1 2", "=A1"]
)
def test_what_is_no_length_is_refused_with_a_hint(text: str) -> None:
    with pytest.raises(InputError) as caught:
        cell_mm(text)
    assert "cell:" not in str(caught.value)
    assert caught.value.hint


@pytest.mark.parametrize("text", ["1" * 41, "1.2 " + "m" * 50_000, "1.2 kg" + " " * 40 + "x"])
def test_a_long_cell_is_not_pondered_and_not_repeated(text: str) -> None:
    for read in (cell_mm, heading_unit):
        with pytest.raises(InputError, match="…") as caught:
            read(text)
        assert len(str(caught.value)) < 80


@pytest.mark.parametrize("text", ["1.20 +- 0.02", "1.20±0.02", "1.20 +/- 0.02 mm"])
def test_a_tolerance_in_the_cell_is_sent_to_its_column(text: str) -> None:
    with pytest.raises(InputError) as caught:
        cell_mm(text)
    assert "'height tolerance'" in caught.value.hint


@pytest.mark.parametrize(
    ("text", "size_mm", "is_part"),
    [
        ("mm", 1.0, False),
        (" in ", 25.4, False),
        ("1/100 mm", 0.01, True),
        ("1/10mm", 0.1, True),
        ("0.01 mm", 0.01, False),
        ("µm", 0.001, False),
        ("thou", 0.0254, False),
        ('"', 25.4, False),
        ("MM", 1.0, False),
    ],
)
def test_a_heading_gives_a_unit(text: str, size_mm: float, is_part: bool) -> None:
    unit = heading_unit(text)
    assert unit.size_mm == pytest.approx(size_mm, rel=1e-12)
    assert unit.is_part is is_part


@pytest.mark.parametrize(
    "text", ["kg", "", " ", "mm +- 1", "0 mm", "pieces", "1/0 mm", '""', "mm2"]
)
def test_a_heading_whose_unit_is_no_length_is_refused(text: str) -> None:
    with pytest.raises(InputError, match="is not a unit of length"):
        heading_unit(text)
