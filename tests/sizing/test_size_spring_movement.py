"""The amplitude measured with the found spring: advice first, then what each spring would do."""

from __future__ import annotations

from typing import Any

import pytest
from barrels import DRAWS, exact, healthy, spring

from gaugelink.errors import SizingError
from gaugelink.mechanics.band import Band
from gaugelink.mechanics.materials import material_named
from gaugelink.mechanics.motion import MeasuredAmplitude, Wind, expected_amplitude
from gaugelink.mechanics.signs import FoundSeen
from gaugelink.sizing.inputs import GivenSpring, typed_input
from gaugelink.sizing.results import RatioInterval, SizeResult
from gaugelink.sizing.size_spring import foreseen as foreseen_with
from gaugelink.sizing.size_spring import size_spring

DOCUMENTED = spring("documented", 0.13, 1.2, 340.0)


def sized(amplitude_deg: float, **changes: Any) -> SizeResult:
    amplitude = MeasuredAmplitude(amplitude_deg=amplitude_deg)
    fields = {"amplitude": amplitude, "documented": DOCUMENTED, **changes}
    return size_spring(healthy(**fields), draws=DRAWS)


def foreseen(result: SizeResult, name: str) -> Any:
    springs = {rule.rule: rule.figures for rule in result.rules}
    springs |= {"documented": result.documented and result.documented.figures}
    springs |= {"found": result.found and result.found.figures}
    model = springs[name].torque_model
    return model and model.foreseen


def exactly(name: str, thickness: float, height: float, length: float) -> GivenSpring:
    return GivenSpring(
        thickness=exact(f"{name}.thickness", thickness),
        height=exact(f"{name}.height", height),
        length=exact(f"{name}.length", length),
    )


# Amplitude for 0.01 mm more of thickness at equal free shape, 270 degrees becoming: computed
# by scaling.py, not published; fixtures/reference/mechanics_scaling.json.
@pytest.mark.parametrize(
    ("thickness", "of_270"), [(0.10, 311), (0.12, 304), (0.14, 299), (0.16, 296)]
)
def test_a_thicker_spring_swings_wider_by_the_table(thickness: float, of_270: float) -> None:
    square, cube = (1 + 0.01 / thickness) ** 2, (1 + 0.01 / thickness) ** 3
    between = Band(low=square, high=cube)
    measured = healthy(amplitude=MeasuredAmplitude(amplitude_deg=270.0))
    expected = foreseen_with(measured, RatioInterval(band=between, whole=between))
    assert expected is not None
    assert expected.low_deg == pytest.approx(270 * square**0.5)
    # the table is the clean movement; an old one may go with the power 2/3
    assert 270 * cube**0.5 == pytest.approx(of_270, abs=0.6)
    assert expected.high_deg == pytest.approx(min(270 * cube ** (2 / 3), 330.0))


def coils(count: float, u: float) -> FoundSeen:
    return FoundSeen(free_coils=typed_input("found.free_coils", count, u))


def test_what_is_seen_of_the_found_spring_narrows_what_another_would_do() -> None:
    """Both of 0.125 x 340 mm in 11 x 3.7 mm: N_f = N_w - sigma L / (pi E e) by hand.

    At 204 GPa a healthy one of 2200 MPa lies free with 17.86 - 9.34 = 8.52 coils, a tired one
    of 1500 MPa with 17.86 - 6.37 = 11.5.
    """
    same = exactly("documented", 0.125, 1.2, 340.0)
    carbon = material_named("carbon-steel")
    known = {"documented": same, "material": carbon}
    unseen = foreseen(sized(215.0, **known), "documented")
    healthy_one = foreseen(sized(215.0, **known, seen=coils(8.52, 0.1)), "documented")
    tired = foreseen(sized(215.0, **known, seen=coils(11.5, 0.1)), "documented")
    assert healthy_one.low_deg < 215 < healthy_one.high_deg
    assert healthy_one.high_deg - healthy_one.low_deg < 0.7 * (unseen.high_deg - unseen.low_deg)
    assert tired.low_deg > 215
    assert healthy_one.high_deg < tired.high_deg


def test_the_found_spring_itself_foresees_nothing_and_the_rules_do() -> None:
    result = sized(260.0)
    assert foreseen(result, "found") is None
    for rule in result.rules:
        band = foreseen(result, rule.rule)
        assert 180 < band.low_deg < 260 < band.high_deg <= 330


def test_flags_are_plain_truths() -> None:
    expected = foreseen(sized(300.0), "documented")
    flags = (expected.may_knock, expected.will_knock, expected.extrapolated)
    assert all(isinstance(flag, bool) for flag in flags)
    assert expected.may_knock
    assert "may-knock" in {advice.code for advice in expected.advice}


def test_service_comes_before_a_stronger_spring() -> None:
    result = sized(180.0, wished_amplitude_deg=270.0)
    assert result.motion is not None
    codes = [advice.code for advice in result.motion.advice]
    assert codes == ["service-first", "stronger-spring"]


def test_a_wished_amplitude_takes_torque_and_thickness() -> None:
    result = sized(245.0, wished_amplitude_deg=280.0)
    assert result.motion is not None
    wished = result.motion.wished
    assert wished is not None
    ratio = 280 / 245
    assert wished.torque_ratio.low == pytest.approx(ratio**1.5)
    assert wished.torque_ratio.high == pytest.approx(ratio**2)
    assert wished.thickness_mm.low == pytest.approx(0.125 * ratio ** (1.5 / 3))
    assert wished.thickness_mm.high == pytest.approx(0.125 * ratio)
    back = expected_amplitude(245.0, Band(low=ratio**2, high=ratio**2))
    assert back.low_deg == pytest.approx(280.0)


def test_a_wished_amplitude_that_knocks_is_refused() -> None:
    with pytest.raises(SizingError, match="knocks"):
        sized(270.0, wished_amplitude_deg=325.0)


@pytest.mark.parametrize("hours_per_turn", [None, 8.0])
def test_a_day_later_the_ratio_is_that_of_a_day_later(hours_per_turn: float | None) -> None:
    later = MeasuredAmplitude(amplitude_deg=240.0, wind=Wind.DAY_LATER)
    result = sized(240.0, amplitude=later, hours_per_turn=hours_per_turn)
    at_full = foreseen(sized(240.0, hours_per_turn=hours_per_turn), "documented")
    assert result.motion is not None
    codes = {advice.code for advice in result.motion.advice}
    assert ("amplitude-state" in codes) is (hours_per_turn is None)
    same = foreseen(result, "documented") == at_full
    assert same is (hours_per_turn is None)


def test_an_amplitude_without_a_found_spring_compares_nothing() -> None:
    result = sized(245.0, found=None)
    assert result.motion is not None
    assert "amplitude-of-no-spring" in {advice.code for advice in result.motion.advice}
    assert foreseen(result, "documented") is None
