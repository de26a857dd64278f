"""From an address to a gauge: the table of schemes, and the checks on their options.

An address may set some keys of its profile, so that a variant needs no file of its own:
``serial:PORT?format=line-two-channel&baud=4800`` has the port set to another speed, and
``bridge:PORT?format=signmag24&invert=true`` reads a gauge behind one transistor a line.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from decimal import Decimal
from importlib import import_module
from pathlib import Path
from typing import Any

from gaugelink.devices import address as options
from gaugelink.devices.address import COMMON_OPTIONS, PYSERIAL_SCHEMES, Address, parse_address
from gaugelink.devices.contract import Port
from gaugelink.devices.decoders import make_decoder
from gaugelink.devices.decoders.bits import BitFormat
from gaugelink.devices.decoders.formats import BIT_KINDS, WireFormat
from gaugelink.devices.decoders.hid_keys import HidKeysFormat, KeyboardLayout
from gaugelink.devices.decoders.line import LineFormat, Parity
from gaugelink.devices.gauge import Gauge, Requests
from gaugelink.devices.profiles.profile import (
    PORT_SCHEMA,
    Profile,
    as_opened,
    find_profile,
    load_profiles,
)
from gaugelink.devices.profiles.toml_fields import Schema, Spot, choice, flag, schema_of
from gaugelink.errors import InputError, ProfileError
from gaugelink.model import GaugeInfo, GaugeKind, Sends
from gaugelink.units import LengthUnit

_PORT: Schema = {key: PORT_SCHEMA[key] for key in ("baud", "data_bits", "parity", "stop_bits")}
_LINE: Schema = {"check_parity": choice(Parity), "strip_high_bit": flag}
_KEYS: Schema = {"layout": choice(KeyboardLayout)}
PORT_OPTIONS = frozenset(_PORT)
_BIT_OPTIONS = {each.name for kind in BIT_KINDS.values() for each in fields(kind.settings)}
WIRE_OPTIONS = frozenset(_LINE) | frozenset(_KEYS) | (_BIT_OPTIONS - {"unit_default"})


def _wire_schema(fmt: WireFormat) -> Schema:
    match fmt:
        case LineFormat():
            return _LINE
        case HidKeysFormat():
            return _KEYS
        case BitFormat():
            readers = schema_of(type(fmt)).items()
            return {key: reader for key, reader in readers if key in WIRE_OPTIONS}
    return {}


def varied(profile: Profile, address: Address) -> Profile:
    """Return the profile with the keys that the address sets.

    Raises:
        InputError: a value that cannot be, or a key that the format does not have.
    """
    wire = _wire_schema(profile.wire)
    for key in sorted(address.options.keys() & WIRE_OPTIONS - wire.keys()):
        raise InputError(
            f"The format {profile.name} has no {key!r} that {address.text!r} could set.",
            hint=f"It has: {', '.join(wire) or 'none'}.",
        )
    port_changes = _changes(address, _PORT)
    wire_changes = _changes(address, wire)
    if not (port_changes or wire_changes):
        return profile
    return replace(
        profile,
        port=replace(profile.port, **port_changes),
        wire=replace(profile.wire, **wire_changes),
    )


def _changes(address: Address, schema: Schema) -> dict[str, Any]:
    return {key: _read(address, key, schema) for key in schema if key in address.options}


def _read(address: Address, key: str, schema: Schema) -> object:
    text = address.options[key]
    try:
        return schema[key](Spot(value=_typed(text), path=address.text, key=key))
    except ProfileError as error:
        raise InputError(f"{error}", hint="Type it as in a format profile.") from error


def _typed(text: str) -> object:
    """Return what TOML would make of a bare word or number; other words are strings."""
    if text in ("true", "false"):
        return text == "true"
    if re.fullmatch(r"\d+", text, re.ASCII):
        return int(text)
    return Decimal(text) if re.fullmatch(r"\d+\.\d+", text, re.ASCII) else text


@dataclass(frozen=True, slots=True, kw_only=True)
class Driver:
    """How the gauges of one scheme are reached.

    ``build_port`` is a ``module:function`` from (Address, Profile) to Port, imported
    when such a gauge is asked for. When the address names no format it is
    ``default_format``, or what the ``module:function`` ``format_of`` makes of the
    Address. ``listens`` is true where a request reaches a gauge.
    """

    build_port: str
    options: frozenset[str] = frozenset()
    default_format: str = ""
    format_of: str = ""
    default_sends: Sends | None = None
    listens: bool = False


_SERIAL = Driver(
    build_port="gaugelink.devices.ports.serial_port:build_port",
    options=PORT_OPTIONS | WIRE_OPTIONS,
    listens=True,
)
SIM_OPTIONS = frozenset(
    {
        *("seed", "noise_mm", "drift_mm", "outliers", "glitches", "dropouts", "rate_hz"),
        *("pace", "size_mm", "duration_s", "start_s"),
    }
)
DRIVERS: Mapping[str, Driver] = {
    "serial": _SERIAL,
    **dict.fromkeys(PYSERIAL_SCHEMES, _SERIAL),
    "bridge": Driver(
        build_port="gaugelink.devices.ports.bridge_port:build_port",
        options=WIRE_OPTIONS | {"port", "baud"},  # a board of 8 MHz is slower
        listens=True,
    ),
    "hid": Driver(
        build_port="gaugelink.devices.ports.hid_port:build_port",
        options=WIRE_OPTIONS | {"usage_page", "usage", "interface"},
    ),
    "keys": Driver(
        build_port="gaugelink.devices.typed_keys:build_port", default_format="text-input"
    ),
    "replay": Driver(
        build_port="gaugelink.devices.recordings.replay:build_port",
        options=WIRE_OPTIONS | {"pace"},
        format_of="gaugelink.devices.recordings.replay:recorded_format",
    ),
    "sim": Driver(
        build_port="gaugelink.devices.simulated:build_port",
        options=SIM_OPTIONS,
        default_format="line-9600-8N1-unit",
        default_sends=Sends.STREAM,
    ),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class UsualLimits:
    """What a gauge may be off by when nobody knows better; half-widths in mm."""

    mpe_mm: float
    shift_mpe_mm: float
    source: str


# The two standards of today, ISO 13385-1:2019 (calipers) and ISO 3611:2010 (micrometers), print
# no limits: the maker states them, E and S for a caliper, E for a micrometer, and they hold at
# 20 degC and with the user's hand in them. Common for digital gauges are E 0.02 mm with S 0.04
# or 0.05 mm in all, and E 0.002 to 0.004 mm (from memory). The values here are the older DIN
# ones, which print a number; a maker's own go into the gauge's record.
LIMITS: Mapping[GaugeKind, UsualLimits] = {
    GaugeKind.CALIPER: UsualLimits(
        mpe_mm=0.02,
        shift_mpe_mm=0.02,
        source="DIN 862, digital caliper, 0.01 mm step; 0.02 mm more inside and in depth",
    ),
    GaugeKind.MICROMETER: UsualLimits(
        mpe_mm=0.004, shift_mpe_mm=0.0, source="DIN 863-1, micrometer, 0 to 25 mm"
    ),
}


def open_gauge(
    address: str | Address,
    *,
    folders: Sequence[Path] = (),
    job_unit: LengthUnit | None = None,
    record_to: Path | None = None,
) -> Gauge:
    """Build the gauge at an address; its port is opened by ``Gauge.open`` or ``with``.

    Args:
        address: as typed, such as ``serial:/dev/ttyUSB0?format=line-9600-8N1-unit``.
        folders: the user's own folders of format profiles.
        job_unit: the unit that the job was begun in; None takes the one of the
            address's ``unit`` option, else the first one the gauge sends.
        record_to: a new file that everything passing through the port is written to.

    Raises:
        InputError: a bad address, option, format name or recording path.
        FileFormatError: a profile or a recording that cannot be used.
    """
    where = parse_address(address) if isinstance(address, str) else address
    driver = DRIVERS[where.scheme]
    options.require_known(where, COMMON_OPTIONS | driver.options)
    found = find_profile(_format_name(where, driver, folders), folders)
    profile = as_opened(varied(found, where))
    unit = options.choice(where, "unit", LengthUnit.MM) if "unit" in where.options else None
    sends = options.choice(where, "sends", driver.default_sends or profile.sends)
    port = _load(driver.build_port)(where, profile)
    info = _describe(where, port, profile, sends)
    if record_to is not None:
        port = _recorded(port, record_to, profile, info)
    bridge_port = bridge_port_of(where)
    requests = Requests(
        request=_request(profile, bridge_port) if driver.listens else None,
        sends=sends,
        reply_timeout_s=profile.reply_timeout_s,
        idle_s=profile.idle_s,
    )
    decoder = make_decoder(profile, unit=unit, bridge_port=bridge_port)
    return Gauge(
        port=port, decoder=decoder, info=info, requests=requests, job_unit=job_unit or unit
    )


def _format_name(address: Address, driver: Driver, folders: Sequence[Path]) -> str:
    name = address.options.get("format") or driver.default_format
    if not name and driver.format_of:
        name = _load(driver.format_of)(address)
    if not name:
        raise InputError(
            f"{address.text!r} does not say which format the gauge sends.",
            hint=f"Add ?format=NAME, one of {', '.join(load_profiles(folders).names)}; "
            "'gaugelink listen' identifies it.",
        )
    return str(name)


def bridge_port_of(address: Address) -> int | None:
    """Return the port of a bridge that an address names, 0 to 9; None when it names none.

    Raises:
        InputError: there is no such port.
    """
    text = address.options.get("port")
    if text is None:
        return None
    if len(text) != 1 or text not in "0123456789":
        raise InputError(
            f"port={text} in {address.text!r} is not possible.",
            hint="The ports of a bridge are numbered 0 to 9.",
        )
    return int(text)


def _request(profile: Profile, bridge_port: int | None) -> bytes | None:
    """Return what asks for a reading; a profile asks the gauge on port 0 of a bridge."""
    if profile.request is None or bridge_port is None:
        return profile.request
    return profile.request.replace(b"?0", b"?%d" % bridge_port)


def _describe(address: Address, port: Port, profile: Profile, sends: Sends) -> GaugeInfo:
    simulated = address.scheme == "sim" and address.target == "micrometer"
    likely = GaugeKind.MICROMETER if simulated else GaugeKind.CALIPER
    kind = options.choice(address, "kind", likely)
    limits = LIMITS[kind]
    stated = {"mpe_mm", "shift_mpe_mm"} & address.options.keys()
    return GaugeInfo(
        gauge_id=port.transport.identity,
        kind=kind,
        sends=sends,
        address=address.text,
        format=profile.name,
        mpe_mm=options.number(address, "mpe_mm", limits.mpe_mm),
        shift_mpe_mm=options.number(address, "shift_mpe_mm", limits.shift_mpe_mm),
        mpe_source="stated in the address" if stated else limits.source,
    )


def _recorded(port: Port, path: Path, profile: Profile, info: GaugeInfo) -> Port:
    from gaugelink.devices.recordings.recording import RecordingTransport, RecordingWriter

    writer = RecordingWriter(path, format=profile.name, note=f"{info.kind} at {info.address}")
    transport = RecordingTransport(port.transport, clock=port.clock, writer=writer)
    return Port(transport=transport, clock=port.clock)


def _load(where: str) -> Callable[..., Any]:
    """Import ``module:function`` from the table; only modules of gaugelink stand in it."""
    module, _, function = where.partition(":")
    loaded: Callable[..., Any] = getattr(import_module(module), function)
    return loaded
