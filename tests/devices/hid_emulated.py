"""Runs inside umockdev-run: the product on the real hidapi, on devices that are emulated.

umockdev shows the devices and answers for their descriptors; a pseudo-terminal stands
for each device node, and closing it is pulling the cable. Writes what happened as one line of JSON.
"""

from __future__ import annotations

import json
import os
import sys
import tty
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

from hid_bench import KEYS, down

from gaugelink.devices.address import parse_address
from gaugelink.devices.gauge import Gauge
from gaugelink.devices.ports.hid_finder import parse_target
from gaugelink.devices.ports.hid_port import HidTransport, list_hid_gauges
from gaugelink.devices.registry import open_gauge
from gaugelink.errors import GaugelinkError
from gaugelink.model import GaugeEvent, LinkChange, Reading

TYPING, LENGTH = "hidraw0", "hidraw1"
WAIT_S = 10.0  # an upper limit: a read returns as soon as a report is there
POLLS = 400  # at most; the first event ends them
NOBODY = 65534


class Cable:
    """A device node of the emulated system, with a gauge at the other end."""

    def __init__(self, node: str) -> None:
        self._node = Path(os.environ["UMOCKDEV_DIR"], "dev", node)
        self.plug()

    def plug(self) -> None:
        self._gauge, self._port = os.openpty()
        tty.setraw(self._port)
        self._node.unlink(missing_ok=True)
        self._node.symlink_to(os.ttyname(self._port))

    def send(self, report: bytes) -> None:
        """Send one report; a terminal would join it to another that was not read yet."""
        os.write(self._gauge, report)

    def pull(self) -> None:
        os.close(self._port)
        os.close(self._gauge)


def listing() -> Any:
    return [
        [i.identity, i.address, i.product, i.usage_page, i.usage, i.interface, os.fsdecode(i.path)]
        for i in list_hid_gauges()
    ]


def transport() -> Any:
    cable = Cable(TYPING)
    address = parse_address("hid:fff0:00a1")
    port = HidTransport(address=address.text, target=parse_target(address))
    port.open()
    silence = port.read(4096, 0.01)
    cable.send(down(0x1E))
    first = port.read(4096, WAIT_S)
    cable.send(down())
    second = port.read(4096, WAIT_S)
    cable.pull()
    lost = failure(lambda: port.read(4096, WAIT_S))
    absent = failure(port.open)
    return [port.identity, silence.hex(), first.hex(), second.hex(), lost, absent]


def readings() -> Any:
    """A typed reading, the cable pulled, plugged in again, and another reading."""
    cable = Cable(TYPING)
    typed = [bytes.fromhex(report) for report in KEYS[0]["reports"]]
    with open_gauge("hid:fff0:00a1?format=hid-keyboard&unit=mm") as gauge:
        seen = exchange(cable, gauge, typed)
        cable.pull()
        seen += next_events(gauge)
        cable.plug()
        seen += next_events(gauge)
        return seen + exchange(cable, gauge, typed)


def field() -> Any:
    cable = Cable(LENGTH)
    # 10000, -10000, and a count beyond the limits: the null state.
    sent = [bytes.fromhex(report) for report in ("01102700", "01f0d8ff", "01117700")]
    with open_gauge("hid:fff0:00a2?format=hid-field") as gauge:
        return exchange(cable, gauge, sent)


def rights() -> Any:
    """Open a node that nobody may open, as a user who may not open everything."""
    address = parse_address("hid:fff0:00a1")
    port = HidTransport(address=address.text, target=parse_target(address))
    root = Path(os.environ["UMOCKDEV_DIR"])
    for path in (root, *root.rglob("*")):
        if not path.is_symlink():
            path.chmod(0o777)  # umockdev's own files, for the user that this becomes
    (root / "dev" / TYPING).chmod(0)
    if os.geteuid() == 0:
        os.setuid(NOBODY)
    return failure(port.open)


def failure(act: Callable[[], object]) -> list[str]:
    try:
        act()
    except GaugelinkError as error:
        return [type(error).__name__, str(getattr(error, "reason", "")), error.hint]
    return ["nothing", "", ""]


def exchange(cable: Cable, gauge: Gauge, reports: Iterable[bytes]) -> list[Any]:
    """Send each report and let the gauge read it before the next one."""
    seen: list[Any] = []
    for report in reports:
        cable.send(report)
        seen += [in_short(event) for event in gauge.poll(WAIT_S)]
    return seen


def next_events(gauge: Gauge) -> list[Any]:
    for _ in range(POLLS):
        if events := gauge.poll():
            return [in_short(event) for event in events]
    return ["nothing came"]


def in_short(event: GaugeEvent) -> Any:
    body = event.body
    if isinstance(body, Reading):
        return [body.displayed, str(body.unit), body.value_mm, body.resolution_mm]
    return body.connected if isinstance(body, LinkChange) else getattr(body, "reason", None)


if __name__ == "__main__":
    scenario = {f.__name__: f for f in (listing, transport, readings, field, rights)}
    sys.stdout.write(json.dumps(scenario[sys.argv[1]]()))
