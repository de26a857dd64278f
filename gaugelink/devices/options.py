"""Reading the options of an address, with errors that name the option."""

from __future__ import annotations

import math
from collections.abc import Iterable
from enum import StrEnum
from typing import TypeVar

from gaugelink.devices.address import Address
from gaugelink.errors import InputError

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
                f"{option!r} is no option of a {address.scheme}: address.",
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
            f"{option}={text} in {address.text!r} is not a number that can be used.",
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
