"""What firmware_notes says of a format is what the program does with it."""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from gaugelink.devices.decoders import make_decoder
from gaugelink.devices.decoders.bits import BitFrame, Complement
from gaugelink.devices.decoders.formats import make_bit_decoder
from gaugelink.devices.decoders.hid_descriptor import frame_descriptor, frame_report
from gaugelink.devices.decoders.hid_field import HidFieldDecoder, HidFieldFormat
from gaugelink.devices.decoders.hid_keys import HidKeysDecoder, HidKeysFormat, KeyboardLayout
from gaugelink.devices.profiles.profile import find_profile, load_profiles
from gaugelink.model import Fault, Ident, WireEvent
from gaugelink.units import LengthUnit

ROOT = Path(__file__).parents[2]
NOTES = ROOT / "firmware_notes"
DEVICES = ROOT / "gaugelink" / "devices"
PAGES = {p.name: p.read_text(encoding="utf-8") for p in NOTES.glob("*.md") if p.name != "README.md"}
README = (NOTES / "README.md").read_text(encoding="utf-8")
HEADINGS = [
    *("Sources", "Levels and wiring", "Timing", "Frame"),
    *("Frames by hand", "Quirks", "Not known"),
]
OPTIONS = {"true": True, "one": Complement.ONE}
ESCAPES = {"␣": " ", r"\r": "\r", r"\n": "\n"}


def vectors() -> dict[str, dict[str, Any]]:
    """All vectors of the fixtures by their ids, each with the file that it stands in."""
    found = {}
    for file in sorted((ROOT / "fixtures" / "wire").glob("*.json")):
        for part in json.loads(file.read_text(encoding="utf-8")).values():
            for vector in part if isinstance(part, list) else []:
                found[vector["id"]] = vector | {"fixture": file.name}
    return found


VECTORS = vectors()


def section(page: str, heading: str) -> str:
    return page.split(f"\n## {heading}\n")[1].split("\n## ")[0]


def table_rows(text: str, header: str) -> list[list[str]]:
    """Return the cells of the rows below a header, without the rule under it."""
    lines = text.split(f"{header}\n")[1].splitlines()[1:]
    rows = []
    for line in lines:
        if not line.startswith("|"):
            break
        rows.append([cell.strip() for cell in line.strip("|").split(" | ")])
    return [[cell.strip(" |") for cell in row] for row in rows]


@dataclass(frozen=True, slots=True, kw_only=True)
class Sample:
    """One row of a table of frames."""

    page: str
    id: str
    format: str
    options: dict[str, str]
    wire: str
    means: str

    def __str__(self) -> str:
        return f"{self.page}-{self.id}"


def samples() -> list[Sample]:
    found = []
    for page, text in sorted(PAGES.items()):
        for row in table_rows(section(text, "Frames by hand"), "| id | format | wire | means |"):
            name, *options = row[1].split("; ")
            pairs = dict(option.split(" = ") for option in options)
            found.append(
                Sample(page=page, id=row[0], format=name, options=pairs, wire=row[2], means=row[3])
            )
    return found


SAMPLES = samples()
every_sample = pytest.mark.parametrize("sample", SAMPLES, ids=str)


def bursts(wire: str) -> list[BitFrame]:
    pairs = [burst.split(":") for burst in wire.split()]
    return [BitFrame(n_bits=int(n), packed=bytes.fromhex(packed)) for n, packed in pairs]


def text_bytes(wire: str) -> bytes:
    text = wire.strip("`")
    for shown, meant in ESCAPES.items():
        text = text.replace(shown, meant)
    return text.encode("ascii")


def key_reports(wire: str) -> list[bytes]:
    """Write out the short form: ``s1E+1F`` is left Shift with two keys, ``.`` no key."""
    reports = []
    for word in wire.split():
        keys = bytes(int(key, 16) for key in re.findall(r"[0-9A-F]{2}", word))
        reports.append((b"\x02\0" if word.startswith("s") else b"\0\0") + keys.ljust(6, b"\0"))
    return reports


