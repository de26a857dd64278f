"""Each clue of a found spring speaks for what it should, and for nothing near a limit."""

from __future__ import annotations

from typing import Any

import pytest
from barrels import DRAWS, healthy, spring

from gaugelink.mechanics.arrangement import Arrangement, BarrelKind
from gaugelink.mechanics.motion import MeasuredAmplitude, Position, Wind
from gaugelink.sizing.evidence import found_from
from gaugelink.sizing.inputs import FoundSeen, typed_input
from gaugelink.sizing.results import Clue, Leaning, Question, Speaks
from gaugelink.sizing.size import size_spring

FOR, AGAINST, NEITHER = Speaks.FOR, Speaks.AGAINST, Speaks.NEITHER


def clues(**changes: Any) -> dict[tuple[Question, str], Clue]:
    finding = size_spring(healthy(**changes), draws=DRAWS).finding
    assert finding is not None
    return {(c.question, c.code): c for answer in finding.answers for c in answer.clues}


def free(width_mm: float, u_mm: float = 0.3) -> FoundSeen:
    return FoundSeen(free_diameter=typed_input("found.free_diameter", width_mm, u_mm))


# Limits: below 2.5 bores lying free is tired, 1 to 2 loose coils are good, more suggest and
# 4 to 5 are a tired spring. Tests of the British Horological Institute as quoted by
# Wikipedia, "Mainspring". The spread of the thickness: judgement.
CONDITION = [
    ("free-diameter", free(33.0), AGAINST),
    ("free-diameter", free(22.0), FOR),
    ("free-diameter", free(27.4), NEITHER),  # 2.49 bores, give or take 0.05
    ("loose-coils", FoundSeen(loose_coils=1.0), AGAINST),
    ("loose-coils", FoundSeen(loose_coils=2.0), AGAINST),
    ("loose-coils", FoundSeen(loose_coils=3.0), FOR),
    ("loose-coils", FoundSeen(loose_coils=5.0), FOR),
    ("thickness-spread", FoundSeen(thickness_spread_mm=0.003), NEITHER),
    ("thickness-spread", FoundSeen(thickness_spread_mm=0.012), FOR),
]


@pytest.mark.parametrize(("code", "seen", "speaks"), CONDITION)
def test_condition_speaks_for_tired_or_against_it(
    code: str, seen: FoundSeen, speaks: Speaks
) -> None:
    assert clues(seen=seen)[Question.TIRED, code].speaks is speaks


@pytest.mark.parametrize(
    ("coils", "words"), [(1.0, "usual"), (3.0, "suggest"), (4.0, "four or five"), (5.0, "four or")]
)
def test_loose_coils_are_said_as_strongly_as_they_speak(coils: float, words: str) -> None:
    assert words in clues(seen=FoundSeen(loose_coils=coils))[Question.TIRED, "loose-coils"].seen


# The barrel of ``healthy``: bore 11, arbor 3.7, 1.23 mm available. Usual: fill 0.45 to
# 0.62, 80 to 100 thicknesses a bore, up to 0.1 mm below the available height; common practice.
SIZES = [
    ("fill", (0.125, 1.20, 340.0), AGAINST),  # 0.50
    ("fill", (0.125, 1.20, 480.0), FOR),  # 0.71
    ("fill", (0.125, 1.20, 150.0), FOR),  # 0.22: a piece missing
    ("fill", (0.125, 1.20, 305.0), NEITHER),  # 0.452, give or take 0.03
    ("thickness", (0.125, 1.20, 340.0), AGAINST),  # 88
    ("thickness", (0.160, 1.20, 260.0), FOR),  # 69
    ("thickness", (0.137, 1.20, 310.0), NEITHER),  # 80.3
    ("height", (0.125, 1.40, 340.0), FOR),
    ("height", (0.125, 1.00, 340.0), FOR),
    ("height", (0.125, 1.20, 340.0), AGAINST),
    ("height", (0.125, 1.25, 340.0), NEITHER),  # u of the available height: 0.022
    ("height", (0.125, 1.11, 340.0), NEITHER),
]


