"""What is tried: every profile, and the variants of it that an address can ask for.

Published descriptions of the bit formats disagree, and gauges without a check in their
frames accept any bits. So each is tried with its levels inverted, its words exchanged and
so on; and a gauge that types, with each keyboard layout. A variant is a key of a table of
the profile with another value, and the same key is an option of the address.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from itertools import chain, combinations
from typing import Any

from gaugelink.devices.contract import Decoder
from gaugelink.devices.decoders import make_decoder
from gaugelink.devices.decoders.abs_rel_48 import AbsRel48Format, Word
from gaugelink.devices.decoders.bcd7 import Bcd7Format
from gaugelink.devices.decoders.bcd52 import Bcd52Format, UnitDigit
from gaugelink.devices.decoders.hid_format import HidKeysFormat, KeyboardLayout
from gaugelink.devices.decoders.host_clocked21 import HostClocked21Format
from gaugelink.devices.decoders.line_format import LineFormat
from gaugelink.devices.decoders.parity import Parity
from gaugelink.devices.decoders.signmag24 import SignMag24Format
from gaugelink.devices.identify.heard import PARITY, Bit7
from gaugelink.devices.profiles.profile import Profile
from gaugelink.units import LengthUnit


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """One profile, perhaps changed, to be tried on bytes.

    Args:
        profile: with its changes.
        options: the changes as options of an address.
        unit: the unit that is supposed where the bytes carry none.
        bridge_port: the port of the bridge that is listened to; None takes any one.
    """

    profile: Profile
    options: Mapping[str, str] = field(default_factory=dict)
    unit: LengthUnit | None = None
    bridge_port: int | None = None

    def decoder(self) -> Decoder:
        """Make a fresh decoder."""
        return make_decoder(self.profile, unit=self.unit, bridge_port=self.bridge_port)

    def supposing(self, unit: LengthUnit) -> Trial:
        """Return the same trial with a unit supposed."""
        return replace(self, unit=unit, options={**self.options, "unit": str(unit)})

    def with_bit7(self, bit7: Bit7) -> Trial:
        """Return the trial for bytes of seven bits that were read as eight."""
        line = self.profile.line
        if line is None or line.strip_high_bit or line.check_parity is not Parity.NONE:
            return self
        changed = replace(
            line,
            check_parity=PARITY.get(bit7, Parity.NONE),
            strip_high_bit=bit7 is Bit7.STOP,
        )
        return replace(self, profile=replace(self.profile, line=changed))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Toggle:
    key: str
    value: Any


# Not among them: the complement of counts. It is off by one count, below any display.
_TOGGLES: Mapping[type, tuple[_Toggle, ...]] = {
    Bcd52Format: (_Toggle(key="unit_digit", value=UnitDigit.INCH_8),),
    SignMag24Format: (
        _Toggle(key="invert", value=True),
        _Toggle(key="start_bit", value=True),
        _Toggle(key="unit_bit", value=False),
        _Toggle(key="step_mm", value=Decimal("0.1")),
    ),
    AbsRel48Format: (
        _Toggle(key="first_word", value=Word.RELATIVE),
        _Toggle(key="invert", value=True),
    ),
    Bcd7Format: (_Toggle(key="invert", value=True),),
    HostClocked21Format: (_Toggle(key="invert", value=True),),
    HidKeysFormat: (
        _Toggle(key="layout", value=KeyboardLayout.DE),
        _Toggle(key="layout", value=KeyboardLayout.FR),
    ),
}


def all_trials(profiles: Sequence[Profile], bridge_port: int | None = None) -> tuple[Trial, ...]:
    """Return every profile and its variants, without variants that are there already."""
    trials = [trial for profile in profiles for trial in _trials_of(profile)]
    known = [profile.wire for profile in profiles]
    kept = []
    for trial in trials:
        wire = trial.profile.wire
        if not trial.options or wire not in known:
            kept.append(replace(trial, bridge_port=bridge_port))
            known.append(wire)
    return tuple(kept)


def _trials_of(profile: Profile) -> Iterator[Trial]:
    """Yield the profile as it is, then its variants, those with fewest changes first."""
    yield Trial(profile=profile)
    fmt = profile.wire
    if isinstance(fmt, LineFormat):
        return
    field = "bits" if profile.bits is not None else "hid"
    toggles = [t for t in _TOGGLES.get(type(fmt), ()) if getattr(fmt, t.key) != t.value]
    sizes = (combinations(toggles, n) for n in range(1, len(toggles) + 1))
    for chosen in chain.from_iterable(sizes):
        changes = {toggle.key: toggle.value for toggle in chosen}
        changed: dict[str, Any] = {field: replace(fmt, **changes)}
        yield Trial(
            profile=replace(profile, **changed),
            options={key: _written(value) for key, value in changes.items()},
        )


def _written(value: object) -> str:
    return str(value).lower() if isinstance(value, bool) else str(value)
