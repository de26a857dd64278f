"""A new format is what DEVELOPERS.md says, tried on a copy of the tree.

One of text lines is a profile, its vectors and its page. One of bits is a decoder file and one
row besides. The tests that go by formats find both by themselves.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

pytestmark = pytest.mark.campaign

ROOT = Path(__file__).parents[3]
COPIED = ("gaugelink", "fixtures/wire", "firmware_notes", "tests/devices", "tests/faults")
FILES = ("tests/firmware/test_notes_pages.py", "tests/test_layers.py")
CONFTEST = """
from hypothesis import settings
settings.register_profile("few", deadline=None, max_examples=5, database=None)
settings.load_profile("few")
"""
FORMATS = "gaugelink/devices/profiles/formats"
PAGE = """# {name}: made up

## Sources

1. Made up for a test.

## Levels and wiring

None.

## Timing

None.

## Frame

See the frames.

## Frames by hand

| id | format | wire | means |
|---|---|---|---|
{frames}

## Quirks

- {quirk}

## Not known

- Everything.
"""

TEXT_TOML = r"""title = "A word, a number and a unit; 9600 baud 8N1"
summary = "Lines such as LEN=-0012.345 mm."
source = "invented for a test"
[line]
pattern = 'LEN=(?P<sign>[-+])(?P<value>\d{4}\.\d{3}) (?P<unit>mm|in)'
line_end = "\r\n"
error_patterns = { 'LEN=LOW' = "The battery is low." }
"""
TEXT_VECTORS = [
    {"id": "X1", "text": "LEN=-0012.345 mm\r\n", "events": [
        {"event": "frame", "value": "-12.345", "unit": "mm", "channel": "", "flags": []}]},
    {"id": "X2", "text": "LEN=LOW\r\n", "events": [
        {"event": "fault", "kind": "gauge error", "says": "battery is low"}]},
]  # fmt: skip

BITS_TOML = """title = "Sixteen bits of hundredths and four ones"
summary = "Made up."
source = "invented for a test"
decoder = "tally20"
sends = "stream"
[port]
baud = 115200
"""
BITS_DECODER = '''"""Twenty bits: sixteen of hundredths of a millimetre, then four ones."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from gaugelink.devices.decoders.bits import (
    BitFormat,
    BitFrame,
    RefusedError,
    number,
    refuse_all_ones,
    signed_frame,
    whole_bits,
)
from gaugelink.model import Frame
from gaugelink.units import LengthUnit


@dataclass(frozen=True, slots=True, kw_only=True)
class Tally20Format(BitFormat):
    """``invert``: the collector sees a 0 for each 1."""

    invert: bool = False


def read_tally20(frame: BitFrame, fmt: Tally20Format) -> Frame:
    """Read a burst; raises ``RefusedError``."""
    bits = whole_bits(frame, 20, invert=fmt.invert)
    refuse_all_ones(bits)
    if not all(bits[16:]):
        raise RefusedError("the last four bits are not all 1")
    size = number(bits[:16]) * Decimal("0.01")
    return signed_frame(size, negative=False, unit=LengthUnit.MM, raw=frame.raw)
