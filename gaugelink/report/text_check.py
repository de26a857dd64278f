"""Gauge records and checks as text: what was found, what is known, what is assumed."""

from __future__ import annotations

from collections.abc import Iterator

from gaugelink.gauge_check import GUARD_FACTOR, USUAL_CG
from gaugelink.gauge_record import (
    CheckVerdict,
    Face,
    GaugeCheck,
    GaugeRecord,
    LengthFound,
    in_words,
)
from gaugelink.model import GaugeKind
from gaugelink.report.json_records import ShownGauge
from gaugelink.report.table import decimals_for, one_line, table, wrapped
from gaugelink.uncertainty.measurand_model import MOST_READ_HIGH_MM, WIDEST_ASSUMED_MM

_RULE = (
    f"A gauge passes where |bias| + g is within its limit, and fails where |bias| - g is beyond "
    f"it; g = {GUARD_FACTOR:g} u (ISO 14253-1)."
)
_FACE_ROWS = {
    Face.OUTSIDE: "outside faces",
    Face.INSIDE: "inside faces",
    Face.DEPTH: "depth rod",
}
_SAID = {
    CheckVerdict.PASS: "PASS",
    CheckVerdict.FAIL: "FAIL",
    CheckVerdict.UNDECIDED: "UNDECIDED: the check is not fine enough to tell",
}


def check_text(check: GaugeCheck) -> str:
    """Render a check: zeros, one line a known length, verdict, capability."""
    zero = check.zero
    header = ("", "n", "bias mm", "u mm", "s mm", "limit mm", "g mm", "")
    bias, scatter = f"{zero.mean_mm:+.4f}", f"{zero.std_mm:.4f}"
    rows: list[tuple[str, ...]] = [("zero", str(zero.n), bias, "", scatter, "", "", "")]
    rows += [_length_row(each) for each in check.lengths]
    lines = [
        f"CHECK of {one_line(check.checked_utc[:10])}, readings in job {check.job_id}",
        table(header, rows),
        f"  zero at the end {zero.drift_mm:+.4f} mm from the others",
        *(_capability(each) for each in check.lengths),
        wrapped(_RULE),
        f"  {_SAID[check.verdict]} ({check.faces_in_words})",
    ]
    return "\n".join(lines)


def gauge_text(shown: ShownGauge) -> str:
    """Render a record: every setting, stated or assumed, and its checks."""
    record = shown.record
    rows = [*_settings(shown), *_faces(record), *_checks(shown)]
    width = max(len(name) for name, _ in rows)
    lines = [one_line(f"{str(record.kind).upper()}  {record.gauge_id}")]
    lines += [wrapped(value, lead=f"  {name:{width}}  ") or f"  {name}" for name, value in rows]
    lines += [wrapped(each.text, lead="  ! ") for each in shown.advice]
    return "\n".join(lines)


def _length_name(found: LengthFound) -> str:
    where = "" if found.face is Face.OUTSIDE else f" {in_words(found.face)}"
    return f"{found.known_mm:.7g} mm{where}"


def _length_row(found: LengthFound) -> tuple[str, ...]:
    return (
        _length_name(found),
        str(found.n),
        f"{found.bias_mm:+.4f}",
        f"{found.u_bias_mm:.4f}",
        f"{found.std_mm:.4f}",
        f"±{found.mpe_mm:g}",
        f"{found.guard_mm:.4f}",
        str(found.verdict),
    )


def _capability(found: LengthFound) -> str:
    where = f"  at {found.known_mm:.7g} mm, for a tolerance of {found.tolerance_mm:g} mm:"
    if found.cg is None or found.cgk is None:
        return f"{where} Cg is not defined, all readings were equal"
    return f"{where} Cg {found.cg:.2f}, Cgk {found.cgk:.2f} ({USUAL_CG:g} is usual)"


def _settings(shown: ShownGauge) -> Iterator[tuple[str, str]]:
    record = shown.record
    if record.serial:
        yield "serial number", record.serial
    yield "limit outside", f"±{shown.mpe_mm:g} mm"
    yield "more inside and in depth", f"±{shown.shift_mpe_mm:g} mm"
    yield "these limits", shown.mpe_source
    step_mm = record.resolution_mm
    yield "digital step", "as it shows" if step_mm is None else f"{step_mm:g} mm"
    yield "inside jaw flats and gap", _flats(record)
    yield "anvils", _anvils(record)
    yield "certificate", "" if record.certificate else "none"
    for point in record.certificate:
        u = f"U {point.expanded_u_mm:g} mm, k = {point.k:g}"
        yield f"  at {point.size_mm:g} mm", f"correction {point.correction_mm:+g} mm, {u}"


def _faces(record: GaugeRecord) -> Iterator[tuple[str, str]]:
    """How each pair of faces came out, and what may be done about its bias."""
    for face in Face if record.kind is GaugeKind.CALIPER else [Face.OUTSIDE]:
        yield _FACE_ROWS[face], _state(record, face)


def _state(record: GaugeRecord, face: Face) -> str:
    failed = [each for each in record.failed_lengths if each.face is face]
    if failed:
        return f"failed, and taken to be off by up to {record.failed_reach_mm(face):.3f} mm"
    if not record.unchecked([face]) and not record.passed(face):
        return "undecided"
    if not record.passed(face):
        return "never checked"
    found = record.passed(face)[0]
    said = f"passed, {found.bias_mm:+.4f} mm off at {found.known_mm:.7g} mm"
    if face in record.corrected:
        return f"{said}, and corrected by that"
    all_of = ",".join(each for each in Face if each is face or each in record.corrected)
    return f"{said}; --set correct={all_of} takes that off what they read"


def _checks(shown: ShownGauge) -> Iterator[tuple[str, str]]:
    yield "a check is due every", f"{shown.record.check_interval_days} days"
    for check in shown.record.checks:
        lengths = ", ".join(map(_length_name, check.lengths))
        usual = {shown.mpe_mm, shown.mpe_mm + shown.shift_mpe_mm}
        other = sorted({each.mpe_mm for each in check.lengths} - usual)
        limits = "".join(f", limit ±{each:g} mm" for each in other)
        yield f"checked {check.checked_utc[:10]}", f"{check.verdict} at {lengths}{limits}"


def _flats(record: GaugeRecord) -> str:
    flats = record.jaw_flats
    if flats is None:
        return f"0 to {WIDEST_ASSUMED_MM:g} mm assumed"
    places = decimals_for(flats.u_mm)
    return f"{flats.width_mm:.{places}f} mm, u {flats.u_mm:.{places}f} mm"


def _anvils(record: GaugeRecord) -> str:
    if record.anvils is None:
        return "flat assumed"
    most_um = 1000.0 * MOST_READ_HIGH_MM[record.anvils]
    return f"{record.anvils}; a spring reads 0 to {most_um:g} um high"
