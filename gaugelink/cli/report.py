"""``gaugelink report``: the page of a job as a file, as a PDF, or as text.

Everything that a page tells, gathered: the job, its sizing, the stock, its identity.

Printing a page to a PDF with the browser that is installed; none is brought along.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

from gaugelink import __version__
from gaugelink.assembly.parts import Measured, measured_parts
from gaugelink.choosing.results import Choice
from gaugelink.cli.barrel import (
    BarrelOptions,
    job_findings,
    known_gauges,
    latest_words,
    spoken,
    with_kept_train,
    with_words,
    words_of,
)
from gaugelink.cli.choose import ChooseOptions, chosen
from gaugelink.cli.output import (
    emit,
    emit_json,
    has_braille,
    refuse_foreign,
    say,
    write_text,
    writing,
)
from gaugelink.cli.size import SizeOptions, sized_from
from gaugelink.errors import GaugelinkError, InputError, SizingError
from gaugelink.jobbook.exporting import Exporter, RecordIdentity
from gaugelink.jobbook.fact_book import FactBook
from gaugelink.jobbook.facts import StoredFact
from gaugelink.jobbook.journal import Journal
from gaugelink.report.page_content import PageContent, Sizing
from gaugelink.report.page_html import GENERATOR, Paper, page_html
from gaugelink.report.page_text import page_text
from gaugelink.report.table import wrapped

_OURS = f'<meta name="generator" content="{GENERATOR} '.encode()
_PAPERS = {None: Paper.A4, "a4": Paper.A4, "letter": Paper.LETTER}


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportOptions:
    """What was typed after ``report``."""

    content: ContentOptions
    out: Path | None = None
    force: bool = False
    pdf: Path | None = None
    paper: str | None = None
    text: bool = False


def run(options: ReportOptions, *, as_json: bool) -> None:
    """Write the page, and the PDF that was asked for; or show it as text."""
    _refuse_mixed(options, as_json=as_json)
    if options.text:
        emit(page_text(_content(options), ascii_only=not has_braille()))
        return
    job = options.content.job
    page = options.out or Path(f"gaugelink-job-{job}.html")
    _refuse_foreign(page, options)
    content = _content(options)
    write_text(page, page_html(content), "The page", "--out")
    say(wrapped(f"Wrote the page of job {job} to {page}.", lead=""))
    if options.pdf is not None:
        paper = _PAPERS[options.paper]
        print_page(page_html(content, paper=paper), options.pdf, fallback=page)
        say(wrapped(f"Printed it to {options.pdf} for {paper} paper.", lead=""))
    if as_json:
        pdf = None if options.pdf is None else str(options.pdf)
        emit_json({"schema": 1, "job": job, "page": str(page), "pdf": pdf})


def _content(options: ReportOptions) -> PageContent:
    content = page_content(options.content)
    if content.missing:
        say(wrapped(content.missing, lead=""))
    return content


def _refuse_mixed(options: ReportOptions, *, as_json: bool) -> None:
    files = {"--out": options.out, "--pdf": options.pdf}
    named = [name for name, path in files.items() if path is not None]
    if options.text and (named or as_json):
        raise InputError(
            f"--text writes no file and does not go with {(*named, '--json')[0]}.",
            hint="Send the text to a file with: gaugelink report JOB --text > FILE",
        )
    if options.paper is not None and options.pdf is None:
        raise InputError(
            "--paper is for the PDF.",
            hint="Give --pdf FILE as well; a browser asks for the paper when it prints the page.",
        )


def _refuse_foreign(page: Path, options: ReportOptions) -> None:
    """Refuse to write over what is not an earlier page, before any work is done."""
    if options.force:
        return
    refuse_foreign(
        page,
        _OURS,
        "a page of gaugelink",
        instead="Name another file with --out FILE, or give --force to replace it.",
    )
    if options.pdf is not None and os.path.exists(options.pdf):
        raise InputError(
            f"{options.pdf} is there already.",
            hint="Name another file with --pdf FILE, or give --force to replace it.",
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class ContentOptions:
    """What was typed of the job, its barrel and the stock; ``stock`` is a list to use."""

    job: int
    barrel: BarrelOptions
    stock: Path | None = None
    sheet: str | None = None
    found_healthy: bool = False
    coverage: float = 0.95
    seed: int = 1
    draws: int = 200_000


@dataclass(frozen=True, slots=True, kw_only=True)
class _Worked:
    """What came of sizing and choosing, and in a sentence what did not."""

    sizing: Sizing | None = None
    choice: Choice | None = None
    missing: str = ""


def page_content(typed: ContentOptions) -> PageContent:
    """Gather what the page of a job tells.

    Raises:
        InputError: something typed cannot be used.
        JournalError: the job cannot be read.
        FileFormatError: the list of springs cannot be used.
    """
    with Journal.open(typed.barrel.journal, to_read=True) as journal:
        record = journal.load(typed.job)
    with FactBook(typed.barrel.journal, to_read=True) as book:
        facts = book.facts(typed.job)
    typed = _as_before(typed, facts)
    barrel = typed.barrel
    known = known_gauges(record, barrel.journal)
    parts = measured_parts(record, barrel.outliers, known)
    worked = _worked(_choosing(typed), parts, typed.draws)
    return PageContent(
        record=record,
        parts=parts,
        findings=job_findings(record, known, barrel.outliers),
        facts=facts,
        identity=_identity(barrel.journal, typed.job),
        software=__version__,
        created_utc=datetime.now(UTC).isoformat(timespec="seconds"),
        sizing=worked.sizing,
        choice=worked.choice,
        missing=worked.missing,
    )


def _as_before(typed: ContentOptions, facts: tuple[StoredFact, ...]) -> ContentOptions:
    """Where nothing is typed of the barrel, the page is of what was last sized or chosen."""
    words = latest_words(facts)
    if not words or words_of(typed.barrel):
        return typed
    again = f"As typed for job {typed.job} before: {spoken(words)}"
    say(wrapped(again, lead="", split_words=False))
    return replace(typed, barrel=with_words(typed.barrel, words))


def _choosing(typed: ContentOptions) -> ChooseOptions:
    return ChooseOptions(
        barrel=with_kept_train(typed.barrel),
        stock=typed.stock,
        sheet=typed.sheet,
        found_healthy=typed.found_healthy,
        coverage=typed.coverage,
        seed=typed.seed,
    )


def _worked(options: ChooseOptions, parts: Sequence[Measured], draws: int) -> _Worked:
    """A job without a bore, or one that contradicts itself, still has a page."""
    measured = {each.measurand for part in parts for each in part.series}
    if "bore" not in measured and options.barrel.lengths.get("bore") is None:
        return _Worked(missing="The bore has not been measured yet.")
    try:
        done = sized_from(_sizing(options, draws))
    except SizingError as exc:
        return _Worked(missing=f"{exc} {exc.hint}")
    sizing = Sizing(inputs=done.inputs, result=done.result)
    try:
        choice = chosen(options)
    except SizingError as exc:
        return _Worked(sizing=sizing, missing=f"No spring was chosen: {exc} {exc.hint}")
    return _Worked(sizing=sizing, choice=choice if choice.stock_size else None)


def _sizing(options: ChooseOptions, draws: int) -> SizeOptions:
    return SizeOptions(
        barrel=options.barrel, coverage=options.coverage, seed=options.seed, draws=draws
    )


def _identity(journal: Path | None, job: int) -> RecordIdentity:
    with Exporter(journal, to_read=True) as exporter:
        return exporter.identity(job)


_TIMEOUT_S = 120.0
_NAMES = (
    *("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome"),
    *("msedge", "microsoft-edge", "microsoft-edge-stable", "brave-browser"),
)
_MAC = (
    "Google Chrome.app/Contents/MacOS/Google Chrome",
    "Chromium.app/Contents/MacOS/Chromium",
    "Microsoft Edge.app/Contents/MacOS/Microsoft Edge",
)
_WINDOWS = (
    r"Google\Chrome\Application\chrome.exe",
    r"Chromium\Application\chrome.exe",
    r"Microsoft\Edge\Application\msedge.exe",
)
_WINDOWS_ROOTS = ("PROGRAMFILES", "PROGRAMFILES(X86)", "LOCALAPPDATA")


def print_page(page: str, target: Path, *, fallback: Path) -> None:
    """Print a page to a PDF, which is there whole when this returns.

    Args:
        page: the page.
        target: the PDF.
        fallback: where the page lies, for whoever has to print it himself.

    Raises:
        GaugelinkError: no browser is there, or it did not print.
        FileFormatError: the PDF cannot be written.
    """
    browser = next(_browsers(), None)
    if browser is None:
        raise GaugelinkError(
            "No browser was found that prints to a PDF from here.",
            hint=f"Open {fallback} in any browser and print it to a PDF from there.",
        )
    with tempfile.TemporaryDirectory(prefix="gaugelink-pdf-", ignore_cleanup_errors=True) as name:
        folder = Path(name)
        printed = folder / "page.pdf"
        (folder / "page.html").write_text(page, encoding="utf-8", newline="\n")
        _run(browser, folder, printed, fallback)
        with writing(target, "The PDF", "--pdf") as part:
            shutil.copyfile(printed, part)


def _run(browser: str, folder: Path, printed: Path, fallback: Path) -> None:
    command = [
        browser,
        "--headless",
        "--disable-gpu",
        "--no-first-run",
        f"--user-data-dir={folder / 'profile'}",
        *(["--no-sandbox"] if _is_root() else []),
        "--no-pdf-header-footer",
        f"--print-to-pdf={printed}",
        (folder / "page.html").as_uri(),
    ]
    try:
        subprocess.run(
            command,
            stdin=subprocess.DEVNULL,
            capture_output=True,
            check=False,
            timeout=_TIMEOUT_S,
        )
        done = printed.read_bytes().startswith(b"%PDF-")
    except (OSError, subprocess.TimeoutExpired):
        done = False
    if not done:
        raise GaugelinkError(
            f"The browser {browser} did not print the page.",
            hint=f"Open {fallback} in any browser and print it to a PDF from there.",
        )


def _browsers() -> Iterator[str]:
    """Yield the browsers that print from a command line, those on the path first."""
    yield from filter(None, map(shutil.which, _NAMES))
    yield from (place for place in _usual_places() if os.path.isfile(place))


def _usual_places() -> Iterator[str]:
    """Where an installer puts a browser without telling the path; all systems, one is there."""
    for root in ("/Applications", os.path.expanduser("~/Applications")):
        yield from (os.path.join(root, name) for name in _MAC)
    for root in filter(None, map(os.environ.get, _WINDOWS_ROOTS)):
        yield from (os.path.join(root, name) for name in _WINDOWS)


def _is_root() -> bool:
    """A browser refuses to shut root in; the page is ours and runs nothing."""
    return hasattr(os, "geteuid") and os.geteuid() == 0
