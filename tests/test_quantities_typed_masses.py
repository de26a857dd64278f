"""What may be typed as a mass or a count, and what is said when it may not."""

from __future__ import annotations

import pytest

from gaugelink.errors import InputError
from gaugelink.quantities import parse_count, parse_mass

MASSES = [
    # plain numbers are milligrams
    ("497", 497.0, None),
    ("497,4", 497.4, None),
    ("497 mg", 497.0, None),
    ("0.497 g", 497.0, None),
    ("0,497g", 497.0, None),
    ("497 +- 1", 497.0, 1.0),
    ("497 +- 1 mg", 497.0, 1.0),
    ("0.497 g +- 1 mg", 497.0, 1.0),
    ("0.497 +- 0.001 g", 497.0, 1.0),
    ("0.000497 kg", 497.0, None),
    ("7.5 grain", 7.5 * 64.79891, None),  # exact since 1959: NIST SP 811, appendix B.8
]


@pytest.mark.parametrize(("text", "mg", "u_mg"), MASSES)
def test_a_mass_may_be_typed_in_many_ways(text: str, mg: float, u_mg: float | None) -> None:
    read = parse_mass(text, "found mass")
    assert read.value == pytest.approx(mg)
    assert read.u == (None if u_mg is None else pytest.approx(u_mg))


@pytest.mark.parametrize("text", ["", "heavy", "497 +- -1", "1 +- 2 +- 3", "1e999 mg", "5,0,0"])
def test_what_is_no_mass_is_said_with_its_name_and_text(text: str) -> None:
    with pytest.raises(InputError) as caught:
        parse_mass(text, "found mass")
    assert str(caught.value) == f"found mass: {text!r} is not a mass."
    assert caught.value.hint


@pytest.mark.parametrize("text", ["497 mm", "0.5 in", "497 xyz", "497 N"])
def test_what_is_no_unit_of_mass_is_said(text: str) -> None:
    with pytest.raises(InputError, match="is not a unit of mass") as caught:
        parse_mass(text, "found mass")
    assert "mg" in caught.value.hint


@pytest.mark.parametrize(
    ("text", "count", "u"),
    [
        ("11", 11.0, None),
        ("11,5", 11.5, None),
        ("11 3/4", 11.75, None),
        ("47/4 +- 0.25", 11.75, 0.25),
    ],
)
def test_a_count_need_not_be_whole(text: str, count: float, u: float | None) -> None:
    read = parse_count(text, "found coils")
    assert (read.value, read.u) == (count, u)


@pytest.mark.parametrize("text", ["11 mm", "11 mg", "11 +- 1 mm"])
def test_a_count_has_no_unit(text: str) -> None:
    with pytest.raises(InputError, match="is not a unit of count") as caught:
        parse_count(text, "found coils")
    assert caught.value.hint == "A count has no unit."
