"""Every published line and burst is identified as its format, or as a named set of equals."""

from __future__ import annotations

import pytest
from hid_bench import BOOT_DESCRIPTOR, FIELDS, KEYS, stream
from identify_bench import BITS, HID, ON_SERIAL, PROFILES, SAMPLES, asked, bridged, told, vectors

from gaugelink.devices.identify.verdict import FormatVerdict

CLEAR, AMBIGUOUS, UNKNOWN = FormatVerdict.CLEAR, FormatVerdict.AMBIGUOUS, FormatVerdict.UNKNOWN

# Verdict, best format with its options, formats that read the bytes alike, what is asked.
Row = tuple[FormatVerdict, str, str, str]
TAGGED: Row = (AMBIGUOUS, "line-9600-8N1-tagged unit=mm", "", "unit")
PLAIN: Row = (AMBIGUOUS, "line-4800-7E2-plain unit=mm", "text-input", "unit")
PLAIN_ZERO: Row = (AMBIGUOUS, "line-4800-7E2-plain unit=mm", "text-input", "more")
PLAIN_SILENT: Row = (AMBIGUOUS, "line-4800-7E2-plain", "", "more")
TWO_CHANNEL: Row = (AMBIGUOUS, "line-two-channel unit=mm", "", "unit")
ID_SILENT: Row = (AMBIGUOUS, "line-id-comma", "", "more")
NOBODY: Row = (UNKNOWN, "", "", "gauge")

LINE_TABLE: dict[str, Row] = {
    **dict.fromkeys(("E1", "E2", "E3"), TAGGED),
    **dict.fromkeys(("E4", "E4-inch", "E6", "E26", "E26-8bit"), PLAIN),
    "L1-negative-zero": PLAIN_ZERO,  # zeros alone settle nothing
    # The tolerance mark is known to one format only.
    "L1-echo": (AMBIGUOUS, "line-4800-7E2-plain unit=mm", "", "unit"),
    **dict.fromkeys(("E5", "E7", "E8", "E9"), PLAIN_SILENT),
    "E10": (CLEAR, "line-9600-8N1-unit", "", ""),
    "E11": (AMBIGUOUS, "line-9600-8N1-unit", "", "more"),
    **dict.fromkeys(("E16", "L10-overflow", "L10-selected"), TWO_CHANNEL),
    "E17": (AMBIGUOUS, "line-two-channel", "", "more"),
    **dict.fromkeys(("E18", "L11-greatest"), (AMBIGUOUS, "line-id-comma unit=mm", "", "unit")),
    **dict.fromkeys(("L11-run-out", "L11-answer"), ID_SILENT),
    "E21": (CLEAR, "line-1200-8N2-padded", "text-input", ""),
    # With bit 7 undefined, text-input cannot read it.
    "E21-high": (CLEAR, "line-1200-8N2-padded", "", ""),
    "E22": (CLEAR, "text-input", "", ""),
    "K1": (AMBIGUOUS, "text-input unit=mm", "", "unit"),
    **dict.fromkeys(("L6-hold", "L6-live"), (CLEAR, "line-2400-7N2-modes", "", "")),
    "L7": (CLEAR, "line-9600-7E2-multi", "", ""),
    **dict.fromkeys(("E23", "E24", "E25", "E27", "L10-twice", "K2", "K3", "K4", "K5"), NOBODY),
}

BCD52: Row = (CLEAR, "bcd52", "bcd52-7digit bcd52-judged", "")
INCH_8: Row = (CLEAR, "bcd52 unit_digit=inch 8", "bcd52-7digit", "")
SIGNMAG: Row = (AMBIGUOUS, "signmag24", "", "unit key")
INVERTED: Row = (AMBIGUOUS, "signmag24 invert=true", "", "unit key")
ABS_REL: Row = (AMBIGUOUS, "abs-rel-2x24", "", "value")

