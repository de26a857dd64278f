"""A stand-in for the modules ``hid`` and ``hidraw``: the same calls, and failures at will."""

from __future__ import annotations

import queue
import types
from typing import Any

# As hidapi 0.15.0 lists a device on Linux; the device is invented.
GAUGE: dict[str, Any] = {
    "path": b"/dev/hidraw-stand-in",
    "vendor_id": 0xFFF0,
    "product_id": 0x00A1,
    "serial_number": "A1B2C3",
    "release_number": 0x0100,
    "manufacturer_string": "Invented",
    "product_string": "Typing gauge",
    "usage_page": 0x01,
    "usage": 0x06,
    "interface_number": 0,
    "bus_type": 1,
}


class StandIn(types.ModuleType):
    """The module: what is plugged in, how opening fails, what the devices were asked."""

    def __init__(self, *plugged: dict[str, Any], descriptor: bytes = b"") -> None:
        super().__init__("hidraw")
        self.plugged = [{**GAUGE, **changes} for changes in plugged or ({},)]
        self.descriptor = descriptor
        self.open_fails: str | None = None
        self.lost = False
        self.reports: queue.SimpleQueue[bytes] = queue.SimpleQueue()
        self.opened: list[bytes] = []
        self.written: list[bytes] = []
        self.timeouts_ms: list[int] = []
        self.n_open = 0

    def enumerate(self, vendor_id: int = 0, product_id: int = 0) -> list[dict[str, Any]]:
        assert (vendor_id, product_id) == (0, 0)
        return [dict(entry) for entry in self.plugged]

    def device(self) -> _Device:
        return _Device(self)


class _Device:
    def __init__(self, module: StandIn) -> None:
        self._module = module
        self._is_open = False

    def open_path(self, path: bytes) -> None:
        assert isinstance(path, bytes)
        if self._module.open_fails is not None:
            raise OSError("open failed")  # all that hidapi says
        self._module.opened.append(path)
        self._module.n_open += 1
        self._is_open = True

    def error(self) -> str:
        return self._module.open_fails or "Success"

    def get_report_descriptor(self) -> list[int]:
        if not self._module.descriptor:
            raise OSError("unable to get report descriptor")
        return list(self._module.descriptor)

    def read(self, max_length: int, timeout_ms: int = 0) -> list[int]:
        self._check()
        assert timeout_ms > 0, "0 would wait for ever"
        self._module.timeouts_ms.append(timeout_ms)
        try:
            return list(self._module.reports.get(timeout=timeout_ms / 1000)[:max_length])
        except queue.Empty:
            return []

    def write(self, data: bytes) -> int:
        self._check()
        self._module.written.append(bytes(data))
        return len(data)

    def close(self) -> None:
        self._module.n_open -= self._is_open
        self._is_open = False

    def _check(self) -> None:
        if not self._is_open:
            raise ValueError("not open")
        if self._module.lost:
            raise OSError("read error")
