"""One row as a spring, or every fault in it with column and hint."""

from __future__ import annotations

import pytest
from stock_lists import HEADINGS, SPRING, read_cells

from gaugelink.mechanics.materials import shipped_ends, shipped_materials
from gaugelink.stock.reading import LIMITS, RowFault
from gaugelink.stock.stock_spring import StockSpring

MORE = (
    f"{HEADINGS},height tolerance,thickness tolerance (um),length tolerance,end,material,"
    "on hand,reorder at,note"
)


def fault_of(headings: str, *cells: str) -> RowFault:
    faults = read_cells(headings, *cells)
    assert isinstance(faults, tuple)
    (fault,) = faults
    return fault


def with_cell(heading: str, text: str) -> RowFault:
    """Return the fault of a row in which one more cell is added to a sound one."""
    return fault_of(f"{HEADINGS},{heading}", "A1", "1.2", "0.12", "360", text)


def test_the_least_that_a_row_needs() -> None:
    assert read_cells(HEADINGS, " A1 ", "1.2", "12/100", "360") == SPRING


def test_everything_that_a_row_can_say() -> None:
    cells = ("A1", "1.2", "0.12", "360", "±0.02", "+-2", "5", "Slipping Bridle")
    row = read_cells(MORE, *cells, "CARBON_STEEL", "3", "1.0", "two lines\nof note")
    assert row == StockSpring(
        item="A1",
        height_mm=1.2,
        thickness_mm=0.12,
        length_mm=360.0,
        height_tolerance_mm=0.02,
        thickness_tolerance_mm=0.002,
        length_tolerance_mm=5.0,
        end="slipping-bridle",
        material="carbon-steel",
        on_hand=3,
        reorder_at=1,
        note="two lines\nof note",
    )


def test_what_a_row_is_silent_on_stays_open() -> None:
    row = read_cells(MORE.replace(",on hand", ""), "A1", "1.2", "0.12", "360")
    assert row == SPRING


@pytest.mark.parametrize("name", [end.name for end in shipped_ends()])
def test_every_end_that_mechanics_knows_may_stand_in_a_list(name: str) -> None:
    row = read_cells(f"{HEADINGS},end", "A1", "1.2", "0.12", "360", name.upper())
    assert isinstance(row, StockSpring)
    assert row.end == name


@pytest.mark.parametrize("name", [*(m.name for m in shipped_materials()), "white", "open"])
def test_every_material_may_stand_in_a_list(name: str) -> None:
    row = read_cells(f"{HEADINGS},material", "A1", "1.2", "0.12", "360", name.replace("-", " "))
    assert isinstance(row, StockSpring)
    assert row.material == name


@pytest.mark.parametrize(
    ("cells", "column", "fault", "hint"),
    [
        # the trade says 12 and means hundredths; the question is asked, not answered
        (("A", "1.2", "12", "360"), "thickness", "12 mm is not the thickness", "Is it 12/100 mm?"),
        (("A", "1.2", "125", "360"), "thickness", "125 mm", "Is it 125/1000 mm?"),
        (("A", "1.2", "0.0047", "360"), "thickness", "0.02 to 0.6 mm", "Is it 0.0047 in?"),
        (("A", "120", "0.12", "360"), "height", "120 mm is not the height", "Is it 120/100 mm?"),
        (("A", "0.047", "0.12", "360"), "height", "0.3 to 20 mm", "Is it 0.047 in?"),
        (("A", "1.2", "0.12", "36"), "length", "50 to 3000 mm", "Is it 36 cm?"),
        (("A", "1.2", "0.12", "36 mm"), "length", "36 mm is not the length", "Check the number"),
        (("A", "1.2", "0.12", "0"), "length", "0 mm", "Check the number"),
        (("A", "1.2", "-0.12", "360"), "thickness", "-0.12 mm", "Check the number"),
        (("A", "1.2 kg", "0.12", "360"), "height", "'kg' in '1.2 kg'", "Type it like"),
        (("A", "", "0.12", "360"), "height", "is empty", "needs its height"),
        (("", "1.2", "0.12", "360"), "item", "is empty", "needs its item"),
        (("A\nB", "1.2", "0.12", "360"), "item", "one line", "note"),
        (("A\x1b[2J", "1.2", "0.12", "360"), "item", "control character", "again"),
        (("A" * 81, "1.2", "0.12", "360"), "item", "81 letters", "Shorten"),
        (("A", "1.2", "0.12", "360", "", "5"), "", "6 cells and the headings are 4", "';'"),
    ],
)
def test_a_fault_says_where_what_and_what_to_do(
    cells: tuple[str, ...], column: str, fault: str, hint: str
) -> None:
    found = fault_of(HEADINGS, *cells)
    assert (found.line, found.column) == (7, column)
    assert fault in found.fault
    assert found.fault.endswith(".")
    assert hint in found.hint


@pytest.mark.parametrize(
    ("heading", "text", "fault"),
    [
        ("end", "velcro", "No outer end is called 'velcro'"),
        ("material", "brass", "No material is called 'brass'"),
        ("on hand", "-1", "not a whole number"),
        ("on hand", "2.5", "not a whole number"),
        ("on hand", "some", "not a whole number"),
        ("on hand", "1000001", "from 0 to 1,000,000"),
        ("on hand", "9" * 5000, "not a whole number"),
        ("reorder at", "1 pc", "not a whole number"),
        ("height tolerance", "0", "not a tolerance above zero"),
        ("height tolerance", "-0.02", "not a tolerance above zero"),
        ("height tolerance", "0.7", "more than half the height"),
        ("thickness tolerance (1/100 mm)", "7", "more than half the thickness"),
        ("note", "x" * 2001, "2001 letters"),
    ],
)
def test_a_fault_in_a_column_that_need_not_be_there(heading: str, text: str, fault: str) -> None:
    found = with_cell(heading, text)
    assert found.column == heading
    assert fault in found.fault
    assert found.hint


def test_known_ends_and_materials_are_named() -> None:
    assert "slipping-bridle" in with_cell("end", "velcro").hint
    assert "carbon-steel" in with_cell("material", "brass").hint


def test_every_fault_of_a_row_is_found_at_once() -> None:
    faults = read_cells(f"{HEADINGS},end,on hand", "", "1,2,3", "12", "x", "velcro", "?")
    assert isinstance(faults, tuple)
    columns = ["item", "height", "thickness", "length", "end", "on hand"]
    assert [fault.column for fault in faults] == columns


@pytest.mark.parametrize("size", LIMITS)
def test_the_ends_of_what_is_plausible_belong_to_it(size: str) -> None:
    for edge_mm in (LIMITS[size].low_mm, LIMITS[size].high_mm):
        sizes = {"height": "1.2", "thickness": "0.12", "length": "360"} | {size: repr(edge_mm)}
        row = read_cells(HEADINGS, "A", *sizes.values())
        assert isinstance(row, StockSpring)
        assert getattr(row, f"{size}_mm") == edge_mm
    for beyond_mm in (0.99 * LIMITS[size].low_mm, 1.01 * LIMITS[size].high_mm):
        sizes = {"height": "1.2", "thickness": "0.12", "length": "360"} | {size: f"{beyond_mm} mm"}
        assert "common practice" in fault_of(HEADINGS, "A", *sizes.values()).fault
