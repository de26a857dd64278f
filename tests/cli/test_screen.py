"""The bench screen, as rich draws it: instruction, big figures, progress and last words."""

from __future__ import annotations

import io
import re
from dataclasses import replace
from functools import partial

import pytest
from cli_bench import CALIPER, MICROMETER, Job, reading
from rich.console import Console

from gaugelink.capture.acts import Completed, Taken, Undone
from gaugelink.capture.hand import asked, tasks_of
from gaugelink.capture.progress import Stage
from gaugelink.cli.bell import Bell
from gaugelink.cli.big_letters import big, half_big, wrapped_big
from gaugelink.cli.screen import Screen, progress_line
from gaugelink.cli.talk import wanted_text
from gaugelink.model import (
    Fault,
    FaultKind,
    GaugeEvent,
    GaugeInfo,
    GaugeKind,
    LinkChange,
    Sends,
    UnitSwitch,
)
from gaugelink.report.table import OPENING_CAUTIONS, TAKING_OUT
from gaugelink.units import LengthUnit

SIZES = [(80, 24), (40, 24), (120, 50)]
FRAME = "│╭╮╰╯─┃┏┓┗┛━▶"


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

    def shows_large(self, text: str) -> bool:
        """Tell whether the drawing shows text, in lines as they come, in any large size."""
        width, lines = self._console.width - 8, self.lines
        pens = [
            *(partial(big, width=width, pixels=(n,), ink=ink) for n in (1, 2) for ink in "█#"),
            partial(half_big, width=width),
        ]
        drawn = [wrapped_big(text, pen) for pen in pens]
        return any(len(rows) > 1 and is_within(rows, lines) for rows in drawn)

    @property
    def styled(self) -> str:
        self._console.print(self.screen.render())
        return self._console.export_text(styles=True)


def is_within(rows: list[str], lines: list[str]) -> bool:
    """Tell whether lines running show these rows, at one column."""
    for at, line in enumerate(lines):
        for column in [m.start() for m in re.finditer(f"(?={re.escape(rows[0])})", line)]:
            shown = zip(lines[at : at + len(rows)], rows, strict=False)
            if [line[column : column + len(row)] for line, row in shown] == rows:
                return True
    return False


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


@pytest.mark.parametrize("gauges", [(CALIPER,), (CALIPER, MICROMETER)], ids=["one", "two"])
@pytest.mark.parametrize("sends", Sends)
@pytest.mark.parametrize("size", [(80, 24), (60, 20), (160, 50)])
def test_no_instruction_is_cut_and_the_cue_is_large_where_there_is_room(
    gauges: tuple[GaugeInfo, ...], sends: Sends, size: tuple[int, int]
) -> None:
    used = [replace(gauge, sends=sends) for gauge in gauges]
    job = Job(*used)
    drawing = Drawing(job, *size)
    for who in used:
        for _ in range(1 if sends is Sends.BUTTON else 20):
            job.press("0.00" if who.kind is GaugeKind.CALIPER else "0.000", who, after_s=0.05)
    for who in reversed(used):
        job.session._hand.take(who.gauge_id)
        lane = job.session.lanes[who.gauge_id]
        while lane.progress.stage is Stage.MEASURING:
            words, lines = drawing.words, drawing.lines
            assert wanted_text(job.session, who.gauge_id) in words
            assert len(lines) <= size[1]
            assert max(map(len, lines)) <= size[0]
            if size[0] >= 80:
                for task in tasks_of(lane):
                    assert drawing.shows_large(asked(job.session, who.gauge_id).cue), task
            lane.skip()


def test_a_taken_reading_says_to_lift_and_the_bar_fills_before_it() -> None:
    gauge = replace(CALIPER, sends=Sends.STREAM)
    job = Job(gauge, without=("bore",))
    drawing = Drawing(job)

    def rest(shown: str, frames: int) -> str:
        for _ in range(frames):
            job.press(shown, gauge, after_s=0.05)
        return drawing.words

    assert "■" not in rest("5.00", 3)  # open jaws at rest fill nothing
    assert drawing.shows_large("CLOSE")
    rest("0.00", 20)
    assert drawing.shows_large("OPEN")
    filled = [rest("2.31", 3).count("■") for _ in range(4)]
    assert filled == sorted(set(filled))
    assert filled[-1] >= 0.7 * (80 - 4)
    words = rest("2.31", 4)
    assert "taken depth 2.31 mm" in words
    assert "■" not in words
    assert drawing.shows_large("LIFT")
    assert drawing.shows_large("lift off, then the next reading")
    rest("2.60", 4)
    assert not drawing.shows_large("LIFT")


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