def events_of(sample: Sample) -> list[WireEvent]:
    if sample.format == "hid-keyboard":
        layout = KeyboardLayout(sample.options.get("layout", "us"))
        line = find_profile("text-input").line
        assert line is not None
        keys = HidKeysDecoder(HidKeysFormat(line=line, layout=layout))
        wire = b"".join(map(frame_report, key_reports(sample.wire)))
        return [*keys.feed(wire), *keys.flush()]
    if sample.format == "hid-field":
        descriptor = frame_descriptor(bytes.fromhex(VECTORS[sample.id]["descriptor"]))
        return HidFieldDecoder(HidFieldFormat()).feed(
            descriptor + frame_report(bytes.fromhex(sample.wire))
        )
    return profile_events(sample)


def profile_events(sample: Sample) -> list[WireEvent]:
    profile = find_profile(sample.format)
    if sample.wire.startswith("`"):
        unit = LengthUnit(sample.options["unit"]) if "unit" in sample.options else None
        decoder = make_decoder(profile, unit=unit)
        return [*decoder.feed(text_bytes(sample.wire)), *decoder.flush()]
    assert profile.bits is not None
    changes: dict[str, Any] = {key: OPTIONS[value] for key, value in sample.options.items()}
    bits = make_bit_decoder(replace(profile.bits, **changes))
    return [event for burst in bursts(sample.wire) for event in bits.decode(burst)]


def says(event: WireEvent, means: str) -> bool:
    if isinstance(event, Fault):
        return means.startswith("fault: ") and means.removeprefix("fault: ") in event.reason
    if isinstance(event, Ident):
        return means == f"ident: {event.text}"
    value, *rest = means.split(", ")
    number, _, unit = value.partition(" ")
    same = Decimal(number) == event.value if event.step else number == str(event.value)
    extra = {*event.flags, *([f"channel {event.channel}"] if event.channel else [])}
    return same and unit == (event.unit or "") and extra == set(rest)


@every_sample
def test_a_frame_on_a_page_means_what_the_page_says(sample: Sample) -> None:
    events = events_of(sample)
    expected = [] if sample.means == "nothing" else sample.means.split("; ")
    assert len(events) == len(expected), events
    for event, means in zip(events, expected, strict=True):
        assert says(event, means), (event, means)


@every_sample
def test_a_frame_on_a_page_is_the_one_in_the_fixture(sample: Sample) -> None:
    if sample.id == "-":
        return
    vector = VECTORS[sample.id]
    assert f"`{vector['fixture']}`" in index_row(sample.page)[4]
    if sample.format == "hid-keyboard":
        wanted = [bytes.fromhex(report) for report in vector["reports"]]
        assert key_reports(sample.wire) == wanted
    elif sample.format == "hid-field":
        assert bytes.fromhex(sample.wire) == bytes.fromhex(vector["report"])
    elif "wire" in vector and vector["fixture"] == "bridge.json":
        assert text_bytes(sample.wire) == vector["wire"].encode()
    elif "raw" in vector:
        assert text_bytes(sample.wire) == bytes.fromhex(vector["raw"])
    else:
        given = [(each["n_bits"], bytes.fromhex(each["packed"])) for each in vector["bursts"]]
        assert [(each.n_bits, each.packed) for each in bursts(sample.wire)] == given


def index_row(page: str) -> list[str]:
    (row,) = (row for row in index() if row[0] == f"[{page}]({page})")
    return row


def index() -> list[list[str]]:
    return table_rows(README, "| page | on the wire | profiles | decoder | fixture |")


def names(cell: str) -> list[str]:
    return re.findall(r"`([^`]+)`", cell)


