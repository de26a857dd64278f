"""The names that stand in people's files stay, whatever the code comes to call its classes."""

from __future__ import annotations

import enum
import typing
from collections.abc import Iterator
from dataclasses import dataclass

import pytest
from jobbook_samples import CALIPER

from gaugelink.gauge_record import GaugeRecord
from gaugelink.jobbook import codec, entries, facts, gauge_book, stock_book
from gaugelink.jobbook.codec import Form, UnreadableRow, declared, decode, encode
from gaugelink.jobbook.facts import After, Amplitude, Lay, TrainData
from gaugelink.model import GaugeInfo, GaugeKind
from gaugelink.stock.stock_spring import StockSpring

assert entries and facts and gauge_book and stock_book  # all that declare

# A line here is changed only with a new schema, or when a field is added at the end of it.
FROZEN = {
    "reading": "value_mm resolution_mm displayed unit channel flags",
    "fault": "kind reason",
    "ident": "text",
    "link change": "connected text",
    "unit switch": "before now",
    "taken": "gauge_id elapsed_s measurand note",
    "refused": "gauge_id elapsed_s reason displayed",
    "repeated": "gauge_id elapsed_s displayed",
    "undone": "gauge_id elapsed_s measurand displayed",
    "skipped": "gauge_id measurand",
    "superseded": "gauge_id measurand",
    "more wanted": "gauge_id measurand wanted reason",
    "completed": "gauge_id measurand n_readings",
    "halted": "gauge_id reason",
    "resumed": "gauge_id",
    "gauge done": "gauge_id",
    "event": "gauge_id elapsed_s",
    "gauge": "gauge_id kind sends address format mpe_mm shift_mpe_mm mpe_source",
    "setup": "title plan",
    "plan": "steps depth_reference",
    "step": "measurand kinds seek n_wanted low_mm high_mm instruction",
    "movement": "text",
    "reference": "text",
    "particulars": "workshop customer by temperature_c",
    "photograph": "path",
    "note": "text",
    "train": "teeth hours_per_turn",
    "wound": "winding end",
    "size": "result software",
    "choice": "result software",
    "chosen": "item height_mm thickness_mm length_mm turns crown_turns hours torque_ratio"
    " amplitude_deg position wind end cut_from_mm",
    "after": "crown_turns hours_run amplitudes noise",
    "span": "low high",
    "amplitude": "deg position wind",
    "known gauge": "gauge_id address format kind sends unit options",
    "gauge record": "gauge_id kind resolution_mm mpe_mm shift_mpe_mm mpe_source certificate"
    " jaw_flats anvils check_interval_days serial corrected",
    "gauge check": "checked_utc job_id zero lengths",
    "certificate point": "size_mm correction_mm expanded_u_mm k",
    "jaw flats": "width_mm u_mm",
    "zero found": "n mean_mm std_mm dof drift_mm resolution_mm",
    "length found": "known_mm u_known_mm n mean_mm std_mm bias_mm u_bias_mm mpe_mm guard_mm"
    " verdict tolerance_mm cg cgk face",
    "spring of the stock": "height_mm thickness_mm length_mm height_tolerance_mm"
    " thickness_tolerance_mm length_tolerance_mm end material reorder_at note",
}
FROZEN_WORDS = {
    "unparsed, incomplete, overlong, parity, gauge error, no unit",
    "negative zero, held, low battery, below tolerance, within tolerance, above tolerance",
    "mm, in",
    "caliper, micrometer",
    "button, stream",
    "rim, seat",
    "settled, maximum, minimum",
    "dial-up, dial-down, crown-up, crown-down, crown-left, crown-right, vertical",
    "wound, 24h",
    "flat, ball",
    "pass, undecided, fail",
    "outside, inside, depth",
}


def enumerations(kind: typing.Any) -> Iterator[type[enum.StrEnum]]:
    if isinstance(kind, type) and issubclass(kind, enum.StrEnum):
        yield kind
    for argument in typing.get_args(kind):
        yield from enumerations(argument)


