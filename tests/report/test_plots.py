"""The drawings of a sizing: what they show, read back from the markup and the text."""

from __future__ import annotations

import functools
import re
from itertools import pairwise
from typing import Any
from xml.etree import ElementTree as ET

import pytest
from size_cases import CASES

from gaugelink.report.plots import drawn_svg, drawn_text
from gaugelink.report.table import WIDTH
from gaugelink.sizing.covered import covered
from gaugelink.sizing.inputs import SizingInputs
from gaugelink.sizing.results import SizeResult
from gaugelink.sizing.size_spring import size_spring

SVG = "{http://www.w3.org/2000/svg}"


@functools.cache
def sized(case: str) -> tuple[SizingInputs, SizeResult]:
    inputs = covered(CASES[case]).inputs
    return inputs, size_spring(inputs, draws=2_000)


def parsed(case: str) -> ET.Element:
    return ET.fromstring(drawn_svg(*sized(case)))


def held(root: ET.Element, name: str) -> list[float]:
    return [float(e.attrib[name]) for e in root.iter() if name in e.attrib]


@pytest.mark.parametrize("case", CASES)
def test_every_sizing_can_be_drawn(case: str) -> None:
    root = parsed(case)
    bore = sized(case)[1].inputs[0].value
    assert any(mm == pytest.approx(bore, abs=1e-3) for mm in held(root, "data-mm"))
    ids = [e.attrib["id"] for e in root.iter() if "id" in e.attrib]
    assert len(ids) == len(set(ids))
    for columns in drawn_text(*sized(case), ascii_only=True).splitlines():
        assert len(columns) <= WIDTH
        assert columns.isascii()


@pytest.mark.parametrize(
    ("case", "has_curve"),
    [
        ("both springs", True),
        ("a whole watch", True),
        ("a fusee", True),
        ("bore alone", False),  # no height, so no torque
    ],
)
def test_a_torque_curve_is_drawn_where_there_is_a_torque(case: str, has_curve: bool) -> None:
    assert bool(held(parsed(case), "data-px-per-nmm")) is has_curve
    assert ("torque in N mm" in drawn_text(*sized(case), ascii_only=True)) is has_curve


def test_the_curve_stops_where_the_usable_turns_end() -> None:
    inputs, result = sized("both springs")
    assert result.order_figures is not None
    turns = result.order_figures.turns_usable
    assert turns is not None
    text = drawn_text(inputs, result, ascii_only=True)
    assert f"size to order, ends at {turns.value:.1f} turns" in text
    assert "found spring, ends at" in text


def test_a_stopwork_ends_the_curve() -> None:
    assert re.search(r"ends at 4\.0 turns", drawn_text(*sized("a whole watch"), ascii_only=True))


def test_drawings_stand_below_one_another_and_do_not_overlap() -> None:
    root = parsed("both springs")
    parts = root.findall(f"{SVG}svg")
    assert len(parts) == 3

    def box(part: ET.Element) -> tuple[float, float]:
        top = float(part.attrib["y"])
        return top, top + float(part.attrib["height"])

    boxes = [box(part) for part in parts]
    assert boxes[0][0] == 0.0
    assert all(above[1] < below[0] for above, below in pairwise(boxes))
    assert boxes[-1][1] == pytest.approx(float(root.attrib["height"]))


def test_an_assumed_arbor_is_said_to_be_assumed() -> None:
    said: dict[str, Any] = {case: drawn_svg(*sized(case)) for case in ("bore alone", "a fusee")}
    assert "assumed" in said["bore alone"]
    assert "assumed" not in said["a fusee"]
