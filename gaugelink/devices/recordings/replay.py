"""Playing a recorded or computed exchange as if a gauge were there."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, final

from gaugelink.devices import address as options
from gaugelink.devices.contract import Port, VirtualClock
from gaugelink.devices.recordings.recording import EntryKind, RecordedEntry, read_recording
from gaugelink.errors import GaugeDisconnected, GaugeNotFound

if TYPE_CHECKING:
    from gaugelink.devices.address import Address
    from gaugelink.devices.profiles.profile import Profile


SLOWEST_PACE = 100.0  # machine seconds for each one that is played


def build_port(address: Address, profile: Profile) -> Port:
    """Make the port of a ``replay:FILE`` address; it does not wait unless ``pace`` says so.

    Raises:
        RecordingError: the file cannot be read or breaks the layout.
    """
    recording = read_recording(Path(address.target))
    clock = paced_clock(address, 0.0)
    identity = f"replay:{Path(address.target).stem}"
    transport = ReplayTransport(
        recording.entries, address=address.text, identity=identity, clock=clock
    )
    return Port(transport=transport, clock=clock)


def paced_clock(address: Address, usual_pace: float) -> VirtualClock:
    """Return the clock of what is played at ``address``, as slow as its ``pace`` says.

    Raises:
        InputError: the pace is not a number from 0 to ``SLOWEST_PACE``.
    """
    return VirtualClock(pace=options.number(address, "pace", usual_pace, high=SLOWEST_PACE))


def recorded_format(address: Address) -> str:
    """Return the name of the format that the recording at ``address`` was made in."""
    return read_recording(Path(address.target)).format


@final
class ReplayTransport:
    """Delivers the received bytes of ``entries`` at their times on ``clock``.

    Requests written to it are accepted and change nothing: what the gauge said is
    already known, and so is when. A lost link is played as one; while it lasts the
    transport cannot be opened.

    Args:
        entries: in order of time; taken one by one, so they may be endless.
        address: the address as the user would type it.
        identity: stable name of the gauge; the address when empty.
        clock: moved by this transport to each entry's time.
    """

    def __init__(
        self,
        entries: Iterable[RecordedEntry],
        *,
        address: str,
        clock: VirtualClock,
        identity: str = "",
    ) -> None:
        self._entries = iter(entries)
        self._next = next(self._entries, None)
        self.address = address
        self.identity = identity or address
        self._clock = clock
        self._rest = b""
        self._open = False
        self._unplugged = False

    @property
    def ended(self) -> bool:
        """True when everything has been delivered."""
        return self._next is None and not self._rest

    def open(self) -> None:
        """Open; fails while the played link is lost.

        Raises:
            GaugeNotFound: the entry that brings the link back is still to come.
        """
        while self._unplugged and self._next and self._next.t_s <= self._clock.now_s():
            self._unplugged = self._take().kind is not EntryKind.BACK
        if self._unplugged:
            raise GaugeNotFound(
                f"Nothing is connected at {self.identity}.",
                address=self.address,
                hint="The replayed gauge comes back by itself.",
            )
        self._open = True

    def read(self, max_bytes: int, timeout_s: float) -> bytes:
        """Return the next received bytes if they come within ``timeout_s`` on the clock."""
        self._require_open()
        if not self._rest:
            self._rest = self._advance(self._clock.now_s() + timeout_s)
        data, self._rest = self._rest[:max_bytes], self._rest[max_bytes:]
        return data

    def write(self, data: bytes) -> None:
        """Accept ``data`` and do nothing."""
        self._require_open()

    def close(self) -> None:
        """Close; nothing that is still to come is lost."""
        self._open = False

    def _advance(self, until_s: float) -> bytes:
        while self._next and self._next.t_s <= until_s:
            entry = self._take()
            self._clock.advance_to(entry.t_s)
            if entry.kind is EntryKind.LOST:
                self._open = False
                self._unplugged = True
                raise GaugeDisconnected(
                    f"{self.identity} was unplugged.",
                    address=self.address,
                    hint="The replayed gauge comes back by itself.",
                )
            if entry.kind is EntryKind.RECEIVED:
                return entry.data
        self._clock.advance_to(until_s)
        return b""

    def _take(self) -> RecordedEntry:
        entry = self._next
        if entry is None:
            raise EOFError("no entry left to play")
        self._next = next(self._entries, None)
        return entry

    def _require_open(self) -> None:
        if not self._open:
            raise GaugeDisconnected(
                f"{self.identity} is not open.",
                address=self.address,
                hint="Open the gauge first.",
            )
