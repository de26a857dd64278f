"""Each clue of a found spring speaks for what it should, and for nothing near a limit."""

from __future__ import annotations

from typing import Any

import pytest
from barrels import DRAWS, healthy, spring

from gaugelink.mechanics.arrangement import Arrangement, BarrelKind
from gaugelink.mechanics.materials import material_named
from gaugelink.mechanics.motion import MeasuredAmplitude, Position, Wind
from gaugelink.sizing.evidence import evidence, found_from
from gaugelink.sizing.inputs import FoundSeen, typed_input
from gaugelink.sizing.results import Clue, Leaning, Question, RuleDistance, Speaks
from gaugelink.sizing.size_spring import size_spring
from gaugelink.uncertainty.estimate import Estimate

FOR, AGAINST, NEITHER = Speaks.FOR, Speaks.AGAINST, Speaks.NEITHER


def clues(**changes: Any) -> dict[tuple[Question, str], Clue]:
    finding = size_spring(healthy(**changes), draws=DRAWS).finding
    assert finding is not None
    return {(c.question, c.code): c for answer in finding.answers for c in answer.clues}


def free(width_mm: float, u_mm: float = 0.3) -> FoundSeen:
    return FoundSeen(free_diameter=typed_input("found.free_diameter", width_mm, u_mm))


# Limits: below 2.5 bores lying free is tired, 1 to 2 loose coils are good, more suggest and
# 4 to 5 are a tired spring. Tests of the British Horological Institute as quoted by
# Wikipedia, "Mainspring". They count where a healthy spring of this size does not show the
# same: of blued steel, 1810 to 2680 MPa at full wind, it lies 1.8 to 4.3 bores wide and has 4.4
# to 1.4 loose coils (fixtures/reference/mechanics_strength.json), and friction at rest keeps some
# more off the wall. The spread of the thickness: judgement.
CONDITION = [
    ("free-diameter", free(45.0), AGAINST),
    ("free-diameter", free(36.0), AGAINST),  # 3.3 bores, above the middle of healthy ones
    ("free-diameter", free(31.0), NEITHER),  # below it, and above 2.5 bores
    ("free-diameter", free(22.0), NEITHER),  # below 2.5 bores, as a healthy one may be
    ("free-diameter", free(15.0), FOR),
    ("free-diameter", free(27.4), NEITHER),  # 2.49 bores, give or take 0.05
    ("loose-coils", FoundSeen(loose_coils=1.0), AGAINST),
    ("loose-coils", FoundSeen(loose_coils=2.0), AGAINST),
    ("loose-coils", FoundSeen(loose_coils=3.0), AGAINST),  # the signs disagree
    ("loose-coils", FoundSeen(loose_coils=5.0), NEITHER),
    ("loose-coils", FoundSeen(loose_coils=8.0), FOR),
    ("thickness-spread", FoundSeen(thickness_spread_mm=0.003), NEITHER),
    ("thickness-spread", FoundSeen(thickness_spread_mm=0.012), FOR),
]


@pytest.mark.parametrize(("code", "seen", "speaks"), CONDITION)
def test_condition_speaks_for_tired_or_against_it(
    code: str, seen: FoundSeen, speaks: Speaks
) -> None:
    carbon = material_named("carbon-steel")
    assert clues(seen=seen, material=carbon)[Question.TIRED, code].speaks is speaks


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


def interval(label: str, low: float, high: float) -> Estimate:
    """An estimate between two limits, which are two standard uncertainties away."""
    return of(label, (low + high) / 2, (high - low) / 4, low, high)


def of(label: str, value: float, u: float, low: float = 0.0, high: float = 0.0) -> Estimate:
    return Estimate(label=label, value=value, u=u, dof=50.0, unit="1", low=low, high=high)


