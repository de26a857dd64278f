"""A known gauge as an address, and an opened one as a known gauge."""

from __future__ import annotations

from collections.abc import Mapping

from gaugelink.devices.address import Address, parse_address
from gaugelink.devices.identify.identities import PROBED_SCHEMES, is_plugged_in
from gaugelink.jobbook.gauge_book import KnownGauge
from gaugelink.model import GaugeInfo, GaugeKind, Sends
from gaugelink.units import LengthUnit

_OWN_FIELDS = frozenset({"format", "kind", "sends", "unit"})


def options_of(gauge: KnownGauge) -> dict[str, str]:
    """Return all options of the address of a known gauge."""
    own = {"format": gauge.format, "kind": gauge.kind, "sends": gauge.sends, "unit": gauge.unit}
    return {key: str(value) for key, value in own.items() if value} | dict(gauge.options)


def full_address(gauge: KnownGauge) -> str:
    """Return the address that opens a known gauge, with all options."""
    return with_options(gauge.address, options_of(gauge))


def is_there(gauge: KnownGauge) -> bool:
    """Tell whether a known gauge is plugged in."""
    return is_plugged_in(parse_address(with_options(gauge.address, gauge.options)))


def with_options(text: str, options: Mapping[str, str]) -> str:
    """Return an address with more options."""
    if not options:
        return text
    joined = "&".join(f"{key}={value}" for key, value in options.items())
    return f"{text}{'&' if '?' in text else '?'}{joined}"


def known_from(info: GaugeInfo, kind: GaugeKind | None) -> KnownGauge | None:
    """Return what is to be remembered of an opened gauge; None where there is nothing to.

    Args:
        info: who the gauge is.
        kind: what it is; None when that was only supposed.
    """
    where = parse_address(info.address)
    if where.scheme not in PROBED_SCHEMES:
        return None
    return known_at(where, info.gauge_id, info.format, info.sends, kind)


def known_at(
    where: Address, gauge_id: str, format_name: str, sends: Sends, kind: GaugeKind | None
) -> KnownGauge:
    """Return what is to be remembered of a gauge that was read at ``where``."""
    unit = where.options.get("unit")
    return KnownGauge(
        gauge_id=gauge_id,
        address=_stable_address(where, gauge_id),
        format=format_name,
        kind=kind,
        sends=sends,
        unit=LengthUnit(unit) if unit else None,
        options={k: v for k, v in where.options.items() if k not in _OWN_FIELDS},
    )


def stated_kind(where: Address) -> GaugeKind | None:
    """Return what a gauge is, if its address says so."""
    kind = where.options.get("kind")
    return GaugeKind(kind) if kind else None


def is_unknown(where: Address) -> bool:
    """Tell whether an address leaves open which format its gauge sends."""
    return where.scheme in PROBED_SCHEMES and "format" not in where.options


def _stable_address(where: Address, gauge_id: str) -> str:
    """Return an address made of the identity: the name of a port may be another tomorrow."""
    if where.is_url:
        return where.target
    if where.scheme == "hid":
        return "hid:" + gauge_id.removeprefix("hid-").replace("-", ":", 1)
    port = where.options.get("port")
    return f"{where.scheme}:{gauge_id.removesuffix(f'#{port}') if port else gauge_id}"