def test_every_name_in_the_files_is_as_it_was() -> None:
    found = {wire.name: " ".join(codec._SHAPES[cls].fields) for cls, wire in codec._WIRES.items()}
    assert found == FROZEN


def test_every_word_in_the_files_is_as_it_was() -> None:
    hints = (kind for cls in codec._WIRES for kind in typing.get_type_hints(cls).values())
    found = {", ".join(each) for kind in hints for each in enumerations(kind)}
    assert found == FROZEN_WORDS


@pytest.fixture(name="apart")
def what_is_declared_is_forgotten_afterwards(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(codec, "_WIRES", codec._Wires(codec._WIRES))
    monkeypatch.setattr(codec, "_SHAPES", codec._Shapes())


@dataclass(frozen=True, kw_only=True)
class Held:
    """``Amplitude`` under other names."""

    swing_deg: float
    lay: Lay | None = None
    wind: facts.WindState | None = None


@dataclass(frozen=True, kw_only=True)
class Seen:
    """``After`` under other names."""

    turns: float | None = None
    hours: float | None = None
    swings: tuple[Held, ...] = ()
    sound: str | None = None


@pytest.mark.usefixtures("apart")
def test_a_class_and_its_fields_may_be_renamed_and_the_file_stays() -> None:
    form = Form(compact=True, omits_none=True)
    declared(form, {"amplitude": Held}, names={"swing_deg": "deg", "lay": "position"})
    names = {"turns": "crown_turns", "hours": "hours_run", "swings": "amplitudes", "sound": "noise"}
    declared(form, {"after": Seen}, names=names)
    seen = Seen(turns=28.0, swings=(Held(swing_deg=265.0, lay=Lay.DIAL_UP),), sound="none")
    after = After(
        crown_turns=28.0, amplitudes=(Amplitude(deg=265.0, position=Lay.DIAL_UP),), noise="none"
    )
    assert encode(seen) == encode(after)
    assert decode(Seen, encode(after)) == seen
    with pytest.raises(UnreadableRow, match="after: KeyError 'sound'"):
        decode(Seen, '{"sound":"none"}')


@pytest.mark.usefixtures("apart")
def test_a_class_that_is_not_declared_is_not_kept() -> None:
    for use in (lambda: encode(Held(swing_deg=1.0)), lambda: decode(Held, "{}")):
        with pytest.raises(TypeError, match="Held has no wire name"):
            use()


REFUSED = {
    "unknown field": (TrainData, '{"teeth":"80/10","mood":1}', "train: KeyError 'mood'"),
    "null in a fact": (TrainData, '{"hours_per_turn":null}', "train: TypeError float()"),
    "number for a text": (
        GaugeInfo,
        encode(CALIPER).replace('"sim:bench"', "5"),
        "gauge: TypeError 5 is not text",
    ),
    "not an object": (GaugeRecord, "[]", "gauge record: AttributeError 'list' object"),
    "unknown word": (
        GaugeRecord,
        '{"kind":"ruler"}',
        "gauge record: ValueError 'ruler' is not a valid GaugeKind",
    ),
    "missing field that has a default": (
        StockSpring,
        '{"height_mm":1.2,"thickness_mm":0.12,"length_mm":300.0}',
        "spring of the stock: KeyError 'height_tolerance_mm'",
    ),
}


@pytest.mark.parametrize(("cls", "detail", "sentence"), REFUSED.values(), ids=REFUSED)
def test_what_is_refused_is_named(cls: type, detail: str, sentence: str) -> None:
    with pytest.raises(UnreadableRow) as caught:
        decode(cls, detail)
    assert str(caught.value).startswith(sentence)


def test_null_is_read_where_a_form_writes_it() -> None:
    record = GaugeRecord(gauge_id="g", kind=GaugeKind.CALIPER)
    assert '"mpe_mm": null' in encode(record)
    assert decode(GaugeRecord, encode(record), checks=()) == record


def test_a_fact_holds_no_infinity() -> None:
    with pytest.raises(ValueError, match="JSON compliant"):
        encode(TrainData(hours_per_turn=float("inf")))
