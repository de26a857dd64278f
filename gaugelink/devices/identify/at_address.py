"""Identifying the gauge at an address: which ports can be probed, and with which formats."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

from gaugelink.devices import address as options
from gaugelink.devices.address import COMMON_OPTIONS, Address, parse_address
from gaugelink.devices.contract import Port
from gaugelink.devices.identify.prober import Patience, probe
from gaugelink.devices.identify.verdict import (
    Ask,
    FormatQuestion,
    FormatVerdict,
    Identification,
    Said,
    Shown,
)
from gaugelink.devices.ports.identity import PROBED_SCHEMES
from gaugelink.devices.profiles.profile import Profile, load_profiles
from gaugelink.devices.registry import bridge_port_of
from gaugelink.errors import InputError
from gaugelink.units import LengthUnit

_WITHOUT_SETTINGS = ("hid", "socket", "loop", "cp2110")
# Kernel pseudo-terminals on Linux and macOS.
_PSEUDO = ("/dev/pts/", "/dev/ttys")


def identify_at(
    address: Address,
    *,
    folders: Sequence[Path] = (),
    shown: Shown | None = None,
    patience: Patience | None = None,
    tell: Callable[[str], None] = lambda text: None,
    is_over: Callable[[], bool] = lambda: False,
) -> Identification:
    """Listen at an address until the gauge is identified, or patience ends.

    Args:
        address: its options say what is known already: ``unit``, a bridge's ``port``,
            or a ``format`` that is then the only one tried.
        folders: the user's own folders of format profiles.
        shown: what the display shows now, if somebody said so.
        patience: how long to listen.
        tell: says what is being done.
        is_over: tells whether to end now; what was heard until then is judged.

    Raises:
        InputError: gauges at such an address are not identified: their format is known.
        DeviceError: the port cannot be opened, or has gone.
        ProfileError: a profile of the user's cannot be used.
    """
    if address.scheme not in PROBED_SCHEMES:
        raise InputError(
            f"The format at {address.text!r} is not a thing to find out.",
            hint=f"Only {', '.join(f'{scheme}:' for scheme in PROBED_SCHEMES)} can be probed.",
        )
    wire = _wire_of(address)
    result = probe(
        lambda profile: _build_port(wire, profile),
        _profiles(address, folders),
        settings_matter=_settings_matter(wire),
        said=_said(address, shown),
        patience=patience,
        tell=tell,
        is_over=is_over,
    )
    return _sayable(result) if address.is_url else result


def _sayable(result: Identification) -> Identification:
    """Ask for a format file where the address is a URL, which cannot carry every option."""
    best = result.best
    if result.verdict is not FormatVerdict.CLEAR or best is None or best.scheme:
        return result
    foreign = [f"{key}={value}" for key, value in best.options.items() if key not in COMMON_OPTIONS]
    if not foreign:
        return result
    text = (
        f"An address with // cannot say {' and '.join(foreign)}. Set the port at the other end "
        "as the format has it, or write a copy of the format with these keys."
    )
    question = FormatQuestion(ask=Ask.FORMAT, text=text)
    return replace(result, verdict=FormatVerdict.AMBIGUOUS, question=question)


def _profiles(address: Address, folders: Sequence[Path]) -> list[Profile]:
    known = load_profiles(folders)
    if "format" in address.options:
        return [known.find(address.options["format"])]
    return [profile for profile in map(known.find, known.names) if _fits(address, profile)]


def _said(address: Address, shown: Shown | None) -> Said:
    unit = options.choice(address, "unit", LengthUnit.MM) if "unit" in address.options else None
    return Said(shown=shown, unit=unit, bridge_port=bridge_port_of(address))


def _fits(address: Address, profile: Profile) -> bool:
    """A bridge may be behind any serial address; its lines tell."""
    if address.scheme == "hid":
        return profile.hid is not None
    return profile.bits is not None or (profile.line is not None and address.scheme != "bridge")


def _wire_of(address: Address) -> Address:
    """Return the port that a bridge is on; other addresses are their own.

    The transport for bridges holds its silence for a lost link, which is no help here.
    """
    if address.scheme != "bridge":
        return address
    if "://" in address.target:
        return replace(parse_address(address.target), text=address.text)
    return replace(address, scheme="serial")


def _build_port(address: Address, profile: Profile) -> Port:
    if address.scheme == "hid":
        from gaugelink.devices.ports import hid_port

        return hid_port.build_port(address, profile)
    from gaugelink.devices.ports import serial_port

    return serial_port.build_port(address, profile)


def _settings_matter(address: Address) -> bool:
    """Tell whether the port hears another thing with other settings."""
    if address.scheme != "serial":
        return address.scheme not in _WITHOUT_SETTINGS
    return not os.path.realpath(address.target).startswith(_PSEUDO)
