"""What is known of one gauge: its limits, its certificate, its faces, and how its checks came out.

A record belongs to the identity of a gauge and outlives the jobs. What it leaves open
is taken from stated defaults, each under a label of its own in the budget. A check that
failed, or is overdue, is said in every result that used the gauge.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from itertools import pairwise

from gaugelink.errors import InputError
from gaugelink.model import Advice, GaugeInfo, GaugeKind

CHECK_INTERVAL_DAYS = 365  # common practice
RECORD_SOURCE = "stated in the gauge's record"
OVERDUE, FAILED, NEVER = "gauge-check-overdue", "gauge-check-failed", "gauge-never-checked"
CORRECTED = "gauge-corrected"
_MOST_OF_A_SOURCE = 40  # characters; what somebody typed may go on without a comma
_SAME_LENGTH_MM = 0.01  # two checks within this were made on one known length


class Anvils(StrEnum):
    """The faces that touch a spring: flat ones bridge its hollow, small balls do not."""

    FLAT = "flat"
    BALL = "ball"


class Face(StrEnum):
    """Which measuring faces of the gauge touched the part."""

    OUTSIDE = "outside"
    INSIDE = "inside"
    DEPTH = "depth"


class CheckVerdict(StrEnum):
    """What a check proves about a gauge and its limit, in order of alarm."""

    PASS = "pass"
    UNDECIDED = "undecided"
    FAIL = "fail"


@dataclass(frozen=True, slots=True, kw_only=True)
class CertificatePoint:
    """One line of a calibration certificate; lengths in mm.

    ``correction_mm`` is what to add to the indication at ``size_mm``, the negative of
    the error of indication; ``expanded_u_mm`` is U, stated with coverage factor ``k``.
    """

    size_mm: float
    correction_mm: float
    expanded_u_mm: float
    k: float = 2.0

    def __post_init__(self) -> None:
        _require(self.size_mm >= 0.0, "The size of a certificate point", self.size_mm)
        _require(math.isfinite(self.correction_mm), "A correction", self.correction_mm)
        _require(self.expanded_u_mm >= 0.0, "An expanded uncertainty", self.expanded_u_mm)
        _require(self.k > 0.0, "A coverage factor", self.k)

    @property
    def u_mm(self) -> float:
        """The standard uncertainty U / k, GUM 4.3.3."""
        return self.expanded_u_mm / self.k


@dataclass(frozen=True, slots=True, kw_only=True)
class JawFlats:
    """Both flats of the inside jaws and the gap between them, together, in mm.

    This is how far apart, sideways, the two edges are that touch a bore.
    """

    width_mm: float
    u_mm: float

    def __post_init__(self) -> None:
        _require(self.width_mm >= 0.0, "The width of jaw flats", self.width_mm)
        _require(self.u_mm >= 0.0, "A standard uncertainty", self.u_mm)


@dataclass(frozen=True, slots=True, kw_only=True)
class Repeatability:
    """The scatter of one gauge on one place, a standard deviation in mm with its dof."""

    std_mm: float
    dof: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ZeroFound:
    """The zero indications of a check, in mm: several before the lengths, one after.

    ``drift_mm`` is the one after less the mean of those before; ``mean_mm`` lies midway
    between the two, as the zero of a job does. ``std_mm`` is the scatter of those before,
    with ``dof`` degrees of freedom.
    """

    n: int
    mean_mm: float
    std_mm: float
    dof: int
    drift_mm: float
    resolution_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LengthFound:
    """How a gauge read a known length with one pair of its faces; lengths in mm.

    ``bias_mm`` is mean indication less zero less what the known length shows between these
    faces, with its standard uncertainty; ``guard_mm`` the guard band by which their limit
    ``mpe_mm`` was narrowed. ``cg`` and ``cgk`` are None where all readings were equal.
    """

    known_mm: float
    u_known_mm: float
    n: int
    mean_mm: float
    std_mm: float
    bias_mm: float
    u_bias_mm: float
    mpe_mm: float
    guard_mm: float
    verdict: CheckVerdict
    tolerance_mm: float
    cg: float | None
    cgk: float | None
    face: Face = Face.OUTSIDE

    @property
    def reach_mm(self) -> float:
        """How far off these faces may read by this check: bias and guard band."""
        return abs(self.bias_mm) + self.guard_mm

    def is_as(self, other: LengthFound) -> bool:
        """Tell whether another check was made on the same length with the same faces."""
        apart_mm = abs(self.known_mm - other.known_mm)
        return self.face is other.face and apart_mm <= _SAME_LENGTH_MM


@dataclass(frozen=True, slots=True, kw_only=True)
class GaugeCheck:
    """One check: when, in which job its readings are, and what it found, a length at least."""

    checked_utc: str
    job_id: int
    zero: ZeroFound
    lengths: tuple[LengthFound, ...]

    def __post_init__(self) -> None:
        if not self.lengths:
            raise ValueError("a check without a known length checks nothing")

    @property
    def verdict(self) -> CheckVerdict:
        """The worst of all lengths."""
        return max((each.verdict for each in self.lengths), key=list(CheckVerdict).index)

    @property
    def faces_in_words(self) -> str:
        """Which faces it looked at, such as "outside, in depth"."""
        looked_at = {each.face for each in self.lengths}
        return ", ".join(in_words(face) for face in Face if face in looked_at)

    @property
    def repeatability(self) -> Repeatability:
        """The standard deviation pooled over the lengths: s_p^2 = sum(nu s^2) / sum(nu)."""
        dof = sum(each.n - 1 for each in self.lengths)
        squares = math.fsum((each.n - 1) * each.std_mm**2 for each in self.lengths)
        return Repeatability(std_mm=math.sqrt(squares / dof), dof=dof)


@dataclass(frozen=True, slots=True, kw_only=True)
class GaugeRecord:
    """What is known of a gauge beyond what it sends; None where nobody has said.

    Args:
        gauge_id: identity of the gauge.
        kind: what it is.
        resolution_mm: digital step, for a display whose last digit moves by more than one.
        mpe_mm: maximum permissible error of an outside measurement, a half-width.
        shift_mpe_mm: what inside jaws and depth rod may add, a half-width.
        mpe_source: where the two come from.
        certificate: points of a calibration certificate, in order of size.
        jaw_flats: flats and gap of the inside jaws.
        anvils: the faces that touch a spring; None counts as flat.
        check_interval_days: after how many days a check is due.
        serial: number on the gauge itself.
        corrected: faces whose bias, where a check was passed, is taken off what they read.
        checks: all checks, the newest first.
    """

    gauge_id: str
    kind: GaugeKind
    resolution_mm: float | None = None
    mpe_mm: float | None = None
    shift_mpe_mm: float | None = None
    mpe_source: str = ""
    certificate: tuple[CertificatePoint, ...] = ()
    jaw_flats: JawFlats | None = None
    anvils: Anvils | None = None
    check_interval_days: int = CHECK_INTERVAL_DAYS
    serial: str = ""
    corrected: tuple[Face, ...] = ()
    checks: tuple[GaugeCheck, ...] = ()

    def __post_init__(self) -> None:
        for name in ("resolution_mm", "mpe_mm", "shift_mpe_mm"):
            value = getattr(self, name)
            _require(value is None or value >= 0.0, name, value)
        _require(self.resolution_mm != 0.0, "resolution_mm", self.resolution_mm)
        _require(self.check_interval_days >= 1, "interval_days", self.check_interval_days)
        _require_rising([point.size_mm for point in self.certificate])

    @property
    def last_check(self) -> GaugeCheck | None:
        """The newest check."""
        return self.checks[0] if self.checks else None

    @property
    def is_trusted_unseen(self) -> bool:
        """Whether nobody checked it, and no certificate tells of it either."""
        return not (self.checks or self.certificate)

    @property
    def failed_lengths(self) -> tuple[LengthFound, ...]:
        """Known lengths at which the gauge failed the last time it was checked there."""
        seen: list[LengthFound] = []
        for found in (found for check in self.checks for found in check.lengths):
            if not any(found.is_as(other) for other in seen):
                seen.append(found)
        return tuple(found for found in seen if found.verdict is CheckVerdict.FAIL)

    def failed_reach_mm(self, face: Face) -> float:
        """Return how far off faces may read that failed and were not passed since, 0 if none."""
        return max((each.reach_mm for each in self.failed_lengths if each.face is face), default=0)

    def passed(self, face: Face) -> tuple[LengthFound, ...]:
        """Return the lengths that faces passed since they last failed one, the newest first."""
        passed: list[LengthFound] = []
        for check in self.checks:
            found = [each for each in check.lengths if each.face is face]
            if any(each.verdict is CheckVerdict.FAIL for each in found):
                break
            passed += [each for each in found if each.verdict is CheckVerdict.PASS]
        return tuple(passed)

    def correcting(self, face: Face, size_mm: float) -> LengthFound | None:
        """Return the check whose bias is taken off a size in mm: the nearest, else None."""
        if face not in self.corrected:
            return None
        return min(self.passed(face), key=lambda each: abs(each.known_mm - size_mm), default=None)

    def unchecked(self, faces: Iterable[Face]) -> tuple[Face, ...]:
        """Return those faces with which no known length was ever read."""
        checked = {found.face for check in self.checks for found in check.lengths}
        return tuple(face for face in faces if face not in checked)


def with_record(info: GaugeInfo, record: GaugeRecord | None) -> GaugeInfo:
    """Return a gauge with the limits that its record states in place of its own."""
    if record is None or (record.mpe_mm is None and record.shift_mpe_mm is None):
        return info
    mpe_mm, shift_mpe_mm = record.mpe_mm, record.shift_mpe_mm
    return replace(
        info,
        mpe_mm=info.mpe_mm if mpe_mm is None else mpe_mm,
        shift_mpe_mm=info.shift_mpe_mm if shift_mpe_mm is None else shift_mpe_mm,
        mpe_source=record.mpe_source or RECORD_SOURCE,
    )


def _require(is_possible: bool, what: str, value: float | None) -> None:
    if not is_possible or (value is not None and not math.isfinite(value)):
        raise InputError(
            f"{what} cannot be {value:g}.",
            hint="Lengths and uncertainties of a gauge's record are mm, and not below zero.",
        )


def _require_rising(sizes_mm: Sequence[float]) -> None:
    if any(b <= a for a, b in pairwise(sizes_mm)):
        raise InputError(
            "The points of a certificate are not in order of size, each size once.",
            hint="Give each point once, the smallest size first.",
        )


def gauge_advice(record: GaugeRecord, age_days: float | None) -> tuple[Advice, ...]:
    """Return what to say of a gauge in every result that used it; mostly nothing.

    A failure at one known length counts until the gauge passes, or is undecided, there.

    Args:
        record: what is known of the gauge.
        age_days: days since its last check; None when it was never checked, of which only
            the check of a gauge with a certificate is due: see ``never_checked``.
    """
    return (*_failed(record), *_overdue(record, age_days))


def _failed(record: GaugeRecord) -> Iterator[Advice]:
    for found in record.failed_lengths:
        yield Advice(
            code=FAILED,
            text=f"The {record.kind} {record.gauge_id} failed its check {where_checked(found)}: "
            f"it read {found.bias_mm:+.4f} mm off, its limit is ±{found.mpe_mm:g} mm. Until it "
            f"passes there, what these faces read is taken to be off by up to "
            f"{found.reach_mm:.3f} mm.",
        )


def where_checked(found: LengthFound) -> str:
    """Say at which length, and with which faces unless they are the outside ones."""
    at = f"at {found.known_mm:.7g} mm"
    return at if found.face is Face.OUTSIDE else f"{in_words(found.face)} {at}"


def in_words(face: Face) -> str:
    """Name the faces as one says where a gauge is off: outside, inside, in depth."""
    return "in depth" if face is Face.DEPTH else str(face)


def _overdue(record: GaugeRecord, age_days: float | None) -> Iterator[Advice]:
    every = record.check_interval_days
    if record.is_trusted_unseen:
        return
    if age_days is None:
        said = "has never been checked"
    elif age_days > every:
        said = f"was last checked {age_days:.0f} days ago"
    else:
        return
    yield Advice(
        code=OVERDUE,
        text=f"The {record.kind} {record.gauge_id} {said}; a check is due every {every} days.",
    )


def taken_to_keep(
    kind: GaugeKind, gauge_id: str, mpe_mm: float, mpe_source: str, faces: Sequence[Face] = ()
) -> str:
    """Name a gauge, or some faces of it, and the limit in mm that it is only taken to keep."""
    which = " and ".join(["", *map(in_words, faces)]).removeprefix(" and") if faces else ""
    return f"{kind} {gauge_id}{which}, taken to keep {limit_in_words(mpe_mm, mpe_source)}"


def limit_in_words(mpe_mm: float, mpe_source: str) -> str:
    """Say a limit of error in mm with its source, as short as that can be said.

    >>> limit_in_words(0.02, "DIN 862, digital caliper")
    'DIN 862, ±0.02 mm'
    """
    source = short_source(mpe_source)
    limit = f"±{mpe_mm:g} mm"
    return f"{limit}, {source}" if source.startswith("stated") else f"{source}, {limit}"


def short_source(mpe_source: str) -> str:
    """Return where a limit comes from, without what it holds for: up to the first comma."""
    return mpe_source.partition(",")[0].strip()[:_MOST_OF_A_SOURCE]


def correction_in_words(record: GaugeRecord, face: Face, found: LengthFound | None) -> str:
    """Say by how much what faces read is corrected, and by which check; None: by none."""
    what = f"What the {record.kind} {record.gauge_id} reads {in_words(face)} is"
    if found is None:
        return f"{what} not corrected: these faces passed no check since they last failed one."
    return f"{what} corrected by {-found.bias_mm:+.4f} mm, by its check at {found.known_mm:.7g} mm."


def never_checked(taken: Sequence[str]) -> tuple[Advice, ...]:
    """Say which gauges nobody checked; nothing where there are none.

    Args:
        taken: the gauges, each as ``taken_to_keep`` names it.
    """
    if not taken:
        return ()
    return (
        Advice(
            code=NEVER,
            text=f"Never checked: {'; '.join(taken)}. The 95 % is over gauges: one at its limit "
            "is off alike in every job.",
        ),
    )
