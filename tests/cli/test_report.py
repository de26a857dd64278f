"""``gaugelink report``: what is written where, what is never written over, and the PDF."""

from __future__ import annotations

import os
import shutil
import stat
import sys
from pathlib import Path

import pytest
from cli_gauges import presses, without
from cli_runs import Outcome, call, is_clear

from gaugelink.cli import report as report_pdf
from gaugelink.jobbook.export import Exporter
from gaugelink.jobbook.export_format import DIGEST
from gaugelink.jobbook.facts import FactBook, JobReference, Movement, TrainData

FAST = ("--draws", "2000")
STOCK = """item,height (mm),thickness (mm),length (mm),on hand
S1,1.40,0.130,360,2
S2,1.45,0.130,380,1
"""
pytestmark = pytest.mark.filterwarnings("error")


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A user folder with a job in it, of a bore alone: its page is soon made."""
    folder = tmp_path_factory.mktemp("home")
    address = presses(folder / "bore.jsonl", 0.0, *[11.52] * 5, 0.0)
    kept_in = ("--journal", str(folder / "jobs.sqlite"))
    done = call(folder, "measure", address, *kept_in, *without("bore"))
    assert done.code == 0, done.err
    return folder


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A user folder with the demo's job in it."""
    folder = tmp_path_factory.mktemp("whole")
    done = call(folder, "demo", "--pace", "100000", "--journal", str(folder / "jobs.sqlite"))
    assert done.code == 0, done.err
    return folder


@pytest.fixture(autouse=True)
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.fixture
def own(home: Path, tmp_path: Path) -> Path:
    """The same user folder, to write into."""
    return shutil.copytree(home, tmp_path / "own")


def sized(home: Path, command: str, *more: str) -> Outcome:
    return call(home, command, "1", "--journal", str(home / "jobs.sqlite"), *FAST, *more)


def report(home: Path, *more: str) -> Outcome:
    return call(home, "report", "1", "--journal", str(home / "jobs.sqlite"), *FAST, *more)


def test_the_page_is_written_here_and_its_place_is_said(whole: Path, here: Path) -> None:
    done = report(whole)
    assert (done.code, done.out) == (0, "")
    assert "Wrote the page of job 1 to gaugelink-job-1.html." in done.err
    page = (here / "gaugelink-job-1.html").read_text("utf-8")
    assert page.startswith("<!DOCTYPE html>")
    assert "demo: an invented barrel" in page
    assert os.listdir(here) == ["gaugelink-job-1.html"]


def test_json_says_what_was_written_where(home: Path, here: Path) -> None:
    done = report(home, "--out", "a b.html", "--json")
    assert done.data == {"schema": 1, "job": 1, "page": "a b.html", "pdf": None}
    assert (here / "a b.html").exists()


def test_a_page_replaces_an_earlier_page(home: Path, here: Path) -> None:
    assert report(home).code == 0
    done = report(home, "--documented", "1.45 x 0.13 x 370")
    assert done.code == 0
    assert "documented" in (here / "gaugelink-job-1.html").read_text("utf-8")


@pytest.mark.parametrize("command", ["size", "choose"])
def test_what_was_typed_for_the_job_before_need_not_be_typed_again(
    command: str, whole: Path, tmp_path: Path
) -> None:
    own = shutil.copytree(whole, tmp_path / "own")
    typed = ("--documented", "1.45 x 0.13 x 370", "--hours-per-turn", "7.5", "--clearance", "0.12")
    assert sized(own, command, *typed).code == 0
    done = report(own, "--text")
    assert "--documented '1.45 x 0.13 x 370'" in " ".join(done.err.split())
    assert "Order 1.45 x 0.13 x 370 mm" in done.out
    again = report(own, "--text", *typed)
    shown = [text.out.partition("Page made")[0] for text in (done, again)]
    assert shown[0] == shown[1]
    assert again.err == ""