'''
BITS_ROW = (
    '    "tally20": BitKind(settings=Tally20Format, read=read_tally20, bridge="T20", '
    'variants=(("invert", True),)),\n'
)
BITS_VECTORS = [
    {"id": "X3", "wire": "01101001000000001111", "bursts": [{"n_bits": 20, "packed": "96000F"}],
     "events": [{"event": "frame", "value": "1.50", "unit": "mm", "flags": [], "step": None}]},
    {"id": "X4", "wire": "01101001000000001110", "bursts": [{"n_bits": 20, "packed": "960007"}],
     "events": [{"event": "fault", "kind": "unparsed", "says": "not all 1"}]},
]  # fmt: skip


@pytest.fixture
def tree(tmp_path: Path) -> Path:
    for folder in COPIED:
        ignored = shutil.ignore_patterns("__pycache__")
        shutil.copytree(ROOT / folder, tmp_path / folder, ignore=ignored)
    for file in FILES:
        (tmp_path / file).parent.mkdir(exist_ok=True)
        shutil.copy(ROOT / file, tmp_path / file)
    (tmp_path / "tests/conftest.py").write_text(CONFTEST, encoding="utf-8")
    (tmp_path / "pytest.ini").write_text("[pytest]\n", encoding="utf-8")
    return tmp_path


def add_vectors(tree: Path, file: str, profile: str, vectors: list[dict[str, object]]) -> None:
    path = tree / "fixtures" / "wire" / file
    data = json.loads(path.read_text(encoding="utf-8"))
    for vector in vectors:
        sent = str(vector.get("text", "")).encode()
        raw = {"text": repr(sent)[2:-1], "raw": sent.hex(" ")} if sent else {}
        data["vectors"].append(vector | raw | {"profile": profile, "source": "constructed"})
    path.write_text(json.dumps(data), encoding="utf-8")


def add_page(tree: Path, name: str, frames: str, quirk: str, cells: str) -> None:
    notes = tree / "firmware_notes"
    page = PAGE.format(name=name, frames=frames, quirk=quirk)
    (notes / f"{name}.md").write_text(page, encoding="utf-8")
    index = (notes / "README.md").read_text(encoding="utf-8")
    rule = "|---|---|---|---|---|\n"
    row = f"| [{name}.md]({name}.md) | made up | `{name}` | {cells} |\n"
    (notes / "README.md").write_text(index.replace(rule, rule + row, 1), encoding="utf-8")


def change(tree: Path, file: str, old: str, new: str) -> None:
    path = tree / file
    text = path.read_text(encoding="utf-8")
    assert text.count(old) == 1, (file, old)
    path.write_text(text.replace(old, new), encoding="utf-8")


def add_text_format(tree: Path) -> None:
    name = "line-9600-8N1-word"
    (tree / FORMATS / f"{name}.toml").write_text(TEXT_TOML, encoding="utf-8")
    add_vectors(tree, "lines.json", name, TEXT_VECTORS)
    rows = [
        f"| X1 | {name} | `LEN=-0012.345␣mm\\r\\n` | -12.345 mm |",
        f"| X2 | {name} | `LEN=LOW\\r\\n` | fault: battery is low |",
        f"| - | {name} | `LEN=+0001.000␣in\\r\\n` | 1.000 in |",
    ]
    quirk = "A line must match as a whole (`line.py:line_events`)."
    add_page(tree, name, "\n".join(rows), quirk, "`line.py` | `lines.json`")


def add_bit_format(tree: Path) -> None:
    decoders = tree / "gaugelink/devices/decoders"
    (decoders / "tally20.py").write_text(BITS_DECODER, encoding="utf-8")
    formats = "gaugelink/devices/decoders/formats.py"
    last = "from gaugelink.units import LengthUnit\n"
    imported = "from gaugelink.devices.decoders.tally20 import Tally20Format, read_tally20\n"
    change(tree, formats, last, imported + last)
    change(tree, formats, '    "host-clocked-21": ', BITS_ROW + '    "host-clocked-21": ')
    (tree / FORMATS / "tally20.toml").write_text(BITS_TOML, encoding="utf-8")
    add_vectors(tree, "bits.json", "tally20", BITS_VECTORS)
    rows = [
        "| X3 | tally20 | 20:96000F | 1.50 mm |",
        "| X4 | tally20 | 20:960007 | fault: not all 1 |",
        "| - | tally20 | 20:FFFF0F | fault: all bits are 1 |",
    ]
    quirk = "The last bits are ones (`tally20.py:read_tally20`)."
    add_page(tree, "tally20", "\n".join(rows), quirk, "`tally20.py` | `bits.json`")


def run(tree: Path, *names: str, only: str) -> tuple[int, str]:
    beside = (tree, *(tree / name for name in COPIED if name.startswith("tests/")))
    path = os.pathsep.join(map(str, beside))
    command = ["-m", "pytest", "-q", "-n", "0", "-p", "no:cacheprovider", "-k", only, *names]
    done = subprocess.run(
        [sys.executable, *command],
        cwd=tree,
        env={**os.environ, "PYTHONPATH": path, "PYTHONDONTWRITEBYTECODE": "1"},
        capture_output=True,
        text=True,
        check=False,
        timeout=300,
    )
    return done.returncode, done.stdout + done.stderr


def passed(told: str) -> int:
    found = re.search(r"(\d+) passed", told)
    return int(found[1]) if found else 0


NOTES, LAYERS = "tests/firmware/test_notes_pages.py", "tests/test_layers.py"
WHOLE = "index or keeps_the_rule or at_least_once or of_the_union or in_the_table"


def test_a_format_of_text_lines_is_a_profile_its_vectors_and_its_page(tree: Path) -> None:
    add_text_format(tree)
    names = [f"tests/devices/profiles/test_{name}.py" for name in ("profile", "wire_kinds")]
    names += [f"tests/devices/decoders/test_{name}.py" for name in ("line", "line_fuzz")]
    names += ["tests/devices/identify/test_verdict_tables.py", NOTES, LAYERS, "tests/faults"]
    only = f"word or X1 or X2 or {WHOLE} or in_the_campaign"
    code, told = run(tree, *names, only=only)
    assert code == 0, told[-5000:]
    assert passed(told) >= 25, told


def test_a_format_of_bits_is_a_decoder_file_and_one_row_besides(tree: Path) -> None:
    add_bit_format(tree)
    names = [f"tests/devices/profiles/test_{name}.py" for name in ("profile", "wire_kinds")]
    names += ["tests/devices/decoders/test_bits_vectors.py"]
    names += ["tests/devices/identify/test_verdict_tables.py", NOTES, LAYERS]
    code, told = run(tree, *names, only=f"tally20 or X3 or X4 or {WHOLE}")
    assert code == 0, told[-5000:]
    assert passed(told) >= 25, told
    code, told = run(tree, "tests/faults", only="in_the_campaign")
    assert code == 1
    assert "tests/faults/senders.py writes none of tally20" in told


def test_a_format_without_its_vectors_and_its_page_is_missed(tree: Path) -> None:
    (tree / FORMATS / "line-9600-8N1-word.toml").write_text(TEXT_TOML, encoding="utf-8")
    names = [
        "tests/devices/profiles/test_profile.py",
        "tests/devices/decoders/test_line_fuzz.py",
        NOTES,
    ]
    names += ["tests/devices/identify/test_verdict_tables.py"]
    code, told = run(tree, *names, only=f"word or {WHOLE}")
    assert code == 1
    failed = set(re.findall(r"FAILED tests/\S+::(\w+)", told))
    assert failed == {
        "test_a_shipped_profile_is_complete_and_has_a_vector",
        "test_any_digits_in_the_shape_of_a_vector_come_back",
        "test_every_format_on_a_serial_port_is_identified_at_least_once",
        "test_every_shipped_profile_has_a_page_and_every_name_in_the_index_exists",
    }
    assert "KeyError" not in told
