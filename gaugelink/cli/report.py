"""``gaugelink report``: the page of a job as a file, as a PDF, or as text.

A PDF is printed with the browser that is installed; none is brought along.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from gaugelink.cli import options as o

if TYPE_CHECKING:
    from gaugelink.assembly.job import Job
    from gaugelink.choosing.choice import Choice
    from gaugelink.report.page_content import PageContent
    from gaugelink.sizing.inputs import SizingInputs
    from gaugelink.sizing.results import SizeResult
    from gaugelink.statistics.outlier_method import OutlierMethod

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


@o.told_of_barrel
def report(
    job: Annotated[int, typer.Argument(help="Number of a measured job.")],
    out: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE", help="Where to write the page; here, by its number, if not given."
        ),
    ] = None,
    force: Annotated[
        bool, typer.Option("--force", help="Replace a file that is not an earlier page.")
    ] = False,
    pdf: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="Also print it to a PDF, with a browser installed here."),
    ] = None,
    paper: Annotated[
        Literal["a4", "letter"] | None, typer.Option(help="Paper of the PDF; A4 if not given.")
    ] = None,
    text: Annotated[
        bool, typer.Option("--text", help="Write it as text to stdout, and no file.")
    ] = False,
    stock: o.StockList = None,
    sheet: o.Sheet = None,
    *,
    typed: o.Typed,
    outliers: o.Outliers = "grubbs",
    coverage: o.Coverage = 0.95,
    seed: o.Seed = 1,
    draws: o.Draws = 200_000,
    journal: o.Journal = None,
    json: o.Json = False,
) -> None:
    """Write the page of a job: one file of HTML that needs no network, prints and reads anywhere.

    It holds the recommendation and how sure it is, the barrel and its spring to scale, every
    reading, the rules, the torque, the stock choices, and what to check after fitting. Where
    nothing of the barrel is typed, it is what was typed when the job was last sized or chosen for.
    """
    from gaugelink.assembly.job import load_job
    from gaugelink.cli.barrel import with_kept_words
    from gaugelink.cli.choose import chosen
    from gaugelink.cli.output import emit, emit_json, has_braille, say, write_text
    from gaugelink.cli.size import sized
    from gaugelink.report.page_html import Paper, pages_html
    from gaugelink.report.page_text import page_text
    from gaugelink.report.table import wrapped
    from gaugelink.statistics.outlier_method import OutlierMethod

    _refuse_mixed({"--out": out, "--pdf": pdf}, paper, text=text, as_json=json)
    page = out or Path(f"gaugelink-job-{job}.html")
    if not (text or force):
        _refuse_foreign(page, pdf)
    loaded = load_job(journal, job, identified=True)
    content = page_content(
        loaded,
        with_kept_words(_as_before(typed, loaded), loaded),
        OutlierMethod(outliers),
        partial(sized, coverage=coverage, draws=draws, seed=seed),
        partial(
            chosen,
            stock=stock,
            sheet=sheet,
            journal=journal,
            coverage=coverage,
            seed=seed,
        ),
    )
    if content.missing:
        say(wrapped(content.missing, lead=""))
    if text:
        emit(page_text(content, ascii_only=not has_braille()))
        return
    on = Paper.LETTER if paper == "letter" else Paper.A4
    pages = pages_html(content, (None,) if pdf is None else (None, on))
    write_text(page, pages[0], "The page", "--out")
    say(wrapped(f"Wrote the page of job {job} to {page}.", lead=""))
    if pdf is not None:
        print_page(pages[-1], pdf, fallback=page)
        say(wrapped(f"Printed it to {pdf} for {on} paper.", lead=""))
    if json:
        printed = None if pdf is None else str(pdf)
        emit_json({"schema": 1, "job": job, "page": str(page), "pdf": printed})


def page_content(
    job: Job,
    typed: o.Typed,
    treatment: OutlierMethod,
    sized: Callable[[o.Typed, Job, OutlierMethod], tuple[SizingInputs, SizeResult]],
    chosen: Callable[[o.Typed, Job, OutlierMethod], Choice],
) -> PageContent:
    """Gather what the page of a job tells.

    A job without a bore, or one that contradicts itself, still has a page.

    Args:
        job: the job, with its identity.
        typed: words by the name of their row in ``BARREL_OPTIONS``.
        treatment: the test for outlying readings.
        sized: how it is sized.
        chosen: how a spring is chosen for it.

    Raises:
        InputError: something typed cannot be used.
        FileFormatError: the list of springs cannot be used.
    """
    from dataclasses import replace
    from datetime import UTC, datetime

    from gaugelink import __version__
    from gaugelink.errors import SizingError
    from gaugelink.report.page_content import PageContent, Sizing

    assert job.identity is not None
    now = datetime.now(UTC)
    content = PageContent(
        record=job.record,
        parts=job.parts(treatment),
        findings=job.findings(now, treatment),
        facts=job.facts,
        identity=job.identity,
        software=__version__,
        created_utc=now.isoformat(timespec="seconds"),
        gauges=job.gauges,
    )
    if "bore" not in typed and "bore" not in job.found(treatment):
        return replace(content, missing="The bore has not been measured yet.")
    try:
        inputs, result = sized(typed, job, treatment)
    except SizingError as exc:
        return replace(content, missing=f"{exc} {exc.hint}")
    content = replace(content, sizing=Sizing(inputs=inputs, result=result))
    try:
        choice = chosen(typed, job, treatment)
    except SizingError as exc:
        return replace(content, missing=f"No spring was chosen: {exc} {exc.hint}")
    return replace(content, choice=choice if choice.stock_size else None)


def _as_before(typed: o.Typed, job: Job) -> o.Typed:
    """Where nothing is typed of the barrel, the page is of what was last sized or chosen."""
    from gaugelink.cli.barrel import latest_words, spoken
    from gaugelink.cli.output import say
    from gaugelink.report.table import wrapped

    words = latest_words(job.facts)
    if not words or any(typed.values()):
        return typed
    again = f"Also used, as typed for job {job.number} before: {spoken(words)}"
    say(wrapped(again, lead="", split_words=False))
    return words


def _refuse_mixed(
    files: dict[str, Path | None], paper: str | None, *, text: bool, as_json: bool
) -> None:
    from gaugelink.errors import InputError

    named = [name for name, path in files.items() if path is not None]
    if text and (named or as_json):
        raise InputError(
            f"--text writes no file and does not go with {(*named, '--json')[0]}.",
            hint="Send the text to a file with: gaugelink report JOB --text > FILE",
        )
    if paper is not None and files["--pdf"] is None:
        raise InputError(
            "--paper is for the PDF.",
            hint="Give --pdf FILE as well; a browser asks for the paper when it prints the page.",
        )


def _refuse_foreign(page: Path, pdf: Path | None) -> None:
    """Refuse to write over what is not an earlier page, before any work is done."""
    from gaugelink.cli.output import refuse_foreign
    from gaugelink.errors import InputError
    from gaugelink.report.page_html import GENERATOR

    refuse_foreign(
        page,
        f'<meta name="generator" content="{GENERATOR} '.encode(),
        "a page of gaugelink",
        instead="Name another file with --out FILE, or give --force to replace it.",
    )
    if pdf is not None and os.path.exists(pdf):
        raise InputError(
            f"{pdf} is there already.",
            hint="Name another file with --pdf FILE, or give --force to replace it.",
        )


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
    from gaugelink.cli.output import writing
    from gaugelink.errors import GaugelinkError

    browser = next(_browsers(), None)
    if browser is None:
        raise GaugelinkError(
            "No browser here can print to a PDF.",
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
    from gaugelink.errors import GaugelinkError

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
