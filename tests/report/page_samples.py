"""Contents of pages to render, look at and check: jobs of every awkward kind. All invented."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from decimal import Decimal

import pytest
from report_jobs import CALIPER, MICROMETER, taken

from gaugelink.assembly.job import Job
from gaugelink.capture.acts import ZERO, Act
from gaugelink.capture.plan import JobRecord, JobSetup, make_plan
from gaugelink.choosing.choice import Choice
from gaugelink.choosing.choose_spring import choose_spring
from gaugelink.choosing.state import ChoosingInputs
from gaugelink.jobbook.export import RecordIdentity
from gaugelink.jobbook.facts import (
    After,
    Amplitude,
    ChoiceVersion,
    Chosen,
    Fact,
    ForeseenSpan,
    JobReference,
    Lay,
    Movement,
    Particulars,
    Remark,
    StoredFact,
    WindState,
)
from gaugelink.mechanics.arrangement import Stopwork
from gaugelink.mechanics.motion import MeasuredAmplitude, Position, Wind
from gaugelink.model import DepthReference
from gaugelink.report.page_content import PageContent, Sizing
from gaugelink.sizing.inputs import GivenSpring, SizingInputs, given_spring, typed_input
from gaugelink.sizing.size_spring import size_spring
from gaugelink.stock.stock_spring import StockSpring

DRAWS = 4000
LONG = (
    "Grandmother's hunter, key-wound and later altered, from the drawer under the bench, with "
    "Donaudampfschifffahrtsgesellschaftskapitänswerkstattuhrenfedergehäusedeckelverschluss"
)
HOSTILE = "<script>alert('1')</script> & \"quotes\" </style> 🕰️ \x07\ud800 --><b>"
NOW = datetime(2026, 3, 2, 10, 30, tzinfo=UTC)


def acts(
    bore: Sequence[str] = ("11.52", "11.51", "11.22", "11.52", "11.53", "11.51", "11.52"),
    depth: Sequence[str] = ("1.92", "1.93", "1.92"),
    arbor: Sequence[str] = ("3.81", "3.80", "3.81"),
    lid: Sequence[str] = ("0.341", "0.342", "0.340"),
    thickness: Sequence[str] = ("0.131", "0.130", "0.132", "0.131", "0.130"),
    height: Sequence[str] = ("1.453", "1.452", "1.453"),
) -> tuple[Act, ...]:
    """The acts of a whole job; an empty list leaves a measurand out."""
    return (
        *taken(CALIPER, ZERO, "0.00"),
        *taken(CALIPER, "bore", *bore),
        *taken(CALIPER, "depth", *depth),
        *taken(CALIPER, "arbor", *arbor),
        *taken(CALIPER, ZERO, "0.01"),
        *taken(MICROMETER, ZERO, "0.001"),
        *taken(MICROMETER, "lid", *lid),
        *taken(MICROMETER, "found_thickness", *thickness),
        *taken(MICROMETER, "found_height", *height),
        *taken(MICROMETER, ZERO, "0.002"),
    )


def record(
    of: Sequence[Act],
    title: str = "bag 17",
    reference: DepthReference = DepthReference.RIM,
    *,
    closed: bool = True,
) -> JobRecord:
    return JobRecord(
        job_id=3,
        created_utc="2026-03-01T09:05:59.123+00:00",
        setup=JobSetup(title=title, plan=make_plan(reference)),
        gauges=(CALIPER, MICROMETER),
        acts=tuple(of),
        closed=closed,
    )


def barrel_of(job: JobRecord, documented: str = "", length: float | None = None) -> SizingInputs:
    """What the sizing takes from a job, with a documented size ``H T L`` and a found length."""
    known = dict(Job(job).quantities())
    if length is not None:
        known["found_length"] = typed_input("found.length", length)
    names = ("height", "thickness", "length")
    sizes = {
        name: typed_input(f"documented.{name}", float(text))
        for name, text in zip(names, documented.split(), strict=False)
    }
    return SizingInputs(
        bore=known["bore"],
        depth=known.get("depth"),
        lid=known.get("lid"),
        arbor=known.get("arbor"),
        depth_reference=job.setup.plan.depth_reference,
        found=given_spring("found", known),
        documented=GivenSpring(**sizes) if sizes else None,
        hours_per_turn=7.5,
    )


def spring(item: str, height: float, thickness: float, length: float) -> StockSpring:
    return StockSpring(
        item=item, height_mm=height, thickness_mm=thickness, length_mm=length, on_hand=2
    )


STOCK = tuple(
    spring(f"A{i:02}", 1.25 + 0.05 * (i % 6), 0.115 + 0.005 * (i % 7), 320.0 + 20 * (i % 5))
    for i in range(35)
)
FACTS: tuple[Fact, ...] = (
    Movement(text="13-line, key wind"),
    JobReference(text="ticket 204"),
    Particulars(workshop="Bench One", customer="Mrs Example", by="A. Hand", temperature_c=20.5),
    ChoiceVersion(
        result={
            "recommendation": {
                "text": "Take A17 (1.4 x 0.13 x 400 mm), cut to 360 mm",
                "order": {"height": 1.4, "thickness": 0.13, "length": 380},
                "take": {"item": "A17"},
                "rests_on": "the documented size; height from depth and lid.",
            }
        },
        software="0.0.9",
    ),
    Remark(text="The hook in the wall was dressed."),
    Chosen(
        item="A17",
        height_mm=1.4,
        thickness_mm=0.13,
        length_mm=360,
        cut_from_mm=400,
        end="hole",
        hours=ForeseenSpan(low=36, high=50),
        amplitude_deg=ForeseenSpan(low=250, high=290),
    ),
    After(
        hours_run=41,
        amplitudes=(
            Amplitude(deg=268, position=Lay.DIAL_UP, wind=WindState.WOUND),
            Amplitude(deg=241, position=Lay.DIAL_UP, wind=WindState.AFTER_24_H),
        ),
        noise="none",
    ),
)


def content(
    job: JobRecord,
    inputs: SizingInputs | None,
    stock: Sequence[StockSpring] = (),
    facts: Sequence[Fact] = (),
    missing: str = "",
) -> PageContent:
    sizing = None
    if inputs is not None:
        sizing = Sizing(inputs=inputs, result=size_spring(inputs, draws=DRAWS))
    return PageContent(
        record=job,
        parts=Job(job).parts(),
        findings=Job(job).findings(NOW),
        facts=tuple(
            StoredFact(job_id=3, number=i, written_utc="2026-03-02T10:00:00Z", fact=fact)
            for i, fact in enumerate(facts, start=1)
        ),
        identity=RecordIdentity(
            name="2026-03-01T09:05:59.123+00:00 3", sha256="0123456789abcdef" * 4
        ),
        software="0.1.0",
        created_utc=NOW.isoformat(),
        sizing=sizing,
        choice=None if inputs is None or not stock else choice_of(inputs, stock),
        missing=missing,
    )


def choice_of(inputs: SizingInputs, stock: Sequence[StockSpring]) -> Choice:
    return choose_spring(ChoosingInputs(barrel=inputs), stock, draws=2000)


def whole() -> PageContent:
    """Everything at once: measured, found, documented, stock, fitted and seen."""
    job = record(acts())
    barrel = barrel_of(job, "1.45 0.13 370", 395.0)
    measured = MeasuredAmplitude(amplitude_deg=255.0, position=Position.HORIZONTAL, wind=Wind.FULL)
    return content(job, replace(barrel, amplitude=measured), STOCK, FACTS)


def documented() -> PageContent:
    """A documented size, which the barrel is too flat for, and no stock."""
    job = record(acts(depth=("1.72", "1.73", "1.72")))
    return content(job, barrel_of(job, "1.45 0.13 370"))


def by_rule() -> PageContent:
    """Nothing but the barrel."""
    job = record(acts(thickness=(), height=()))
    return content(job, barrel_of(job))


def long_name() -> PageContent:
    job = record(acts(), title=LONG)
    springs = (replace(STOCK[9], item=LONG), *STOCK)
    facts = (Movement(text=LONG), JobReference(text=LONG), Remark(text=LONG))
    return content(job, barrel_of(job, "", 395.0), springs, facts)


def hostile() -> PageContent:
    job = record(acts(), title=HOSTILE)
    job = replace(job, gauges=tuple(replace(g, mpe_source=HOSTILE) for g in job.gauges))
    named = HOSTILE.replace("\ud800", "")  # no list of springs can hold a lone surrogate
    springs = tuple(replace(each, item=f"{named}{each.item}", note=named) for each in STOCK)
    facts = (
        Movement(text=HOSTILE),
        JobReference(text=HOSTILE),
        Particulars(workshop=HOSTILE, customer=HOSTILE, by=HOSTILE),
        Remark(text=HOSTILE),
        Chosen(item=HOSTILE),
        After(noise=HOSTILE),
    )
    return content(job, barrel_of(job, "", 395.0), springs, facts, missing=HOSTILE)


def no_arbor() -> PageContent:
    job = record(acts(arbor=()))
    return content(job, barrel_of(job, "", 395.0), STOCK)


def many_readings() -> PageContent:
    """Two hundred readings of a bore, a few of them far off."""
    values = [Decimal("11.52") + Decimal((i * 37) % 7 - 3) / 100 for i in range(196)]
    far = ["11.22", "11.91", "11.05", "12.40"]
    job = record(acts(bore=(*(str(v) for v in values), *far)))
    return content(job, barrel_of(job, "1.45 0.13 370", 395.0), STOCK)


def nothing_fits() -> PageContent:
    job = record(acts())
    high = tuple(replace(each, height_mm=each.height_mm + 0.6) for each in STOCK)
    return content(job, barrel_of(job, "", 395.0), high)


def no_lid() -> PageContent:
    """No height can be worked out; no section and no torque."""
    job = record(acts(lid=()))
    return content(job, barrel_of(job, "", 395.0), STOCK)


def unfinished() -> PageContent:
    """A job that was left after the zero and a few readings of the depth."""
    job = record((*taken(CALIPER, ZERO, "0.00"), *taken(CALIPER, "depth", "1.92")), closed=False)
    return content(job, None, missing="The bore has not been measured yet.")


def empty() -> PageContent:
    return content(record((), title="", closed=False), None, missing="Nothing measured yet.")


def tiny() -> PageContent:
    job = record(
        acts(
            bore=("5.02", "5.01", "5.02", "5.02", "5.01"),
            depth=("0.98", "0.99", "0.98"),
            arbor=("1.71", "1.70", "1.71"),
            lid=("0.181", "0.182", "0.180"),
            thickness=("0.058", "0.057", "0.058"),
            height=("0.703", "0.702", "0.703"),
        )
    )
    return content(job, barrel_of(job, "", 160.0))


def large() -> PageContent:
    """The barrel of a large pocket watch with a stopwork, its depth to the seat."""
    job = record(
        acts(
            bore=("19.82", "19.81", "19.82", "19.82", "19.80"),
            depth=("3.52", "3.53", "3.52"),
            arbor=("6.61", "6.60", "6.62"),
            lid=("0.552", "0.553", "0.552"),
            thickness=("0.221", "0.220", "0.221"),
            height=("2.903", "2.902", "2.903"),
        ),
        reference=DepthReference.SEAT,
    )
    barrel = barrel_of(job, "2.9 0.22 640", 655.0)
    arrangement = replace(barrel.arrangement, stopwork=Stopwork(turns=4, set_up_turns=1))
    return content(job, replace(barrel, arrangement=arrangement))


CASES: dict[str, Callable[[], PageContent]] = {
    each.__name__: each
    for each in (
        *(whole, documented, by_rule, long_name, hostile, no_arbor, many_readings),
        *(nothing_fits, no_lid, unfinished, empty, tiny, large),
    )
}
# What is awkward in these is a number or a width; every part of a page is in one of the others.
_LATER = ("long_name", "no_arbor", "many_readings", "nothing_fits", "tiny", "large")


def each_case(*but: str) -> pytest.MarkDecorator:
    """Run a test for every page but some: at the desk for those of every kind of part."""
    cases = [
        pytest.param(case, marks=pytest.mark.campaign if case in _LATER else ())
        for case in CASES
        if case not in but
    ]
    return pytest.mark.parametrize("case", cases)
