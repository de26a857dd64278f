"""Format profiles: what a kind of gauge sends, how its port is set, how to ask for a reading.

A profile is a TOML file, ``<name>.toml``. Those shipped lie in ``formats/`` beside
this module; a user's own folders are looked through as well. A file of the user's
replaces an earlier one of the same name only if it says ``replaces = true``,
so that no shipped format changes its meaning unnoticed. Files are listed by name
and only the one that is asked for is opened: a bad file hurts only those who use it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING, Any

from gaugelink.devices.decoders.bits import BitFormat
from gaugelink.devices.decoders.formats import HidFormat, WireFormat, default_unit
from gaugelink.devices.decoders.line import LineFormat, Parity, with_parity
from gaugelink.devices.profiles import toml_fields
from gaugelink.devices.profiles.wire_kinds import DEFAULT, wire_kind
from gaugelink.errors import InputError, ProfileError
from gaugelink.model import Sends
from gaugelink.units import LengthUnit

if TYPE_CHECKING:
    from importlib.resources.abc import Traversable

_SUFFIX = ".toml"


@dataclass(frozen=True, slots=True, kw_only=True)
class PortSettings:
    """How a serial port is opened; ``dtr`` and ``rts`` are the levels set before opening."""

    baud: int = 9600
    data_bits: int = 8
    parity: Parity = Parity.NONE
    stop_bits: int = 1
    dtr: bool = True
    rts: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Profile:
    """All that gaugelink must know of one kind of gauge.

    Args:
        name: the file name without ``.toml``.
        title: a line for lists.
        summary: what to set on the gauge, and what the format cannot tell.
        source: where the format is published.
        wire: what the gauge sends: lines of text, bursts of bits that a bridge collects
            and sends on, or HID reports.
        port: how a serial port is set; other transports ignore it.
        sends: when the gauge sends, unless the user says otherwise.
        request: bytes that ask for a reading; None when the gauge is never asked.
        reply_timeout_s: how long an answer to the request may take, in s.
        idle_s: how long a gauge that sends all the time may be silent, in s, before its silence
            is told: it may rest while nothing moves, or switch itself off.
        experimental: parts of the format are inferred and not published.
        decoder: the kind of decoder, a name in ``wire_kinds.WIRE_KINDS``; a gaugelink
            that does not know it refuses the file.
    """

    name: str
    title: str
    summary: str
    source: str
    wire: WireFormat
    port: PortSettings = PortSettings()
    sends: Sends = Sends.BUTTON
    request: bytes | None = None
    reply_timeout_s: float = 2.0
    idle_s: float = 2.0
    experimental: bool = False
    decoder: str = DEFAULT

    @property
    def line(self) -> LineFormat | None:
        """What lines of text look like, if it sends such."""
        return self.wire if isinstance(self.wire, LineFormat) else None

    @property
    def bits(self) -> BitFormat | None:
        """What bursts of bits look like, if it sends such."""
        return self.wire if isinstance(self.wire, BitFormat) else None

    @property
    def hid(self) -> HidFormat | None:
        """What HID reports look like, if it sends such."""
        return None if isinstance(self.wire, LineFormat | BitFormat) else self.wire

    @property
    def unit_default(self) -> LengthUnit | None:
        """The unit of what carries none; None when the gauge must say it, or the user."""
        return default_unit(self.wire)


@dataclass(frozen=True, slots=True, kw_only=True)
class ProfileSet:
    """The profile files of each name: the shipped one first, then the user's."""

    files: Mapping[str, tuple[Traversable, ...]]

    @property
    def names(self) -> tuple[str, ...]:
        """All names, sorted."""
        return tuple(sorted(self.files))

    def find(self, name: str) -> Profile:
        """Open and read one profile.

        Raises:
            InputError: no file has that name.
            ProfileError: the file cannot be used, or would replace another unasked.
        """
        if name not in self.files:
            known = f"Formats: {', '.join(self.names)}."
            raise InputError(f"Unknown format {name!r}.", hint=known)
        *earlier, file = self.files[name]
        spot = _open(file)
        fields = _read_fields(spot)
        if earlier and not fields.get("replaces"):
            hint = "Give the file another name, or write replaces = true in it."
            raise spot.child("replaces").fault(f"the format {name!r} exists already.", hint)
        fields.pop("replaces", None)
        profile = Profile(name=name, **fields)
        _check_parity_can_be_seen(profile, spot)
        return profile