def test_of_more_cautions_than_there_is_room_for_the_first_stand() -> None:
    notice = f"{OPENING_CAUTIONS}\n{TAKING_OUT}"
    seen = []
    for height in range(24, 13, -1):
        drawing = Drawing(measuring(CALIPER, MICROMETER), 80, height, notice=notice)
        cautions = ("Let the power down first", "coil by coil")
        seen.append([caution in drawing.words for caution in cautions])
        assert len(drawing.lines) <= height
    assert seen[0] == [True, True]
    assert [True, False] in seen
    assert seen == sorted(seen, reverse=True)


@pytest.mark.parametrize(("width", "height"), [(80, 24), (120, 50)])
def test_instruction_figures_and_progress_are_shown(width: int, height: int) -> None:
    job = measuring()
    drawing = Drawing(job, width, height)
    for shown in ("0.00", "11.52", "11.53"):
        job.press(shown)
    assert "job 7 bag 17" in drawing.words
    assert "bore: Inside jaws in the barrel, above the hook." in drawing.words
    assert "[ bore 2 of 5 ]" in drawing.words
    assert "depth 0 of 3" in drawing.words
    assert "✓ taken bore 11.53 mm" in drawing.words
    assert drawing.shows_large("BORE 3/5")
    assert drawing.shows_large("11.53")


@pytest.mark.parametrize(("width", "height"), [(160, 80), (220, 60)])
def test_two_gauges_have_a_frame_each_where_there_is_room(width: int, height: int) -> None:
    job = measuring(CALIPER, MICROMETER)
    drawing = Drawing(job, width, height)
    job.press("0.00", CALIPER)
    job.press("0.001", MICROMETER)
    job.press("0.340", MICROMETER)
    titles = [line for line in drawing.lines if "╭" in line or "┏" in line]
    assert [re.findall(r"\w+", title) for title in titles] == [
        ["caliper"],
        ["micrometer", "in", "hand"],
    ]
    assert "[ bore 0 of 5 ]" in drawing.words
    assert "[ lid 1 of 3 ]" in drawing.words
    assert "Inside jaws in the barrel" in drawing.words
    assert "Thickness of the lid near its edge" in drawing.words


def test_the_gauge_in_hand_has_the_room_and_the_other_a_line() -> None:
    job = measuring(CALIPER, MICROMETER)
    drawing = Drawing(job, 80, 24)
    job.press("0.00", CALIPER)
    job.press("0.000", MICROMETER)
    for shown, in_hand, in_a_line in (
        ("0.340", "micrometer", "caliper 0.00 mm BORE 1/5"),
        ("11.43", "caliper", "micrometer 0.340 mm LID 2/3"),
    ):
        job.press(shown, CALIPER if in_hand == "caliper" else MICROMETER)
        (title,) = (line for line in drawing.lines if "┏" in line)
        assert f"▶ {in_hand}, in hand" in title
        assert in_a_line in drawing.words


def test_before_the_first_reading_it_waits() -> None:
    drawing = Drawing(measuring(CALIPER, MICROMETER))
    assert drawing.words.count("waiting for the gauge") == 2
    assert "Close the jaws for the zero reading." in drawing.words
    assert "close the anvils, press" in drawing.words


def test_keys_are_named() -> None:
    for key in ("u take back", "s skip", "q stop"):
        assert key in Drawing(measuring()).words


def test_a_figure_too_wide_for_the_terminal_is_written_small() -> None:
    job = measuring()
    drawing = Drawing(job, width=30)
    job.press("0.00000")
    assert "BORE 1/5 0.00000 mm" in drawing.words
    assert not any("█" in line for line in drawing.lines)


