"""The bench screen, as rich draws it: instruction, big figures, progress and last words."""

from __future__ import annotations

import io
import re

import pytest
from cli_bench import CALIPER, MICROMETER, Job
from rich.console import Console

from gaugelink.cli.screen import Screen, big, progress_line
from gaugelink.cli.talk import Bell
from gaugelink.model import Fault, FaultKind, GaugeEvent, GaugeInfo, LinkChange, UnitSwitch
from gaugelink.report.table import OPENING_CAUTIONS, TAKING_OUT
from gaugelink.units import LengthUnit

SIZES = [(80, 24), (40, 24), (120, 50)]
FRAME = "│╭╮╰╯─"


class Drawing:
    """A screen over a job, drawn without a terminal; what it would show is ``text``."""

    def __init__(
        self,
        job: Job,
        width: int = 80,
        height: int = 24,
        encoding: str = "utf-8",
        notice: str = "",
    ) -> None:
        file = io.TextIOWrapper(io.BytesIO(), encoding=encoding)
        self._console = Console(
            file=file, record=True, force_terminal=True, width=width, height=height
        )
        self.screen = Screen(
            job.session,
            Bell(enabled=False),
            "job 7  bag 17",
            notice=notice,
            console=self._console,
        )
        job.watcher = self.screen

    @property
    def lines(self) -> list[str]:
        self._console.print(self.screen.render())
        return self._console.export_text(styles=False).splitlines()

    @property
    def words(self) -> str:
        """The text in reading order, without frames and line ends."""
        return " ".join(re.sub(f"[{FRAME}]", " ", " ".join(self.lines)).split())

    @property
    def styled(self) -> str:
        self._console.print(self.screen.render())
        return self._console.export_text(styles=True)


def bench_screen(job: Job, console: Console) -> Screen:
    return Screen(job.session, Bell(enabled=False), "job 7", console=console)


def measuring(*gauges: GaugeInfo) -> Job:
    return Job(*gauges or (CALIPER,), without=("arbor",))


@pytest.mark.parametrize(
    ("gauges", "width", "height"),
    [
        *(((CALIPER,), *size) for size in [*SIZES, (40, 12), (200, 12)]),
        *(((CALIPER, MICROMETER), *size) for size in [*SIZES, (60, 24)]),
    ],
)
def test_a_screen_fits_its_terminal(gauges: tuple[GaugeInfo, ...], width: int, height: int) -> None:
    job = Job(*gauges)
    drawing = Drawing(job, width, height, notice="Eye protection. " * 20)
    assert len(drawing.lines) <= height
    for who in gauges:
        job.press("0.00", who)
    job.press("254.00", gauges[0])
    lines, words = drawing.lines, drawing.words
    assert max(map(len, lines)) <= width
    assert len(lines) <= height
    assert "254.00 mm is not a likely bore (3 to 30 mm). Check the unit and the jaws." in words
    assert "q stop, continue later" in words
    assert "[ bore 0 of 5 ]" in words


def test_two_instructions_are_whole_on_a_usual_terminal() -> None:
    job = Job(CALIPER, MICROMETER)
    drawing = Drawing(job, 80, 24)
    job.press("0.00", CALIPER)
    job.press("0.000", MICROMETER)
    assert "turn the barrel about 40 degrees before each reading." in drawing.words
    assert "near its edge, clear of any rim or dent." in drawing.words
    assert sum("█" in line for line in drawing.lines) == 10


@pytest.mark.parametrize("gauges", [(CALIPER,), (CALIPER, MICROMETER)], ids=["one", "two"])
def test_the_cautions_stand_until_the_first_zero(gauges: tuple[GaugeInfo, ...]) -> None:
    job = measuring(*gauges)
    drawing = Drawing(job, notice=OPENING_CAUTIONS)
    job.press("5.00")
    assert "Let the power down first" in drawing.words
    assert "licensed practice come first." in drawing.words
    assert len(drawing.lines) <= 24
    job.press("0.00")
    assert "Let the power down first" not in drawing.words


