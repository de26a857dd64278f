"""The page on how a verdict is made gives the figures of a run of the code."""

from __future__ import annotations

import re

import pytest
from identify_bench import ON_SERIAL

from gaugelink.devices.identify import breadth as breadth_module
from gaugelink.devices.identify import judge, prober, weighed
from gaugelink.devices.identify.judge import identify
from gaugelink.devices.identify.prober import plan_visits
from gaugelink.devices.identify.verdict import Identification, Said, parse_shown
from gaugelink.devices.identify.weighed import Heard, all_trials, weigh_all

IDENTIFY = judge.__file__.removesuffix("judge.py")
with open(IDENTIFY + "VERDICT.md", encoding="utf-8") as file:
    PAGE = file.read()
SENT = re.search(r"^    (\S+)$", PAGE, re.MULTILINE)
assert SENT is not None
HEARD = [Heard(data=SENT[1].replace(r"\r", "\r").encode("ascii"))]


def rows(header: str) -> list[str]:
    lines = PAGE.split(f"{header}\n")[1].splitlines()[1:]
    return lines[: next(i for i, line in enumerate(lines) if not line.startswith("|"))]


def one_line(text: str) -> str:
    return " ".join(text.split())


@pytest.fixture(scope="module")
def asked() -> Identification:
    return identify(HEARD, ON_SERIAL)


@pytest.fixture(scope="module")
def answered() -> Identification:
    shown = re.search(r'With `--shows "(.+?)"`', PAGE)
    assert shown is not None
    return identify(HEARD, ON_SERIAL, Said(shown=parse_shown(shown[1])))


def test_the_visits_are_those_of_the_prober() -> None:
    found = []
    for visit in plan_visits(ON_SERIAL, settings_matter=True):
        assert visit.settings is not None
        port = visit.settings
        requests = " ".join(f"`{repr(each.data)[2:-1]}`" for each in visit.requests)
        found.append(f"| {port.baud} {port.data_bits}{port.parity} | {requests} |")
    shown = rows("| speed | asked, if nothing comes |")
    assert [one_line(row) for row in shown] == [one_line(row) for row in found]


def test_the_trials_and_their_weights_are_those_of_the_code() -> None:
    text = (
        f"{len(ON_SERIAL)} profiles with lines or bits become {len(all_trials(ON_SERIAL))} trials"
    )
    assert text in PAGE
    assert f"is fed the {len(HEARD[0].data)} bytes" in PAGE
    found = []
    for each in sorted(weigh_all(HEARD, ON_SERIAL), key=judge._promise):
        evidence, options = each.evidence, each.trial.options.items()
        if not evidence.n_explained:
            continue
        total = evidence.n_explained + evidence.n_unexplained
        found.append(
            f"| {each.profile.name} {' '.join(f'{k}={v}' for k, v in options)} "
            f"| {', '.join(map(judge.shown_text, evidence.frames))} "
            f"| {evidence.n_explained} of {total} | {evidence.share:.2f} "
            f"| {breadth_module.breadth(each.trial, each.last.raw)} |"
        )
    assert rows("| trial | readings | explained | share | breadth |") == found
    narrow, wide = (int(row.split("|")[5]) for row in (found[0], found[-1]))
    assert f"`line-4800-7E2-plain` takes {narrow} for readings and `text-input` {wide}" in PAGE


def test_the_limits_are_those_of_the_code() -> None:
    assert f"A share below {judge.MIN_SHARE} (`MIN_SHARE`)" in PAGE
    assert f"a share within {judge.SHARE_MARGIN} of the best" in one_line(PAGE)
    assert f"explains {100 * judge.MIN_SHARE:.0f} % of the bytes" in PAGE
    assert f"(below {judge.MIN_READING_BYTES})" in PAGE


def test_the_question_is_the_one_that_is_asked(asked: Identification) -> None:
    assert asked.question is not None
    said = f"`{asked.verdict}`, and the question is about the `{asked.question.ask}`"
    assert said in one_line(PAGE)
    assert f"> {asked.question.text}\n" in PAGE


def test_the_answer_leads_to_the_verdict_that_is_printed(answered: Identification) -> None:
    best = answered.best
    assert best is not None
    options = " ".join(f"{key}={value}" for key, value in best.options.items())
    ending = f"the verdict is `{answered.verdict}`: `{best.format}` with `{options}`"
    assert ending in one_line(PAGE)
    reasons = PAGE.split("It gives its reasons:\n\n")[1].split("\n\n")[0]
    assert reasons.splitlines() == [f"- {reason}" for reason in best.evidence]


def test_every_place_that_is_named_is_there() -> None:
    found = re.findall(r"`(breadth|judge|prober|weighed)\.py:(\w+)`", PAGE)
    modules = {"breadth": breadth_module, "judge": judge, "prober": prober, "weighed": weighed}
    assert len(found) == 7
    assert [place for place in found if not hasattr(modules[place[0]], place[1])] == []
