"""Addresses: ``scheme:target?key=value&key=value``, one notation for config, CLI and tests.

``serial:/dev/ttyUSB0?format=line-9600-8N1-unit`` and ``sim:bench?seed=7`` are ours;
``socket://127.0.0.1:5000`` and other forms with ``//`` are URLs that pyserial opens.
Options that are not ours stay in the URL for pyserial. An option that cannot be used is an
error that names it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import TypeVar

from gaugelink.errors import InputError

SCHEMES = ("serial", "bridge", "hid", "keys", "replay", "sim")
PYSERIAL_SCHEMES = ("socket", "rfc2217", "loop", "spy", "hwgrep", "alt", "cp2110")
COMMON_OPTIONS = frozenset({"format", "sends", "unit", "kind", "mpe_mm", "shift_mpe_mm"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Address:
    """A parsed address; ``text`` is what was typed, ``target`` what follows the scheme."""

    text: str
    scheme: str
    target: str
    options: Mapping[str, str] = field(default_factory=dict)

    @property
    def is_url(self) -> bool:
        """True when pyserial opens the target as a URL."""
        return self.scheme in PYSERIAL_SCHEMES


def parse_address(text: str) -> Address:
    """Split an address into scheme, target and options.

    Raises:
        InputError: unknown scheme, or an option without ``=``.
    """
    body, _, query = text.strip().partition("?")
    scheme, colon, target = body.partition(":")
    scheme = scheme.lower()
    if not colon or scheme not in SCHEMES + PYSERIAL_SCHEMES:
        known = ", ".join(f"{name}:" for name in SCHEMES)
        raise InputError(
            f"{text!r} is not a gauge address.",
            hint=f"It begins with {known} or a URL such as socket://; see 'gaugelink gauges'.",
        )
    options, foreign = _split_options(text, query, keep_foreign=target.startswith("//"))
    if target.startswith("//"):
        target = f"{scheme}:{target}" + (f"?{foreign}" if foreign else "")
    return Address(text=text.strip(), scheme=scheme, target=target, options=options)


def _split_options(text: str, query: str, *, keep_foreign: bool) -> tuple[dict[str, str], str]:
    """Return our options and, for a URL, the rest of the query as it was."""
    ours: dict[str, str] = {}
    foreign: list[str] = []
    for item in filter(None, query.split("&")):
        key, equals, value = item.partition("=")
        if keep_foreign and key not in COMMON_OPTIONS:
            foreign.append(item)
        elif not equals or not key:
            raise InputError(
                f"{item!r} in {text!r} is not an option.",
                hint="Options are written key=value and joined by &.",
            )
        elif key in ours:
            raise InputError(f"{key} is given twice in {text!r}.", hint="Give each option once.")
        else:
            ours[key] = value
    return ours, "&".join(foreign)


_Choice = TypeVar("_Choice", bound=StrEnum)


def require_known(address: Address, known: Iterable[str]) -> None:
    """Refuse an address with an option that its scheme does not have.

    Raises:
        InputError: names the option and the known ones.
    """
    names = sorted(known)
    for option in address.options:
        if option not in names:
            raise InputError(
                f"{option!r} is not an option of a {address.scheme}: address.",
                hint=f"Known: {', '.join(names)}.",
            )


def number(
    address: Address, option: str, default: float, *, low: float = 0.0, high: float = math.inf
) -> float:
    """Return an option as a finite number from ``low`` to ``high``.

    Raises:
        InputError: it is no such number.
    """
    text = address.options.get(option)
    if text is None:
        return default
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not (math.isfinite(value) and low <= value <= high):
        limits = f"from {low:g} to {high:g}" if math.isfinite(high) else f"not below {low:g}"
        raise InputError(
            f"{option}={text} in {address.text!r} is not a usable number.",
            hint=f"{option} is a number {limits}.",
        )
    return value


def choice(address: Address, option: str, default: _Choice) -> _Choice:
    """Return an option as a member of the enum that ``default`` belongs to.

    Raises:
        InputError: names the possible words.
    """
    text = address.options.get(option)
    if text is None:
        return default
    members = {str(member): member for member in type(default)}
    if text not in members:
        raise InputError(
            f"{option}={text} in {address.text!r} is not possible.",
            hint=f"{option} is one of {', '.join(members)}.",
        )
    return members[text]
