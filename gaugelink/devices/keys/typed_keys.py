"""Readings that are typed into the terminal, by a keyboard-type gauge or a person.

Keyboard-type gauges cannot be opened as devices on every system, but wherever they
are plugged in they type. Standard input may also be a pipe; then lines count as
they come, and its end is the end of the gauge.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from typing import TYPE_CHECKING, final

from gaugelink.devices.clock import SystemClock
from gaugelink.devices.contract import Port
from gaugelink.devices.keys.key_editor import KeyEditor, PipedLines
from gaugelink.devices.keys.key_sources import KeySource, find_source
from gaugelink.errors import GaugeDisconnected, GaugeUnavailable, Unavailable

if TYPE_CHECKING:
    from gaugelink.devices.address import Address
    from gaugelink.devices.profiles.profile import Profile

STDIN_FD = 0


def build_port(address: Address, profile: Profile) -> Port:
    """Join a transport over standard input with the machine's clock."""
    transport = KeysTransport(find_source(STDIN_FD), address=address.text)
    return Port(transport=transport, clock=SystemClock())


def echo_to_stderr(data: bytes) -> None:
    """Show typed keys; standard output stays free for data."""
    sys.stderr.write(data.decode("utf-8", "replace"))
    sys.stderr.flush()


@final
class KeysTransport:
    """Whole lines from standard input, each ending in a line feed.

    Args:
        source: the terminal, console or pipe.
        address: the address as the user typed it.
        echo: shows what a terminal in single-key mode does not show by itself.
    """

    def __init__(
        self,
        source: KeySource,
        *,
        address: str = "keys:",
        echo: Callable[[bytes], None] = echo_to_stderr,
    ) -> None:
        self._source = source
        self._address = address
        self._echo = echo
        self._editor = KeyEditor() if source.single_keys else PipedLines()
        self._lines = b""
        self._open = False

    @property
    def address(self) -> str:
        """The address as the user typed it."""
        return self._address

    @property
    def identity(self) -> str:
        """``keys:``; there is one standard input."""
        return "keys:"

    @property
    def ended(self) -> bool:
        """True when the input is closed and every line was read."""
        return (self._source.ended or self._editor.ended) and not self._lines

    def open(self) -> None:
        """Begin to read.

        Raises:
            GaugeUnavailable: the terminal cannot be switched to single keys.
        """
        try:
            self._source.open()
        except OSError as exc:
            raise GaugeUnavailable(
                f"The terminal cannot hand on single keys: {exc}.",
                reason=Unavailable.PLATFORM,
                address=self._address,
                hint="Pipe the readings in, one a line.",
            ) from exc
        self._open = True

    def read(self, max_bytes: int, timeout_s: float) -> bytes:
        """Return the lines that were completed within ``timeout_s``.

        Raises:
            GaugeDisconnected: the transport is not open.
        """
        if not self._open:
            raise GaugeDisconnected("keys: is not open.", address=self._address)
        if self.ended:
            time.sleep(timeout_s)  # a closed input is silent; the caller's loop must not race
        elif not self._lines:
            self._lines = self._take(timeout_s)
        data, self._lines = self._lines[:max_bytes], self._lines[max_bytes:]
        return data

    def write(self, data: bytes) -> None:
        """Accept ``data`` and do nothing: a keyboard cannot be asked.

        Raises:
            GaugeDisconnected: the transport is not open.
        """
        if not self._open:
            raise GaugeDisconnected("keys: is not open.", address=self._address)

    def close(self) -> None:
        """Put the terminal back as it was; safe to call twice."""
        self._open = False
        self._source.close()

    def _take(self, timeout_s: float) -> bytes:
        lines = self._editor.feed(self._source.read(timeout_s))
        if self._editor.echo:
            self._echo(self._editor.echo)
        return lines + self._editor.finish() if self._source.ended else lines