def test_every_page_is_in_the_index_and_has_three_frames() -> None:
    assert [row[0] for row in index()] == [f"[{p}]({p})" for p in links(README, among=PAGES)]
    assert set(links(README, among=PAGES)) == set(PAGES)
    for page in PAGES:
        assert len([s for s in SAMPLES if s.page == page]) >= 3, page


def links(text: str, *, among: Sequence[str] | dict[str, str]) -> list[str]:
    return [name for name in re.findall(r"\]\(([^)#]+)\)", text) if name in among]


def test_every_shipped_profile_has_a_page_and_every_name_in_the_index_exists() -> None:
    profiles = [name for row in index() for name in names(row[2])]
    assert sorted(profiles) == sorted(load_profiles().names)
    for row in index():
        for decoder in names(row[3]):
            assert (DEVICES / "decoders" / decoder).is_file(), decoder
        for fixture in names(row[4]):
            assert (ROOT / "fixtures" / "wire" / fixture).is_file(), fixture


@pytest.mark.parametrize("page", [*PAGES, "README.md"])
def test_every_link_leads_somewhere(page: str) -> None:
    text = README if page == "README.md" else PAGES[page]
    for target in re.findall(r"\]\(([^)#]+)\)", text):
        assert (NOTES / target).exists(), target


@pytest.mark.parametrize("page", PAGES)
def test_a_page_has_all_its_sections(page: str) -> None:
    assert re.findall(r"^## (.+)$", PAGES[page], re.MULTILINE) == HEADINGS


@pytest.mark.parametrize("page", PAGES)
def test_every_quirk_names_the_place_that_handles_it(page: str) -> None:
    quirks = section(PAGES[page], "Quirks").strip().split("\n- ")
    for quirk in quirks:
        places = re.findall(r"`(\w+\.(?:py|c|h)):(\w+)`", quirk)
        assert places, quirk
        for file, name in places:
            (source,) = [*DEVICES.rglob(file), *(NOTES / "firmware").glob(file)]
            assert re.search(rf"\b{name}\b", source.read_text(encoding="utf-8")), (file, name)


def test_the_speeds_and_requests_of_the_text_lines_are_those_of_the_profiles() -> None:
    timing = section(PAGES["text-lines.md"], "Timing")
    rows = table_rows(timing, "| profile | speed | request | answer |")
    assert sorted(names(row[0])[0] for row in rows) == sorted(names(index_row("text-lines.md")[2]))
    assert len(rows) >= 9
    for row in rows:
        profile = find_profile(names(row[0])[0])
        if speed := re.fullmatch(r"(\d+) (\d)([NEO])(\d)", row[1]):
            port = profile.port
            shown = (str(port.baud), str(port.data_bits), str(port.parity), str(port.stop_bits))
            assert speed.groups() == shown, row
        asks = [text_bytes(f"`{name}`") for name in names(row[2])]
        assert asks == ([profile.request] if profile.request else []), row


def test_the_build_command_is_the_same_wherever_it_stands() -> None:
    page = PAGES["bridge-line.md"]
    head = (NOTES / "firmware" / "main_avr.c").read_text(encoding="utf-8").split("*/")[0]
    assert build_command(page) == build_command(head)
    build = (Path(__file__).parent / "firmware_build.py").read_text(encoding="utf-8")
    for flag in ("-mmcu=atmega328p", "-DF_CPU=16000000UL", "-std=c99", "-Os"):
        assert flag in build_command(page)
        assert f'"{flag}"' in build
    kinds = (NOTES / "firmware" / "gauge_kind.h").read_text(encoding="utf-8")
    for option in re.findall(r"`-D(\w+)(?:=\d+)?`", page):
        assert option == "GAUGE_N52" or re.search(rf"\b{option}\b", kinds), option


def build_command(text: str) -> list[str]:
    command = re.search(r"avr-gcc -.*?\.elf", text, re.DOTALL)
    assert command is not None
    return [word for word in command[0].split() if word not in ("*", "\\")]