BITS_TABLE: dict[str, Row] = {
    **dict.fromkeys(("A1", "A2", "A3", "A4", "A5", "A6", "A13", "A15", "A18"), BCD52),
    # The known wrong one: nothing in it tells that a bit came twice.
    "A28": BCD52,
    **dict.fromkeys(("A7", "A8"), (AMBIGUOUS, "bcd52", "", "more")),
    **dict.fromkeys(("A9", "A10", "A11"), (CLEAR, "bcd52-judged", "", "")),
    "A14": (CLEAR, "bcd52-7digit", "", ""),
    **dict.fromkeys(("A16", "A17"), (CLEAR, "bcd52-8digit", "", "")),
    **dict.fromkeys(("A22", "A23"), INCH_8),
    **dict.fromkeys(("A19", "A20", "A21", "A24", "A25", "A26", "A27"), NOBODY),
    **dict.fromkeys(("A28-edges", "A28-53"), NOBODY),
    **dict.fromkeys(("B1", "B3", "B6", "B8", "B14", "B14-once"), SIGNMAG),
    # The unit bit is set, so there is one.
    **dict.fromkeys(("B4", "B5", "B7"), (CLEAR, "signmag24", "", "")),
    # All ones, or reserved bits that are 1: read behind an inverting transistor.
    **dict.fromkeys(("B10", "B10-invert"), INVERTED),
    # Nothing but zeros.
    "A12": (AMBIGUOUS, *BCD52[1:3], "more"),
    **dict.fromkeys(("B2", "B11"), (*SIGNMAG[:3], "more")),
    "B9": (*INVERTED[:3], "more"),
    "B13": (AMBIGUOUS, "signmag24 start_bit=true", "", "unit key"),
    **dict.fromkeys(("B12", "B13-strict", "B15"), NOBODY),
    **dict.fromkeys(("C1", "C1-absolute", "C1-order", "C2", "C3", "C4", "C5", "C6"), ABS_REL),
    "C7": NOBODY,
    **dict.fromkeys(("D1", "D2"), (CLEAR, "bcd7-flags", "", "")),
    "D3": (AMBIGUOUS, "host-clocked-21", "", "value"),
}


TABLES = {"lines.json": LINE_TABLE, "bits.json": BITS_TABLE}
# A format with a row has all its vectors in the table. One without a row, as of somebody who
# adds one, must be found all the same, alone or among the formats that are asked about.
IN_TABLE = {v["profile"] for file, rows in TABLES.items() for v in vectors(file) if v["id"] in rows}
NEW = [v for file in TABLES for v in vectors(file) if v["profile"] not in IN_TABLE]


def agrees(vector: dict, rows: dict[str, Row], data: bytes, profiles: list) -> bool:
    if vector["profile"] in IN_TABLE:
        assert vector["id"] in rows, f"add to the table: {vector['id']}: {row_of(data, profiles)}"
        assert row_of(data, profiles) == rows[vector["id"]]
        return True
    found = told(data, profiles=profiles)
    if not any(event["event"] == "frame" for event in vector["events"]):
        return found.verdict is not CLEAR
    likely = {found.best.format, *found.alike} if found.best else set()
    asked_about = {each.format for each in found.runners_up} if found.question else set()
    return vector["profile"] in likely | asked_about


def row_of(data: bytes, profiles: list) -> Row:
    result = told(data, profiles=profiles)
    best = result.best
    options = [f"{k}={v}" for k, v in best.options.items()] if best else []
    named = " ".join([best.format, *options]) if best else ""
    return (result.verdict, named, " ".join(result.alike), str(asked(result) or ""))


@pytest.mark.parametrize("vector", vectors("lines.json"), ids=lambda v: v["id"])
def test_a_published_line_is_identified_as_the_table_says(vector: dict) -> None:
    assert agrees(vector, LINE_TABLE, bytes.fromhex(vector["raw"]), ON_SERIAL)


@pytest.mark.parametrize("vector", vectors("bits.json"), ids=lambda v: v["id"])
@pytest.mark.parametrize("profiles", [BITS, ON_SERIAL], ids=["bridge", "serial"])
def test_a_published_burst_is_identified_as_the_table_says(vector: dict, profiles: list) -> None:
    assert agrees(vector, BITS_TABLE, bridged(vector), profiles)


