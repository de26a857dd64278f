"""What is done in the virtual machine: three sittings side by side, and plugs pulled meanwhile.

A caliper on ``cdc_acm`` and a typing micrometer on ``usbhid`` keep their job on ext4, a caliper on
``ftdi_sio`` on FAT32, and another on a disk that is pulled out. The kernel's command line says
``synchronous=OFF`` for a control, whose journals do not wait for the disk.
"""

from __future__ import annotations

import subprocess
import sys
import threading
import time
import traceback
from collections.abc import Sequence
from pathlib import Path

from gadgets import Gadget, LabError, wait_until
from sitting import Hand, Sitting, tell

SCHEMA = Path("/site/gaugelink/jobbook/schema.py")
LINES = "format=line-9600-8N1-unit"
# Without a bore nothing can be sized: the draws of an answer would take a minute in here.
LEFT_OUT = ("bore", "arbor", "found_thickness", "found_height")
HALF_A_LINE, FOREIGN_MM = "+   11.9", 12.34
SHARED_SERIAL = "GL0001"


def as_line(value_mm: float) -> str:
    """Return a line of the format ``line-9600-8N1-unit``."""
    return f"{'-' if value_mm < 0 else '+'}{abs(value_mm):8.2f}, MM\r\n"


class Bench:
    """The gauges, and what happens to their plugs."""

    def __init__(self) -> None:
        def caliper(socket: int, product_id: int, serial: str, name: str) -> Gadget:
            return Gadget(
                socket=socket, product_id=product_id, serial=serial, function=f"acm.{name}"
            )

        self.caliper = caliper(0, 0x0104, SHARED_SERIAL, "caliper")
        self.micrometer = Gadget(
            socket=1, product_id=0x0105, serial="GL0002", function="hid.micrometer"
        )
        self.foreign = caliper(2, 0x0199, "OTHER1", "foreign")
        self.twin = caliper(2, 0x0104, SHARED_SERIAL, "twin")
        self.spare = caliper(3, 0x0106, "GL0003", "spare")
        self.caliper.plug()
        self.micrometer.plug()
        for node in ("ttyACM0", "hidraw0", "ttyUSB0"):
            self.await_node(node)
        self.spare.plug()
        self.await_node("ttyACM1")

    def await_node(self, name: str) -> None:
        """Wait until the kernel has made a device."""
        wait_until(f"there is {name}", (Path("/dev") / name).exists)

    def swap_in_mid_line(self, _: Sitting) -> str:
        """Pull the caliper in mid line; another device takes its name and sends a number."""
        self.caliper.send_line(HALF_A_LINE)
        time.sleep(0.5)
        self.caliper.unplug()
        wait_until("ttyACM0 is free", lambda: not Path("/dev/ttyACM0").exists())
        self.foreign.plug()
        self.await_node("ttyACM0")
        self.foreign.send_line(as_line(FOREIGN_MM))
        time.sleep(1)
        self.caliper.plug()
        self.await_node("ttyACM2")
        return "caliper"

    def pull_in_mid_number(self, _: Sitting) -> str:
        """Pull the micrometer when it has typed one digit, and put it back."""
        self.micrometer.type_keys("1")
        time.sleep(0.5)
        self.micrometer.unplug()
        wait_until("hidraw0 is gone", lambda: not Path("/dev/hidraw0").exists())
        self.micrometer.plug()
        self.await_node("hidraw0")
        return "micrometer"

    def come_back_as_two(self, sitting: Sitting) -> str:
        """Pull the caliper, and put it back beside one with the same serial number."""
        self.foreign.unplug()
        with sitting.halted():  # or it would meet one of the two alone
            self.caliper.unplug()
            self.twin.plug()
            self.caliper.plug()
            time.sleep(2)
        # Where nothing is said of it, the twin goes all the same, and the job goes on.
        self._twin_goes = threading.Timer(25, self.twin.unplug)
        self._twin_goes.start()
        return "caliper"

    def take_twin_away(self) -> None:
        """Do what is asked when two devices answer to one name."""
        self._twin_goes.cancel()
        self.twin.unplug()

    def pull_ftdi(self, _: Sitting) -> str:
        """Have the host pull and plug the adapter that it plays."""
        tell("host", "unplug")
        wait_until("ttyUSB0 is gone", lambda: not Path("/dev/ttyUSB0").exists())
        tell("host", "plug")
        self.await_node("ttyUSB0")
        return "caliper"


