"""What may be typed after a command: the options that several share, and the table of the barrel.

``BARREL_OPTIONS`` says once what a sizing command can be told of a barrel, its springs and
its watch. From a row follow the parameter of ``size``, ``choose`` and ``report``, its place in
their help, the word kept with a job and said again, and the field of ``SizingInputs`` it fills.

Nothing that works out sizes is imported before a text is read: help loads this module alone.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import wraps
from inspect import Parameter, Signature, signature
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer
from typer.models import ArgumentInfo

from gaugelink.cli.barrel_option import (
    BarrelOption,
    by_name_in,
    is_at_arbor,
    read_bare,
    read_documented,
    read_fusee,
    read_names,
    read_positive,
    read_stopwork,
    read_wind,
)

if TYPE_CHECKING:
    from contextlib import ExitStack

    from gaugelink.cli.display import BenchDisplay
    from gaugelink.cli.stop_key import StopKey

# The headings of the help, in its order; what names none, the output, comes last.
BARREL, FOUND, WATCH, DOCUMENT = "Barrel", "Found spring", "Watch", "Document"
STOCK, CALCULATION = "Stock", "Calculation"
HEADINGS = (BARREL, FOUND, WATCH, DOCUMENT, STOCK, CALCULATION)

Typed = Mapping[str, str | bool]  # words as they were typed, by the name of a barrel option

Json = Annotated[bool, typer.Option("--json", help="Write JSON to stdout.")]
Journal = Annotated[
    Path | None,
    typer.Option("--journal", metavar="FILE", help="Keep jobs in FILE, not in the user folder."),
]
Quiet = Annotated[bool, typer.Option("--quiet", help="No bell.")]
Display = Annotated[
    bool, typer.Option("--display", help="Also show the job as a page on any screen here.")
]
DisplayOpen = Annotated[
    bool, typer.Option("--display-open", help="Open that page in a browser here.")
]
DisplayOn = Annotated[
    str | None,
    typer.Option(
        "--display-on",
        metavar="ADDRESS",
        help="Show it to others on the net at this address of this computer, as for a tablet.",
    ),
]
DisplayStay = Annotated[
    bool, typer.Option("--display-stay", help="The page stays until Ctrl-C when all is done.")
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


_train = by_name_in("mechanics.train", "train_from_text")

# The words that are kept with a job stand in the order of this table.
BARREL_OPTIONS = (
    BarrelOption("bore", BARREL, "Inside diameter of the barrel.", "mm"),
    BarrelOption("depth", BARREL, "Depth from the floor.", "mm"),
    BarrelOption("lid", BARREL, "Lid thickness.", "mm"),
    BarrelOption("recess", BARREL, "Hollow inside the lid.", "mm"),
    BarrelOption("arbor", BARREL, "Arbor; else a third of the bore.", "mm"),
    BarrelOption(
        "clearance",
        BARREL,
        "Play to leave above the spring; else the usual 0.1, less in small barrels.",
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
    ),
    BarrelOption(
        "found_free_coils",
        FOUND,
        "Its coils lying flat and free; those that curve the other way count negative.",
        "1",
        "seen.free_coils",
    ),
    BarrelOption(
        "found_loose_coils",
        FOUND,
        "Inner coils that were loose in the opened barrel.",
        "1",
        "seen.loose_coils",
        read_bare,
    ),
    BarrelOption(
        "found_thickness_spread",
        FOUND,
        "Largest less smallest thickness along the found spring.",
        "mm",
        "seen.thickness_spread_mm",
        read_bare,
    ),
    BarrelOption(
        "found_crown_turns",
        FOUND,
        "Crown turns that wound it from rest to the top; needs --winding-train.",
        "1",
        "seen.crown_turns",
    ),
    BarrelOption(
        "found_s_shape",
        FOUND,
        "Its outer end, lying free, curves backwards: seen; or did once: gone.",
        fills="seen.s_shape",
        read=by_name_in("mechanics.signs", "SShape"),
        choices=("seen", "gone"),
    ),
    BarrelOption(
        "found_weight",
        FOUND,
        "Weight on a thread round the barrel that balances it half a turn below full wind.",
        "g",
        "seen.hung_mass",
    ),
    BarrelOption(
        "found_weight_radius",
        FOUND,
        "From the middle of the barrel to that thread.",
        "mm",
        "seen.hung_radius",
    ),
    BarrelOption(
        "found_material",
        FOUND,
        "carbon-steel if it is blue, white if not; or as --material.",
        read=by_name_in("mechanics.materials", "material_named"),
        metavar="NAME",
    ),
    BarrelOption(
        "found_healthy",
        FOUND,
        "It is right and healthy: the new one shall do the same.",
        read=None,
        flag_means=True,
    ),
    BarrelOption(
        "depth_from",
        BARREL,
        "What the depth goes up to; rim if not given.",
        fills="depth_reference",
        read=by_name_in("model", "DepthReference"),
        choices=("rim", "seat"),
    ),
    BarrelOption(
        "documented",
        DOCUMENT,
        'Documented size: "1.50 x 0.12 x 360".',
        "mm",
        read=read_documented,
        metavar="HxTxL",
    ),
    BarrelOption(
        "hours_per_turn",
        WATCH,
        "Hours the watch runs on one turn of the barrel, or of a fusee.",
        "h",
        read=read_positive,
    ),
    BarrelOption(
        "material",
        WATCH,
        "Material of new springs: white, an alloy by name, or open if unknown.",
        read=by_name_in("mechanics.materials", "material_named"),
        metavar="NAME",
    ),
    BarrelOption(
        "end",
        WATCH,
        "Outer end: hole, hook, tongue, t-end, brace or slipping-bridle.",
        fills="arrangement.end",
        read=by_name_in("mechanics.materials", "end_named"),
        metavar="NAME",
    ),
    BarrelOption(
        "length_without_end",
        DOCUMENT,
        "Lengths you give leave out the part held by the outer end.",
        fills="length_includes_end",
        read=None,
    ),
    BarrelOption(
        "barrel",
        BARREL,
        "Kind of barrel; going if not given.",
        fills="arrangement.kind",
        read=by_name_in("mechanics.arrangement", "BarrelKind"),
        choices=("going", "motor", "fusee", "twin"),
    ),
    BarrelOption(
        "winding",
        WATCH,
        "How the watch is wound; by hand if not given.",
        fills="arrangement.winding",
        read=by_name_in("mechanics.arrangement", "Winding"),
        choices=("hand", "automatic"),
    ),
    BarrelOption(
        "stopwork",
        BARREL,
        'Turns it allows, and of set-up: "4 1".',
        fills="arrangement.stopwork",
        read=read_stopwork,
        metavar='"TURNS SET_UP"',
    ),
    BarrelOption(
        "fusee",
        BARREL,
        "Diameters of its small and large end over the middle of the chain, mm, turns of chain "
        'on it, and turns of set-up, 0.75 if not given: "6 11 6.5".',
        fills="fusee.cone",
        read=read_fusee,
        metavar='"SMALL LARGE TURNS [SET_UP]"',
    ),
    BarrelOption(
        "fusee_middle",
        BARREL,
        "Diameter of the cone where half of those turns lie; tells how hollow it is.",
        "mm",
        "fusee.middle",
    ),
    BarrelOption(
        "barrel_outside",
        BARREL,
        "Diameter of the barrel of a fusee over the middle of the chain on it.",
        "mm",
        "fusee.barrel_outside",
    ),
    BarrelOption(
        "train",
        WATCH,
        'From the barrel or fusee to the centre, wheel/pinion: "90/12".',
        read=_train,
        metavar="TEETH",
    ),
    BarrelOption(
        "train_from",
        WATCH,
        "Where the first wheel of --train sits; on the barrel if not given.",
        fills="train_from_arbor",
        read=is_at_arbor,
        choices=("barrel", "arbor"),
    ),
    BarrelOption(
        "last_turn_h",
        WATCH,
        "Hours in which the last pinion of --train turns once; 1 for the centre.",
        "h",
        read=read_positive,
    ),
    BarrelOption(
        "winding_train",
        WATCH,
        'From the ratchet back to the winding pinion: "54/36 36/16".',
        read=_train,
        metavar="TEETH",
    ),
    BarrelOption(
        "amplitude",
        WATCH,
        "Degrees of swing measured with the found spring.",
        "deg",
        "amplitude.amplitude_deg",
        read_positive,
    ),
    BarrelOption(
        "position",
        WATCH,
        "How the watch lay; horizontal if not given.",
        fills="amplitude.position",
        read=by_name_in("mechanics.motion", "Position"),
        choices=("horizontal", "vertical"),
    ),
    BarrelOption(
        "wind",
        WATCH,
        "How long after full wind it was measured; full if not given.",
        fills="amplitude.wind",
        read=read_wind,
        choices=("full", "24h"),
    ),
    BarrelOption(
        "wished_amplitude",
        WATCH,
        "Degrees of swing wished for, in the same state.",
        "deg",
        "wished_amplitude_deg",
        read_positive,
    ),
    BarrelOption(
        "accept",
        CALCULATION,
        "Go on past a stop, by its name; several with a comma between.",
        fills="accepted",
        read=read_names,
        metavar="NAME",
    ),
    BarrelOption(
        "wanted_turns",
        WATCH,
        "Also give the thickness for so many turns.",
        "turns",
        read=read_positive,
        only="size",
    ),
)


def page_for(
    whole: ExitStack, stop: StopKey, *, display: bool, opens: bool, on: str | None, stays: bool
) -> BenchDisplay | None:
    """Return the page of a sitting where an option asks for one; it lasts as long as ``whole``.

    Raises:
        InputError: the address is not one of this computer.
    """
    if not (display or opens or stays or on is not None):
        return None
    from gaugelink.cli.display import displaying

    return whole.enter_context(displaying(on, stop, opens=opens, stays=stays))


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