def test_what_is_typed_for_the_page_takes_the_place_of_all_that_was_typed_before(
    own: Path,
) -> None:
    assert sized(own, "size", "--documented", "1.45 x 0.13 x 370").code == 0
    done = report(own, "--text", "--hours-per-turn", "7.5")
    assert done.err == ""
    assert "1.45 x 0.13 x 370" not in done.out


def test_nothing_else_is_written_over_unless_forced(home: Path, here: Path) -> None:
    (here / "mine.html").write_text("<html>mine</html>", "utf-8")
    done = report(home, "--out", "mine.html")
    assert done.code == 2
    assert is_clear(done.err, "is there already and is not a page of gaugelink")
    assert (here / "mine.html").read_text("utf-8") == "<html>mine</html>"
    assert report(home, "--out", "mine.html", "--force").code == 0
    assert "gaugelink" in (here / "mine.html").read_text("utf-8")


def test_a_folder_that_is_not_there_is_said(home: Path) -> None:
    done = report(home, "--out", "nowhere/page.html")
    assert done.code == 4
    assert is_clear(done.err, "page.html: The page cannot be written (")
    assert "--out FILE" in done.err


def test_a_job_that_is_not_there_is_said(home: Path, here: Path) -> None:
    done = call(home, "report", "99", "--journal", str(home / "jobs.sqlite"))
    assert done.code == 7
    assert is_clear(done.err, "99")
    assert os.listdir(here) == []


def test_the_page_carries_the_identity_that_an_export_has(home: Path, here: Path) -> None:
    assert report(home).code == 0
    with Exporter(home / "jobs.sqlite") as exporter:
        exporter.write(here / "jobs.json", [1])
    exported = (here / "jobs.json").read_text("ascii").rpartition(f'"{DIGEST}":"')[2][:64]
    assert exported in (here / "gaugelink-job-1.html").read_text("utf-8")


def test_a_list_of_springs_gives_the_stock_choices(home: Path, here: Path) -> None:
    (here / "stock.csv").write_text(STOCK, "utf-8")
    assert report(home, "--stock", "stock.csv").code == 0
    page = (here / "gaugelink-job-1.html").read_text("utf-8")
    assert "Stock choices" in page


def test_a_fitted_spring_stands_with_what_was_recommended_when_the_stock_has_changed(
    own: Path, here: Path
) -> None:
    (here / "stock.csv").write_text(STOCK, "utf-8")
    journal = ("--journal", str(own / "jobs.sqlite"))
    chosen = call(own, "choose", "1", *journal, "--stock", "stock.csv", "--json", *FAST[:2])
    assert chosen.code == 0, chosen.err
    item, then = chosen.data["picks"][0]["item"], chosen.data["recommendation"]["text"]
    spring = chosen.data["picks"][0]
    fitted = f"{item} cut_from=500 end=hole"
    assert call(own, "jobs", "1", *journal, "--chosen", fitted).code == 0
    # The stock is another one now, without any that fits.
    (here / "stock.csv").write_text(f"{STOCK.splitlines()[0]}\nZ1,3.50,0.130,360,1\n", "utf-8")
    done = report(own, "--text", "--stock", "stock.csv")
    assert done.code == 0, done.err
    page = " ".join(done.out.split())
    size = f"{spring['height']:g} x {spring['thickness']:g} x {spring['length']:g} mm"
    _, _, head = page.partition(" FITTED ")
    assert head.startswith(f"Fitted: {item}, {size}, cut from 500 mm, hole end, 20")
    assert f": {then}." in head
    assert f"Plan: {item}." in head


def test_a_list_that_cannot_be_read_is_said(home: Path, here: Path) -> None:
    (here / "stock.csv").write_text("nonsense\n", "utf-8")
    done = report(home, "--stock", "stock.csv")
    assert done.code == 4
    assert is_clear(done.err, "stock.csv")
    assert not (here / "gaugelink-job-1.html").exists()


