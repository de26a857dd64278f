"""Sizing results as D-SI: the numbers, the two forms of uncertainty, the document."""

from __future__ import annotations

import dataclasses
import math
from xml.etree import ElementTree as ET

import pytest
from dsi_results import CASES, SI, estimate, form, reals, result_of, sized, written
from hypothesis import given
from hypothesis import strategies as st

from gaugelink.errors import SizingError
from gaugelink.report.dsi import SIZING_NAMESPACE, dsi_unit
from gaugelink.report.json_sizing import size_json
from gaugelink.report.table import decimals_for

OURS = f"{{{SIZING_NAMESPACE}}}"
EVEN = estimate(11.02, 0.01, 11.0004, 11.0397)
LOPSIDED = estimate(6.85, 0.46, 6.11, 7.63)


def json_estimates(data) -> list[dict]:
    """Every estimate of the JSON contract."""
    if isinstance(data, list):
        return [found for item in data for found in json_estimates(item)]
    if not isinstance(data, dict):
        return []
    if "dof" in data and "value" in data:
        return [data]
    return [found for item in data.values() for found in json_estimates(item)]


@pytest.mark.parametrize("case", CASES)
def test_it_holds_the_same_values_as_the_json(case: str) -> None:
    result = sized(case)
    values = {float(real.findtext(f"{SI}value")) for real in reals(result)}
    data = {name: part for name, part in size_json(result).items() if name != "recommendation"}
    assert values == {e["value"] for e in json_estimates(data)}


def test_every_group_is_there_with_labels_that_tell_its_figures() -> None:
    result = sized("both springs")
    groups = {
        group.get("name"): [label.text for label in group.iter(f"{SI}label")]
        for group in ET.fromstring(written(result))
    }
    rules = [rule.rule for rule in result.rules]
    assert list(groups) == ["inputs", "height", *rules, "found", "documented"]
    assert groups["inputs"] == [e.label for e in result.inputs]
    assert groups["height"] == ["height"]
    assert {"found.thickness", "found.turns", "found.hours", "found.torque_at_limit"} <= set(
        groups["found"]
    )
    for name in (*rules, "found", "documented"):
        assert all(label.startswith(f"{name}.") for label in groups[name])


def test_a_figure_of_a_rule_without_source_says_so_in_its_label() -> None:
    root = ET.fromstring(written(sized("both springs")))
    for group in root:
        labels = [label.text or "" for label in group.iter(f"{SI}label")]
        sourceless = "no source" in group.get("basis", "")
        assert {label.endswith(" (no source)") for label in labels} == {sourceless}
    assert root.find(f"{OURS}group[@name='ratio-30']/{SI}real/{SI}label") is not None


def test_a_rule_brings_its_basis() -> None:
    result = sized("bore alone")
    groups = ET.fromstring(written(result)).findall(f"{OURS}group[@basis]")
    assert [(g.get("name"), g.get("basis")) for g in groups] == [
        (rule.rule, rule.basis) for rule in result.rules
    ]


def test_a_label_that_stands_twice_bears_the_same_numbers() -> None:
    by_label: dict[str, set[bytes]] = {}
    figures = reals(sized("both springs"))
    for real in figures:
        real.tail = None
        by_label.setdefault(real.findtext(f"{SI}label"), set()).add(ET.tostring(real))
    assert len(by_label) < len(figures)
    assert {len(texts) for texts in by_label.values()} == {1}


def test_an_even_interval_is_written_as_expanded_uncertainty() -> None:
    (real,) = reals(result_of(EVEN))
    half = (EVEN.high - EVEN.low) / 2
    assert float(real.findtext(f"{SI}value")) == EVEN.value
    assert form(real) == {
        "form": "expandedMU",
        "valueExpandedMU": half,
        "coverageFactor": half / EVEN.u,
        "coverageProbability": 0.95,
    }


def test_a_lopsided_interval_is_written_by_its_ends() -> None:
    (real,) = reals(result_of(LOPSIDED, coverage=0.9))
    assert form(real) == {
        "form": "coverageIntervalMU",
        "valueStandardMU": LOPSIDED.u,
        "intervalMin": LOPSIDED.low,
        "intervalMax": LOPSIDED.high,
        "coverageProbability": 0.9,
    }


