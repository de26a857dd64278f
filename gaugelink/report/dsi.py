"""A sizing result as D-SI XML, the Digital-SI format for measured values.

Every figure is one ``si:real`` of the D-SI schema, version 2.2: label, value, unit and,
unless it is exact, its uncertainty. D-SI is made to stand inside other documents and
has no root of its own; the root here, ``sizing``, only groups the figures and says
whose they are. The format defines no JSON form; ``contract.size_json`` is ours.

An uncertainty takes one of the two forms of ``si:measurementUncertaintyUnivariate``:

- ``si:expandedMU``, the half width U of the coverage interval with k = U / u, where the
  interval lies as evenly about the value as two digits of U can tell;
- ``si:coverageIntervalMU``, u and both ends, where it lies lopsided, or where U / u is
  below 1, which D-SI does not allow as a coverage factor.

No distribution is named, since that of a Monte Carlo result has no name. Degrees of
freedom have no place in D-SI. Bands by judgement and distances are not measured values with
a coverage interval and are left out.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping
from dataclasses import fields, is_dataclass, replace
from itertools import chain
from xml.etree import ElementTree as ET

from gaugelink.errors import SizingError
from gaugelink.report.table import decimals_for
from gaugelink.sizing.results import SizeResult
from gaugelink.uncertainty.estimate import Estimate

DSI_NAMESPACE = "https://ptb.de/si"
SIZING_NAMESPACE = "urn:gaugelink:sizing:1"

_DSI_SCHEMA = "https://www.ptb.de/si/v2.2.0/SI_Format.xsd"
_NAMESPACES = {
    "xmlns": SIZING_NAMESPACE,
    "xmlns:si": DSI_NAMESPACE,
    "xmlns:xsi": "http://www.w3.org/2001/XMLSchema-instance",
    "xsi:schemaLocation": f"{DSI_NAMESPACE} {_DSI_SCHEMA}",
}
_UNITS = {
    "1": r"\one",
    "mm": r"\milli\metre",
    "h": r"\hour",
    "N mm": r"\newton\milli\metre",
    "mJ": r"\milli\joule",
    "MPa": r"\mega\pascal",
    "GPa": r"\giga\pascal",
    "g/cm^3": r"\mega\gram\metre\tothe{-3}",  # the same; D-SI has no gram without prefix
}
_NO_SOURCE = "no source"
_EXACT = 1e-9  # relative: what is narrower is rounding noise
# All but the characters of XML 1.0, 2.2; even escaped, the others may not be written.
_NO_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def dsi_xml(result: SizeResult, *, created_utc: str, software: str, identity: str) -> str:
    """Return a sizing result as an XML document of D-SI values, in ASCII characters.

    Numbers are written so that they read back without loss. Where ``si:expandedMU``
    is given, value +- U gives the ends of the interval to within half a unit of the
    second digit of U, the numerical tolerance of JCGM 101:2008, 7.9.2. A label
    that occurs in two groups is the same quantity with the same numbers.

    Args:
        result: what to write.
        created_utc: date and time of the document, ISO 8601 with offset.
        software: name and version of the program.
        identity: what was sized, such as a job number and title.

    Raises:
        SizingError: a number of the result is not finite.
        ValueError: a unit has no D-SI name here.
    """
    head = {"identity": identity, "software": software, "created": created_utc}
    root = ET.Element("sizing", _NAMESPACES | _writable(head))
    for name, basis, estimates in _groups(result):
        group = ET.SubElement(root, "group", _writable({"name": name} | basis))
        told = [_told(estimate, basis.get("basis", "")) for estimate in estimates]
        group.extend([_real(estimate, result.coverage) for estimate in told])
    ET.indent(root)
    return f'<?xml version="1.0"?>\n{ET.tostring(root, encoding="us-ascii").decode("ascii")}\n'


def dsi_unit(unit: str) -> str:
    r"""Return the D-SI name of a unit, such as ``\milli\metre`` for "mm"."""
    if unit not in _UNITS:
        raise ValueError(f"no D-SI name is known for the unit {unit!r}")
    return _UNITS[unit]


def _groups(result: SizeResult) -> Iterator[tuple[str, dict[str, str], list[Estimate]]]:
    """A group for each rule, and for each other field of the result that holds estimates."""
    for field in fields(result):
        part = getattr(result, field.name)
        if field.name == "order_figures":
            continue  # nominal sizes, and what the recommendation says of them
        if field.name == "rules":
            for rule in result.rules:
                yield rule.rule, {"basis": rule.basis}, list(_estimates(rule))
        elif estimates := list(_estimates(part)):
            yield field.name, {}, estimates


def _told(estimate: Estimate, basis: str) -> Estimate:
    """Say in the label, all that a reader of D-SI sees of a rule, that it has no source."""
    if _NO_SOURCE not in basis:
        return estimate
    return replace(estimate, label=f"{estimate.label} ({_NO_SOURCE})")


def _estimates(part: object) -> Iterator[Estimate]:
    if isinstance(part, Estimate):
        yield part
    elif isinstance(part, tuple):
        yield from chain.from_iterable(map(_estimates, part))
    elif is_dataclass(part):
        for field in fields(part):
            yield from _estimates(getattr(part, field.name))


def _real(estimate: Estimate, coverage: float) -> ET.Element:
    numbers = (estimate.value, estimate.u, estimate.low, estimate.high)
    if not all(map(math.isfinite, numbers)):
        raise SizingError(
            f"{estimate.label} is not finite and cannot be written as D-SI.",
            inputs=(estimate.label,),
            hint="Check the values that were given.",
        )
    real = ET.Element("si:real")
    _leaf(real, "label", _clean(estimate.label))
    _leaf(real, "value", _digits(estimate.value))
    _leaf(real, "unit", dsi_unit(estimate.unit))
    if not _is_exact(estimate):
        _add_uncertainty(real, estimate, coverage)
    return real


def _add_uncertainty(real: ET.Element, estimate: Estimate, coverage: float) -> None:
    univariate = ET.SubElement(real, "si:measurementUncertaintyUnivariate")
    if _is_even(estimate):
        form = ET.SubElement(univariate, "si:expandedMU")
        _leaf(form, "valueExpandedMU", _digits(_half(estimate)))
        _leaf(form, "coverageFactor", _digits(_half(estimate) / estimate.u))
    else:
        form = ET.SubElement(univariate, "si:coverageIntervalMU")
        _leaf(form, "valueStandardMU", _digits(estimate.u))
        _leaf(form, "intervalMin", _digits(estimate.low))
        _leaf(form, "intervalMax", _digits(estimate.high))
    _leaf(form, "coverageProbability", _digits(coverage))


def _half(estimate: Estimate) -> float:
    return (estimate.high - estimate.low) / 2


def _is_exact(estimate: Estimate) -> bool:
    return max(estimate.u, _half(estimate)) <= _EXACT * abs(estimate.value)


def _is_even(estimate: Estimate) -> bool:
    """Whether value +- U represents the interval, with a coverage factor of 1 or more."""
    half = _half(estimate)
    shift = abs((estimate.low + estimate.high) / 2 - estimate.value)
    return half >= estimate.u > 0 and shift <= 0.5 * 10.0 ** -decimals_for(half)


def _leaf(parent: ET.Element, name: str, text: str) -> None:
    ET.SubElement(parent, f"si:{name}").text = text


def _digits(number: float) -> str:
    return repr(float(number))


def _writable(attributes: Mapping[str, str]) -> dict[str, str]:
    return {name: _clean(text) for name, text in attributes.items()}


def _clean(text: str) -> str:
    return _NO_XML.sub("\N{REPLACEMENT CHARACTER}", text)