def as_opened(profile: Profile) -> Profile:
    """Return a profile of seven data bits as its port is opened: with eight.

    The serial driver sets a parity and never checks it (pyserial 3.5 clears INPCK), and a port
    of seven bits throws the parity bit away. So it is read as bit 7: the decoder checks it, or
    clears what is the first of two stop bits. Requests carry it as well. With seven bits and a
    single stop bit there is no eighth one to read.
    """
    port, line = profile.port, profile.line
    if line is None or port.data_bits != 7:
        return profile
    checked = port.parity is not Parity.NONE
    if not checked and port.stop_bits == 1:
        return profile
    if not line.strip_high_bit and line.check_parity is Parity.NONE:
        line = replace(line, check_parity=port.parity, strip_high_bit=not checked)
    request = profile.request
    return replace(
        profile,
        port=replace(port, data_bits=8, parity=Parity.NONE),
        wire=line,
        request=None if request is None else with_parity(request, port.parity),
    )


def load_profiles(folders: Sequence[Path] = ()) -> ProfileSet:
    """List the shipped profiles and those in the user's folders, without opening any.

    Args:
        folders: in order; a later one may replace what an earlier one has. A folder
            that does not exist is empty.
    """
    from importlib import resources

    shipped = resources.files("gaugelink.devices.profiles").joinpath("formats")
    files: dict[str, tuple[Traversable, ...]] = {}
    for folder in (shipped, *(path for path in folders if path.is_dir())):
        for file in sorted(folder.iterdir(), key=lambda entry: entry.name):
            if file.name.endswith(_SUFFIX):
                name = file.name.removesuffix(_SUFFIX)
                files[name] = (*files.get(name, ()), file)
    return ProfileSet(files=files)


def find_profile(name: str, folders: Sequence[Path] = ()) -> Profile:
    """Return the profile called ``name``; see ``load_profiles`` and ``ProfileSet.find``."""
    return load_profiles(folders).find(name)


def _open(file: Traversable) -> toml_fields.Spot:
    import tomllib

    try:
        values = tomllib.loads(file.read_text(encoding="utf-8-sig"), parse_float=Decimal)
    except OSError as error:
        raise ProfileError(f"cannot be read: {error}.", path=str(file)) from error
    except ValueError as error:  # not UTF-8, or not TOML; tomllib names the line
        raise ProfileError(f"not a TOML file: {error}.", path=str(file)) from error
    return toml_fields.Spot(value=values, path=str(file))


def _read_fields(spot: toml_fields.Spot) -> dict[str, Any]:
    """Read the whole file, with the tables that its decoder has; keys are fields, mostly."""
    kind = wire_kind(spot.child("decoder", spot.value.get("decoder", DEFAULT)))
    required = ("title", "summary", "source", *kind.required)
    fields = toml_fields.read_table(spot, {**_PROFILE, **kind.tables}, required=required)
    tables = {name: fields.pop(name) for name in kind.tables if name in fields}
    return fields | {"wire": kind.assemble(tables)}


def _check_parity_can_be_seen(profile: Profile, spot: toml_fields.Spot) -> None:
    line = profile.line
    if line and line.check_parity is not Parity.NONE and profile.port.data_bits != 8:
        message = "needs port.data_bits = 8: with 7 the port takes the parity bit away."
        raise spot.child("line").child("check_parity").fault(message)


def _port(spot: toml_fields.Spot) -> PortSettings:
    return PortSettings(**toml_fields.read_table(spot, PORT_SCHEMA))


def _prose(spot: toml_fields.Spot) -> str:
    """Join the lines of a text that is broken only to fit the file."""
    return " ".join(toml_fields.text(spot).split())


def _timeout_s(spot: toml_fields.Spot) -> float:
    return float(toml_fields.decimal(spot))


PORT_SCHEMA: toml_fields.Schema = {
    "baud": toml_fields.whole(50, 4_000_000),
    "data_bits": toml_fields.whole(7, 8),
    "parity": toml_fields.choice(Parity),
    "stop_bits": toml_fields.whole(1, 2),
    "dtr": toml_fields.flag,
    "rts": toml_fields.flag,
}

_PROFILE: toml_fields.Schema = {
    "title": _prose,
    "summary": _prose,
    "source": _prose,
    "port": _port,
    "sends": toml_fields.choice(Sends),
    "request": toml_fields.data,
    "reply_timeout_s": _timeout_s,
    "idle_s": _timeout_s,
    "experimental": toml_fields.flag,
    "decoder": toml_fields.text,
    "replaces": toml_fields.flag,
}
