"""``gaugelink stock``: the springs on hand listed, read from a file, taken out, written down."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass
from importlib.resources import as_file, files
from pathlib import Path

from gaugelink.cli.output import emit, emit_json, say
from gaugelink.errors import FileFormatError, InputError
from gaugelink.jobbook.book import default_path
from gaugelink.jobbook.stock_book import StockBook
from gaugelink.report.json_records import move_json, reading_json, stock_json
from gaugelink.report.text_stock import faults_text, move_text, reading_text, stock_text
from gaugelink.stock.change import StockMove, write_stock
from gaugelink.stock.reading import StockList, read_stock, sound_springs
from gaugelink.stock.stock_spring import (
    SizeRange,
    StockSearch,
    StockSpring,
    found,
    item_key,
    nearest,
    span_from_text,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class StockOptions:
    """What was typed after ``stock``; ``sizes`` by name, None where nothing was typed."""

    sizes: Mapping[str, str | None]
    file: Path | None = None
    add: bool = False
    skip_faulty: bool = False
    sheet: str | None = None
    demo: bool = False
    use: str | None = None
    give_back: str | None = None
    job: int | None = None
    count: int | None = None
    low: bool = False
    find: str = ""
    export: Path | None = None
    journal: Path | None = None

    @property
    def searches(self) -> bool:
        """Whether only a part of the stock is wanted."""
        return self.low or bool(self.find) or any(self.sizes.values())


def run(options: StockOptions, *, as_json: bool) -> None:
    """Do the one thing that was asked for; without any, list the stock."""
    _refuse_mixture(options)
    if options.use is not None or options.give_back is not None:
        _move(options, as_json=as_json)
    elif options.demo:
        with as_file(files("gaugelink.demo") / "stock.csv") as path:
            _refuse_demo_over_real(options, path)
            say("This list is invented: its springs are nobody's stock.")
            _read(options, path, as_json=as_json)
    elif options.file is not None:
        _read(options, options.file, as_json=as_json)
    elif options.export is not None:
        _export(options.export, stock_springs(options.journal), as_json=as_json)
    else:
        _list(options, as_json=as_json)


def stock_springs(journal: Path | None) -> tuple[StockSpring, ...]:
    """Return the stock that is kept; looking makes no journal."""
    with StockBook(journal, to_read=True) as book:
        return book.springs()


def _list(options: StockOptions, *, as_json: bool) -> None:
    spans = {
        size: SizeRange() if text is None else span_from_text(text, size)
        for size, text in options.sizes.items()
    }
    search = StockSearch(
        height=spans["height"],
        thickness=spans["thickness"],
        length=spans["length"],
        low=options.low,
        text=options.find,
    )
    springs = stock_springs(options.journal)
    wanted = found(springs, search)
    if as_json:
        emit_json(stock_json(wanted, len(springs)))
    else:
        emit(stock_text(wanted, len(springs)))


def _read(options: StockOptions, path: Path, *, as_json: bool) -> None:
    read = read_stock(path, sheet=options.sheet)
    if read.faults and not as_json:
        say(faults_text(read))
    if not read.springs or (read.faults and not options.skip_faulty):
        if as_json:
            emit_json(reading_json(read, None))
        raise _nothing_taken(read)
    with StockBook(options.journal) as book:
        change = book.add(read.springs) if options.add else book.replace(read.springs)
    if as_json:
        emit_json(reading_json(read, change))
    else:
        emit(reading_text(read, change))


def _move(options: StockOptions, *, as_json: bool) -> None:
    count = 1 if options.count is None else options.count
    if not os.path.exists(options.journal or default_path()):
        raise InputError(
            "There is no stock yet to take from.", hint="Read a list with: gaugelink stock FILE"
        )
    with StockBook(options.journal) as book:
        if options.use is not None:
            spring = book.use(options.use, count=count, job_id=options.job)
        else:
            spring = book.give_back(options.give_back or "", count=count, job_id=options.job)
        springs = book.springs()
    move = StockMove(
        spring=spring,
        count=count if options.use is not None else -count,
        job_id=options.job,
        running_out=tuple(s for s in springs if s.running_out),
        alternatives=nearest(spring, springs),
    )
    if as_json:
        emit_json(move_json(move))
    else:
        emit(move_text(move))


def _export(path: Path, springs: tuple[StockSpring, ...], *, as_json: bool) -> None:
    write_stock(path, springs)
    if as_json:
        emit_json({"schema": 1, "file": str(path), "n_sizes": len(springs)})
    else:
        sizes = "1 size" if len(springs) == 1 else f"{len(springs)} sizes"
        say(f"{sizes} written to {path}; 'gaugelink stock FILE' reads them again.")


def _nothing_taken(read: StockList) -> FileFormatError:
    n_rows = read.n_faulty_rows
    rows = f"{n_rows} rows" if n_rows > 1 else "1 row"
    return FileFormatError(
        f"{rows} cannot be used, and nothing was taken.",
        path=read.path,
        hint="Put them right in the file, or leave them out with --skip-faulty."
        if read.springs
        else "No row is left that can be used: put the first ones right in the file.",
    )


def _refuse_demo_over_real(options: StockOptions, demo: Path) -> None:
    """Invented springs must not drive out real ones, nor lie among them."""
    invented = {item_key(spring.item) for spring in sound_springs(demo)}
    stock = stock_springs(options.journal)
    if any(item_key(spring.item) not in invented for spring in stock):
        raise InputError(
            "There is a stock already, and the invented one was not read.",
            hint="Try it in a file of its own: gaugelink stock --demo --journal FILE",
        )


def _refuse_mixture(options: StockOptions) -> None:
    asked = {
        "FILE": options.file is not None,
        "--demo": options.demo,
        "--use": options.use is not None,
        "--return": options.give_back is not None,
        "--export": options.export is not None,
        "a search": options.searches,
    }
    things = [what for what, typed in asked.items() if typed]
    if len(things) > 1:
        raise InputError(
            f"{' and '.join(things)} are two things to do.", hint="Do one after the other."
        )
    of_list = {
        "--add": options.add,
        "--skip-faulty": options.skip_faulty,
        "--sheet": options.sheet is not None,
    }
    of_item = {"--job": options.job is not None, "--count": options.count is not None}
    _refuse_alone(of_list, "a list to read", asked["FILE"] or asked["--demo"])
    _refuse_alone(of_item, "--use or --return", asked["--use"] or asked["--return"])


def _refuse_alone(typed: Mapping[str, bool], needed: str, there: bool) -> None:
    for option, is_typed in typed.items():
        if is_typed and not there:
            raise InputError(
                f"{option} needs {needed}.", hint="'gaugelink stock --help' shows how."
            )