def spoken(
    code: str, *estimates: Estimate, above: RuleDistance | None = None, **inputs: Any
) -> Clue | None:
    """The clue of a code, for or against the wrong spring before anything else."""
    by_label = {each.label: each for each in (interval("found.bore_per_thickness", 86, 90),)}
    by_label |= {each.label: each for each in estimates}
    found = [c for c in evidence(healthy(**inputs), by_label, above) if c.code == code]
    return found[0] if found else None


def side(
    code: str, *estimates: Estimate, above: RuleDistance | None = None, **inputs: Any
) -> Speaks:
    clue = spoken(code, *estimates, above=above, **inputs)
    assert clue is not None
    return clue.speaks


@pytest.mark.parametrize(
    ("low", "high", "speaks"),
    [
        (2.3, 2.5, FOR),
        (2.3, 2.51, NEITHER),
        (2.49, 2.7, NEITHER),
        (2.5, 2.7, NEITHER),
        (2.51, 2.7, AGAINST),
    ],
)
def test_a_free_diameter_is_tired_below_two_and_a_half_bores(
    low: float, high: float, speaks: Speaks
) -> None:
    clue = spoken("free-diameter", interval("found.free_per_bore", low, high))
    assert clue is not None
    assert clue.speaks is speaks
    assert "the sign of a tired spring is below 2.5" in clue.seen


@pytest.mark.parametrize(
    ("coils", "speaks", "words"),
    [
        (2.0, AGAINST, "one or two"),
        (2.1, FOR, "suggest"),
        (3.9, FOR, "suggest"),
        (4.0, FOR, "four or five"),
    ],
)
def test_loose_coils_at_their_limits(coils: float, speaks: Speaks, words: str) -> None:
    clue = spoken("loose-coils", seen=FoundSeen(loose_coils=coils))
    assert clue is not None
    assert clue.speaks is speaks
    assert words in clue.seen


@pytest.mark.parametrize(("spread_mm", "speaks"), [(0.006, NEITHER), (0.0061, FOR)])
def test_a_spread_of_the_thickness_at_its_limit(spread_mm: float, speaks: Speaks) -> None:
    clue = spoken("thickness-spread", seen=FoundSeen(thickness_spread_mm=spread_mm))
    assert clue is not None
    assert clue.speaks is speaks
    assert clue.basis.endswith("limit 0.006 mm")


@pytest.mark.parametrize(
    ("spread_mm", "step_mm", "speaks"),
    [
        (0.01, 0.01, NEITHER),  # one step of a caliper
        (0.13 - 0.11, 0.01, NEITHER),  # two, and what is left of the subtraction
        (0.03, 0.01, FOR),
        (0.006, 0.001, NEITHER),
        (0.007, 0.001, FOR),
    ],
)
def test_a_spread_counts_beyond_two_steps_of_its_gauge(
    spread_mm: float, step_mm: float, speaks: Speaks
) -> None:
    seen = FoundSeen(thickness_spread_mm=spread_mm, thickness_step_mm=step_mm)
    clue = spoken("thickness-spread", seen=seen)
    assert clue is not None
    assert clue.speaks is speaks


@pytest.mark.parametrize(
    ("code", "label", "low", "high", "speaks"),
    [
        ("fill", "found.fill", 0.45, 0.62, AGAINST),
        ("fill", "found.fill", 0.449, 0.5, NEITHER),
        ("fill", "found.fill", 0.5, 0.621, NEITHER),
        ("fill", "found.fill", 0.4, 0.449, FOR),
        ("fill", "found.fill", 0.621, 0.7, FOR),
        ("thickness", "found.bore_per_thickness", 80.0, 100.0, AGAINST),
        ("thickness", "found.bore_per_thickness", 79.9, 90.0, NEITHER),
        ("thickness", "found.bore_per_thickness", 90.0, 100.1, NEITHER),
        ("thickness", "found.bore_per_thickness", 70.0, 79.9, FOR),
        ("thickness", "found.bore_per_thickness", 100.1, 110.0, FOR),
    ],
)
def test_sizes_at_the_limits_of_the_usual(
    code: str, label: str, low: float, high: float, speaks: Speaks
) -> None:
    assert side(code, interval(label, low, high)) is speaks


