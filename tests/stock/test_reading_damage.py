"""Damaged and hostile files: a list or one clear error, and never anything else."""

from __future__ import annotations

from pathlib import Path
from random import Random

import pytest
from examples import examples
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from stock_lists import HEADINGS, saved, write_sheets

from gaugelink.errors import FileFormatError
from gaugelink.stock.reading import LIMITS, StockList, read_stock
from gaugelink.stock.stock_spring import item_key
from gaugelink.stock.xlsx_file import read_csv, read_xlsx

CSV = f'{HEADINGS},on hand,note\nA1,1.2,12/100,360,2,"a ""b"""\nB2,"1,3",0.005 in,36 cm,0,é\n'
N_DAMAGED = 300
anything = settings(
    suppress_health_check=[HealthCheck.function_scoped_fixture],
    max_examples=examples(300),
    deadline=None,
)


def n_rows(data: bytes) -> int:
    """Count the rows under the headings that hold anything."""
    is_xlsx = data.startswith(b"PK\x03\x04")
    grid = read_xlsx(data, path="", sheet=None) if is_xlsx else read_csv(data, path="")
    return sum(not row.blank for row in grid.rows) - 1


def judge(data: bytes, folder: Path) -> StockList | None:
    """Read; hold what comes out to what a list promises."""
    try:
        read = read_stock(saved(folder, data))
    except FileFormatError as error:
        assert error.hint
        assert str(error).endswith(".")
        if "no springs below them" in str(error):
            assert n_rows(data) == 0
        return None
    # No row is lost: each is a spring or has a fault, and never both.
    assert len(read.springs) + read.n_faulty_rows == n_rows(data) > 0
    for spring in read.springs:
        for name, limits in LIMITS.items():
            assert limits.hold(getattr(spring, f"{name}_mm"))
        assert spring.item.strip()
    assert len({item_key(spring.item) for spring in read.springs}) == len(read.springs)
    assert all(fault.fault.endswith(".") and fault.hint for fault in read.faults)
    return read


@pytest.mark.campaign
@anything
@given(data=st.binary(max_size=200))
def test_any_bytes(data: bytes, tmp_path: Path) -> None:
    assert judge(data, tmp_path) is None


@pytest.mark.campaign
@anything
@given(cells=st.lists(st.text(max_size=12), min_size=1, max_size=6))
def test_any_text_under_sound_headings(cells: list[str], tmp_path: Path) -> None:
    text = f"{HEADINGS},end,on hand\n{','.join(cells)}\n"
    judge(text.encode("utf-8", "surrogatepass"), tmp_path)


@pytest.mark.campaign
@anything
@given(text=st.text(alphabet='itemhgkncls ,;\t"()[]/_10.m\n', max_size=80))
def test_any_headings(text: str, tmp_path: Path) -> None:
    judge(f"{text}{HEADINGS}\nA1,1.2,0.12,360\n".encode(), tmp_path)


def damaged(data: bytes, dice: Random) -> bytes:
    """Cut a file, or change, drop, double or zero some of its bytes."""
    at, size = dice.randrange(len(data)), dice.randrange(1, 40)
    piece = data[at : at + size]
    change = dice.choice((b"", piece * 2, bytes(size), dice.randbytes(size)))
    return data[:at] if dice.random() < 0.2 else data[:at] + change + data[at + size :]


@pytest.mark.campaign
@pytest.mark.parametrize("kind", ["csv", "xlsx"])
def test_a_damaged_list_is_read_or_refused(kind: str, tmp_path: Path) -> None:
    dice = Random(f"damage to {kind}")
    sound = CSV.encode()
    if kind == "xlsx":
        rows = [("item", "height", "thickness", "length"), ("A1", 1.2, 0.12, 360)]
        sound = write_sheets(tmp_path / "sound.xlsx", S=rows).read_bytes()
    assert judge(sound, tmp_path) is not None
    refused = sum(judge(damaged(sound, dice), tmp_path) is None for _ in range(N_DAMAGED))
    assert 0 < refused < N_DAMAGED


@pytest.mark.parametrize(
    "text",
    [
        "item" + " " * 200_000 + "x,height,thickness,length\n",
        "(" * 200_000,
        "item,height" + "(" * 100_000 + ")" * 100_000 + "\n",
        f"{HEADINGS}\nA1,{'1' * 100_000},0.12,360\n",
        f"{HEADINGS}\nA1,{'1e' * 50_000},0.12,360\n",
        f"{HEADINGS}\nA1,1e999,0.12,360\n",
        f"{HEADINGS}\nA1,1/{'9' * 100_000},0.12,360\n",
        f"{HEADINGS}\nA1,{' ' * 100_000},0.12,{'+-' * 50_000}\n",
        f"{HEADINGS}\nA1,1.2 {'m' * 100_000},0.12,360\n",
        "x," * 100_000 + "\n",
        "\n" * 300_000,
    ],
    ids=lambda text: text[:24],
)
def test_long_nonsense_ends(text: str, tmp_path: Path) -> None:
    read = judge(text.encode(), tmp_path)
    assert read is None or read.faults
