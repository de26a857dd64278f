"""``gaugelink check`` on inside faces and depth rod, and what their checks do to a job."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from cli_checks import BLOCK, INSIDE, RING, checked, pressed
from cli_gauges import presses, without
from cli_runs import call

STEP = ("--step", "1.900 +- 0.0005 mm", "--readings", "4", "--zeros", "3")
DEPTHS = (1.90, 1.91, 1.90, 1.90)
BORES = (11.52, 11.51, 11.53, 11.52, 11.51)


@pytest.fixture(name="job")
def job_of_a_bore(tmp_path: Path) -> int:
    address = presses(tmp_path / "gauge.jsonl", 0.0, *BORES, 0.0)
    done = call(tmp_path, "measure", address, "--json", *without("bore"))
    return int(done.data["job"])


def sized(home: Path, job: int) -> Any:
    return call(home, "size", str(job), "--json", "--draws", "20000").data


def test_each_pair_of_faces_has_its_own_length_and_limit(tmp_path: Path) -> None:
    lengths = ("--length", "5.000 +- 0.0002 mm", *INSIDE[:2], *STEP[:2], *STEP[2:])
    data = checked(tmp_path, pressed(tmp_path, *BLOCK, *RING, *DEPTHS), *lengths)
    found = [(each["face"], each["mpe_mm"]) for each in data["check"]["lengths"]]
    assert found == [("outside", 0.02), ("inside", 0.04), ("depth", 0.04)]
    (gauge,) = data["gauges"]
    assert {name: face["passed_mm"] for name, face in gauge["faces"].items()} == {
        "outside": [5.0],
        "inside": [11.5],
        "depth": [1.9],
    }
    assert gauge["warnings"] == []


def test_a_pass_on_a_block_leaves_the_other_faces_unchecked(tmp_path: Path) -> None:
    block = ("--length", "5 mm", "--readings", "4", "--zeros", "3")
    done = call(tmp_path, "check", pressed(tmp_path, *BLOCK), *block)
    text = " ".join(done.out.split())
    assert "outside faces passed" in text
    assert "inside faces never checked" in text
    assert "depth rod never checked" in text


def test_a_passed_check_offers_its_bias_and_a_job_takes_it_off_when_told(
    tmp_path: Path, job: int
) -> None:
    plain = sized(tmp_path, job)["inputs"]["bore"]
    offered = call(tmp_path, "check", pressed(tmp_path, *RING), *INSIDE).out
    assert "; --set correct=inside takes that off" in " ".join(offered.split())
    passed = sized(tmp_path, job)["inputs"]["bore"]
    assert (passed["value"], passed["u"]) == (plain["value"], pytest.approx(plain["u"], rel=0.1))
    data = checked(tmp_path, pressed(tmp_path), "--set", "correct=inside")
    assert data["gauges"][0]["faces"]["inside"]["corrected"] is True
    (seen,) = data["gauges"][0]["checks"][0]["lengths"]
    result = sized(tmp_path, job)
    bore = result["inputs"]["bore"]
    assert bore["value"] == pytest.approx(plain["value"] - seen["bias_mm"], abs=1e-5)
    assert bore["u"] < 0.7 * plain["u"]
    assert abs(seen["bias_mm"]) > 0.01
    texts = {w["code"]: w["text"] for w in result["warnings"]}
    assert f"inside is corrected by {-seen['bias_mm']:+.4f} mm" in texts["gauge-corrected"]
    assert "gauge-never-checked" not in texts
    inputs = {row["input"] for row in result["budget"]}
    assert any(name.endswith("inside check at 11.5 mm") for name in inputs)
    assert not any("MPE" in name or "scale shift" in name for name in inputs)
    checked(tmp_path, pressed(tmp_path), "--set", "correct=")
    assert sized(tmp_path, job)["inputs"]["bore"]["value"] == plain["value"]


def test_inside_faces_that_fail_widen_the_bore_until_they_pass(tmp_path: Path, job: int) -> None:
    plain = sized(tmp_path, job)["inputs"]["bore"]
    checked(tmp_path, pressed(tmp_path), "--set", "correct=inside")
    checked(tmp_path, pressed(tmp_path, *(mm - 0.08 for mm in RING)), *INSIDE, code=3)
    failed = sized(tmp_path, job)
    bore = failed["inputs"]["bore"]
    assert bore["u"] > 1.5 * plain["u"]
    assert bore["low"] < plain["value"] < bore["high"]
    (text,) = (w["text"] for w in failed["warnings"] if w["code"] == "gauge-check-failed")
    assert "failed its check inside at 11.5 mm" in text
    assert any(
        w["code"] == "gauge-corrected" and "not corrected" in w["text"] for w in failed["warnings"]
    )
    checked(tmp_path, pressed(tmp_path, *RING), *INSIDE)
    assert sized(tmp_path, job)["inputs"]["bore"]["u"] < plain["u"]


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("--set", "correct=sideways"), "names no faces"),
        (("--ring", "0 mm"), "not possible"),
    ],
)
def test_what_cannot_be_checked_is_refused(
    tmp_path: Path, arguments: tuple[str, ...], said: str
) -> None:
    done = call(tmp_path, "check", pressed(tmp_path), *arguments)
    assert done.code == 2
    assert said in done.err


def test_a_micrometer_has_no_inside_faces(tmp_path: Path) -> None:
    done = call(tmp_path, "check", "sim:micrometer?pace=0", *INSIDE)
    assert done.code == 2
    assert "no faces for a ring" in done.err
