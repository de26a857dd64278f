"""What may be typed after a command: the options that several share, and the table of the barrel.

``BARREL_OPTIONS`` says once what a sizing command can be told of a barrel, its springs and
its watch. From a row follow the parameter of ``size``, ``choose`` and ``report``, its place in
their help, the word kept with a job and said again, and the field of ``SizingInputs`` it fills.

Nothing that works out sizes is imported before a text is read: help loads this module alone.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import wraps
from importlib import import_module
from inspect import Parameter, Signature, signature
from pathlib import Path
from typing import Annotated, Any, Literal

import typer
from typer.models import ArgumentInfo

from gaugelink.errors import InputError

# The headings of the help, in its order; what names none, the output, comes last.
BARREL, FOUND, WATCH, DOCUMENT = "Barrel", "Found spring", "Watch", "Document"
STOCK, CALCULATION = "Stock", "Calculation"
HEADINGS = (BARREL, FOUND, WATCH, DOCUMENT, STOCK, CALCULATION)

Typed = Mapping[str, str | bool]  # words as they were typed, by the name of a barrel option
Reader = Callable[["BarrelOption", str], object]

Json = Annotated[bool, typer.Option("--json", help="Write JSON to stdout.")]
Journal = Annotated[
    Path | None,
    typer.Option("--journal", metavar="FILE", help="Keep jobs in FILE, not in the user folder."),
]
Formats = Annotated[
    list[Path] | None,
    typer.Option("--formats", metavar="FOLDER", help="A folder with more format profiles."),
]
Job = Annotated[int | None, typer.Argument(help="Number of a measured job.")]
Outliers = Annotated[
    Literal["grubbs", "dixon", "esd", "none"],
    typer.Option(
        help="Test for outlying readings of a job; none rejects nothing.",
        rich_help_panel=CALCULATION,
    ),
]
Coverage = Annotated[
    float,
    typer.Option(help="Coverage probability of the intervals.", rich_help_panel=CALCULATION),
]
Seed = Annotated[
    int, typer.Option(help="Seed of the Monte Carlo draws.", rich_help_panel=CALCULATION)
]
Draws = Annotated[
    int, typer.Option(help="Number of Monte Carlo draws.", rich_help_panel=CALCULATION)
]
StockList = Annotated[
    Path | None,
    typer.Option(
        "--stock",
        metavar="FILE",
        help="A list of springs, instead of the stock that is kept.",
        rich_help_panel=STOCK,
    ),
]
Sheet = Annotated[
    str | None,
    typer.Option(
        metavar="NAME", help="Sheet of the .xlsx file; else the first.", rich_help_panel=STOCK
    ),
]
_METAVARS = {
    "mm": "MM",
    "mg": "MG",
    "g": "G",
    "1": "N",
    "h": "HOURS",
    "deg": "DEG",
    "turns": "TURNS",
}


def _quantity(option: BarrelOption, text: str) -> object:
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
        metavar: what stands for the text in the help, where that is not the unit.
        choices: the only texts there are, where they are few.
        empty_says_nothing: whether an empty text is passed over instead of refused.
        only: the one command that has it; what is typed there is not said again for the page.
    """

    name: str
    heading: str
    help: str
    unit: str = ""
    fills: str = ""
    read: Reader | None = _quantity
    metavar: str = ""
    flag_means: bool = False
    choices: tuple[str, ...] = ()
    empty_says_nothing: bool = False
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
        if self.choices and word not in self.choices:
            raise InputError(
                f"{self.spoken}: {word!r} is none of the choices.",
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


def _bare(option: BarrelOption, text: str) -> float:
    """A length in mm or a count, whose uncertainty does not matter."""
    from gaugelink.quantities import parse_count, parse_length

    if option.unit == "mm":
        return parse_length(text, option.spoken).value_mm
    return parse_count(text, option.spoken).value


def _positive(option: BarrelOption, text: str) -> float:
    from gaugelink.quantities import parse_positive

    return parse_positive(text, option.spoken)


def _documented(option: BarrelOption, text: str) -> object:
    from gaugelink.quantities import parse_spring
    from gaugelink.sizing.inputs import GivenSpring, typed_input

    sizes = zip(("height", "thickness", "length"), parse_spring(text, option.spoken), strict=True)
    return GivenSpring(
        **{size: typed_input(f"documented.{size}", v.value_mm, v.u_mm) for size, v in sizes}
    )


def _stopwork(option: BarrelOption, text: str) -> object:
    from gaugelink.mechanics.arrangement import Stopwork

    try:
        turns, set_up = (float(part.replace(",", ".")) for part in text.replace(";", " ").split())
    except ValueError as exc:
        raise InputError(
            f"{option.spoken}: {text!r} is not turns and set-up.",
            hint='Give the turns that it allows and those it was set up by: "4 1".',
        ) from exc
    return Stopwork(turns=turns, set_up_turns=set_up)


def _fusee(option: BarrelOption, text: str) -> object:
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


def _wind(option: BarrelOption, text: str) -> object:
    from gaugelink.mechanics.motion import Wind

    return Wind.FULL if text == "full" else Wind.DAY_LATER


def _names(option: BarrelOption, text: str) -> frozenset[str]:
    return frozenset(text.replace(",", " ").split())


def _is_arbor(option: BarrelOption, text: str) -> bool:
    return text == "arbor"


def _by(module: str, name: str) -> Reader:
    """Read with a function or an enumeration that is imported when a text is read."""
    return lambda option, text: getattr(import_module(f"gaugelink.{module}"), name)(text)


_train = _by("mechanics.train", "train_from_text")

# The words that are kept with a job stand in the order of this table.
BARREL_OPTIONS = (
    BarrelOption("bore", BARREL, "Inside diameter of the barrel.", "mm"),
    BarrelOption("depth", BARREL, "Depth from the floor.", "mm"),
    BarrelOption("lid", BARREL, "Lid thickness.", "mm"),
    BarrelOption("recess", BARREL, "Hollow inside the lid.", "mm"),
    BarrelOption("arbor", BARREL, "Arbor; a third of the bore if not given.", "mm"),
    BarrelOption(
        "clearance",
        BARREL,
        "Play to leave above the spring; what is usual if not given: 0.1, in small ones less.",
        "mm",
    ),
    BarrelOption("found_thickness", FOUND, "Its thickness.", "mm", "found.thickness"),
    BarrelOption("found_height", FOUND, "Its height.", "mm", "found.height"),
    BarrelOption("found_length", FOUND, "Its length, uncoiled.", "mm", "found.length"),
    BarrelOption("found_mass", FOUND, 'Of the bare spring: "497 +- 1 mg".', "mg", "clues.mass"),
    BarrelOption("found_coils", FOUND, "Coils that lie on the barrel wall.", "1", "clues.coils"),
    BarrelOption(
        "found_band_inside",
        FOUND,
        "Clear diameter inside the coils on the wall.",
        "mm",
        "clues.band_inside",
    ),
    BarrelOption("found_core", FOUND, "Diameter of the core of a winder.", "mm", "clues.core"),
    BarrelOption(
        "found_wound_outside",
        FOUND,
        "Outside diameter of the coils on that core.",
        "mm",
        "clues.wound_outside",
    ),
    BarrelOption("found_core_coils", FOUND, "Coils on that core.", "1", "clues.core_coils"),
    BarrelOption(
        "found_free_diameter",
        FOUND,
        "Of the found spring laid flat and free.",
        "mm",
        "seen.free_diameter",
        empty_says_nothing=True,
    ),
    BarrelOption(
        "found_free_coils",
        FOUND,
        "Its coils lying flat and free; those that curve the other way count less than none.",
        "1",
        "seen.free_coils",
        empty_says_nothing=True,
    ),
    BarrelOption(
        "found_loose_coils",
        FOUND,
        "Inner coils that were loose in the opened barrel.",
        "1",
        "seen.loose_coils",
        _bare,
        empty_says_nothing=True,
    ),
    BarrelOption(
        "found_thickness_spread",
        FOUND,
        "Largest less smallest thickness along the found spring.",
        "mm",
        "seen.thickness_spread_mm",
        _bare,
        empty_says_nothing=True,
    ),
    BarrelOption(
        "found_crown_turns",
        FOUND,
        "Crown turns that wound it from rest to the top; needs --winding-train.",
        "1",
        "seen.crown_turns",
        empty_says_nothing=True,
    ),
    BarrelOption(
        "found_s_shape",
        FOUND,
        "Its outer end, lying free, curves backwards: seen; or did once: gone.",
        fills="seen.s_shape",
        read=_by("mechanics.strength", "SShape"),
        choices=("seen", "gone"),
    ),
    BarrelOption(
        "found_weight",
        FOUND,
        "Weight on a thread round the barrel that balances it half a turn below full wind.",
        "g",
        "seen.hung_mass",
        empty_says_nothing=True,
    ),
    BarrelOption(
        "found_weight_radius",
        FOUND,
        "From the middle of the barrel to that thread.",
        "mm",
        "seen.hung_radius",
        empty_says_nothing=True,
    ),
    BarrelOption(
        "found_material",
        FOUND,
        "carbon-steel if it is blue, white if not; or as --material.",
        read=_by("mechanics.materials", "material_named"),
        metavar="NAME",
        empty_says_nothing=True,
    ),
    BarrelOption(
        "found_healthy",
        FOUND,
        "It is the right one and healthy: a new one shall do the same.",
        read=None,
        flag_means=True,
    ),
    BarrelOption(
        "depth_from",
        BARREL,
        "What the depth goes up to; rim if not given.",
        fills="depth_reference",
        read=_by("model", "DepthReference"),
        choices=("rim", "seat"),
    ),
    BarrelOption(
        "documented",
        DOCUMENT,
        'Documented size: "1.50 x 0.12 x 360".',
        "mm",
        read=_documented,
        metavar="HxTxL",
    ),
    BarrelOption(
        "hours_per_turn",
        WATCH,
        "Hours the watch runs on one turn of the barrel, or of a fusee.",
        "h",
        read=_positive,
    ),
    BarrelOption(
        "material",
        WATCH,
        "What new springs are of: white, an alloy by name; open where nobody knows.",
        read=_by("mechanics.materials", "material_named"),
        metavar="NAME",
        empty_says_nothing=True,
    ),
    BarrelOption(
        "end",
        WATCH,
        "Outer end: hole, hook, tongue, t-end, brace or slipping-bridle.",
        fills="arrangement.end",
        read=_by("mechanics.materials", "end_named"),
        metavar="NAME",
        empty_says_nothing=True,
    ),
    BarrelOption(
        "length_without_end",
        DOCUMENT,
        "Given lengths do not count what the outer end takes.",
        fills="length_includes_end",
        read=None,
    ),
    BarrelOption(
        "barrel",
        BARREL,
        "Kind of barrel; going if not given.",
        fills="arrangement.kind",
        read=_by("mechanics.arrangement", "BarrelKind"),
        choices=("going", "motor", "fusee", "twin"),
    ),
    BarrelOption(
        "winding",
        WATCH,
        "How the watch is wound; by hand if not given.",
        fills="arrangement.winding",
        read=_by("mechanics.arrangement", "Winding"),
        choices=("hand", "automatic"),
    ),
    BarrelOption(
        "stopwork",
        BARREL,
        'Turns it allows, and of set-up: "4 1".',
        fills="arrangement.stopwork",
        read=_stopwork,
        metavar='"TURNS SET_UP"',
        empty_says_nothing=True,
    ),
    BarrelOption(
        "fusee",
        BARREL,
        "Diameters of its small and large end over the middle of the chain, mm, turns of chain "
        'on it, and turns of set-up, 0.75 if not given: "6 11 6.5".',
        fills="fusee.cone",
        read=_fusee,
        metavar='"SMALL LARGE TURNS [SET_UP]"',
        empty_says_nothing=True,
    ),
    BarrelOption(
        "fusee_middle",
        BARREL,
        "Diameter of the cone where half of those turns lie; tells how hollow it is.",
        "mm",
        "fusee.middle",
        empty_says_nothing=True,
    ),
    BarrelOption(
        "barrel_outside",
        BARREL,
        "Diameter of the barrel of a fusee over the middle of the chain on it.",
        "mm",
        "fusee.barrel_outside",
        empty_says_nothing=True,
    ),
    BarrelOption(
        "train",
        WATCH,
        'From the barrel or fusee to the centre, wheel/pinion: "90/12".',
        read=_train,
        metavar="TEETH",
        empty_says_nothing=True,
    ),
    BarrelOption(
        "train_from",
        WATCH,
        "Where the first wheel of --train sits; on the barrel if not given.",
        fills="train_from_arbor",
        read=_is_arbor,
        choices=("barrel", "arbor"),
    ),
    BarrelOption(
        "last_turn_h",
        WATCH,
        "Hours in which the last pinion of --train turns once; 1 for the centre.",
        "h",
        read=_positive,
        empty_says_nothing=True,
    ),
    BarrelOption(
        "winding_train",
        WATCH,
        'From the ratchet back to the winding pinion: "54/36 36/16".',
        read=_train,
        metavar="TEETH",
        empty_says_nothing=True,
    ),
    BarrelOption(
        "amplitude",
        WATCH,
        "Degrees of swing measured with the found spring.",
        "deg",
        "amplitude.amplitude_deg",
        _positive,
    ),
    BarrelOption(
        "position",
        WATCH,
        "How the watch lay; horizontal if not given.",
        fills="amplitude.position",
        read=_by("mechanics.motion", "Position"),
        choices=("horizontal", "vertical"),
    ),
    BarrelOption(
        "wind",
        WATCH,
        "How long after full wind it was measured; full if not given.",
        fills="amplitude.wind",
        read=_wind,
        choices=("full", "24h"),
    ),
    BarrelOption(
        "wished_amplitude",
        WATCH,
        "Degrees of swing wished for, in the same state.",
        "deg",
        "wished_amplitude_deg",
        _positive,
    ),
    BarrelOption(
        "accept",
        CALCULATION,
        "Go on past a stop, by its name; several with a comma between.",
        fills="accepted",
        read=_names,
        metavar="NAME",
        empty_says_nothing=True,
    ),
    BarrelOption(
        "wanted_turns",
        WATCH,
        "Also give the thickness for so many turns.",
        "turns",
        read=_positive,
        only="size",
    ),
)


def told_of_barrel(command: Callable[..., None]) -> Callable[..., None]:
    """Give a command the parameters of the table; it gets what was typed of them as ``typed``.

    The parameters come in the order of the headings.
    """
    rows = [row for row in BARREL_OPTIONS if row.only in ("", command.__name__)]
    own = dict(signature(command, eval_str=True).parameters)
    del own["typed"]
    merged = [each.replace(kind=Parameter.KEYWORD_ONLY) for each in own.values()]
    merged = sorted((*merged, *(row.parameter() for row in rows)), key=_place)

    @wraps(command)
    def told(**given: Any) -> None:
        words = {row.name: given.pop(row.name) for row in rows}
        typed = {
            name: word for name, word in words.items() if word is not None and word is not False
        }
        command(**given, typed=typed)

    told.__annotations__ = {each.name: each.annotation for each in merged}
    told.__signature__ = Signature(merged)  # type: ignore[attr-defined]  # what typer reads
    return told


def _place(parameter: Parameter) -> int:
    """Arguments, then options by their heading, then those without one."""
    (declared,) = parameter.annotation.__metadata__
    if isinstance(declared, ArgumentInfo):
        return -1
    heading = declared.rich_help_panel
    return HEADINGS.index(heading) if heading else len(HEADINGS)
