"""D-SI output against its syntax as remembered, and that against what PTB publishes.

The published schema is not here: this is no validation against it.

``fixtures/dsi/SOURCES.md`` says what each file is and where it comes from.
"""

from __future__ import annotations

import functools
import json
import re
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest
import xmlschema
from dsi_results import CASES, SI, estimate, reals, result_of, sized
from dsi_unit import DsiUnit, dsi_re

from gaugelink.report.dsi import dsi_unit

FIXTURES = Path(__file__).parents[2] / "fixtures" / "dsi"
XS = "{http://www.w3.org/2001/XMLSchema}"
PYTHON_TYPES = {"string": "str", "double": "float", "integer": "int"}
PYTHON_TYPES |= {"dateTime": "datetime.datetime"}

EXPANDED = (
    "<si:measurementUncertaintyUnivariate><si:expandedMU>"
    "<si:valueExpandedMU>0.02</si:valueExpandedMU><si:coverageFactor>2</si:coverageFactor>"
    "<si:coverageProbability>0.95</si:coverageProbability>"
    "</si:expandedMU></si:measurementUncertaintyUnivariate>"
)
REAL = (
    '<si:real xmlns:si="https://ptb.de/si"><si:label>bore</si:label><si:value>11.02</si:value>'
    rf"<si:unit>\milli\metre</si:unit>{EXPANDED}</si:real>"
)


@functools.cache
def schema() -> xmlschema.XMLSchema:
    return xmlschema.XMLSchema(str(FIXTURES / "si_real_from_memory.xsd"))


def published_samples() -> ET.Element:
    return ET.parse(FIXTURES / "published_samples.xml").getroot()


@pytest.mark.parametrize("coverage", [0.5, 0.95])
@pytest.mark.parametrize("case", CASES)
def test_every_figure_keeps_the_syntax_as_remembered(case: str, coverage: float) -> None:
    figures = reals(sized(case, coverage))
    assert figures
    for real in figures:
        schema().validate(real)


@pytest.mark.parametrize(
    "figure",
    [
        estimate(1e-05, 2e-07, 9.6e-06, 1.04e-05),
        estimate(-1.5e22, 1e20, -1.6e22, -1.3e22),
        estimate(3, 0, 3, 3),
        estimate(0.0, 0.0, -1e-300, 1e-300),
        estimate(-0.0, 5e-324, -1e-323, 1e-323),
    ],
    ids=lambda e: repr(e.value),
)
def test_a_number_of_any_size_is_valid(figure) -> None:
    (real,) = reals(result_of(figure))
    schema().validate(real)


@pytest.mark.parametrize(
    ("there", "instead"),
    [
        ("<si:label>bore</si:label><si:value>11.02</si:value>",
         "<si:value>11.02</si:value><si:label>bore</si:label>"),
        (r"<si:unit>\milli\metre</si:unit>", ""),
        (r"<si:unit>\milli\metre</si:unit>", "<si:unit>mm</si:unit>"),
        ("<si:value>11.02</si:value>", "<si:value>NaN</si:value>"),
        ("<si:value>11.02</si:value>", "<si:value>11,02</si:value>"),
        (">0.02<", ">-0.02<"),
        (">0.95<", ">95<"),
        ("Factor>2<", "Factor>0.98<"),
        ("<si:coverageProbability>0.95</si:coverageProbability>", ""),
        (EXPANDED, EXPANDED + EXPANDED),
        ("expandedMU>", "extendedMU>"),
    ],
)  # fmt: skip
def test_the_rules_refuse(there: str, instead: str) -> None:
    schema().validate(ET.fromstring(REAL))
    assert there in REAL
    assert not schema().is_valid(ET.fromstring(REAL.replace(there, instead)))


def test_published_figures_are_valid_by_these_rules() -> None:
    samples = published_samples().findall(f"{SI}real")
    assert len(samples) == 4
    for real in samples:
        schema().validate(real)


def test_the_rules_have_the_order_of_a_published_uncertainty() -> None:
    (listed,) = published_samples().iter(f"{SI}expandedUncXMLList")
    published = [leaf.tag.removeprefix(SI).removesuffix("XMLList") for leaf in listed]
    ours = [element.local_name for element in schema().types["expandedUncType"].content]
    assert ours == published


def test_the_rules_have_the_names_types_and_order_of_the_published_schema() -> None:
    """The published list goes by first place in the schema, and so does this one."""
    published = json.loads((FIXTURES / "published_elements.json").read_text("utf-8"))["elements"]
    ours: dict[str, str] = {}
    for element in ET.parse(FIXTURES / "si_real_from_memory.xsd").iter(f"{XS}element"):
        declared = element.get("type", "").partition(":")
        kind = declared[2] if declared[0] == "xs" else base_type(declared[2])
        if kind:
            ours.setdefault(element.get("name", ""), PYTHON_TYPES[kind])
    assert list(ours.items()) == [(p["name"], p["type"]) for p in published[: len(ours)]]
    assert list(ours)[-1] == "standardUnc"  # the last that a real quantity may have


def base_type(name: str) -> str:
    """The built-in type that a simple type of the rules comes down to, "" if complex."""
    kind = schema().types[name]
    return kind.root_type.local_name if kind.is_simple() else ""


UNITS = [
    ("1", r"\one", 1.0),
    ("mm", r"\metre", 1e-3),
    ("h", r"\second", 3600.0),
    ("N mm", r"\joule", 1e-3),
    ("mJ", r"\joule", 1e-3),
    ("MPa", r"\pascal", 1e6),
    ("GPa", r"\pascal", 1e9),
    ("g/cm^3", r"\kilogram\metre\tothe{-3}", 1e3),
]


@pytest.mark.filterwarnings("ignore:The dsi string contains the token")  # its own inner use
@pytest.mark.parametrize(("unit", "base", "scale"), UNITS)
def test_a_unit_means_the_same_to_the_reference_library(unit, base, scale) -> None:
    reference = DsiUnit(dsi_unit(unit))
    assert reference.valid
    assert DsiUnit(base).get_scale_factor(reference) == pytest.approx(scale, rel=1e-12)


def test_every_unit_written_is_of_the_published_pattern() -> None:
    # The pattern of units of D-SI 2.2.0, as PTB's dsiUnits makes it.
    written = {real.findtext(f"{SI}unit", "") for real in reals(sized("both springs"))}
    assert {r"\milli\metre", r"\hour", r"\one"} <= written
    assert all(re.fullmatch(dsi_re.DSI_UNIT_REGEX, unit) for unit in written)
    assert all(re.fullmatch(dsi_re.DSI_UNIT_REGEX, dsi_unit(unit)) for unit, *_ in UNITS)
    assert not re.fullmatch(dsi_re.DSI_UNIT_REGEX, "mm")
