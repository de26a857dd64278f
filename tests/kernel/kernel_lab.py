"""Boots the virtual machine and plays what is outside it: plugs, a serial cable, and the power.

``python tests/kernel/kernel_lab.py IMAGES RUN [LEVEL]`` boots what ``kernel_image.py`` built in the
folder IMAGES, leaves console, disks and write logs in the folder RUN, and prints the console. LEVEL
is how the journals wait for their disk, as ``synchronous`` of SQLite; OFF makes a control.

KVM is never used. Each disk lies behind QEMU's ``blklogwrites``, which writes down every write and
flush in order; ``power_cuts.py`` makes of that what a disk holds when the power goes.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import signal
import socket
import struct
import subprocess
import sys
import threading
import time
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, Self

from kernel_image import PATH, run

SECTOR_BYTES = 512
LIMIT_S = 600  # ends a machine that hangs; a run takes one minute, or four beside other work
LOGGED = ("ext4", "vfat")
# FAT32 begins at 65,525 clusters; clusters of one sector spread a file over much of the table.
SIZES = {"ext4": "12M", "vfat": "36M", "pulled": "12M"}
# Each leaves out a wait or a probe that a machine of this kind does not need.
KERNEL = (
    "console=ttyS0 quiet panic=-1 mitigations=off nokaslr tsc=reliable no_timer_check "
    "random.trust_cpu=on rcupdate.rcu_expedited=1"
)
MACHINE = (
    *("-accel", "tcg,thread=multi,tb-size=512", "-machine", "pc,hpet=off", "-cpu", "max"),
    *("-smp", "2", "-m", "1024", "-nodefaults", "-no-user-config", "-display", "none"),
    *("-no-reboot", "-serial", "stdio"),
)
FTDI = {"driver": "usb-serial", "id": "ftdi", "bus": "uhci.0", "chardev": "cable"}
FTDI_SERIAL = "GLFT01"


@dataclass(frozen=True, kw_only=True)
class Line:
    """One line of the console: ``tag`` whose, ``guest_s`` when, ``text`` what.

    ``position`` is how many entries the log of the tag's disk had when it was heard.
    """

    tag: str
    guest_s: float
    text: str
    position: int


class Monitor:
    """QEMU's own control, QMP."""

    def __init__(self, link: socket.socket) -> None:
        self._file = link.makefile("rw", encoding="utf-8")
        self._file.readline()  # the greeting
        self.ask("qmp_capabilities")

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *error: object) -> None:
        self._file.close()

    def ask(self, command: str, **arguments: object) -> None:
        """Have a command done."""
        said = json.dumps({"execute": command, "arguments": arguments})
        self._file.write(f"{said}\n")
        self._file.flush()
        while "event" in (answer := json.loads(self._file.readline())):
            pass
        if "error" in answer:
            raise RuntimeError(f"QEMU refuses {command}: {answer['error']}")


class Machine:
    """One run of the virtual machine; ``lines`` is what its console said.

    Args:
        images: the folder of ``kernel_image.build``.
        folder: where disks, logs and the console are left.
        level: ``synchronous`` of the journals; empty as they are shipped.
    """

    def __init__(self, images: Path, folder: Path, level: str = "") -> None:
        folder.mkdir(parents=True, exist_ok=True)
        self._folder = folder
        self.lines: list[Line] = []
        for name in ("monitor", "cable"):
            (folder / name).unlink(missing_ok=True)
        disks = [word for name in SIZES for word in _disk(folder, name)]
        append = f"{KERNEL} synchronous={level}" if level else KERNEL
        root = f"driver=file,node-name=root,filename={images}/root.sqfs,read-only=on"
        plugged = ",".join(f"{key}={value}" for key, value in _ftdi("=on").items())
        self._command = [
            *("qemu-system-x86_64", *MACHINE),
            *("-kernel", f"{images}/vmlinux", "-initrd", f"{images}/first.cpio", "-append", append),
            *("-blockdev", root, "-device", "virtio-blk-pci,drive=root", *disks),
            *("-qmp", f"unix:{folder}/monitor,server=on,wait=off"),
            *("-chardev", f"socket,id=cable,path={folder}/cable,server=on,wait=off"),
            *("-device", "piix3-usb-uhci,id=uhci", "-device", plugged),
        ]

    def run(self) -> None:
        """Boot, follow the console, do what it asks for, and cut the power when it says so."""
        self._qemu = subprocess.Popen(
            self._command,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            env={**os.environ, "PATH": PATH},
        )
        limit = threading.Timer(LIMIT_S, self._qemu.kill)
        limit.start()
        try:
            with (
                _connected(self._folder / "monitor") as monitor,
                _connected(self._folder / "cable") as self._cable,
                Monitor(monitor) as self._monitor,
                self._qemu,
            ):
                self._follow()
        finally:
            limit.cancel()
            self._qemu.kill()
        told = [asdict(line) for line in self.lines]
        (self._folder / "lines.json").write_text(json.dumps(told, indent=0), encoding="utf-8")

    def _follow(self) -> None:
        assert self._qemu.stdout is not None
        with (self._folder / "console.log").open("w", encoding="utf-8") as console:
            for raw in self._qemu.stdout:
                text = raw.decode(errors="replace").rstrip()
                console.write(f"{text}\n")
                console.flush()
                if found := re.match(r"@(\w+) ([\d.]+) (.*)", text):
                    self._heard(found[1], float(found[2]), found[3])

    def _heard(self, tag: str, guest_s: float, text: str) -> None:
        position = entries(self._folder / f"{tag}.log") if tag in LOGGED else 0
        self.lines.append(Line(tag=tag, guest_s=guest_s, text=text, position=position))
        if tag == "host":
            command, _, rest = text.partition(" ")
            match command:
                case "send":
                    self._cable.sendall(bytes.fromhex(rest))
                case "unplug":
                    self._monitor.ask("device_del", id="ftdi")
                case "plug":
                    self._monitor.ask("device_add", **_ftdi(True))
                case "cut":
                    self._qemu.send_signal(signal.SIGKILL)


