"""Builds the firmware, for its chip and for this computer, and the programs that drive it."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

HERE = Path(__file__).parent
FIRMWARE = HERE.parents[1] / "firmware_notes" / "firmware"
PORTABLE = [FIRMWARE / "bit_collector.c", FIRMWARE / "bridge_line.c"]
WARNINGS = ["-Wall", "-Wextra", "-Werror"]
BUILD_S = 120  # ends a hang; a build takes a second or two


def missing_compiler() -> str:
    """Say why no C can be built here; empty when it can."""
    if not sys.platform.startswith("linux"):
        return "The firmware is tested on Linux."
    return "" if shutil.which("gcc") else "gcc is needed to build the collector (Debian: gcc)."


def missing_simulator() -> str:
    """Say why the firmware cannot be run here; empty when it can."""
    if why := missing_compiler():
        return why
    if not shutil.which("avr-gcc"):
        return "avr-gcc is needed to build the firmware (Debian: gcc-avr avr-libc)."
    if not Path("/usr/include/simavr/sim_avr.h").exists():
        return "simavr is needed to run the firmware (Debian: libsimavr-dev)."
    return ""


def build_filter(folder: Path) -> Path:
    """Build the collector for this computer, with every check the compiler can put in."""
    program = folder / "collector_filter"
    sanitize = ["-fsanitize=address,undefined", "-fno-sanitize-recover"]
    sources = [HERE / "collector_filter.c", *PORTABLE]
    _run("gcc", "-std=c99", "-O1", *WARNINGS, *sanitize, f"-I{FIRMWARE}", *sources, "-o", program)
    strict = ["-Wconversion", "-Wpedantic"]
    _run("gcc", "-std=c99", *WARNINGS, *strict, "-fsyntax-only", *PORTABLE)
    return program


def build_firmware(folder: Path, *options: str, at_8_mhz: bool = False) -> Path:
    """Build the firmware for its chip, as its own head says, with ``options`` for a gauge."""
    slow = ["8-mhz"] if at_8_mhz else []
    program = folder / f"{'-'.join(['bridge', *slow, *(o.strip('-D') for o in options)])}.elf"
    clock = ["-DF_CPU=8000000UL"] if at_8_mhz else ["-DF_CPU=16000000UL"]
    chip = ["-mmcu=atmega328p", *clock, "-std=c99", "-Os", *WARNINGS]
    sources = [FIRMWARE / "main_avr.c", FIRMWARE / "edges_avr.c", *PORTABLE]
    _run("avr-gcc", *chip, *options, *sources, "-o", program)
    return program


def build_host(folder: Path) -> Path:
    """Build the program that holds the simulated chip."""
    program = folder / "simavr_host"
    source = HERE / "simavr_host.c"
    include = "-I/usr/include/simavr"
    _run("gcc", "-std=gnu99", "-O2", *WARNINGS, include, source, "-o", program, "-lsimavr")
    return program


def _run(*command: str | Path) -> None:
    done = subprocess.run(command, capture_output=True, text=True, timeout=BUILD_S, check=False)
    assert done.returncode == 0, f"{' '.join(map(str, command))}\n{done.stderr}"
