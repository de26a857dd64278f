"""``gaugelink measure`` from the first zero to the job: simulated, recorded and typed gauges."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from cli_gauges import means, presses, without
from cli_runs import Outcome, call, spawn

from gaugelink.devices.simulated import CALIPER_MOVES, MICROMETER_MOVES

# What the simulated gauges are given to measure; invented.
TRUE_MM = {
    move.measurand.replace(" ", "_"): move.size_mm
    for move in (*MICROMETER_MOVES, *CALIPER_MOVES)
    if move.measurand != "zero"
}
CALIPER_MM, MICROMETER_MM = 0.015, 0.003  # four times the simulated noise, and the step
BORE = (11.52, 11.51, 11.53, 11.52, 11.51)


def measured(home: Path, *arguments: str) -> dict[str, Any]:
    done = call(home, "measure", *arguments, "--json")
    assert done.code == 0, done.err
    data: dict[str, Any] = done.data
    return data


def shown(job: dict[str, Any], measurand: str) -> list[str]:
    """The standing readings of a measurand, as the gauge displayed them."""
    found = [m for g in job["gauges"] for m in g["measurands"] if m["measurand"] == measurand]
    return [reading["displayed"] for m in found for reading in m["readings"]]


def typed(home: Path, keys: str, *arguments: str) -> Outcome:
    address = "keys:?unit=mm&kind=caliper"
    return spawn(home, "measure", address, *arguments, "--json", stdin=keys.encode())


def test_two_gauges_at_once_find_the_barrel(tmp_path: Path) -> None:
    job = measured(tmp_path, "sim:caliper?pace=0", "sim:micrometer?pace=0", "--title", "bag 17")
    caliper, micrometer = job["gauges"]
    by_caliper, by_micrometer = (means({"gauges": [part]}) for part in (caliper, micrometer))
    assert set(by_caliper) | set(by_micrometer) == {
        *("bore", "depth", "lid", "arbor", "found_thickness", "found_height")
    }
    assert set(by_caliper) >= {"bore", "depth", "arbor"}
    for found, tolerance_mm in ((by_caliper, CALIPER_MM), (by_micrometer, MICROMETER_MM)):
        for measurand, mean_mm in found.items():
            assert mean_mm == pytest.approx(TRUE_MM[measurand], abs=tolerance_mm), measurand
    assert caliper["zero"]["after_mm"] is not None
    assert micrometer["zero"]["after_mm"] is not None
    assert (job["closed"], job["title"], job["job"]) == (True, "bag 17", 1)


@pytest.mark.parametrize(
    "options", ["", "&seed=8", "&glitches=0.03&seed=2", "&rate_hz=50", "&sends=button&seed=2"]
)
def test_a_caliper_alone_measures_the_barrel(options: str, tmp_path: Path) -> None:
    plan = without("bore", "depth", "lid", "arbor")
    found = means(measured(tmp_path, f"sim:caliper?pace=0{options}", *plan))
    assert found.keys() == {"bore", "depth", "lid", "arbor"}
    for measurand, mean_mm in found.items():
        assert mean_mm == pytest.approx(TRUE_MM[measurand], abs=CALIPER_MM), measurand


def test_a_gauge_in_inches_gives_millimetres(tmp_path: Path) -> None:
    job = measured(tmp_path, "sim:caliper?pace=0&unit=in&sends=button", *without("bore"))
    assert means(job)["bore"] == pytest.approx(TRUE_MM["bore"], abs=CALIPER_MM)
    assert {r["unit"] for r in job["gauges"][0]["measurands"][0]["readings"]} == {"in"}


def test_what_measure_gives_is_what_jobs_shows(tmp_path: Path) -> None:
    given = measured(tmp_path, "sim:caliper?pace=0")
    shown_later = call(tmp_path, "jobs", "1", "--json").data
    assert {key: shown_later[key] for key in given} == given
    assert given.keys() >= {"gauges", "sizes", "warnings"}


def test_every_frame_is_in_the_journal(tmp_path: Path) -> None:
    address = "sim:caliper?pace=0&glitches=0.05"
    sent = call(tmp_path, "listen", address, "--json").lines
    measured(tmp_path, address, *without("bore", "depth", "lid", "arbor", "found_height"))
    kept = call(tmp_path, "jobs", "1", "--events").lines
    frames = [event["raw_hex"] for event in kept if event["kind"] in ("reading", "fault")]
    assert frames == [event["raw_hex"] for event in sent]


def test_talk_leads_through_the_job(tmp_path: Path) -> None:
    address = presses(tmp_path / "bore.jsonl", 0.0, *BORE, 0.01)
    said = call(tmp_path, "measure", address, *without("bore"), "--title", "bag 17").err
    for words in (
        "BEFORE YOU OPEN THE BARREL",
        *("BEFORE THE OLD SPRING COMES OUT", "how its outer end", "job 1  bag 17"),
        *("caliper> Close the jaws for the zero reading.", "taken   zero 0.00 mm"),
        *("caliper> bore: Inside jaws in the barrel", "taken   bore 11.52 mm"),
        *("done    bore, 5 readings", "Close the jaws for the last zero reading."),
        *("closed  last zero taken", "JOB 1  bag 17", "complete"),
        "Job 1 is complete. All figures: gaugelink size 1 --full",
    ):
        before, found, said = said.partition(words)
        assert found, f"no {words!r} after {before[-200:]!r}"


def test_the_bell_may_be_silenced(tmp_path: Path) -> None:
    address = presses(tmp_path / "bore.jsonl", 0.0, *BORE, 0.01)
    plan = without("bore")
    assert "\a" in call(tmp_path, "measure", address, *plan).err
    assert "\a" not in call(tmp_path, "measure", address, *plan, "--quiet").err


def test_the_depth_is_asked_for_as_it_was_ordered(tmp_path: Path) -> None:
    address = presses(tmp_path / "depth.jsonl", 0.0, 1.50)
    done = call(tmp_path, "measure", address, "--depth-from", "seat", *without("depth", "lid"))
    assert "Depth is taken from" not in done.err
    assert "beam flat across the lid seat" in done.err
    assert call(tmp_path, "jobs", "1", "--json").data["depth_reference"] == "seat"


def test_a_recess_is_measured_on_request(tmp_path: Path) -> None:
    address = presses(tmp_path / "recess.jsonl", 0.0, 0.10, 0.11, 0.10)
    job = measured(tmp_path, address, "--with", "recess", *without())
    assert shown(job, "recess") == ["0.10", "0.11", "0.10"]


def test_jaws_closed_twice_take_the_last_reading_back(tmp_path: Path) -> None:
    address = presses(tmp_path / "undo.jsonl", 0.0, *BORE[:3], 19.99, 0.0, 0.01, *BORE[3:], 0.0)
    job = measured(tmp_path, address, *without("bore"))
    assert shown(job, "bore") == [f"{mm:.2f}" for mm in BORE]
    assert job["closed"]


def test_a_wide_series_asks_for_more_readings(tmp_path: Path) -> None:
    depths = (1.90, 1.92, 1.99, 1.93, 1.92)
    address = presses(tmp_path / "depth.jsonl", 0.0, *depths, 0.01)
    job = measured(tmp_path, address, *without("depth"))
    assert shown(job, "depth") == [f"{mm:.2f}" for mm in depths]
    assert job["closed"]


def test_the_bore_read_as_the_arbor_is_asked_for_again_at_once(tmp_path: Path) -> None:
    address = presses(tmp_path / "arbor.jsonl", 0.0, *BORE, 11.38, 3.68, 3.69, 3.68, 0.01)
    done = call(tmp_path, "measure", address, *without("bore", "arbor"), "--json")
    assert shown(done.data, "arbor") == ["3.68", "3.69", "3.68"]
    assert "refused 11.38: 11.38 mm is not a likely arbor" in done.err
    assert "Read it again; the same once more is taken." in done.err


OVAL = (11.52, 11.44, 11.56, 11.53, 11.47)


def test_an_oval_bore_is_asked_for_at_more_places_once(tmp_path: Path) -> None:
    between = (11.48, 11.49, 11.55, 11.51)
    address = presses(tmp_path / "bore.jsonl", 0.0, *OVAL, *between, 0.01)
    done = call(tmp_path, "measure", address, *without("bore"), "--json")
    assert done.code == 0, done.err
    assert shown(done.data, "bore") == [f"{mm:.2f}" for mm in (*OVAL, *between)]
    assert done.data["closed"]
    assert done.err.count("checked bore: The bore may be out of round") == 1
    codes = [warning["code"] for warning in done.data["warnings"]]
    assert codes == ["gauge-never-checked", "bore-out-of-round"]
    asked = [e for e in call(tmp_path, "jobs", "1", "--events").lines if e["kind"] == "more wanted"]
    assert [event["detail"]["wanted"] for event in asked] == [9]


def test_a_job_left_while_more_is_asked_for_goes_on_asking(tmp_path: Path) -> None:
    path = tmp_path / "bore.jsonl"
    assert not measured(tmp_path, presses(path, 0.0, *OVAL, 11.48), *without("bore"))["closed"]
    path.unlink()
    job = measured(tmp_path, presses(path, 0.0, 11.49, 11.55, 11.51, 0.0), "--resume", "1")
    assert (len(shown(job, "bore")), job["closed"]) == (9, True)


def test_the_end_shows_sizes_and_what_is_doubtful(tmp_path: Path) -> None:
    address = presses(tmp_path / "bore.jsonl", 0.0, *OVAL, 0.01)
    said = call(tmp_path, "measure", address, *without("bore")).err
    assert "SIZES  corrected for zero, gauge and contact" in said
    assert "  ! The bore may be out of round, by about 0.13 mm" in said


def test_a_gauge_that_failed_its_check_is_said_at_the_end(tmp_path: Path) -> None:
    gauge = tmp_path / "gauge.jsonl"
    failing = presses(gauge, 0.0, *[5.06] * 4, 0.0)
    check = ("--length", "5", "--readings", "4", "--zeros", "1")
    assert call(tmp_path, "check", failing, *check).code == 3
    gauge.unlink()
    job = measured(tmp_path, presses(gauge, 0.0, *BORE, 0.01), *without("bore"))
    codes = [warning["code"] for warning in job["warnings"]]
    assert codes == ["gauge-check-failed", "gauge-never-checked"]  # outside; and inside
    assert job["sizes"]["bore"]["unit"] == "mm"


def test_a_micrometer_alone_leaves_the_job_open(tmp_path: Path) -> None:
    job = measured(tmp_path, "sim:micrometer?pace=0", *without("bore", "found_height"))
    assert set(means(job)) == {"found_height"}
    assert not job["closed"]


def test_a_job_is_called_complete_only_when_nothing_is_left(tmp_path: Path) -> None:
    plan = without("bore", "found_thickness")
    thin = presses(tmp_path / "thin.jsonl", 0.0, 0.130, 0.131, 0.129, 0.132, 0.130, 0.0, places=3)
    first = call(tmp_path, "measure", f"{thin}&kind=micrometer", *plan).err
    assert "Done so far, and job 1 is saved. The rest needs another gauge." in first
    assert "--resume 1" in first
    assert "is complete" not in first
    bore = presses(tmp_path / "bore.jsonl", 0.0, *BORE, 0.0)
    assert "Job 1 is complete." in call(tmp_path, "measure", bore, "--resume", "0").err


def test_another_gauge_goes_on_with_the_job(tmp_path: Path) -> None:
    plan = without("bore", "found_thickness")
    thin = presses(tmp_path / "thin.jsonl", 0.0, 0.130, 0.131, 0.129, 0.132, 0.130, 0.0, places=3)
    first = measured(tmp_path, f"{thin}&kind=micrometer", *plan)
    assert not first["closed"]
    bore = presses(tmp_path / "bore.jsonl", 0.0, *BORE, 0.0)
    job = measured(tmp_path, bore, "--resume", "0")
    assert job["job"] == first["job"] == 1
    assert shown(job, "bore") == [f"{mm:.2f}" for mm in BORE]
    assert shown(job, "found_thickness") == shown(first, "found_thickness")
    assert len(shown(job, "found_thickness")) == 5


def test_a_job_left_half_done_is_taken_up_where_it_was(tmp_path: Path) -> None:
    path = tmp_path / "gauge.jsonl"
    first = presses(path, 0.0, *BORE[:2])
    assert not measured(tmp_path, first, *without("bore"))["closed"]
    path.unlink()
    job = measured(tmp_path, presses(path, 0.01, *BORE[2:], 0.0), "--resume", "1")
    assert shown(job, "bore") == [f"{mm:.2f}" for mm in BORE]
    assert job["closed"]
    (part,) = job["gauges"]
    # Zeros 0.00, 0.01 and 0.00: the drift is their whole range.
    assert {part["zero"]["before_mm"], part["zero"]["after_mm"]} == {0.0, 0.01}


def test_readings_may_be_typed(tmp_path: Path) -> None:
    done = typed(tmp_path, "0.00\n11.52\n11,53\n11.51\n11.52\n11.50\n0.01\n", *without("bore"))
    assert done.code == 0
    assert shown(done.data, "bore") == ["11.52", "11.53", "11.51", "11.52", "11.50"]
    assert done.data["closed"]


def test_u_takes_back_s_skips_and_q_stops(tmp_path: Path) -> None:
    keys = "0.00\n11.52\n11.59\nu\n11.53\ns\n1.92\n1.93\nq\n"
    done = typed(tmp_path, keys, *without("bore", "depth"))
    assert done.code == 0
    assert shown(done.data, "bore") == ["11.52", "11.53"]
    assert shown(done.data, "depth") == ["1.92", "1.93"]
    assert not done.data["closed"]
    assert "undone  bore 11.59" in done.err
    assert "skipped bore" in done.err
    assert "gaugelink measure ADDRESS --resume 1" in done.err


def test_typed_input_that_ends_leaves_the_job_open(tmp_path: Path) -> None:
    done = typed(tmp_path, "0.00\n11.52\nnoise\n11.53", *without("bore"))
    assert done.code == 0
    assert shown(done.data, "bore") == ["11.52", "11.53"]
    assert not done.data["closed"]
    assert "not a reading" in done.err


def test_measuring_ends_with_the_answer_and_keeps_it(tmp_path: Path) -> None:
    values = (0.0, *BORE, 1.92, 1.93, 1.92, 0.31, 0.32, 0.31, 3.80, 3.81, 3.80, 0.0)
    address = presses(tmp_path / "caliper.jsonl", *values)
    told = ("--winding", "hand", "--end", "hook")
    done = call(
        tmp_path,
        "measure",
        address,
        *told,
        *without("bore", "depth", "lid", "arbor"),
        "--title",
        "x",
    )
    assert done.code == 0
    before, order, answer = done.err.partition("\nOrder ")
    assert "Job 1 is complete." in before
    assert order
    assert "Outer end: hook;" in answer
    wound, kept = call(tmp_path, "jobs", "1", "--json").data["facts"]
    assert (wound["winding"], wound["end"]) == ("hand", "hook")
    assert kept["result"]["typed"] == {"winding": "hand", "end": "hook"}


def test_a_job_that_cannot_be_sized_says_so_and_is_complete(tmp_path: Path) -> None:
    address = presses(tmp_path / "caliper.jsonl", 0.0, 3.80, 3.81, 3.80, 0.0)
    done = call(tmp_path, "measure", address, *without("arbor"))
    assert done.code == 0
    assert "Job 1 is complete." in done.err
    assert "No answer yet: The bore is missing." in done.err


def test_an_outer_end_that_does_not_exist_is_said_before_a_gauge_is_opened(tmp_path: Path) -> None:
    done = call(tmp_path, "measure", "replay:nowhere.jsonl", "--end", "knot")
    assert (done.code, done.out) == (2, "")
    assert "No outer end is called 'knot'." in done.err


def test_a_typed_zero_without_decimals_opens_the_bore_no_wider(tmp_path: Path) -> None:
    values = ("18.02", "18.04", "18.03", "18.02", "18.04")
    width = {}
    for zero in ("0", "0.00"):
        home = tmp_path / zero
        home.mkdir()
        done = typed(home, "\n".join((zero, *values, zero, "")), *without("bore"))
        bore = done.data["sizes"]["bore"]
        width[zero] = (shown(done.data, "bore"), bore["high"] - bore["low"])
    assert width["0"] == width["0.00"]
    assert width["0"][1] < 0.1
    assert call(tmp_path / "0", "size", "1", "--draws", "2000").code == 0


@pytest.mark.parametrize(
    ("address", "more", "asked"),
    [
        ("sim:micrometer?pace=0", (), False),
        ("sim:caliper?pace=0&sends=button", ("--without", "depth"), False),
        ("sim:caliper?pace=0&sends=button", (), True),
    ],
)
def test_the_seat_of_the_lid_is_asked_about_where_a_depth_is_measured(
    address: str, more: tuple[str, ...], asked: bool, tmp_path: Path
) -> None:
    done = call(tmp_path, "measure", address, "--quiet", *more)
    assert done.code == 0, done.err
    assert ("Depth is taken from floor to rim" in done.err) == asked