def load(folder: Path) -> list[Line]:
    """Return what the console of a run said."""
    told = json.loads((folder / "lines.json").read_text(encoding="utf-8"))
    return [Line(**each) for each in told]


def entries(log: Path) -> int:
    """Return how many writes and flushes a log holds by now: QEMU brings its head up to date."""
    with log.open("rb") as file:
        head = file.read(28)
    return int(struct.unpack("<QQQI", head)[2]) if len(head) == 28 else 0


def _ftdi(always: Any) -> dict[str, Any]:
    """Return the adapter, for the command line (where true is "=on") or for the monitor."""
    on = "on" if always == "=on" else True
    return {**FTDI, "always-plugged": on, "serial": FTDI_SERIAL}


def _connected(path: Path) -> socket.socket:
    """Connect to a socket that QEMU is about to make."""
    link = socket.socket(socket.AF_UNIX)
    until_s = time.monotonic() + 20
    while True:
        try:
            link.connect(str(path))
        except OSError:
            if time.monotonic() > until_s:
                raise
            time.sleep(0.05)
        else:
            return link


def _disk(folder: Path, name: str) -> Sequence[str]:
    """Make an empty disk, with a copy of it and a log; return how QEMU is told of it."""
    image, log = folder / f"{name}.img", folder / f"{name}.log"
    image.unlink(missing_ok=True)
    run("truncate", "-s", SIZES[name], image)
    if name == "vfat":
        run("mkfs.vfat", "-F", "32", "-s", "1", image)
    else:
        eager = "lazy_itable_init=0,lazy_journal_init=0"
        run("mkfs.ext4", "-q", "-F", "-E", eager, image)
    device = f"virtio-blk-pci,write-cache=on,serial={name},drive"
    if name not in LOGGED:
        plain = f"driver=file,node-name={name},filename={image}"
        return "-blockdev", plain, "-device", f"{device}={name}"
    shutil.copyfile(image, folder / f"{name}.base")
    log.unlink(missing_ok=True)
    run("truncate", "-s", "256M", log)
    logged = f"driver=blklogwrites,node-name=logged-{name},file=file-{name},log=log-{name}"
    return (
        *("-blockdev", f"driver=file,node-name=file-{name},filename={image}"),
        *("-blockdev", f"driver=file,node-name=log-{name},filename={log}"),
        *("-blockdev", f"{logged},log-sector-size={SECTOR_BYTES},log-super-update-interval=1"),
        *("-device", f"{device}=logged-{name}"),
    )


def main(images: Path, folder: Path, level: str = "") -> None:
    """Run once, and print the console and how long it took."""
    began_s = time.monotonic()
    machine = Machine(images, folder, level)
    machine.run()
    sys.stdout.write((folder / "console.log").read_text(encoding="utf-8"))
    used = os.times()
    processor_s = used.children_user + used.children_system
    sys.stdout.write(f"{time.monotonic() - began_s:.0f} s, of processor {processor_s:.0f} s\n")


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]), *sys.argv[3:4])
