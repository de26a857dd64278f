"""Text that came from somewhere else, in every field that is kept: it is read, and does nothing."""

from __future__ import annotations

import io
import json
import re
import sqlite3
import sys
import unicodedata
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from cli_bench import CALIPER, Job
from cli_runs import Outcome, call
from rich.console import Console

from gaugelink.capture.acts import Halted, NotTaken, Taken
from gaugelink.capture.plan import MEASURANDS, JobSetup
from gaugelink.cli.output import emit_json, harmless, say
from gaugelink.cli.screen import Screen
from gaugelink.cli.talk import Bell, act_line, event_line
from gaugelink.jobbook import stock_book
from gaugelink.jobbook.codec import UnreadableRow, decode
from gaugelink.jobbook.entries import EntryColumns, fault_of, item_of
from gaugelink.jobbook.facts import decode_fact
from gaugelink.jobbook.gauge_book import KnownGauge, decode_check, decode_record
from gaugelink.jobbook.schema import STEPS
from gaugelink.model import Fault, FaultKind, GaugeEvent, GaugeInfo, Ident, Reading
from gaugelink.units import LengthUnit

FIXTURES = Path(__file__).parents[2] / "fixtures"
KNOWN = ("end", "material")
FORGED = "JOB 99 forged"
# A clear screen, a title, bell, C1 of eight bits, return, backspace, a turned line, what has no
# width, the line ends of Unicode, a tag.
BAD = f"\x1b[2J\x1b]0;x\x07\x9b31m\r\x08\u202e\u200b\ufeff\u2028\u0085\U000e0041\n{FORGED}\n"
UNSEEN = re.compile(
    "[\x00-\x09\x0b-\x1f\x7f-\x9f\u200b-\u200f\u2028-\u202e\ufeff\U000e0000-\U000e007f]"
)
LOOKS = [
    "jobs",
    "jobs --search invented",
    "jobs --like 2",
    "jobs 1",
    "jobs 2",
    "jobs 4",
    "jobs --predictions",
    "jobs --json",
    "jobs 1 --json",
    "jobs 2 --events",
    "size 1 --draws 2000",
    "size 2 --draws 2000 --full --draw",
    "report 1 --text --draws 2000",
    "report 4 --text --draws 2000",
    "choose 1 --draws 2000 --hours-per-turn 7.5",
    "stock",
    "stock --low",
    "check --show",
    "gauges",
]


def is_harmless(done: Outcome) -> bool:
    """Whether nothing acts on a terminal, and no line begins with what a field says."""
    said = done.out + done.err
    lines = said.splitlines()
    return not UNSEEN.search(said) and not any(line.startswith(FORGED) for line in lines)