@pytest.mark.parametrize(
    ("gauges", "seen"), [((CALIPER,), True), ((CALIPER, MICROMETER), False)], ids=["one", "two"]
)
def test_of_more_cautions_than_there_is_room_for_the_first_stand(
    gauges: tuple[GaugeInfo, ...], seen: bool
) -> None:
    drawing = Drawing(measuring(*gauges), notice=f"{OPENING_CAUTIONS}\n{TAKING_OUT}")
    assert "Let the power down first" in drawing.words
    assert ("let its set-up down" in drawing.words) is seen
    assert len(drawing.lines) <= 24


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_instruction_figures_and_progress_are_shown(width: int, height: int) -> None:
    job = measuring()
    drawing = Drawing(job, width, height)
    for shown in ("0.00", "11.52", "11.53"):
        job.press(shown)
    assert "job 7 bag 17" in drawing.words
    assert "bore: Inside jaws in the barrel, above the hook." in drawing.words
    assert "[ bore 2 of 5 ]" in drawing.words
    assert "depth 0 of 3" in drawing.words
    assert "taken bore 11.53 mm" in drawing.words
    figures = big("11.53", width=width - 10)
    assert len(figures) == 5
    shown_rows = [line for line in drawing.lines if "█" in line]
    assert [row.strip(FRAME + " ").removesuffix("mm").rstrip() for row in shown_rows] == [
        figure.strip() for figure in figures
    ]


@pytest.mark.parametrize("width", [40, 80])
def test_two_gauges_have_a_frame_each(width: int) -> None:
    job = measuring(CALIPER, MICROMETER)
    drawing = Drawing(job, width, 50)
    job.press("0.00", CALIPER)
    job.press("0.001", MICROMETER)
    job.press("0.340", MICROMETER)
    titles = [line for line in drawing.lines if "╭" in line]
    assert [re.findall(r"\w+", title) for title in titles] == [["caliper"], ["micrometer"]]
    assert "[ bore 0 of 5 ]" in drawing.words
    assert "[ lid 1 of 3 ]" in drawing.words
    assert "Thickness of the lid near its edge" in drawing.words
    assert sum("█" in line for line in drawing.lines) == 10


def test_before_the_first_reading_it_waits() -> None:
    drawing = Drawing(measuring(CALIPER, MICROMETER))
    assert drawing.words.count("waiting for the gauge") == 2
    assert "Close the jaws for the zero reading." in drawing.words
    assert "Close the anvils for the zero reading." in drawing.words


def test_keys_are_named() -> None:
    for key in ("u take back", "s skip", "q stop"):
        assert key in Drawing(measuring()).words


def test_a_figure_too_wide_for_the_terminal_is_written_small() -> None:
    job = measuring()
    drawing = Drawing(job, width=30)
    job.press("0.00000")
    assert "0.00000 " in drawing.words
    assert not any("█" in line for line in drawing.lines)


def test_a_terminal_without_blocks_gets_other_ink() -> None:
    job = measuring()
    drawing = Drawing(job, encoding="latin-1")
    job.press("0.00")
    assert not any("█" in line for line in drawing.lines)
    assert sum("##" in line for line in drawing.lines) == 5


def test_inches_are_shown_as_inches() -> None:
    job = measuring()
    drawing = Drawing(job)
    job.press("0.0000", unit=LengthUnit.INCH)
    job.press("0.4535", unit=LengthUnit.INCH)
    last = [line for line in drawing.lines if "█" in line][-1]
    assert last.strip(FRAME + " ").endswith(" in")


def test_what_is_refused_is_said_in_words_and_in_red() -> None:
    job = measuring()
    drawing = Drawing(job, width=120)
    job.press("0.00")
    assert "\x1b[32mtaken" in drawing.styled
    job.press("254.00")
    assert "refused 254.00: 254.00 mm is not a likely bore" in drawing.words
    assert "\x1b[1;31mrefused" in drawing.styled


