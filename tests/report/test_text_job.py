"""A job as text and as JSON: what stands, what was rejected and why, what to do."""

from __future__ import annotations

import json
import math
from typing import Any

from report_jobs import ACTS, CALIPER, MICROMETER, job, taken

from gaugelink.assembly.measured import Findings
from gaugelink.assembly.parts import measured_parts
from gaugelink.capture.acts import ZERO, Skipped
from gaugelink.capture.plan import JobRecord
from gaugelink.jobbook.entries import StoredEntry
from gaugelink.jobbook.lookup import JobLine
from gaugelink.model import Advice, GaugeEvent, LinkChange
from gaugelink.report.json_records import entry_json, job_json, job_line_json
from gaugelink.report.table import WIDTH
from gaugelink.report.text_job import job_text
from gaugelink.uncertainty.estimate import Estimate


def text_of(record: JobRecord) -> str:
    return job_text(record, measured_parts(record))


def json_of(record: JobRecord) -> dict[str, Any]:
    text = json.dumps(job_json(record, measured_parts(record)), allow_nan=False)
    data: dict[str, Any] = json.loads(text)
    return data


def line_of(text: str, start: str) -> list[str]:
    (line,) = (line for line in text.splitlines() if line.strip().startswith(start))
    return line.split()


def flowing(text: str) -> str:
    return " ".join(text.split())


def test_the_head_names_the_job() -> None:
    first, second = text_of(job()).splitlines()[:2]
    assert first == "JOB 3  bag 17"
    assert second == "  begun 2026-03-01 09:05 UTC, open; depth measured to the rim"
    assert text_of(job(title="", closed=True)).startswith("JOB 3\n  begun 2026-03-01 09:05 UTC, co")


def test_each_measurand_has_a_line() -> None:
    text = text_of(job())
    assert line_of(text, "bore ")[1:] == ["11.518", "0.0075", "0.02", "0.0031", "5", "6", "of", "7"]
    assert line_of(text, "depth ")[1:] == ["1.920", "-", "0.00", "-", "-", "1", "of", "1"]
    assert line_of(text, "lid ")[1:] == ["0.3477", "0.012", "0.022", "0.0072", "2", "3", "of", "3"]


def test_a_rejected_reading_is_named_with_test_and_reason() -> None:
    text = flowing(text_of(job()))
    assert "bore: reading 3 rejected: Reading 3 (11.22 mm) lies 0.30 mm below the mean" in text
    assert "so it is left out" in text
    assert "(grubbs-one-sided 2.26" in text
    # Critical value for n = 7, one-sided, 1 %: Grubbs, Technometrics 11 (1969), table I (from
    # memory).
    assert "critical value 2.097 at 1 %)" in text


def test_a_marked_reading_that_was_kept_is_named_too() -> None:
    shown = ("11.52", "11.51", "11.56", "11.52", "11.53", "11.51", "11.52")
    text = flowing(text_of(job(taken(CALIPER, "bore", *shown))))
    assert "bore: reading 3 marked, kept: Reading 3 (11.56 mm)" in text
    assert "at 5 %)" in text
    assert line_of(text_of(job(taken(CALIPER, "bore", *shown))), "bore ")[-3:] == ["7", "of", "7"]


def test_advice_follows() -> None:
    text = flowing(text_of(job()))
    assert "depth: One reading cannot show its scatter" in text
    assert "lid: The 3 readings spread over 0.022 mm" in text


def test_zeros_are_said() -> None:
    text = text_of(job())
    assert "zero: +0.000 mm before, -0.010 mm after (drift -0.010 mm)" in text
    assert "zero: +0.002 mm before; not checked after" in text
    assert "zero: not checked" in text_of(job(taken(CALIPER, "bore", "11.52")))


def test_a_gauge_that_measured_nothing_says_so() -> None:
    text = text_of(job(taken(CALIPER, ZERO, "0.00"), gauges=(CALIPER,)))
    assert "CALIPER  usb-caliper  (invented)\n  zero: +0.000 mm before" in text
    assert "nothing measured yet" in text


DOUBTS = (
    Advice(code="bore-out-of-round", text="The bore is out of round, " + 9 * "very much, "),
    Advice(code="gauge-check-failed", text="The caliper failed its check."),
)
FINDINGS = Findings(
    sizes=(
        Estimate(
            label="found_thickness", value=0.13, u=0.0028, dof=9.0, unit="mm", low=0.124, high=0.136
        ),
        Estimate(
            label="bore", value=11.5234, u=0.0183, dof=math.inf, unit="mm", low=11.49, high=11.56
        ),
    ),
    doubts=DOUBTS,
)


def test_sizes_follow_with_their_uncertainty_in_the_last_digits() -> None:
    text = job_text(job(), measured_parts(job()), FINDINGS)
    head, sizes = text.split("\nSIZES  ")
    assert head == text_of(job())
    assert line_of(sizes, "found thickness ")[-2:] == ["0.1300(28)", "mm"]
    assert line_of(sizes, "bore ")[-2:] == ["11.523(18)", "mm"]
    assert "standard uncertainty of the last digits" in flowing(sizes)