def mount_disks() -> dict[str, Path]:
    """Mount each disk that the host named; return where each is in sysfs."""
    disks = {}
    for disk in sorted(Path("/sys/block").glob("vd*")):
        name = (disk / "serial").read_text(encoding="ascii").strip()
        if name:
            folder = Path("/mnt") / name
            folder.mkdir()
            kind = "vfat" if name == "vfat" else "ext4"
            subprocess.run(["mount", "-t", kind, f"/dev/{disk.name}", folder], check=True)
            disks[name] = disk
    return disks


def sittings(bench: Bench, disks: dict[str, Path]) -> list[Sitting]:
    """Return the three runs."""

    def measure(name: str, *addresses: str, without: Sequence[str] = LEFT_OUT) -> list[str]:
        kept = ("--title", "lab", "--depth-from", "rim", "--quiet", "--journal", f"/mnt/{name}/j")
        left_out = [word for each in without for word in ("--without", each)]
        return ["python3", "-m", "gaugelink", "measure", *addresses, *left_out, *kept]

    def pull_disk(_: Sitting) -> str:
        (disks["pulled"].resolve() / "device" / ".." / "remove").write_text("1", encoding="ascii")
        return ""

    def by_host(value_mm: float) -> None:
        tell("host", f"send {as_line(value_mm).encode().hex()}")

    caliper = Hand(send=lambda mm: bench.caliper.send_line(as_line(mm)), step_mm=0.01)
    micrometer = Hand(send=lambda mm: bench.micrometer.type_keys(f"{mm:.3f}\n"), step_mm=0.001)
    spare = Hand(send=lambda mm: bench.spare.send_line(as_line(mm)), step_mm=0.01)
    hid = "hid:1d6b:0105?format=hid-keyboard&kind=micrometer&unit=mm"
    return [
        Sitting(
            tag="ext4",
            command=measure("ext4", f"serial:/dev/ttyACM0?{LINES}", hid, without=LEFT_OUT[:1]),
            hands={"caliper": caliper, "micrometer": micrometer},
            after={
                ("caliper", 3): bench.swap_in_mid_line,
                ("micrometer", 3): bench.pull_in_mid_number,
                ("caliper", 6): bench.come_back_as_two,
            },
            upon={"2 ports answer": bench.take_twin_away},
        ),
        Sitting(
            tag="vfat",
            command=measure("vfat", f"serial:/dev/ttyUSB0?{LINES}"),
            hands={"caliper": Hand(send=by_host, step_mm=0.01)},
            after={("caliper", 4): bench.pull_ftdi},
        ),
        Sitting(
            tag="pulled",
            command=measure("pulled", f"serial:/dev/ttyACM1?{LINES}"),
            hands={"caliper": spare},
            after={("caliper", 3): pull_disk},
        ),
    ]


def option(name: str) -> str:
    """Return what the kernel's command line says behind ``NAME=``."""
    words = Path("/proc/cmdline").read_text(encoding="ascii").split()
    return next((word.partition("=")[2] for word in words if word.startswith(f"{name}=")), "")


def do_not_wait(level: str) -> None:
    """Set how the journal waits for the disk."""
    text = SCHEMA.read_text(encoding="utf-8")
    assert "synchronous = FULL" in text
    SCHEMA.write_text(text.replace("synchronous = FULL", f"synchronous = {level}"), "utf-8")


def main() -> None:
    """Do all of it, and have the host cut the power."""
    tell("lab", "begun")
    if level := option("synchronous"):
        do_not_wait(level)
    disks = mount_disks()
    runs = []
    for each in sittings(Bench(), disks):
        each.environment = {"GAUGELINK_HOME": f"/root/{each.tag}"}
        runs.append(threading.Thread(target=each.run))
    tell("lab", "plugged in")
    for run in runs:
        run.start()
    for run in runs:
        run.join()


if __name__ == "__main__":
    threading.excepthook = lambda args: tell(
        "lab", f"FAILED {''.join(traceback.format_exception(args.exc_value)).encode()!r}"
    )
    try:
        main()
    except (LabError, OSError, AssertionError, subprocess.SubprocessError) as exc:
        tell("lab", f"FAILED {''.join(traceback.format_exception(exc)).encode()!r}")
    tell("host", "cut")
    time.sleep(30)
    sys.exit()