def test_a_gauge_that_is_gone_and_back_is_said() -> None:
    job = measuring()
    drawing = Drawing(job)
    job.press("0.00")
    for connected, text, said in (
        (False, "the cable is out", "link lost: the cable is out"),
        (True, "caliper is back.", "caliper is back."),
    ):
        body = LinkChange(connected=connected, text=text)
        job.hear(GaugeEvent(gauge_id=CALIPER.gauge_id, elapsed_s=1.0, body=body))
        assert said in drawing.words
        assert "waiting for the gauge" in drawing.words  # and no figure that is long gone
        colour = "\x1b[32m" if connected else "\x1b[1;31m"
        assert colour + said in drawing.styled


def test_a_switched_unit_says_what_to_do_until_it_is_back() -> None:
    job = measuring()
    drawing = Drawing(job)
    job.press("0.00")
    body = UnitSwitch(before=LengthUnit.MM, now=LengthUnit.INCH, raw=b"0.4535 in")
    for elapsed_s in (2.0, 3.0):
        job.hear(GaugeEvent(gauge_id=CALIPER.gauge_id, elapsed_s=elapsed_s, body=body))
        assert "No reading is taken until it shows mm again." in drawing.words
    job.press("11.52")
    assert "No reading is taken" not in drawing.words
    assert "bore: Inside jaws" in drawing.words


def test_bytes_that_are_no_reading_leave_the_figures() -> None:
    job = measuring()
    drawing = Drawing(job)
    job.press("0.00")
    fault = Fault(kind=FaultKind.UNPARSED, reason="no number in it", raw=b"x")
    job.hear(GaugeEvent(gauge_id=CALIPER.gauge_id, elapsed_s=2.0, body=fault))
    assert "not a reading: no number in it" in drawing.words
    assert sum("█" in line for line in drawing.lines) == 5


def test_what_no_gauge_here_can_measure_is_said_on_top() -> None:
    job = Job(MICROMETER)
    assert "no gauge here for: bore, depth" in " ".join(Drawing(job, 120).lines[0].split())


def test_a_finished_gauge_says_so() -> None:
    job = Job(CALIPER, without=("depth", "lid", "arbor", "found_thickness", "found_height"))
    drawing = Drawing(job)
    for shown in ("0.00", "11.52", "11.51", "11.53", "11.52", "11.51"):
        job.press(shown)
    assert "All measured. Close the jaws for the last zero reading." in drawing.words
    job.press("0.01")
    job.act(job.session.tick(CALIPER.gauge_id, 1e9))
    assert "Finished." in drawing.words
    assert "bore 5 of 5 done" in drawing.words


def test_progress_tells_done_current_and_skipped() -> None:
    job = Job(CALIPER, without=("arbor", "found_thickness", "found_height"))
    for shown in ("0.00", "11.52", "11.51", "11.53", "11.52", "11.51", "1.92"):
        job.press(shown)
    progress = job.session.lanes[CALIPER.gauge_id].progress
    assert progress_line(progress) == "bore 5 of 5 done   [ depth 1 of 3 ]   lid 0 of 3"
    assert progress_line(progress, whole=False) == "[ depth 1 of 3 ]"
    job.act(job.session.skip())
    assert progress_line(progress) == "bore 5 of 5 done   depth skipped   [ lid 0 of 3 ]"


def test_leaving_gives_the_terminal_back_after_an_error() -> None:
    file = io.StringIO()
    console = Console(file=file, force_terminal=True, width=80, height=24)
    job = measuring()
    with pytest.raises(KeyError), bench_screen(job, console):
        raise KeyError("anything")
    written = file.getvalue()
    assert written.rfind("\x1b[?25h") > written.rfind("\x1b[?25l") >= 0
    assert written.rfind("\x1b[?1049l") > written.rfind("\x1b[?1049h") >= 0