@pytest.mark.parametrize(("high", "asked"), [(0.299, True), (0.301, False)])
def test_a_piece_is_missing_where_all_of_the_fill_says_so(high: float, asked: bool) -> None:
    clue = spoken("fill", interval("found.fill", 0.28, high))
    assert clue is not None
    assert ("is a piece of it missing?" in clue.seen) is asked


@pytest.mark.parametrize(
    ("above_mm", "u_mm", "speaks"),
    [
        (0.05, 0.0249, FOR),  # two standard uncertainties above the limit
        (0.05, 0.0251, NEITHER),
        (-0.15, 0.0249, FOR),  # as far below 0.1 mm less
        (-0.15, 0.0251, NEITHER),
        (-0.10, 0.01, AGAINST),
        (-0.101, 0.01, NEITHER),
        (0.005, 0.01, AGAINST),
        (0.0051, 0.01, NEITHER),
    ],
)
def test_a_height_at_its_limits(above_mm: float, u_mm: float, speaks: Speaks) -> None:
    assert (
        side(
            "height",
            above=RuleDistance(
                rule="height", output="height", difference=above_mm, u=u_mm, in_u=above_mm / u_mm
            ),
        )
        is speaks
    )


@pytest.mark.parametrize(
    ("size", "documented", "within", "beyond", "u"),
    [
        ("height", 1.20, 1.2499, 1.2501, 0.0),
        ("height", 1.20, 1.1501, 1.1499, 0.0),
        ("thickness", 0.12, 0.12499, 0.12501, 0.0),
        ("thickness", 0.12, 0.11501, 0.11499, 0.0),
        ("length", 300.0, 329.9, 330.1, 0.0),
        ("length", 300.0, 270.1, 269.9, 0.0),
        # 2 hypot(0.002, 0.002) = 0.00566 mm more, and 2 hypot(5, 5) = 14.14 mm
        ("thickness", 0.12, 0.1306, 0.1307, 0.002),
        ("length", 300.0, 344.1, 344.2, 5.0),
    ],
)
def test_a_stock_step_off_the_document_is_still_that_spring(
    size: str, documented: float, within: float, beyond: float, u: float
) -> None:
    for found, speaks in ((within, AGAINST), (beyond, FOR)):
        sizes = of(f"found.{size}", found, u), of(f"documented.{size}", documented, u)
        assert side("document", *sizes) is speaks


def test_how_far_a_spring_is_off_its_document_is_said_size_by_size() -> None:
    sizes = {"height": (1.304, 1.2), "thickness": (0.1126, 0.12), "length": (341.6, 300.0)}
    clue = spoken(
        "document",
        *(of(f"found.{size}", found, 0.0) for size, (found, _) in sizes.items()),
        *(of(f"documented.{size}", printed, 0.0) for size, (_, printed) in sizes.items()),
    )
    assert clue is not None
    assert clue.seen == (
        "It is off the documented height by +0.10 mm and thickness by -0.007 mm and "
        "length by +42 mm."
    )


@pytest.mark.parametrize(
    ("degrees", "counts"), [(269.9, False), (270.0, True), (319.9, True), (320.0, False)]
)
def test_good_motion_lies_between_its_limits(degrees: float, counts: bool) -> None:
    measured = MeasuredAmplitude(amplitude_deg=degrees)
    assert (spoken("amplitude", amplitude=measured) is not None) is counts


def test_every_clue_names_its_ground() -> None:
    seen = FoundSeen(
        free_diameter=free(22.0).free_diameter, loose_coils=3.0, thickness_spread_mm=0.01
    )
    found = clues(seen=seen, documented=spring("documented", 0.12, 1.2, 350.0))
    assert len(found) == 9
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