@pytest.mark.parametrize(
    ("figure", "expected"),
    [
        # U = 0.020: two digits tell 0.0005 from nothing, half of the last of them.
        (estimate(11.0, 0.01, 10.9804, 11.0204), "expandedMU"),
        (estimate(11.0, 0.01, 10.9806, 11.0206), "coverageIntervalMU"),
        (estimate(11.0, 0.01, 10.9794, 11.0194), "coverageIntervalMU"),
        # k = 1 may be written, less may not.
        (estimate(8.0, 0.5, 7.5, 8.5), "expandedMU"),
        (estimate(8.0, 0.5, 7.625, 8.375), "coverageIntervalMU"),
        # First order sees nothing where the slope is zero; the draws do.
        (estimate(8.0, 0.0, 7.5, 8.5), "coverageIntervalMU"),
        (estimate(8.0, 0.5, 8.0, 8.0), "coverageIntervalMU"),
        (estimate(0.0, 0.5, -1.0, 1.0), "expandedMU"),
    ],
)
def test_the_form_follows_from_the_interval(figure, expected: str) -> None:
    (real,) = reals(result_of(figure))
    assert form(real)["form"] == expected


@given(
    value=st.floats(-1e3, 1e3),
    u=st.floats(1e-5, 10.0),
    below=st.floats(0.5, 5.0),
    lean=st.floats(0.9, 1.1),
)
def test_numbers_come_back_to_the_last_digit(value, u, below, lean) -> None:
    figure = estimate(value, u, value - below * u, value + below * lean * u)
    (real,) = reals(result_of(figure))
    numbers = form(real)
    half = (figure.high - figure.low) / 2
    assert float(real.findtext(f"{SI}value")) == value
    if numbers["form"] == "coverageIntervalMU":
        assert (numbers["valueStandardMU"], numbers["intervalMin"]) == (u, figure.low)
        assert numbers["intervalMax"] == figure.high
    else:
        assert numbers["valueExpandedMU"] == half
        assert numbers["coverageFactor"] == half / u >= 1
        # JCGM 101:2008, 7.9.2: the numerical tolerance of a result given to two digits
        tolerance = 0.5 * 10.0 ** -decimals_for(half) * (1 + 1e-6)
        assert abs(value + half - figure.high) <= tolerance
        assert abs(value - half - figure.low) <= tolerance


@pytest.mark.parametrize(
    "figure",
    [
        estimate(0.1, 0.0, 0.1, 0.1),
        estimate(0.0, 0.0, 0.0, 0.0),
        estimate(10.92, 2.7e-15, 10.92 - 5e-15, 10.92 + 5e-15),  # rounding noise
    ],
)
def test_an_exact_figure_has_no_uncertainty(figure) -> None:
    (real,) = reals(result_of(figure))
    assert [leaf.tag.removeprefix(SI) for leaf in real] == ["label", "value", "unit"]


def test_degrees_of_freedom_leave_no_trace() -> None:
    few = dataclasses.replace(EVEN, dof=4.0)
    assert EVEN.dof == math.inf
    assert written(result_of(EVEN)) == written(result_of(few))
    assert "inf" not in written(result_of(EVEN)).lower()


def test_the_root_says_whose_figures_these_are() -> None:
    root = ET.fromstring(written(result_of(EVEN), identity="job 7"))
    assert root.tag == f"{OURS}sizing"
    assert {name: root.get(name) for name in ("identity", "software", "created")} == {
        "identity": "job 7",
        "software": "gaugelink 0.0",
        "created": "2031-05-06T07:08:09.123+00:00",
    }


@pytest.mark.parametrize(
    "text", ["<a> & \"b\" 'c' ]]>", "two\nlines\tand a tab", "ø 11 µm 𝛿", "&amp;"]
)
def test_any_text_comes_back(text: str) -> None:
    figure = dataclasses.replace(EVEN, label=text)
    document = written(result_of(figure), identity=text)
    root = ET.fromstring(document)
    assert root.get("identity") == text
    assert root.findtext(f".//{SI}label") == text
    assert document.isascii()


@pytest.mark.parametrize("text", ["a\x00b", "a\x1bb", "a\ud800b", "a\uffffb"])
def test_a_character_that_xml_forbids_is_replaced(text: str) -> None:
    root = ET.fromstring(written(result_of(dataclasses.replace(EVEN, label=text)), identity=text))
    assert root.get("identity") == root.findtext(f".//{SI}label") == "a\N{REPLACEMENT CHARACTER}b"


def test_the_same_result_gives_the_same_document() -> None:
    first, second = sized("both springs"), sized.__wrapped__("both springs")
    assert first is not second
    assert written(first) == written(second)


@pytest.mark.parametrize("name", ["value", "u", "low", "high"])
@pytest.mark.parametrize("number", [math.inf, math.nan])
def test_a_number_that_is_not_finite_is_refused(name: str, number: float) -> None:
    with pytest.raises(SizingError, match="bore is not finite") as caught:
        written(result_of(dataclasses.replace(EVEN, **{name: number})))
    assert caught.value.inputs == ("bore",)
    assert caught.value.hint


def test_a_unit_without_a_name_is_refused() -> None:
    with pytest.raises(ValueError, match="furlong"):
        dsi_unit("furlong")