def test_doubts_about_gauges_and_parts_end_the_job() -> None:
    text = job_text(job(), measured_parts(job()), FINDINGS)
    assert "\n  ! The bore is out of round" in text
    assert text.endswith("\n  ! The caliper failed its check.\n")


def test_a_job_without_readings_has_no_sizes() -> None:
    nothing = Findings(sizes=(), doubts=())
    assert job_text(job([]), measured_parts(job([])), nothing) == text_of(job([]))


def test_lines_fit_the_width() -> None:
    text = job_text(job(), measured_parts(job()), FINDINGS)
    assert max(map(len, text.splitlines())) <= WIDTH


def test_the_json_of_a_job_has_its_keys() -> None:
    data = json_of(job())
    assert data.keys() == {
        *("schema", "job", "title", "created_utc", "closed", "depth_reference", "gauges"),
    }
    assert (data["schema"], data["job"], data["closed"]) == (1, 3, False)
    assert (data["title"], data["depth_reference"]) == ("bag 17", "rim")
    caliper, micrometer = data["gauges"]
    assert caliper.keys() == {
        *("gauge", "kind", "format", "address", "mpe_mm", "shift_mpe_mm", "mpe_source"),
        *("zero", "measurands", "superseded"),
    }
    assert (caliper["gauge"], micrometer["kind"]) == ("usb-caliper", "micrometer")
    assert micrometer["zero"] == {"before_mm": 0.002, "after_mm": None, "resolution_mm": 0.001}


def test_the_json_of_a_job_may_hold_its_findings() -> None:
    plain = json_of(job())
    data = job_json(job(), measured_parts(job()), FINDINGS)
    named = {"coverage", "interval_method", "draws", "seed"}
    assert data.keys() == plain.keys() | named | {"sizes", "warnings"}
    assert (data["coverage"], data["draws"], data["seed"]) == (0.95, 200_000, 1)
    assert data["interval_method"].startswith("Monte Carlo")
    assert data["sizes"].keys() == {"found_thickness", "bore"}
    assert data["sizes"]["bore"] == {
        "value": 11.5234,
        "u": 0.0183,
        "dof": None,
        "unit": "mm",
        "low": 11.49,
        "high": 11.56,
    }
    assert [warning["code"] for warning in data["warnings"]] == [d.code for d in DOUBTS]
    json.dumps(data, allow_nan=False)


def test_the_json_of_a_measurand_holds_summary_and_readings() -> None:
    bore, depth = json_of(job())["gauges"][0]["measurands"]
    assert bore.keys() == {
        *("measurand", "n_taken", "n_used", "mean_mm", "mean_all_mm", "std_mm", "spread_mm"),
        *("u_mean_mm", "dof", "resolution_mm", "marks", "advice", "readings"),
    }
    assert (bore["n_taken"], bore["n_used"], len(bore["readings"])) == (7, 6, 7)
    (mark,) = bore["marks"]
    assert (mark["index"], mark["rejected"], mark["value_mm"]) == (2, True, 11.22)
    assert (depth["std_mm"], depth["u_mean_mm"], depth["dof"]) == (None, None, 0)
    assert depth["advice"][0]["code"] == "single_reading"


def test_the_json_of_a_reading_is_what_the_gauge_sent() -> None:
    first = json_of(job())["gauges"][0]["measurands"][0]["readings"][0]
    assert first == {
        "value_mm": 11.52,
        "resolution_mm": 0.01,
        "displayed": "11.52",
        "unit": "mm",
        "raw_hex": b"11.52\r".hex(),
        "flags": ["held", "low battery"],
    }


def test_a_gauge_without_zero_has_null() -> None:
    (part,) = json_of(job([], gauges=(MICROMETER,)))["gauges"]
    assert (part["zero"], part["measurands"]) == (None, [])


def test_a_line_of_the_list_has_its_keys() -> None:
    line = JobLine(
        job_id=3, created_utc="2026", title="bag 17", closed=True, n_standing=4, n_taken=5
    )
    assert job_line_json(line) == {
        "job": 3,
        "title": "bag 17",
        "created_utc": "2026",
        "closed": True,
        "n_standing": 4,
        "n_taken": 5,
    }


def test_an_entry_has_its_bytes_and_all_its_fields() -> None:
    act = ACTS[1]
    data = entry_json(
        StoredEntry(number=7, written_utc="2026", kind="taken", raw=b"\xff\x00", item=act)
    )
    assert (data["number"], data["kind"], data["gauge"]) == (7, "taken", "usb-caliper")
    assert data["raw_hex"] == "ff00"
    assert data["detail"]["measurand"] == "bore"
    json.dumps(data, allow_nan=False)


def test_an_entry_without_bytes_has_null() -> None:
    event = GaugeEvent(
        gauge_id="usb-caliper", elapsed_s=1.5, body=LinkChange(connected=False, text="gone")
    )
    for item in (event, Skipped(gauge_id="usb-caliper", measurand="lid")):
        data = entry_json(StoredEntry(number=1, written_utc="2026", kind="x", raw=None, item=item))
        assert data["raw_hex"] is None
        assert data["gauge"] == "usb-caliper"
