"""Every error that gaugelink raises on purpose, and the exit code of each branch.

::

    GaugelinkError                     1   .hint: what to do next
    ├─ InputError      (ValueError)    2   something typed cannot be used
    ├─ DeviceError                     3   .address
    │  ├─ GaugeNotFound  (LookupError)
    │  │  └─ SeveralGaugesFit
    │  ├─ GaugeUnavailable                 .reason
    │  ├─ GaugeTimeout   (TimeoutError)    .timeout_s
    │  └─ GaugeDisconnected (ConnectionError)
    ├─ FileFormatError (ValueError)    4   .path, .where
    │  ├─ ProfileError
    │  └─ RecordingError
    ├─ StatisticsError (ValueError)    5
    ├─ SizingError     (ValueError)    6   .inputs
    └─ JournalError                    7   .path
       ├─ JournalFull
       ├─ JournalNotWritable
       ├─ JournalDamaged
       ├─ JournalBusy
       └─ JobNotFound    (LookupError)

A decoder raises none of these: bytes that are not a whole, valid frame are a
``Fault`` event (see ``model``), because one bad frame must not stop a job.
"""

from __future__ import annotations

import os
from collections.abc import Iterable
from enum import StrEnum
from typing import ClassVar

STOPPED = 130  # as shells count a program that Ctrl-C ended: 128 + SIGINT


class GaugelinkError(Exception):
    """Base of all errors; ``str()`` is one sentence for the person at the bench.

    Args:
        message: what is wrong, in one sentence.
        hint: what to do about it, in one sentence; may be empty.
    """

    exit_code: ClassVar[int] = 1

    def __init__(self, message: str, *, hint: str = "") -> None:
        super().__init__(message)
        self.hint = hint


class InputError(GaugelinkError, ValueError):
    """Something typed cannot be used: ``11,0,2 mm``, an unknown option, a bad address."""

    exit_code = 2


class DeviceError(GaugelinkError):
    """A gauge or its port misbehaves; ``address`` says which."""

    exit_code = 3

    def __init__(self, message: str, *, address: str = "", hint: str = "") -> None:
        super().__init__(message, hint=hint)
        self.address = address


class GaugeNotFound(DeviceError, LookupError):
    """Nothing answers at the address: port unplugged, name mistyped."""


class SeveralGaugesFit(GaugeNotFound):
    """More than one device answers to the address, and none can be told from the others."""


class Unavailable(StrEnum):
    """Why a gauge that is there cannot be opened."""

    BUSY = "busy"
    PERMISSION = "permission"
    PLATFORM = "platform"
    UNKNOWN = "unknown"


class GaugeUnavailable(DeviceError):
    """The port exists but cannot be opened: in use, not permitted, wrong platform."""

    def __init__(
        self, message: str, *, reason: Unavailable, address: str = "", hint: str = ""
    ) -> None:
        super().__init__(message, address=address, hint=hint)
        self.reason = reason


class GaugeTimeout(DeviceError, TimeoutError):
    """A gauge that was asked gave no answer within ``timeout_s`` seconds."""

    def __init__(
        self, message: str, *, timeout_s: float, address: str = "", hint: str = ""
    ) -> None:
        super().__init__(message, address=address, hint=hint)
        self.timeout_s = timeout_s


class GaugeDisconnected(DeviceError, ConnectionError):
    """The gauge was there and has gone: cable pulled, bridge reset, socket closed."""


class FileFormatError(GaugelinkError, ValueError):
    """A file the user named does not hold what it should, or cannot be written.

    Args:
        message: what is wrong.
        path: the file.
        where: the key or the line in it; may be empty.
        hint: what to do.
    """

    exit_code = 4

    def __init__(self, message: str, *, path: str, where: str = "", hint: str = "") -> None:
        place = f"{path}: {where}" if where else path
        super().__init__(f"{place}: {message}", hint=hint)
        self.path = path
        self.where = where


class ProfileError(FileFormatError):
    """A format profile has a missing key, an unknown key or a value that cannot work."""


class RecordingError(FileFormatError):
    """A recording cannot be replayed (bad line, bad hex, time running backwards) or written."""


class StatisticsError(GaugelinkError, ValueError):
    """A series cannot be summarised: no readings, a value not finite, no usable display step."""

    exit_code = 5


class SizingError(GaugelinkError, ValueError):
    """Dimensions that no barrel can have: arbor wider than bore, lid thicker than depth.

    ``inputs`` names the quantities that contradict one another.
    """

    exit_code = 6

    def __init__(self, message: str, *, inputs: Iterable[str] = (), hint: str = "") -> None:
        super().__init__(message, hint=hint)
        self.inputs = tuple(inputs)


class JournalError(GaugelinkError):
    """The journal, where every event is kept, cannot be used; ``path`` says which file."""

    exit_code = 7

    def __init__(self, message: str, *, path: str = "", hint: str = "") -> None:
        super().__init__(message, hint=hint)
        self.path = path


class JournalFull(JournalError):
    """The disk has no room left; nothing after the last acknowledged reading was taken."""


class JournalNotWritable(JournalError):
    """The folder or the file is read-only, or belongs to somebody else."""


class JournalDamaged(JournalError):
    """The file is not a journal, is damaged, or was made by a newer gaugelink."""


class JournalBusy(JournalError):
    """Another program holds the journal locked."""


class JobNotFound(JournalError, LookupError):
    """No job has that number or name."""


def refuse_special(path: str | os.PathLike[str]) -> None:
    """Refuse a pipe or a device where a file is to be opened: it may never end, or never begin.

    Raises:
        OSError: which each place that opens files says in its own words.
    """
    if os.path.exists(path) and not (os.path.isfile(path) or os.path.isdir(path)):
        raise OSError(None, "it is a pipe or a device, not a file")