def test_what_was_written_down_with_the_job_stands_in_the_page(whole: Path, here: Path) -> None:
    with FactBook(whole / "jobs.sqlite") as book:
        book.add(1, Movement(text="13 <lines>"), JobReference(text="ticket & 204"))
        book.add(1, TrainData(hours_per_turn=7.5))
    assert report(whole).code == 0
    page = (here / "gaugelink-job-1.html").read_text("utf-8")
    assert "13 &lt;lines&gt;" in page
    assert "ticket &amp; 204" in page
    assert "24 h: " in page  # the hours per turn were taken from the job


@pytest.mark.parametrize(
    ("kept", "said"),
    [
        (TrainData(hours_per_turn=7.5), "As kept with job 1: --hours-per-turn 7.5"),
        (TrainData(teeth="80/10"), "As kept with job 1: --train 80/10"),
        (TrainData(teeth="80/10", hours_per_turn=8), "As kept with job 1: --hours-per-turn 8"),
    ],
)
def test_a_train_kept_with_the_job_is_used_and_said_once(
    own: Path, kept: TrainData, said: str
) -> None:
    with FactBook(own / "jobs.sqlite") as book:
        book.add(1, kept)
    assert report(own, "--text").err.splitlines() == [said]


def test_sizes_that_cannot_be_still_give_a_page_that_says_so(whole: Path, here: Path) -> None:
    done = report(whole, "--lid", "5")
    assert done.code == 0
    assert "lid" in done.err
    page = (here / "gaugelink-job-1.html").read_text("utf-8")
    assert "No size can be given: " in page
    assert "Readings" in page


def test_something_typed_that_cannot_be_read_is_refused(home: Path, here: Path) -> None:
    done = report(home, "--bore", "eleven")
    assert done.code == 2
    assert os.listdir(here) == []


def test_the_page_of_a_fusee_shows_what_the_sizing_shows_of_chain_and_cone(
    own: Path, here: Path
) -> None:
    cone = ("--barrel", "fusee", "--fusee", "6 11 6.5", "--barrel-outside", "12.5")
    known = (*cone, "--documented", "1.35 x 0.13 x 400")
    full = sized(own, "size", *known, "--full").out
    start = full.index("AT THE FUSEE")
    shown = full[start : full.index("\n\n", start)].splitlines()[1:]
    lines = [line.strip() for line in shown if line.strip()]
    assert any(line.startswith("documented") for line in lines)
    text = report(own, *known, "--text").out
    assert all(line in text for line in lines)
    report(own, *known, "--out", "fusee.html")
    page = (here / "fusee.html").read_text(encoding="utf-8")
    row = next(line for line in lines if line.startswith("documented")).split()
    assert all(f"<td>{cell}</td>" in page for cell in row[1:3])


def test_text_goes_to_stdout_and_no_file_is_written(home: Path, here: Path) -> None:
    done = report(home, "--text")
    assert done.code == 0
    assert done.out.startswith("MAINSPRING REPORT  Job 1")
    assert "RECOMMENDATION" in done.out
    assert "CHECK AFTER FITTING" in done.out
    assert os.listdir(here) == []


@pytest.mark.parametrize("other", [("--json",), ("--out", "x.html"), ("--pdf", "x.pdf")])
def test_text_does_not_go_with_files(home: Path, here: Path, other: tuple[str, ...]) -> None:
    done = report(home, "--text", *other)
    assert done.code == 2
    assert is_clear(done.err, f"does not go with {other[0]}")
    assert os.listdir(here) == []


def test_paper_without_a_pdf_is_refused(home: Path) -> None:
    done = report(home, "--paper", "letter")
    assert done.code == 2
    assert is_clear(done.err, "--paper is for the PDF.")