def test_a_terminal_without_blocks_gets_other_ink() -> None:
    job = measuring()
    drawing = Drawing(job, encoding="latin-1")
    job.press("0.00")
    assert not any("█" in line for line in drawing.lines)
    assert drawing.shows_large("BORE 1/5 0.00")
    assert "ok taken zero 0.00 mm" in drawing.words


@pytest.mark.parametrize("size", [(80, 24), (160, 50)])
def test_what_is_below_the_cue_does_not_jump_while_a_step_goes_on(size: tuple[int, int]) -> None:
    gauge = replace(CALIPER, sends=Sends.STREAM)
    job = Job(gauge)
    drawing = Drawing(job, *size)
    for _ in range(20):
        job.press("0.00", gauge, after_s=0.05)
    rows = []
    for shown in ("0.00", "13.00", "11.00", "9.00"):
        for _ in range(3):
            job.press(shown, gauge, after_s=0.05)
        rows.append(next(n for n, line in enumerate(drawing.lines) if "Inside jaws" in line))
    cues = [
        asked(job.session, gauge.gauge_id, task).cue
        for task in tasks_of(job.session.lanes[gauge.gauge_id])
    ]
    assert len(set(map(len, cues))) > 1
    assert len(set(rows)) == 1


def test_a_gauge_that_fell_silent_shows_no_figure_that_is_long_gone() -> None:
    gauge = replace(CALIPER, sends=Sends.STREAM)
    job = Job(gauge)
    drawing = Drawing(job)
    job.press("5.00", gauge)
    assert drawing.shows_large("5.00")
    job.session.lanes[gauge.gauge_id].seen(9.0)
    assert drawing.shows_large("SILENT")
    assert not drawing.shows_large("5.00")
    assert "waiting for the gauge" in drawing.words


def test_inches_are_shown_as_inches() -> None:
    job = measuring()
    drawing = Drawing(job)
    job.press("0.0000", unit=LengthUnit.INCH)
    job.press("0.4535", unit=LengthUnit.INCH)
    assert drawing.shows_large("0.4535")
    assert any(re.search(r"[█▀] +in +│", line) for line in drawing.lines)


def test_what_is_refused_is_said_in_words_and_in_red() -> None:
    job = measuring()
    drawing = Drawing(job, width=120)
    job.press("0.00")
    assert "\x1b[32m✓ taken" in drawing.styled
    job.press("254.00")
    assert "✗ refused 254.00: 254.00 mm is not a likely bore" in drawing.words
    assert "\x1b[1;37;41m✗ refused" in drawing.styled


def test_a_doubtful_reading_is_not_green_and_is_not_hidden_by_what_is_done() -> None:
    drawing = Drawing(measuring(), width=120)
    who = {"gauge_id": CALIPER.gauge_id}
    odd = Taken(**who, elapsed_s=1.0, measurand="bore", reading=reading("12.60"), note="far off")
    drawing.screen.acted([odd, Completed(**who, measurand="bore", n_readings=5)])
    assert "? taken bore 12.60 mm (far off)" in drawing.words
    assert "✓✓ done bore, 5 readings" in drawing.words
    assert "\x1b[30;43m? taken" in drawing.styled
    drawing.screen.acted([Undone(**who, elapsed_s=2.0, measurand="bore", displayed="12.60")])
    assert "← undone bore 12.60" in drawing.words
    assert "? taken" not in drawing.words


def test_a_gauge_that_is_gone_and_back_is_said() -> None:
    job = measuring()
    drawing = Drawing(job)
    job.press("0.00")
    for connected, text, said in (
        (False, "the cable is out", "! link lost: the cable is out"),
        (True, "caliper is back.", "✓ caliper is back."),
    ):
        body = LinkChange(connected=connected, text=text)
        job.hear(GaugeEvent(gauge_id=CALIPER.gauge_id, elapsed_s=1.0, body=body))
        assert said in drawing.words
        assert "waiting for the gauge" in drawing.words  # and no figure that is long gone
        assert drawing.shows_large("UNPLUGGED") is not connected
        colour = "\x1b[32m" if connected else "\x1b[1;37;41m"
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
    assert drawing.shows_large("0.00")


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
