"""``gaugelink stock``: the springs on hand listed, read from a file, taken out, written down."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from gaugelink.cli.options import Journal, Json

if TYPE_CHECKING:
    from gaugelink.errors import FileFormatError
    from gaugelink.stock.reading import StockList
    from gaugelink.stock.stock_spring import StockSpring


def stock(
    file: Annotated[
        Path | None,
        typer.Argument(help="A list of springs, CSV or .xlsx, that takes the place of the stock."),
    ] = None,
    add: Annotated[
        bool, typer.Option("--add", help="Add the list to the stock, as a delivery.")
    ] = False,
    drop: Annotated[
        bool, typer.Option("--drop", help="Drop springs missing from the list without asking.")
    ] = False,
    skip_faulty: Annotated[
        bool, typer.Option("--skip-faulty", help="Leave out rows that cannot be used.")
    ] = False,
    sheet: Annotated[
        str | None, typer.Option(metavar="NAME", help="Sheet of the .xlsx file; else the first.")
    ] = None,
    demo: Annotated[
        bool, typer.Option("--demo", help="Read an invented list instead of FILE.")
    ] = False,
    use: Annotated[str | None, typer.Option(metavar="ITEM", help="Take one of ITEM out.")] = None,
    return_: Annotated[
        str | None, typer.Option("--return", metavar="ITEM", help="Bring one of ITEM back.")
    ] = None,
    job: Annotated[int | None, typer.Option(help="The job that it is taken out for.")] = None,
    count: Annotated[int | None, typer.Option(help="How many of ITEM; 1 if not given.")] = None,
    height: Annotated[
        str | None, typer.Option(metavar="SIZE", help="List only about this height, or LOW..HIGH.")
    ] = None,
    thickness: Annotated[
        str | None,
        typer.Option(metavar="SIZE", help="List only about this thickness, or LOW..HIGH."),
    ] = None,
    length: Annotated[
        str | None, typer.Option(metavar="SIZE", help="List only about this length, or LOW..HIGH.")
    ] = None,
    low: Annotated[bool, typer.Option("--low", help="List only what is running out.")] = False,
    find: Annotated[
        str, typer.Option(metavar="TEXT", help="List only springs with TEXT in item, end or note.")
    ] = "",
    export: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Write the stock to a new CSV file.")
    ] = None,
    journal: Journal = None,
    json: Json = False,
) -> None:
    """List the springs on hand, read a list of them, or take one out.

    Columns: item, height, thickness, length; optional: height tolerance, thickness
    tolerance, length tolerance, end, material, on hand, reorder at, note; or the plain words for
    them in English, German, French, Italian or Spanish. The unit goes in the heading, "thickness
    (1/100 mm)", or in the cell, "0.047 in"; without one it is mm. An empty count is none.

    A list that is read again changes the count of a spring only where its own count changed, so
    that what was taken out stays out. Springs missing from it are dropped only after you confirm.
    """
    from importlib.resources import as_file, files

    from gaugelink.cli.output import say

    sizes = {"height": height, "thickness": thickness, "length": length}
    asked = {
        "FILE": file is not None,
        "--demo": demo,
        "--use": use is not None,
        "--return": return_ is not None,
        "--export": export is not None,
        "a search": low or bool(find) or any(sizes.values()),
    }
    _refuse_mixture(asked)
    _refuse_mixture({"--add": add, "--drop": drop})
    of_list = {
        "--add": add,
        "--drop": drop,
        "--skip-faulty": skip_faulty,
        "--sheet": sheet is not None,
    }
    _refuse_alone(of_list, "a list to read", asked["FILE"] or demo)
    of_item = {"--job": job is not None, "--count": count is not None}
    _refuse_alone(of_item, "--use or --return", asked["--use"] or asked["--return"])
    if use is not None:
        _move(use, 1 if count is None else count, job, journal, is_out=True, as_json=json)
    elif return_ is not None:
        _move(return_, 1 if count is None else count, job, journal, is_out=False, as_json=json)
    elif demo:
        with as_file(files("gaugelink.demo") / "stock.csv") as path:
            _refuse_demo_over_real(journal, path)
            say("This list is invented: nobody has these springs.")
            _read(path, sheet, journal, add=add, drop=drop, skip_faulty=skip_faulty, as_json=json)
    elif file is not None:
        _read(file, sheet, journal, add=add, drop=drop, skip_faulty=skip_faulty, as_json=json)
    elif export is not None:
        _export(export, stock_springs(journal), as_json=json)
    else:
        _list(sizes, find, journal, low=low, as_json=json)


def stock_springs(journal: Path | None) -> tuple[StockSpring, ...]:
    """Return the stock that is kept; looking makes no journal."""
    from gaugelink.jobbook.stock_book import StockBook

    with StockBook(journal, to_read=True) as book:
        return book.springs()


def _list(
    sizes: Mapping[str, str | None], text: str, journal: Path | None, *, low: bool, as_json: bool
) -> None:
    from gaugelink.cli.output import emit, emit_json
    from gaugelink.report.json_records import stock_json
    from gaugelink.report.text_stock import stock_text
    from gaugelink.stock.stock_spring import SizeRange, StockSearch, found, span_from_text

    spans = {
        size: SizeRange() if typed is None else span_from_text(typed, size)
        for size, typed in sizes.items()
    }
    search = StockSearch(
        height=spans["height"],
        thickness=spans["thickness"],
        length=spans["length"],
        low=low,
        text=text,
    )
    springs = stock_springs(journal)
    wanted = found(springs, search)
    if as_json:
        emit_json(stock_json(wanted, len(springs)))
    else:
        emit(stock_text(wanted, len(springs)))


def _read(
    path: Path,
    sheet: str | None,
    journal: Path | None,
    *,
    add: bool,
    drop: bool,
    skip_faulty: bool,
    as_json: bool,
) -> None:
    from gaugelink.cli.output import emit, emit_json, say
    from gaugelink.jobbook.stock_book import StockBook
    from gaugelink.report.json_records import reading_json
    from gaugelink.report.text_stock import faults_text, reading_text
    from gaugelink.stock.reading import read_stock

    read = read_stock(path, sheet=sheet)
    if read.faults and not as_json:
        say(faults_text(read))
    if not read.springs or (read.faults and not skip_faulty):
        if as_json:
            emit_json(reading_json(read, None))
        raise _nothing_taken(read)
    with StockBook(journal) as book:
        if add:
            change = book.add(read.springs)
        else:
            may_drop = None if drop else _agreed(book.springs(), read.springs, as_json=as_json)
            change = book.replace(read.springs, may_drop=may_drop)
    if as_json:
        emit_json(reading_json(read, change))
    else:
        emit(reading_text(read, change))


def _agreed(
    stock: Sequence[StockSpring], listed: Sequence[StockSpring], *, as_json: bool
) -> frozenset[str]:
    """Ask whether the springs that the list lacks may go, where somebody is there to answer."""
    from gaugelink.cli.output import person_reads, person_types
    from gaugelink.stock.change import compare, first_names

    gone = compare(stock, listed).gone
    if not gone or as_json or not (person_types() and person_reads()):
        return frozenset()
    question = f"The list lacks {len(gone)} of the stock, {first_names(gone)}. Drop them?"
    return frozenset(s.item for s in gone) if typer.confirm(question, err=True) else frozenset()


def _move(
    item: str, count: int, job: int | None, journal: Path | None, *, is_out: bool, as_json: bool
) -> None:
    from gaugelink.cli.output import emit, emit_json
    from gaugelink.errors import InputError
    from gaugelink.jobbook.book import default_path
    from gaugelink.jobbook.stock_book import StockBook
    from gaugelink.report.json_records import move_json
    from gaugelink.report.text_stock import move_text
    from gaugelink.stock.change import StockMove
    from gaugelink.stock.stock_spring import nearest

    if not os.path.exists(journal or default_path()):
        raise InputError("The stock is empty.", hint="Read a list with: gaugelink stock FILE")
    with StockBook(journal) as book:
        moved = book.use if is_out else book.give_back
        spring = moved(item, count=count, job_id=job)
        springs = book.springs()
    move = StockMove(
        spring=spring,
        count=count if is_out else -count,
        job_id=job,
        running_out=tuple(s for s in springs if s.running_out),
        alternatives=nearest(spring, springs),
    )
    if as_json:
        emit_json(move_json(move))
    else:
        emit(move_text(move))


def _export(path: Path, springs: tuple[StockSpring, ...], *, as_json: bool) -> None:
    from gaugelink.cli.output import emit_json, say
    from gaugelink.stock.change import write_stock

    write_stock(path, springs)
    if as_json:
        emit_json({"schema": 1, "file": str(path), "n_sizes": len(springs)})
    else:
        sizes = "1 size" if len(springs) == 1 else f"{len(springs)} sizes"
        say(f"{sizes} written to {path}; 'gaugelink stock FILE' reads them again.")


def _nothing_taken(read: StockList) -> FileFormatError:
    from gaugelink.errors import FileFormatError

    n_rows = read.n_faulty_rows
    rows = f"{n_rows} rows" if n_rows > 1 else "1 row"
    return FileFormatError(
        f"{rows} cannot be used, and nothing was taken.",
        path=read.path,
        hint="Correct them in the file, or leave them out with --skip-faulty."
        if read.springs
        else "No usable row is left: correct the first ones in the file.",
    )


def _refuse_demo_over_real(journal: Path | None, demo: Path) -> None:
    """Invented springs must not drive out real ones, nor lie among them."""
    from gaugelink.errors import InputError
    from gaugelink.stock.reading import sound_springs
    from gaugelink.stock.stock_spring import item_key

    invented = {item_key(spring.item) for spring in sound_springs(demo)}
    kept = stock_springs(journal)
    if any(item_key(spring.item) not in invented for spring in kept):
        raise InputError(
            "You have a stock already, so the invented one was not read.",
            hint="Try it in a file of its own: gaugelink stock --demo --journal FILE",
        )


def _refuse_mixture(asked: Mapping[str, bool]) -> None:
    from gaugelink.errors import InputError

    things = [what for what, is_asked in asked.items() if is_asked]
    if len(things) > 1:
        raise InputError(
            f"{' and '.join(things)} cannot be done at once.", hint="Do one, then the other."
        )


def _refuse_alone(typed: Mapping[str, bool], needed: str, there: bool) -> None:
    from gaugelink.errors import InputError

    for option, is_typed in typed.items():
        if is_typed and not there:
            raise InputError(
                f"{option} needs {needed}.", hint="'gaugelink stock --help' shows how."
            )
