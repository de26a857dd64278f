"""``gaugelink report``: the page of a job as a file, as a PDF, or as text."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path

from gaugelink.cli.output import emit, emit_json, has_braille, say
from gaugelink.cli.own_files import refuse_foreign, write_text
from gaugelink.cli.report_content import ContentOptions, page_content
from gaugelink.cli.report_pdf import print_page
from gaugelink.errors import InputError
from gaugelink.report.page import GENERATOR, Paper, page_html
from gaugelink.report.page_content import PageContent
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
