"""Which columns a row of headings has, and what is said when one is wrong."""

from __future__ import annotations

import pytest
from stock_lists import columns

from gaugelink.errors import FileFormatError
from gaugelink.stock.columns import FIELDS

ALL = ",".join(FIELDS)


def test_every_column_is_found_in_any_order() -> None:
    headings = list(FIELDS)[::-1]
    found = columns(",".join(headings))
    assert [column.name for column in found.read] == headings
    assert [column.index for column in found.read] == list(range(len(headings)))
    assert found.unused == ()


@pytest.mark.parametrize(
    ("heading", "name", "size_mm"),
    [
        ("Height", "height", 1.0),
        (" HEIGHT  (mm) ", "height", 1.0),
        ("height [in]", "height", 25.4),
        ("height(1/10 mm)", "height", 0.1),
        ("height_mm", "height", 1.0),
        ("height in mm", "height", 1.0),
        ("Height_Tolerance (um)", "height tolerance", 0.001),
        ("height-tolerance", "height tolerance", 1.0),
        ("height  tolerance mm", "height tolerance", 1.0),
        ("ON_HAND", "on hand", 1.0),
        ("Reorder at (pieces)", "reorder at", 1.0),
        ("Ref", "item", 1.0),
        ("No.", "item", 1.0),
        ("Width in", "height", 25.4),
        ('WIDTH (")', "height", 25.4),
        ("Stärke (1/100 mm)", "thickness", 0.01),
        ("EPAISSEUR", "thickness", 1.0),
        ("largo_mm", "length", 1.0),
        ("Ende", "end", 1.0),
        ("Notes", "note", 1.0),
        ("Qté", "on hand", 1.0),
        ("scorta minima", "reorder at", 1.0),
    ],
)
def test_a_heading_may_be_written_in_many_ways(heading: str, name: str, size_mm: float) -> None:
    others = [column for column in ("item", "height", "thickness", "length") if column != name]
    found = {column.name: column for column in columns(",".join([heading, *others])).read}
    assert found[name].index == 0
    assert found[name].heading == heading.strip()
    assert found[name].unit.size_mm == pytest.approx(size_mm, rel=1e-12)


def test_other_columns_are_left_and_named() -> None:
    found = columns("price,item,height,,thickness,length,Supplier")
    assert found.unused == ("price", "Supplier")
    assert [column.index for column in found.read] == [1, 2, 4, 5]


@pytest.mark.parametrize(
    "heading",
    [
        "Supplier",
        "price",
        "Preis",
        "prix",
        "prezzo",
        "precio",
        "date",
        "Datum",
        "Lieferant",
        "location",
        "drawer",
        "Fach",
        "tiroir",
        "movement",
        "calibre",
        "Kaliber",
        "maker",
        "brand",
        "barrel",
        "bore",
        "arbor",
        "Gewicht",
        "colour",
        "year",
        "strip",
    ],
)
def test_what_lists_have_besides_is_not_taken_for_a_slip(heading: str) -> None:
    assert columns(f"{heading},item,height,thickness,length").unused == (heading,)


def test_blank_headings_at_the_end_are_no_columns() -> None:
    assert columns("item,height,thickness,length,,,").width == 4


@pytest.mark.parametrize(
    ("headings", "message", "hint"),
    [
        ("item,height,length", "no column called 'thickness'", "'item', 'height', 'length'"),
        (
            "a,b,c",
            "no columns called 'item', 'height', 'thickness', 'length'",
            "none that is known",
        ),
        ("item,height,height (mm),thickness,length", "'height' is there twice", "Keep one"),
        ("item,height (kg),thickness,length", "'kg' is not a unit of length", "1/100 mm"),
        ("item,height (),thickness,length", "is not a unit of length", "brackets"),
        ("item,heigth,thickness,length", "no column is called that", "Is it 'height'?"),
        ("item,height,thickness,length,on hnad", "no column is called that", "Is it 'on hand'?"),
        ("ref,item,height,thickness,length", "twice: 'ref' and 'item'", "Keep one"),
        ("item,width,Höhe,thickness,length", "'height' is there twice", "Keep one"),
        ("item,height,thickness,length,Bemerkug", "no column is called that", "Is it 'bemerkung'?"),
        ("item,height,thicknes,length", "no column is called that", "Is it 'thickness'?"),
        (",".join(map(str, range(300))), "300 columns", "Check"),
    ],
)
def test_headings_that_cannot_be_used_are_refused(headings: str, message: str, hint: str) -> None:
    with pytest.raises(FileFormatError) as caught:
        columns(headings)
    assert str(caught.value).startswith("list.csv: line 1: ")
    assert message in str(caught.value)
    assert hint in caught.value.hint