def places(data: Any, at: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """Go through the ways to each text in data."""
    if isinstance(data, str):
        yield at
    elif isinstance(data, dict | list):
        for key, value in data.items() if isinstance(data, dict) else enumerate(data):
            yield from places(value, (*at, key))


def changed_at(data: Any, at: Sequence[Any], put: Callable[[str], str]) -> Any:
    """Return the data with one of its texts changed."""
    if not at:
        return put(data)
    copy = dict(data) if isinstance(data, dict) else list(data)
    copy[at[0]] = changed_at(data[at[0]], at[1:], put)
    return copy


def worsened(text: str) -> str:
    """A name of a size and a moment mean something; every other text may say anything."""
    if text in MEASURANDS or re.match(r"\d{4}-\d\d-\d\d", text):
        return text
    return text + BAD


def spoilt(
    detail: str, kind: str, read: Callable[[str], object], may: dict[Any, bool]
) -> tuple[str, int]:
    """Return JSON with each text changed that may be, and how many; ``may`` remembers which."""
    data, n = json.loads(detail), 0
    for at in [*places(data)]:
        changed = changed_at(data, at, worsened)
        if changed == data:
            continue
        alike = kind, *("item" if isinstance(key, int) else key for key in at)
        if alike not in may:
            try:
                read(json.dumps(changed))
                may[alike] = True
            except UnreadableRow:  # it may not say anything
                may[alike] = False
        if may[alike]:
            data, n = changed, n + 1
    return json.dumps(data, separators=(",", ":")), n


def spring_of(row: sqlite3.Row, text: str) -> None:
    """Read a spring, whose end and material must be known by name before it is ranked."""
    stock_book._spring(row["item"], row["on_hand"], text)
    if any(json.loads(text)[name] != json.loads(row["detail"])[name] for name in KNOWN):
        raise UnreadableRow("unknown")


def entry_of(columns: EntryColumns) -> None:
    """Read an entry, whose figure must be a number before it is one of a job."""
    item_of(columns)
    if fault := fault_of(columns):
        raise UnreadableRow(fault)


@pytest.fixture(scope="module")
def hostile(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A user folder whose journal says something bad wherever it can."""
    home = tmp_path_factory.mktemp("hostile")
    with closing(sqlite3.connect(home / "journal.sqlite")) as connection:
        connection.executescript((FIXTURES / "journals" / "schema-2.sql").read_text("utf-8"))
        for statement in STEPS[3]:
            connection.execute(statement)
        connection.execute("PRAGMA user_version = 3")
        connection.execute("PRAGMA foreign_keys = OFF")
        n, may = {}, {}
        readers: dict[tuple[str, str], Callable[..., Callable[[str], object]]] = {
            ("job", "setup"): lambda _: lambda text: decode(JobSetup, text),
            ("gauge", "info"): lambda _: lambda text: decode(GaugeInfo, text),
            ("gauge_record", "detail"): lambda _: decode_record,
            ("gauge_check", "detail"): lambda _: decode_check,
            ("known_gauge", "detail"): lambda row: (
                lambda text: decode(KnownGauge, text, first_used_utc="", last_used_utc="")
            ),
            ("stock_spring", "detail"): lambda row: lambda text: spring_of(row, text),
            ("fact", "detail"): lambda row: lambda text: decode_fact(row["name"], text),
            ("entry", "detail"): lambda row: (
                lambda text: entry_of(EntryColumns(row["origin"], row["kind"], row["raw"], text))
            ),
        }
        connection.row_factory = sqlite3.Row
        for (table, column), reader in readers.items():
            keys = [r["name"] for r in connection.execute(f"PRAGMA table_info({table})") if r["pk"]]
            for row in connection.execute(f"SELECT * FROM {table}").fetchall():
                kind = "".join(str(row[c]) for c in {"kind", "name"} & {*row.keys()})
                detail, changed = spoilt(row[column], table + kind, reader(row), may)
                where = " AND ".join(f"{key} IS ?" for key in keys)
                connection.execute(
                    f"UPDATE {table} SET {column} = ? WHERE {where}",
                    (detail, *(row[key] for key in keys)),
                )
                n[table] = n.get(table, 0) + changed
        for table, column in (
            ("job", "title"),
            ("gauge", "gauge_id"),
            ("gauge_record", "gauge_id"),
            ("gauge_check", "gauge_id"),
            ("known_gauge", "gauge_id"),
            ("stock_spring", "item"),
        ):
            connection.execute(f"UPDATE {table} SET {column} = {column} || ?", (BAD,))
        connection.commit()
    # Of a check the name of its gauge is all that may be any text.
    assert [table for table, changed in n.items() if not changed] == ["gauge_check"], n
    return home


@pytest.mark.parametrize("line", LOOKS)
def test_no_field_acts_on_a_terminal_or_forges_a_line(hostile: Path, line: str) -> None:
    done = call(hostile, *line.split())
    assert done.code in (0, 2, 4, 5, 6, 7), done.err
    assert is_harmless(done), repr(done.out + done.err)
    assert "\\u001b" in done.out + done.err or line in ("gauges", "jobs --predictions"), done.err


def test_everything_that_is_not_seen_is_written_out() -> None:
    every = map(chr, range(sys.maxunicode + 1))
    unseen = [c for c in every if unicodedata.category(c) in ("Cc", "Cf", "Cs", "Zl", "Zp")]
    kept = [c for c in unseen if harmless(c) == c]
    assert kept == ["\t", "\n"]
    assert harmless("Würfel ± 0,02 \u2800█ é 日本") == "Würfel ± 0,02 \u2800█ é 日本"


def test_in_json_it_is_the_same_data(capsys: pytest.CaptureFixture[str]) -> None:
    data = {"title": BAD, "half": "\ud83d"}
    emit_json(data)
    out = capsys.readouterr().out
    assert json.loads(out) == data
    assert not UNSEEN.search(out)


def test_an_error_is_one_line_even_where_a_file_has_two(tmp_path: Path) -> None:
    done = call(tmp_path, "stock", str(tmp_path / f"a\n{FORGED}\x1b[2J.csv"))
    assert done.code == 4
    assert is_harmless(done)
    assert len(done.err.splitlines()) == 2


def told() -> Iterator[str]:
    for body in (
        Ident(text=BAD, raw=b""),
        Fault(kind=FaultKind.UNPARSED, reason=BAD, raw=b""),
    ):
        yield event_line(GaugeEvent(gauge_id="caliper", elapsed_s=0.0, body=body))
    bad = Reading(value_mm=1.0, resolution_mm=0.01, displayed=BAD, unit=LengthUnit.MM, raw=b"")
    for act in (
        Halted(gauge_id="caliper", reason=BAD),
        NotTaken(gauge_id="caliper", elapsed_s=0.0, reason=BAD, displayed=BAD),
        Taken(gauge_id="caliper", elapsed_s=0.0, measurand="bore", reading=bad, note=BAD),
    ):
        yield act_line(act)


@pytest.mark.parametrize("text", [*told()])
def test_talk_is_a_line_each(text: str, capsys: pytest.CaptureFixture[str]) -> None:
    say(text)
    err = capsys.readouterr().err
    assert err.count("\n") == 1
    assert not UNSEEN.search(err)


def test_the_bench_screen_only_draws() -> None:
    job = Job(CALIPER)
    file = io.StringIO()
    console = Console(file=file, force_terminal=False, color_system=None, width=100, height=40)
    screen = Screen(job.session, Bell(enabled=False), f"job 7  {BAD}", console=console)
    job.watcher = screen
    bad = Reading(value_mm=0.0, resolution_mm=0.01, displayed=BAD, unit=LengthUnit.MM, raw=b"")
    screen.heard(GaugeEvent(gauge_id=CALIPER.gauge_id, elapsed_s=0.0, body=bad))
    for text in (Ident(text=BAD, raw=b""), Fault(kind=FaultKind.UNPARSED, reason=BAD, raw=b"")):
        screen.heard(GaugeEvent(gauge_id=CALIPER.gauge_id, elapsed_s=0.0, body=text))
        console.print(screen.render())
    screen.acted([Halted(gauge_id=CALIPER.gauge_id, reason=BAD)])
    console.print(screen.render())
    drawn = file.getvalue()
    assert not UNSEEN.search(drawn)
    assert "\\u001b[2J" in drawn
