"""The names of the package itself: found when asked for, and what they refuse."""

from __future__ import annotations

from pathlib import Path

import pytest
from test_job import BOTH, job

import gaugelink
from gaugelink import Job, size, size_json
from gaugelink.errors import InputError, JobNotFound
from gaugelink.jobbook.facts import StoredFact, TrainData

PACKAGE = Path(gaugelink.__file__).parent


def test_every_public_name_is_there() -> None:
    assert all(getattr(gaugelink, name) for name in gaugelink.__all__)
    with pytest.raises(AttributeError, match="nothing_like_it"):
        _ = gaugelink.nothing_like_it


def test_the_flow_names_every_stage() -> None:
    stages = {path.parent.name for path in PACKAGE.glob("*/__init__.py")}
    flow = str(gaugelink.__doc__)
    assert {stage for stage in stages if f"    {stage}/" not in flow} == set()


def test_typed_values_alone_are_sized_and_nothing_is_said(
    capfd: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("GAUGELINK_HOME", str(tmp_path))
    result = size(bore=11.02, depth="1.64 +- 0.02", lid=None, length_without_end=False, draws=1000)
    values = {each.label: each.value for each in result.inputs}
    assert (values["bore"], values["depth"]) == (11.02, 1.64)
    assert size_json(result)["coverage"] == 0.95
    assert capfd.readouterr() == ("", "")
    assert list(tmp_path.iterdir()) == []


def test_the_train_that_is_kept_with_a_job_is_taken_and_not_talked_of(
    capfd: pytest.CaptureFixture[str],
) -> None:
    train = TrainData(hours_per_turn=7.5)
    kept = StoredFact(job_id=1, number=1, written_utc="2026-03-01T09:00:00Z", fact=train)
    result = size(Job(job(BOTH), facts=(kept,)), draws=1000)
    assert result.watch.hours_per_turn == 7.5
    assert capfd.readouterr() == ("", "")


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"bor": "11"}, "no option 'bor'"),
        ({"bore": "eleven"}, "eleven"),
        ({"bore": "11", "outliers": "chauvenet"}, "'chauvenet' is not a test"),
        ({}, "bore is missing"),
    ],
)
def test_what_cannot_be_used_is_refused(given: dict[str, str], said: str) -> None:
    with pytest.raises(InputError, match=said):
        size(**given)  # type: ignore[arg-type]  # as a person may


def test_a_job_that_is_not_there_is_said(tmp_path: Path) -> None:
    with pytest.raises(JobNotFound, match="No job 7"):
        gaugelink.load_job(str(tmp_path / "jobs.sqlite"), 7)
