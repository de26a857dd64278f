"""What may be typed as a length, and what is said when it may not."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gaugelink.errors import InputError
from gaugelink.quantities import parse_length, parse_positive, parse_spring

LIGNE_MM = 2.2558291  # the Paris line, 1/144 of the Paris foot of 324.839385 mm; from memory

LENGTHS = [
    # plain numbers are millimetres
    ("11.02", 11.02, None),
    (" 11.02 ", 11.02, None),
    ("11,02", 11.02, None),
    ("+11.02", 11.02, None),
    (".5", 0.5, None),
    ("11.", 11.0, None),
    ("1.2e1", 12.0, None),
    ("-3", -3.0, None),  # read as it stands; whether it can be is for the sizing to say
    ("12/100", 0.12, None),
    ("12 / 100 mm", 0.12, None),
    # units
    ("11.02mm", 11.02, None),
    ("1 in", 25.4, None),
    ("0,5 inch", 12.7, None),
    ("5 thou", 0.127, None),
    ("120 um", 0.12, None),
    ("120 µm", 0.12, None),
    ("1.1 cm", 11.0, None),
    ("5 ligne", 5 * LIGNE_MM, None),
    ("12 douzieme", LIGNE_MM, None),
    # an inch is 25.4 mm by definition; its mark is typed in many ways
    ('0.433"', 10.9982, None),
    ('.0122"', 0.30988, None),
    ("0.0122\u201d", 0.30988, None),
    ("0.0122\u2033", 0.30988, None),
    ("0.0122''", 0.30988, None),
    ("0.433 IN", 10.9982, None),
    ("11.02 MM", 11.02, None),
    ("1 7/16 in", 36.5125, None),
    ('1 7/16"', 36.5125, None),
    ("-1 1/2", -1.5, None),
    ('1 7/16 +- 1/64"', 36.5125, 0.396875),
    # standard uncertainties
    ("11.02+-0.03", 11.02, 0.03),
    ("11.02 +/- 0.03 mm", 11.02, 0.03),
    ("11,02 ± 0,03", 11.02, 0.03),
    ("11.02 +- 0", 11.02, 0.0),
    ("11 mm +- 30 um", 11.0, 0.03),
    ("0.5 in +- 1 thou", 12.7, 0.0254),
    # one unit holds for both, wherever it stands
    ("0.5 +- 0.001 in", 12.7, 0.0254),
    ("0.5 in +- 0.001", 12.7, 0.0254),
    ("12/100 +- 1/1000 mm", 0.12, 0.001),
]

BAD_LENGTHS = [
    "",
    " ",
    "mm",
    "eleven",
    "11,0,2",
    "1.234,5",
    "1,234.5",
    "11 02",
    "0x1F",
    "nan",
    "inf",
    "1e999",
    "1/0",
    "1/2/3",
    "11.02 +-",
    "+- 0.03",
    "11.02 +- -0.03",
    "11.02 +- 0.03 +- 0.01",
    "11.02 +- 1e999",
    "11 +- 3 mm mm",
    '"',
    '0.433""',
    '0.433 in"',
    '0.433 "in',
    "0.433'",
    "1 7",
    "1 7/0",
    "1 7/16 3/4",
    "1 16/7 in",
    "1 7/7 in",
    "1.5 7/16 in",
    "1 7.5/16 in",
    "1 -7/16 in",
    "1 7/16 in in",
]

BAD_UNITS = ["11 furlongsx", "11 kg", "11 degC", "11 dB", "11 pi", "11 e", "11 in +- 1 s", "1 if"]


@pytest.mark.parametrize(("text", "value_mm", "u_mm"), LENGTHS)
def test_a_length_is_read(text: str, value_mm: float, u_mm: float | None) -> None:
    read = parse_length(text, "bore")
    assert read.value_mm == pytest.approx(value_mm, rel=1e-12)
    assert read.u_mm == (None if u_mm is None else pytest.approx(u_mm, rel=1e-12))


@pytest.mark.parametrize(("text", "exactly_mm"), [("1 in", 25.4), ("11.02 mm", 11.02)])
def test_inch_and_millimetre_are_exact(text: str, exactly_mm: float) -> None:
    assert parse_length(text, "bore").value_mm == exactly_mm


@pytest.mark.parametrize("text", BAD_LENGTHS)
def test_what_is_no_length_is_said_with_its_name_and_text(text: str) -> None:
    with pytest.raises(InputError) as caught:
        parse_length(text, "lid")
    assert str(caught.value) == f"lid: {text!r} is not a length."
    assert caught.value.hint


@pytest.mark.parametrize("text", BAD_UNITS)
def test_what_is_no_unit_of_length_is_said(text: str) -> None:
    with pytest.raises(InputError, match=r"lid: .* is not a unit of length") as caught:
        parse_length(text, "lid")
    assert caught.value.hint


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_any_number_survives_being_typed_or_is_beyond_a_watch(value: float) -> None:
    if value == 0 or 1e-6 <= abs(value) <= 1e6:
        assert parse_length(repr(value), "bore").value_mm == value
        assert parse_length(f"{value!r} mm", "bore").value_mm == value
    else:
        with pytest.raises(InputError, match="not a length in a watch"):
            parse_length(repr(value), "bore")


SMALL = st.just(0.0) | st.floats(1e-6, 1e3)


@given(SMALL, SMALL, st.sampled_from(["+-", " +/- ", " ± "]))
def test_value_and_uncertainty_survive_being_typed(value: float, u: float, sign: str) -> None:
    read = parse_length(f"{value!r}{sign}{u!r}", "bore")
    assert (read.value_mm, read.u_mm) == (value, u)


@given(st.text(max_size=12))
def test_anything_else_is_a_length_or_an_error_of_ours(text: str) -> None:
    try:
        read = parse_length(text, "bore")
    except InputError as error:
        assert error.hint
    else:
        assert math.isfinite(read.value_mm)
        assert read.u_mm is None or read.u_mm >= 0


@pytest.mark.parametrize(
    ("text", "sizes_mm"),
    [
        ("1.50 x 0.12 x 360", (1.5, 0.12, 360)),
        ("1.50x0.12x360", (1.5, 0.12, 360)),
        (" 1,50 × 0,12 × 360 mm ", (1.5, 0.12, 360)),
        ("1.5*12/100*360", (1.5, 0.12, 360)),
        ("0.06 x 0.005 x 14 in", (1.524, 0.127, 355.6)),
        ("0.06 in x 0.005 x 14", (1.524, 0.127, 355.6)),
        ("1.5 mm x 5 thou x 14 in", (1.5, 0.127, 355.6)),
        ("1.2 X 0.13 X 360", (1.2, 0.13, 360)),
        ('.06" x .005" x 14 1/2"', (1.524, 0.127, 368.3)),
        ("1.2 X 0.13 X 360 MM", (1.2, 0.13, 360)),
    ],
)
def test_a_spring_is_height_thickness_and_length(
    text: str, sizes_mm: tuple[float, float, float]
) -> None:
    assert [size.value_mm for size in parse_spring(text, "documented")] == pytest.approx(sizes_mm)


def test_the_sizes_of_a_spring_may_have_uncertainties() -> None:
    sizes = parse_spring("1.50 +- 0.01 x 0.12 x 360 +- 5 mm", "documented")
    assert [size.u_mm for size in sizes] == [0.01, None, 5.0]


@pytest.mark.parametrize("text", ["", "1.5", "1.5 x 0.12", "1.5 x 0.12 x 360 x 2"])
def test_other_than_three_sizes_are_no_spring(text: str) -> None:
    with pytest.raises(InputError, match="is not height x thickness x length") as caught:
        parse_spring(text, "documented")
    assert caught.value.hint


@pytest.mark.parametrize("text", ["1.5 x thin x 360", "1.5 x 0.12 x", "x x x", "1 x 2 x 3 kg"])
def test_a_spring_of_other_things_than_lengths_is_refused(text: str) -> None:
    with pytest.raises(InputError) as caught:
        parse_spring(text, "documented")
    assert caught.value.hint


@pytest.mark.parametrize(
    ("text", "value"), [("7.5", 7.5), ("7,5", 7.5), ("15/2", 7.5), ("8", 8.0), (" 6 ", 6.0)]
)
def test_a_positive_number_is_read(text: str, value: float) -> None:
    assert parse_positive(text, "hours per turn") == value


@pytest.mark.parametrize("text", ["", "0", "-1", "1e999", "nan", "x", "7.5 h", "7.5 mm", "1/0"])
def test_another_number_is_said_not_to_be_above_zero(text: str) -> None:
    with pytest.raises(InputError) as caught:
        parse_positive(text, "hours per turn")
    assert str(caught.value) == f"hours per turn: {text!r} is not a number above zero."
    assert caught.value.hint