def stand_in(folder: Path, body: str) -> None:
    """A browser that does what ``body`` says; ``target`` is where it was told to print."""
    path = folder / "chromium"
    path.write_text(
        f"#!{sys.executable}\n"
        "import sys\n"
        "target = next(a.partition('=')[2] for a in sys.argv if a.startswith('--print-to-pdf='))\n"
        f"{body}\n",
        "utf-8",
    )
    path.chmod(path.stat().st_mode | stat.S_IXUSR)


posix = pytest.mark.skipif(os.name != "posix", reason="the stand-in is a POSIX script")


@posix
def test_the_pdf_is_printed_from_the_page_on_the_paper(
    home: Path, here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    body = (
        "from urllib.request import url2pathname\n"
        "page = open(url2pathname(sys.argv[-1].removeprefix('file://')), encoding='utf-8').read()\n"
        "assert 'size: letter' in page\n"
        "open(target, 'wb').write(b'%PDF-1.4 invented')"
    )
    (here / "bin").mkdir()
    stand_in(here / "bin", body)
    monkeypatch.setenv("PATH", str(here / "bin"))
    done = report(home, "--pdf", "page.pdf", "--paper", "letter", "--json")
    assert done.code == 0, done.err
    assert done.data["pdf"] == "page.pdf"
    assert (here / "page.pdf").read_bytes() == b"%PDF-1.4 invented"
    again = report(home, "--pdf", "page.pdf")
    assert again.code == 2
    assert is_clear(again.err, "page.pdf is there already")


@posix
@pytest.mark.parametrize(
    "body", ["sys.exit(3)", "open(target, 'wb').write(b'no pdf')", "raise SystemExit"]
)
def test_a_browser_that_does_not_print_is_said_and_the_page_is_there(
    home: Path, here: Path, monkeypatch: pytest.MonkeyPatch, body: str
) -> None:
    (here / "bin").mkdir()
    stand_in(here / "bin", body)
    monkeypatch.setenv("PATH", str(here / "bin"))
    done = report(home, "--pdf", "page.pdf")
    assert done.code == 1
    assert is_clear(done.err, "did not print the page")
    assert not (here / "page.pdf").exists()
    assert (here / "gaugelink-job-1.html").exists()


@posix
def test_a_pdf_in_a_folder_that_is_not_there_is_said(
    home: Path, here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (here / "bin").mkdir()
    stand_in(here / "bin", "open(target, 'wb').write(b'%PDF-1.4 invented')")
    monkeypatch.setenv("PATH", str(here / "bin"))
    done = report(home, "--pdf", "nowhere/page.pdf")
    assert done.code == 4
    assert is_clear(done.err, "page.pdf: The PDF cannot be written (")
    assert "--pdf FILE" in done.err


def test_without_a_browser_it_says_how_to_print(
    home: Path, here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(report_pdf, "_browsers", lambda: iter(()))
    done = report(home, "--pdf", "page.pdf")
    assert done.code == 1
    assert is_clear(done.err, "No browser here")
    assert "print it to a PDF from there" in done.err
    assert (here / "gaugelink-job-1.html").exists()


@pytest.mark.parametrize(
    ("setting", "place"),
    [
        ("PROGRAMFILES", "Google/Chrome/Application/chrome.exe"),
        ("LOCALAPPDATA", "Microsoft/Edge/Application/msedge.exe"),
        ("HOME", "Applications/Chromium.app/Contents/MacOS/Chromium"),
    ],
)
def test_a_browser_is_found_where_installers_put_it(
    here: Path, monkeypatch: pytest.MonkeyPatch, setting: str, place: str
) -> None:
    monkeypatch.setenv("PATH", str(here / "empty"))
    monkeypatch.setenv(setting, str(here))
    monkeypatch.setattr(
        report_pdf, "_WINDOWS", tuple(p.replace("\\", os.sep) for p in report_pdf._WINDOWS)
    )
    browser = here / place
    browser.parent.mkdir(parents=True)
    browser.write_bytes(b"")
    assert str(browser) in list(report_pdf._browsers())
