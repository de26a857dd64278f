"""The table of scenarios: what is wrong at a simulated bench, and how much.

All sizes are invented; the limits of error of the workshop gauges are the product's own.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from gaugelink.devices.registry import LIMITS
from gaugelink.model import GaugeInfo, GaugeKind, Sends


@dataclass(frozen=True, slots=True, kw_only=True)
class Gauge:
    """A caliper or micrometer on a simulated bench; lengths in mm.

    Args:
        kind: which of the two.
        step_mm: display step.
        mpe_mm: limit of its error in an outside measurement.
        shift_mpe_mm: what inside jaws and depth rod may add.
        calibrated: it has a record: a certificate in place of the MPE, the flats of its
            jaws or its ball anvils, and a check of its scatter on one place.
    """

    kind: GaugeKind
    step_mm: float
    mpe_mm: float
    shift_mpe_mm: float
    calibrated: bool = False

    @property
    def gauge_id(self) -> str:
        """Identity; a bench has one gauge of a kind."""
        return self.kind.value

    @property
    def info(self) -> GaugeInfo:
        """The gauge as the product knows it without a record."""
        return GaugeInfo(
            gauge_id=self.gauge_id,
            kind=self.kind,
            sends=Sends.BUTTON,
            address="sim:coverage",
            format="invented",
            mpe_mm=self.mpe_mm,
            shift_mpe_mm=self.shift_mpe_mm,
            mpe_source="invented",
        )


def _workshop(kind: GaugeKind, step_mm: float) -> Gauge:
    limits = LIMITS[kind]
    return Gauge(kind=kind, step_mm=step_mm, mpe_mm=limits.mpe_mm, shift_mpe_mm=limits.shift_mpe_mm)


CALIPER = _workshop(GaugeKind.CALIPER, 0.01)
MICROMETER = _workshop(GaugeKind.MICROMETER, 0.001)
FINE_CALIPER = replace(CALIPER, step_mm=0.001)
FINE_MICROMETER = replace(MICROMETER, step_mm=0.0001)
CALIBRATED_CALIPER = replace(FINE_CALIPER, shift_mpe_mm=0.001, calibrated=True)
CALIBRATED_MICROMETER = replace(FINE_MICROMETER, calibrated=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class Scenario:
    """One kind of bench.

    Args:
        name: what is special about it.
        n: readings asked for of each measurand.
        caliper: serves bore, depth and arbor.
        micrometer: serves lid and spring; None where the caliper serves them as well.
        step_per_scatter: least and most display step, in standard deviations of one
            reading; each measurand of each bench has its own scatter between them.
        outlier_share: probability that a reading is grossly wrong.
        out_of_round_mm: most that the largest and smallest diameter of the bore differ by.
        hub_rise_mm: most that the widths of the hub differ by; at 0 it is tried at one width.
        zero_drift_steps: standard deviation of the walk of the zero over the job, in steps.
        hand_mm: standard deviation of one reading, whatever the step; None draws it of the step.
        hand_at_zero: whether the closed faces scatter as the readings do, or not at all.
        missed_mm: mean of the exponential misses of a sweep: a bore reads short, an arbor large.
        with_arbor: whether the arbor is measured.
        as_asked: whether more readings are taken where the product says that they help.
    """

    name: str
    n: int = 5
    caliper: Gauge = CALIPER
    micrometer: Gauge | None = MICROMETER
    step_per_scatter: tuple[float, float] = (1.0, 3.0)
    outlier_share: float = 0.0
    out_of_round_mm: float = 0.0
    hub_rise_mm: float = 0.0
    zero_drift_steps: float = 0.0
    hand_mm: float | None = None
    hand_at_zero: bool = True
    missed_mm: float = 0.0
    with_arbor: bool = True
    as_asked: bool = False

    @property
    def gauges(self) -> tuple[Gauge, ...]:
        """The gauges on the bench."""
        return (self.caliper, self.micrometer) if self.micrometer else (self.caliper,)

    @property
    def is_clean(self) -> bool:
        """Whether no reading is grossly wrong."""
        return self.outlier_share == 0.0


READINGS = (3, 5, 8, 12)
HANDS_MM = (0.01, 0.02)


def _fine(n: int) -> Scenario:
    return Scenario(
        name=f"fine display, n = {n}",
        n=n,
        caliper=FINE_CALIPER,
        micrometer=FINE_MICROMETER,
        step_per_scatter=(0.1, 0.3),
    )


def _calibrated(n: int) -> Scenario:
    return replace(
        _fine(n),
        name=f"calibrated gauges, n = {n}",
        caliper=CALIBRATED_CALIPER,
        micrometer=CALIBRATED_MICROMETER,
    )


SCENARIOS = (
    *map(_fine, READINGS),
    *(Scenario(name=f"coarse display, n = {n}", n=n) for n in READINGS),
    *map(_calibrated, READINGS),
    Scenario(name="one gauge", micrometer=None),
    Scenario(name="no arbor", with_arbor=False),
    Scenario(name="bore out of round", out_of_round_mm=0.06),
    Scenario(name="snail-shaped hub", hub_rise_mm=0.4),
    Scenario(name="zero drifts", zero_drift_steps=2.0),
    Scenario(name="one gauge, no arbor", micrometer=None, with_arbor=False),
    replace(_calibrated(3), name="calibrated, as many as asked for", as_asked=True),
    *(
        Scenario(
            name=f"hand {hand_mm:g} mm, {where} zero",
            micrometer=None,
            hand_mm=hand_mm,
            hand_at_zero=where == "also at the",
        )
        for hand_mm in HANDS_MM
        for where in ("also at the", "not at the")
    ),
    *(
        Scenario(name=f"sweeps miss by {missed_mm:g} mm", missed_mm=missed_mm)
        for missed_mm in (0.01, 0.02)
    ),
    Scenario(
        name="fine display, n = 1",
        n=1,
        caliper=FINE_CALIPER,
        micrometer=None,
        hand_mm=0.0065,
    ),
    *(
        Scenario(name=f"{share:.0%} outliers, n = {n}", n=n, outlier_share=share)
        for share in (0.05, 0.10, 0.20)
        for n in READINGS
    ),
    *(
        replace(_calibrated(n), name=f"calibrated, 10% outliers, n = {n}", outlier_share=0.10)
        for n in READINGS
    ),
)


def scenario(name: str) -> Scenario:
    """Return the scenario of that name."""
    return next(each for each in SCENARIOS if each.name == name)
