"""The program that ``test_stock_kill`` kills: it takes springs out and says so."""

from __future__ import annotations

import sys
from pathlib import Path

from gaugelink.jobbook.stock_book import StockBook


def main(path: Path, item: str) -> None:
    """Take one out and name how many are left, over and over; never return."""
    with StockBook(path) as book:
        while True:
            spring = book.use(item)
            sys.stdout.write(f"{spring.on_hand}\n")
            sys.stdout.flush()


if __name__ == "__main__":
    main(Path(sys.argv[1]), sys.argv[2])
