"""What is typed about a gauge: settings of its record, points of its certificate, known lengths."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any

from gaugelink.errors import InputError
from gaugelink.gauge_check import KNOWN_LENGTH_U_MM, KnownLength, Standard
from gaugelink.gauge_record import (
    CHECK_INTERVAL_DAYS,
    Anvils,
    CertificatePoint,
    Face,
    GaugeRecord,
    JawFlats,
)
from gaugelink.quantities import parse_length

# Flats and gap are measured with a caliper or a loupe: common practice.
JAW_FLATS_U_MM = 0.02
_DAYS = re.compile(r"[1-9]\d{0,3}", re.ASCII)


def changed(record: GaugeRecord, settings: Sequence[str], points: Sequence[str]) -> GaugeRecord:
    """Return a record with what was typed as ``name=value``; an empty value takes it back.

    Args:
        record: the record before.
        settings: each ``name=value``.
        points: each ``SIZE CORRECTION U [K]`` in mm; any of them make a new certificate.

    Raises:
        InputError: an unknown name, or a value that cannot be.
    """
    known = _settings()
    for setting in settings:
        name, equals, value = (part.strip() for part in setting.partition("="))
        if name not in known:
            raise InputError(
                f"{name!r} is not a field of a gauge's record.",
                hint=f"Type NAME=VALUE; names are {', '.join(known)}.",
            )
        if not equals:
            raise InputError(
                f"{name} has no value.",
                hint=f"Type it like {name}=0.02, or {name}= to take it back.",
            )
        field, of_text, unset = known[name]
        record = replace(record, **{field: of_text(value, name) if value else unset})
    if points:
        in_order = sorted(map(_point, points), key=lambda point: point.size_mm)
        record = replace(record, certificate=tuple(in_order))
    return record


def known_lengths(typed: Sequence[tuple[str, str]]) -> tuple[KnownLength, ...]:
    """Return the known lengths of what holds each; what follows ``+-`` is a standard uncertainty.

    Raises:
        InputError: not a length, or not above zero.
    """
    lengths = [
        (Standard(held_by), parse_length(text, f"known {held_by}")) for held_by, text in typed
    ]
    return tuple(
        KnownLength(
            value_mm=each.value_mm,
            u_mm=KNOWN_LENGTH_U_MM if each.u_mm is None else each.u_mm,
            standard=standard,
        )
        for standard, each in lengths
    )


def _length_mm(text: str, name: str) -> float:
    typed = parse_length(text, name)
    if typed.u_mm is not None:
        raise InputError(
            f"{name}: {text!r} must not have an uncertainty.", hint="Type the number alone."
        )
    return typed.value_mm


def _jaw_flats(text: str, name: str) -> JawFlats:
    typed = parse_length(text, name)
    u_mm = JAW_FLATS_U_MM if typed.u_mm is None else typed.u_mm
    return JawFlats(width_mm=typed.value_mm, u_mm=u_mm)


def _anvils(text: str, name: str) -> Anvils:
    if text not in list(Anvils):
        raise InputError(
            f"{name}: {text!r} is not a shape of anvils.", hint=f"It is {' or '.join(Anvils)}."
        )
    return Anvils(text)


def _faces(text: str, name: str) -> tuple[Face, ...]:
    words = text.replace(",", " ").split()
    if not set(words) <= set(Face):
        raise InputError(
            f"{name}: {text!r} names no faces.", hint=f"They are {', '.join(Face)}, one or more."
        )
    return tuple(face for face in Face if face in words)


def _days(text: str, name: str) -> int:
    if not _DAYS.fullmatch(text):
        raise InputError(
            f"{name}: {text!r} is not a number of days.", hint="Type it like 365, 1 to 9999."
        )
    return int(text)


def _text(text: str, name: str) -> str:
    return text


def _no_certificate(text: str, name: str) -> Any:
    raise InputError(
        f"{name}: {text!r} cannot be set like this.",
        hint='Give each point as --point "25 -0.004 0.008 2"; certificate= takes all back.',
    )


# By name: the field, what makes it of a text, and what it is when nothing is known.
def _settings() -> Mapping[str, tuple[str, Callable[[str, str], Any], Any]]:
    return {
        "mpe_mm": ("mpe_mm", _length_mm, None),
        "shift_mpe_mm": ("shift_mpe_mm", _length_mm, None),
        "mpe_source": ("mpe_source", _text, ""),
        "serial": ("serial", _text, ""),
        "resolution_mm": ("resolution_mm", _length_mm, None),
        "jaw_flats_mm": ("jaw_flats", _jaw_flats, None),
        "anvils": ("anvils", _anvils, None),
        "interval_days": ("check_interval_days", _days, CHECK_INTERVAL_DAYS),
        "certificate": ("certificate", _no_certificate, ()),
        "correct": ("corrected", _faces, ()),
    }


def _point(text: str) -> CertificatePoint:
    numbers = [_length_mm(part, "certificate point") for part in text.split()]
    if len(numbers) not in (3, 4):
        raise InputError(
            f"{text!r} is not a point of a certificate.",
            hint='Type size, correction, U and, if it is not 2, k: "25 -0.004 0.008 2".',
        )
    size_mm, correction_mm, expanded_u_mm, *k = numbers
    if k and k[0] <= 0.0:
        raise InputError(
            f"{text!r}: k cannot be {k[0]:g}.", hint="It is above zero; left out, it is 2."
        )
    return CertificatePoint(
        size_mm=size_mm,
        correction_mm=correction_mm,
        expanded_u_mm=expanded_u_mm,
        k=k[0] if k else 2.0,
    )