@pytest.mark.parametrize(("code", "sizes", "speaks"), SIZES)
def test_sizes_speak_for_the_wrong_spring_or_against_it(
    code: str, sizes: tuple[float, float, float], speaks: Speaks
) -> None:
    assert clues(found=spring("found", *sizes))[Question.WRONG, code].speaks is speaks


def test_the_usual_fill_and_thickness_say_nothing_of_a_fusee() -> None:
    found = clues(arrangement=Arrangement(kind=BarrelKind.FUSEE))
    assert {code for _, code in found} == {"height"}


def test_a_piece_that_may_be_missing_is_asked_for() -> None:
    seen = clues(found=spring("found", 0.125, 1.2, 150.0))[Question.WRONG, "fill"].seen
    assert seen.endswith("is a piece of it missing?")


@pytest.mark.parametrize(
    ("documented", "agrees"),
    [
        ((0.125, 1.20, 340.0), True),
        ((0.120, 1.20, 360.0), True),  # a stock step off, length within 10 %
        ((0.110, 1.20, 340.0), False),
        ((0.125, 1.40, 340.0), False),
        ((0.125, 1.20, 420.0), False),
        ((0.125, None, None), True),
    ],
)
def test_a_document_speaks_for_or_against_the_original(
    documented: tuple[float, float | None, float | None], agrees: bool
) -> None:
    found = clues(documented=spring("documented", *documented))
    assert found[Question.ORIGINAL, "document"].speaks is (FOR if agrees else AGAINST)
    assert found[Question.WRONG, "document"].speaks is (AGAINST if agrees else FOR)


@pytest.mark.parametrize(
    ("measured", "counts"),
    [
        (MeasuredAmplitude(amplitude_deg=285.0), True),
        (MeasuredAmplitude(amplitude_deg=245.0), False),
        (MeasuredAmplitude(amplitude_deg=325.0), False),  # it knocks
        (MeasuredAmplitude(amplitude_deg=285.0, position=Position.VERTICAL), False),
        (MeasuredAmplitude(amplitude_deg=285.0, wind=Wind.DAY_LATER), False),
    ],
)
def test_a_watch_that_runs_well_speaks_for_its_spring(
    measured: MeasuredAmplitude, counts: bool
) -> None:
    found = clues(amplitude=measured)
    asked = ((Question.TIRED, "amplitude"), (Question.WRONG, "amplitude"))
    assert [key in found for key in asked] == [counts, counts]
    assert all(found[key].speaks is AGAINST for key in asked if key in found)


def test_every_clue_names_its_ground() -> None:
    seen = FoundSeen(
        free_diameter=free(22.0).free_diameter, loose_coils=3.0, thickness_spread_mm=0.01
    )
    found = clues(seen=seen, documented=spring("documented", 0.12, 1.2, 350.0))
    assert len(found) == 8
    for clue in found.values():
        assert any(w in clue.basis for w in ("common practice", "Wikipedia", "judgement"))


def clue(speaks: Speaks, question: Question = Question.TIRED) -> Clue:
    return Clue(question=question, code="x", seen="Seen.", speaks=speaks, basis="invented")


@pytest.mark.parametrize(
    ("sides", "leaning"),
    [
        ([], Leaning.OPEN),
        ([NEITHER], Leaning.OPEN),
        ([FOR], Leaning.YES),
        ([FOR, NEITHER, FOR], Leaning.YES),
        ([AGAINST, NEITHER], Leaning.NO),
        ([FOR, AGAINST], Leaning.MIXED),
    ],
)
def test_clues_add_up(sides: list[Speaks], leaning: Leaning) -> None:
    tired, wrong, original = found_from([clue(side) for side in sides]).answers
    assert (tired.question, tired.leaning) == (Question.TIRED, leaning)
    assert (wrong.leaning, original.leaning) == (Leaning.OPEN, Leaning.OPEN)


def test_a_finding_is_no_verdict() -> None:
    finding = found_from([clue(FOR), clue(AGAINST, Question.WRONG)])
    assert finding.text.startswith("It looks tired. Its sizes suit this barrel.")
    assert finding.text.endswith("This is a finding from what was seen, not a verdict.")


def test_without_a_found_spring_there_is_no_finding() -> None:
    assert size_spring(healthy(found=None), draws=DRAWS).finding is None