def test_a_vector_that_is_read_is_identified_as_its_own_format() -> None:
    """What the tables name is what the vectors were published for, or a variant of it."""
    for file, table in TABLES.items():
        own = {vector["id"]: vector["profile"] for vector in vectors(file)}
        for name, (_, named, _, _) in table.items():
            # A11 is A9 read by somebody who expects no judgement; A15 has no seventh digit.
            expected = {"A11": "bcd52-judged", "A15": "bcd52"}.get(name, own[name])
            assert named.split(" ")[0] in ("", expected), name


def test_every_format_on_a_serial_port_is_identified_at_least_once() -> None:
    rows = [*LINE_TABLE.values(), *BITS_TABLE.values()]
    found = {named.split(" ")[0] for _, named, _, _ in rows} - {""}
    found |= {v["profile"] for v in NEW if any(e["event"] == "frame" for e in v["events"])}
    assert found == {p.name for p in ON_SERIAL}, "a format has no vector with a reading"
    assert SAMPLES.keys() == {p.name for p in ON_SERIAL if p.line is not None}


def test_what_bits_are_is_told_by_the_kind_the_bridge_gives_them() -> None:
    for vector in vectors("bits.json"):
        found = told(bridged(vector))
        decoders = {PROFILES[each.format].decoder for each in found.runners_up}
        assert decoders <= {PROFILES[vector["profile"]].decoder}, vector["id"]


@pytest.mark.parametrize("field", FIELDS, ids=lambda f: f["id"])
def test_a_field_of_a_hid_gauge_is_found_by_its_descriptor(field: dict) -> None:
    data = stream([field["report"]] * 5, bytes.fromhex(field["descriptor"]))
    result = told(data, profiles=HID)
    if "value" not in field or "format" in field:  # no reading, or only with a format of one's own
        assert result.verdict is not CLEAR
        return
    assert (result.verdict, result.best and result.best.format) == (CLEAR, "hid-field")
    assert result.best is not None
    assert result.best.examples[0].endswith(field["unit"])


# F10 and F11 say their unit; a layout is found where the keys cannot be read with another.
KEYS_TABLE: dict[str, Row] = {
    **dict.fromkeys(
        ("F1", "F2", "F3", "F4", "F5", "F6", "F6-held", "F12-tab"),
        (AMBIGUOUS, "hid-keyboard unit=mm", "", "unit"),
    ),
    "F7": (AMBIGUOUS, "hid-keyboard layout=fr unit=mm", "", "unit"),
    "F10-de": (CLEAR, "hid-keyboard layout=de", "", ""),
    "F11-fr-units": (CLEAR, "hid-keyboard layout=fr", "", ""),
    **dict.fromkeys(("F8", "F9", "F13-at-once", "F14-unmapped", "F15-ctrl"), NOBODY),
}


@pytest.mark.parametrize("keys", KEYS, ids=lambda k: k["id"])
def test_a_gauge_that_types_is_found_with_its_layout(keys: dict) -> None:
    data = stream(keys["reports"] * 3, BOOT_DESCRIPTOR)
    assert row_of(data, HID) == KEYS_TABLE[keys["id"]]


def test_what_a_hid_gauge_lacks_is_said_from_its_descriptor_or_its_keys() -> None:
    field = next(f for f in FIELDS if f["id"] == "G11-time")
    keys = next(k for k in KEYS if k["id"] == "F13-at-once")
    told_field = told(stream([field["report"]], bytes.fromhex(field["descriptor"])), profiles=HID)
    told_keys = told(stream(keys["reports"], BOOT_DESCRIPTOR), profiles=HID)
    assert told_field.question is not None
    assert "declares report_id 0 usage 0xff000010" in told_field.question.text
    assert told_keys.question is not None
    assert "2 keys went down at once" in told_keys.question.text
