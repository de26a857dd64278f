"""One thing that a sizing command can be told, and how each sort of text is read."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from importlib import import_module
from inspect import Parameter
from typing import Annotated, Any, Literal

import typer

from gaugelink.errors import InputError

Reader = Callable[["BarrelOption", str], object]


_METAVARS = {
    "mm": "MM",
    "mg": "MG",
    "g": "G",
    "1": "N",
    "h": "HOURS",
    "deg": "DEG",
    "turns": "TURNS",
}


def read_quantity(option: BarrelOption, text: str) -> object:
    """A length, mass or count with its standard uncertainty; a usual one where none is typed."""
    from gaugelink.quantities import parse_count, parse_grams, parse_length, parse_mass
    from gaugelink.sizing.inputs import typed_input

    label = option.name.replace("found_", "found.", 1)
    if option.unit == "mm":
        length = parse_length(text, option.spoken)
        return typed_input(label, length.value_mm, length.u_mm)
    number = {"mg": parse_mass, "g": parse_grams, "1": parse_count}[option.unit](
        text, option.spoken
    )
    return typed_input(label, number.value, number.u, option.unit)


@dataclass(frozen=True, slots=True)
class BarrelOption:
    """One thing that a sizing command can be told.

    Args:
        name: of the parameter and of the word that is kept; ``--found-mass`` is ``found_mass``.
        heading: where the help lists it.
        help: what the help says of it.
        unit: of a number without one: "mm", "mg", "1" for a count, "h", "deg" or "turns".
        fills: the field of ``SizingInputs``, or ``FIELD.PART`` where a field is made of parts;
            the field of the same name if not given.
        read: makes a value of the text; None for a flag, whose value is ``flag_means``.
        metavar: shown for the text in the help, where that is not the unit.
        choices: the only texts there are, where they are few.
        only: the one command that has it; what is typed there is not said again for the page.
    """

    name: str
    heading: str
    help: str
    unit: str = ""
    fills: str = ""
    read: Reader | None = read_quantity
    metavar: str = ""
    flag_means: bool = False
    choices: tuple[str, ...] = ()
    only: str = ""

    @property
    def spoken(self) -> str:
        """The name as a message says it."""
        return self.name.replace("_", " ")

    @property
    def switch(self) -> str:
        """The name as it is typed."""
        return f"--{self.name.replace('_', '-')}"

    def value(self, word: str | bool) -> object:
        """Return what a word comes to, as the field takes it.

        Raises:
            InputError: it cannot be used.
        """
        if self.read is None:
            return self.flag_means
        if not str(word).strip():
            raise InputError(
                f"{self.spoken}: nothing was typed.", hint=f"Leave {self.switch} out, or say it."
            )
        if self.choices and word not in self.choices:
            raise InputError(
                f"{self.spoken}: {word!r} is not one of the choices.",
                hint=f"Choose one of: {', '.join(self.choices)}.",
            )
        return self.read(self, str(word))

    def parameter(self) -> Parameter:
        """Return it as a parameter of a command."""
        kind: Any = str
        if self.choices:
            kind = Literal.__getitem__(self.choices)
        declared = typer.Option(
            self.switch,
            metavar=self.metavar or _METAVARS.get(self.unit),
            help=self.help,
            rich_help_panel=self.heading,
        )
        is_flag = self.read is None
        return Parameter(
            self.name,
            Parameter.KEYWORD_ONLY,
            default=False if is_flag else None,
            annotation=Annotated[bool if is_flag else kind | None, declared],
        )


def read_bare(option: BarrelOption, text: str) -> float:
    """A length in mm or a count, not below zero, whose uncertainty does not matter."""
    from gaugelink.quantities import parse_count, parse_length

    if option.unit == "mm":
        value = parse_length(text, option.spoken).value_mm
    else:
        value = parse_count(text, option.spoken).value
    if value < 0:
        raise InputError(f"{option.spoken}: {text!r} is below zero.", hint="It is 0 or more.")
    return value


def read_positive(option: BarrelOption, text: str) -> float:
    """A plain number above zero."""
    from gaugelink.quantities import parse_positive

    return parse_positive(text, option.spoken)


def read_documented(option: BarrelOption, text: str) -> object:
    """A spring written height x thickness x length."""
    from gaugelink.quantities import parse_spring
    from gaugelink.sizing.inputs import GivenSpring, typed_input

    sizes = zip(("height", "thickness", "length"), parse_spring(text, option.spoken), strict=True)
    return GivenSpring(
        **{size: typed_input(f"documented.{size}", v.value_mm, v.u_mm) for size, v in sizes}
    )


def read_stopwork(option: BarrelOption, text: str) -> object:
    """The turns that a stopwork allows, and its set-up."""
    from gaugelink.mechanics.arrangement import Stopwork

    parts = text.replace(";", " ").split()
    if len(parts) != 2:
        raise InputError(
            f"{option.spoken}: {text!r} is not turns and set-up.",
            hint='Give the turns that it allows and those it was set up by: "4 1".',
        )
    turns, set_up = (read_bare(replace(option, unit="1"), part) for part in parts)
    return Stopwork(turns=turns, set_up_turns=set_up)


def read_fusee(option: BarrelOption, text: str) -> object:
    """The cone of a fusee: both diameters, turns of chain, and set-up."""
    from gaugelink.mechanics.fusee import USUAL_SET_UP
    from gaugelink.quantities import parse_count, parse_length
    from gaugelink.sizing.inputs import GivenCone, typed_input

    parts = text.replace(";", " ").split()
    if len(parts) not in (3, 4):
        raise InputError(
            f"{option.spoken}: {text!r} is not two diameters and turns.",
            hint='Give the small and the large end, turns of chain, and set-up: "6 11 6.5 0.75".',
        )
    typed = (*parts, str(USUAL_SET_UP))[:4]
    small, large = (parse_length(part, option.spoken).value_mm for part in typed[:2])
    turns, set_up = (parse_count(part, option.spoken).value for part in typed[2:])
    return GivenCone(
        small=typed_input("fusee_small", small),
        large=typed_input("fusee_large", large),
        turns=typed_input("fusee_turns", turns, unit="1"),
        set_up=typed_input("fusee_set_up", set_up, unit="1"),
    )


def read_wind(option: BarrelOption, text: str) -> object:
    """How far the spring was wound."""
    from gaugelink.mechanics.motion import Wind

    return Wind.FULL if text == "full" else Wind.DAY_LATER


def read_names(option: BarrelOption, text: str) -> frozenset[str]:
    """Names with commas or blanks between."""
    return frozenset(text.replace(",", " ").split())


def is_at_arbor(option: BarrelOption, text: str) -> bool:
    """Whether the first wheel of a train sits on the arbor."""
    return text == "arbor"


def by_name_in(module: str, name: str) -> Reader:
    """Read with a function or an enumeration that is imported when a text is read."""
    return lambda option, text: getattr(import_module(f"gaugelink.{module}"), name)(text)
