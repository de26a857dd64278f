"""What reading a long list of springs costs: our reader against the csv module alone.

Run it by hand: ``python tests/benchmarks/bench_stock.py [--rows N] [--no-xlsx]``. The bare run
splits the same file into cells and does nothing with them; for a spreadsheet it is openpyxl
alone, which takes minutes for the long list. Peak memory is what Python's own allocator
counts, in a run of its own because counting slows it. Only the ratios, and how they grow from
a tenth of the rows to all of them, mean anything on another machine. The list is invented.
"""

from __future__ import annotations

import argparse
import csv
import sys
import tempfile
import time
import tracemalloc
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from gaugelink.jobbook.stock_book import StockBook
from gaugelink.stock.change import stock_csv
from gaugelink.stock.reading import read_stock
from gaugelink.stock.stock_spring import StockSpring

DEMO = Path(__file__).parents[2] / "fixtures" / "stock" / "demo_stock.csv"
ROUNDS = 3


def springs(n_rows: int) -> list[StockSpring]:
    demo = read_stock(DEMO).springs
    return [replace(demo[n % len(demo)], item=f"invented-{n}") for n in range(n_rows)]


def write_xlsx(path: Path, found: list[StockSpring]) -> None:
    import openpyxl

    book = openpyxl.Workbook(write_only=True)
    sheet = book.create_sheet()
    for row in csv.reader(stock_csv(found).splitlines()):
        sheet.append([float(cell) if cell[:1].isdigit() else cell for cell in row])
    book.save(path)


def split_only(path: Path) -> int:
    with path.open(encoding="utf-8", newline="") as file:
        return sum(1 for _ in csv.reader(file))


def openpyxl_only(path: Path) -> int:
    import openpyxl

    book = openpyxl.load_workbook(path, read_only=True, data_only=True)
    n_rows = sum(1 for _ in book.worksheets[0].iter_rows(values_only=True))
    book.close()
    return n_rows


def best_s(work: Callable[[], object], rounds: int = ROUNDS) -> float:
    """Return the CPU time of the quickest of some rounds, in s."""
    times = []
    for _ in range(rounds):
        begun_s = time.process_time()
        work()
        times.append(time.process_time() - begun_s)
    return min(times)


def peak_mb(work: Callable[[], object]) -> float:
    tracemalloc.start()
    kept = work()
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    del kept
    return peak / 1e6


def line(what: str, n_rows: int, took_s: float, bare_s: float, peak: str = "") -> str:
    return f"{n_rows:8} {what:24}{n_rows / took_s:12.0f}{took_s / bare_s:10.1f}{peak:>10}"


def measure(n_rows: int, folder: Path) -> None:
    """Measure and print the lines of one length of list."""
    found = springs(n_rows)
    path = folder / f"{n_rows}.csv"
    path.write_text(stock_csv(found), encoding="utf-8")
    refuse_difference(path, found)
    bare_s = best_s(lambda: split_only(path))
    print(line("csv module alone", n_rows, bare_s, bare_s))
    peak = f"{peak_mb(lambda: read_stock(path)):.0f}"
    print(line("CSV read and checked", n_rows, best_s(lambda: read_stock(path)), bare_s, peak))
    print(line("written as CSV", n_rows, best_s(lambda: stock_csv(found)), bare_s))
    with StockBook(folder / f"{n_rows}.sqlite") as book:
        print(line("kept in the book", n_rows, best_s(lambda: book.replace(found), 1), bare_s))
        print(line("read from the book", n_rows, best_s(book.springs), bare_s))
        print(line("one taken out", 1, best_s(lambda: book.use(found[7].item)), bare_s / n_rows))


def measure_xlsx(n_rows: int, folder: Path) -> None:
    """The same for a spreadsheet."""
    found = springs(n_rows)
    path = folder / f"{n_rows}.xlsx"
    write_xlsx(path, found)
    refuse_difference(path, found)
    bare_s = best_s(lambda: openpyxl_only(path), 1)
    print(line("openpyxl alone", n_rows, bare_s, bare_s))
    print(line(".xlsx read and checked", n_rows, best_s(lambda: read_stock(path), 1), bare_s))


def refuse_difference(path: Path, found: list[StockSpring]) -> None:
    if read_stock(path).springs != tuple(found):
        sys.exit(f"{path.name} does not come back as it was written")


def main() -> None:
    """Measure a tenth of the rows, then all of them."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--rows", type=int, default=100_000)
    options.add_argument("--no-xlsx", action="store_true")
    given = options.parse_args()
    print(f"{'rows':>8} {'':24}{'rows/s':>12}{'x bare':>10}{'peak MB':>10}")
    with tempfile.TemporaryDirectory() as folder:
        for count in (given.rows // 10, given.rows):
            measure(count, Path(folder))
            if not given.no_xlsx:
                measure_xlsx(count, Path(folder))


if __name__ == "__main__":
    main()
