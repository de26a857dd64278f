"""What every text shares: tables that line up in any terminal, numbers, and the usual cautions.

Numbers are written as metrology does: value and interval rounded to what the uncertainty
allows. Cautions are said once, where the work is about to be done.

Sources of the cautions: letting down and opening, watch-school pages and the Chicago School of
Watchmaking, Home Study Course, lesson 6; motor barrels, the same, sections 165 to 167;
radium, US EPA leaflet "Radioactive Antiques"; solvents, general safety sheets; eye
protection, fusees and twin barrels, common practice.
"""

from __future__ import annotations

import math
import textwrap
from collections.abc import Iterable, Iterator, Mapping, Sequence

from gaugelink.mechanics.arrangement import Arrangement, BarrelKind, Winding
from gaugelink.mechanics.band import Band, Number
from gaugelink.uncertainty.estimate import Estimate

GAP = "  "
WIDTH = 78  # fits the narrowest terminal in common use
_LEAST_NAME = 4  # characters, however wide the columns beside it are
_WHOLE_BAR = 20  # characters: five per cent each
_BOUND = "\N{NO-BREAK SPACE}%"  # a number and its sign stay on one line
OPENING_CAUTIONS = """\
BEFORE YOU OPEN THE BARREL
  Let the power down first: hold the crown, lift the click, let it turn back
  under control. Fusee: let the set-up down at the barrel arbor. Two barrels:
  let both down. Motor barrel: note which way it winds. Self-winding: find the
  access to the click first. Wear eye protection; open low, under a cloth: the
  spring may follow the lid, its edges cut, blued steel breaks without
  warning. Old glow paint may be radium: do not scrape, blow or brush it;
  gloves, no food, wash hands. Solvents: air, no flame, closed cans. Local
  rules and licensed practice come first.
"""
TAKING_OUT = """\
BEFORE THE OLD SPRING COMES OUT
  Keep the eye protection on. Note which way it winds and how its outer end
  is held, and count the inner coils that lie loose. Hold it down, and let it
  out slowly, coil by coil: its edges cut.
"""
BEFORE_CUTTING = (
    "Before you cut: eye protection; hold the strip on both sides of the cut, under a cloth. The "
    "piece flies, and its edges cut."
)
SPRING_CAUTIONS = """\
BEFORE YOU FIT IT
  Wind the new spring with a winder of the right size and direction, never by
  hand; wear eye protection. The spring must not be higher than the barrel
  allows. Blued steel breaks without warning. Local rules and licensed
  practice come first."""
_TO_OPEN = {
    BarrelKind.MOTOR: "A motor barrel drives from its arbor: note which way it winds.",
    BarrelKind.FUSEE: "Chain and set-up of a fusee are under tension even when the watch has "
    "stopped: let the set-up down at the barrel arbor before anything else.",
    BarrelKind.TWIN: "There are two barrels: let down both before either is opened.",
}
_SELF_WINDING = (
    "Find the access to the click of a self-winding watch first, and never lever a bridge off "
    "a wound barrel."
)
_REVERSED = (
    "A motor barrel winds at the barrel and drives from its arbor: hook and hand of the spring "
    "are the other way round."
)
_BRIDLE = "The bridle of a self-winding spring goes to a smooth wall, greased for it."
_STOPWORK = "Note the set-up of the stopwork, and set it up again by as many turns."
_SIGNIFICANT = 2  # digits of an uncertainty that are kept: GUM 7.2.6
_EXACT = 1e-9  # relative: narrower intervals are rounding noise
_NARROW = 1e-6  # the same of what is mostly judgement
PLAY = "play, taken off the height"  # what the clearance is called beside measured sizes
_MANY = 9999  # degrees of freedom beyond these tell nothing
_NOTHING = 1e-9  # of a turn, a coil, a N mm: rounding noise of what is none at all


def table(header: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Lay out rows under a header, if it has words; the first column aligned left, others right."""
    told = [header, *rows] if any(header) else rows
    lines = [[*map(one_line, line)] for line in told]
    widths = [max(len(line[i]) for line in lines) for i in range(len(header))]
    return "\n".join(_row(line, widths) for line in lines)


def one_line(text: str) -> str:
    """Return a text that came from somewhere else in one line: its next would look like ours."""
    return " ".join(text.expandtabs(1).splitlines())


def _row(cells: Sequence[str], widths: Sequence[int]) -> str:
    first = cells[0].ljust(widths[0])
    rest = (cell.rjust(width) for cell, width in zip(cells[1:], widths[1:], strict=True))
    return GAP.join(("  " + first, *rest)).rstrip()


def named_table(
    names: Iterable[str], columns: Mapping[str, Sequence[str]], *, most: int = WIDTH
) -> str:
    """Lay columns out beside names, which are cut where the columns leave them no room.

    Args:
        names: one a row.
        columns: their cells by their titles.
        most: characters that a name may have at any rate.
    """
    others = sum(len(GAP) + max(map(len, (title, *cells))) for title, cells in columns.items())
    room = max(_LEAST_NAME, min(most, WIDTH - len(GAP) - others))
    cut = (shortened(name, room) for name in names)
    return table(("", *columns), [*zip(cut, *columns.values(), strict=True)])


def under(title: str, lines: Iterable[str]) -> str:
    """Put a title over lines; nothing where there are none."""
    told = [*lines]
    return "\n".join((title, *told)) if told else ""


def wrapped(text: str, *, lead: str = "  ", split_words: bool = True) -> str:
    """Break a sentence into lines that begin with ``lead`` (its first line) and blanks.

    ``split_words`` breaks what is longer than a line; not for a path, which is to be copied.
    """
    filled = textwrap.fill(
        text.replace(" %", _BOUND),
        WIDTH,
        initial_indent=lead,
        subsequent_indent=" " * len(lead),
        break_on_hyphens=False,
        break_long_words=split_words,
    )
    return filled.replace(_BOUND, " %")


def shortened(text: str, most: int) -> str:
    """Return the text, its end cut off with an ellipsis where it has more characters."""
    return text if len(text) <= most else f"{text[: most - 1]}…"


def share_bar(share: float) -> str:
    """Draw a share of 0 to 1 to stand before its name: names are of any length, bars compare."""
    bar = "#" * max(1, round(_WHOLE_BAR * share))
    percent = f"{100 * share:.0f} %"
    return f"    {percent:>5}  {bar:<{_WHOLE_BAR}}  "


def moment(utc: str) -> str:
    """Write a moment to the minute, such as ``2026-03-01 09:05 UTC``."""
    return f"{utc[:16].replace('T', ' ')} UTC"


def spring_cautions(arrangement: Arrangement) -> str:
    """Return the cautions for fitting a spring; before them those for opening a special barrel."""
    title, _, _ = OPENING_CAUTIONS.partition("\n")
    to_open = [*_to_open(arrangement)]
    opening = [title, *map(wrapped, to_open)] if to_open else []
    return "\n".join((*opening, fitting_cautions(arrangement)))


def opening_cautions(arrangement: Arrangement) -> str:
    """Return the cautions for opening a barrel, first those of a special one."""
    return _with_special(OPENING_CAUTIONS, _to_open(arrangement))


def fitting_cautions(arrangement: Arrangement) -> str:
    """Return the cautions for fitting a spring, first those of a special barrel."""
    motor = arrangement.kind is BarrelKind.MOTOR
    automatic = arrangement.winding is Winding.AUTOMATIC
    special = ((_REVERSED, motor), (_BRIDLE, automatic))
    return _with_special(SPRING_CAUTIONS, (text for text, is_so in special if is_so))


def _to_open(arrangement: Arrangement) -> Iterator[str]:
    if arrangement.kind in _TO_OPEN:
        yield _TO_OPEN[arrangement.kind]
    if arrangement.winding is Winding.AUTOMATIC:
        yield _SELF_WINDING
    if arrangement.stopwork is not None:
        yield _STOPWORK


def _with_special(cautions: str, special: Iterable[str]) -> str:
    title, _, rest = cautions.partition("\n")
    return "\n".join((title, *map(wrapped, special), rest))


def decimals_for(uncertainty: float) -> int:
    """Return the decimals that show an uncertainty with two significant digits."""
    if not math.isfinite(uncertainty) or uncertainty <= 0:
        return 4
    # Rounded first: 0.0996 is written 0.10, not 0.100.
    rounded = f"{uncertainty:.{_SIGNIFICANT - 1}e}"
    return max(0, _SIGNIFICANT - 1 - int(rounded.partition("e")[2]))


def plus_minus(estimate: Estimate) -> str:
    """Write ``1.230 ± 0.049``; an exact value is written alone.

    An interval that lies lopsided by more than a tenth is written by its ends.
    """
    half = (estimate.high - estimate.low) / 2
    if half <= _EXACT * abs(estimate.value):
        return f"{estimate.value:.6g}"
    places = decimals_for(half)
    if abs((estimate.high + estimate.low) / 2 - estimate.value) > 0.1 * half:
        return (
            f"{estimate.value:.{places}f} ({estimate.low:.{places}f} .. {estimate.high:.{places}f})"
        )
    return f"{estimate.value:.{places}f} ± {half:.{places}f}"


def details(estimate: Estimate) -> tuple[str, str, str]:
    """Write standard uncertainty, degrees of freedom and coverage factor of an estimate.

    The factor is half of the interval over u; nothing where the value is exact.
    """
    half = (estimate.high - estimate.low) / 2
    if half <= _EXACT * abs(estimate.value) or not estimate.u:
        return "-", "-", "-"
    dof = "∞" if estimate.dof > _MANY else f"{math.floor(estimate.dof)}"
    return f"{estimate.u:.{decimals_for(estimate.u)}f}", dof, f"{half / estimate.u:.2f}"


def ends(low: Number, high: Number, places: int, between: str = "..") -> str:
    """Write both ends of an interval with so many decimals."""
    return f"{low:.{places}f}{between}{high:.{places}f}"


def range_text(band: Band, places: int) -> str:
    """Write the two limits of a band, once where they are the same."""
    low, high = f"{band.low:.{places}f}", f"{band.high:.{places}f}"
    return low if low == high else f"{low} to {high}"


def span(estimate: Estimate | None, between: str = "..", nothing: str = "-") -> str:
    """Write the ends of a coverage interval whose spread is mostly judgement: ``5.9..6.6``."""
    if estimate is None:
        return nothing
    if estimate.high - estimate.low <= max(_NARROW * abs(estimate.value), _NOTHING):
        return f"{estimate.value:.4g}" if abs(estimate.value) > _NOTHING else "0"
    places = max(0, decimals_for((estimate.high - estimate.low) / 4) - 1)
    low, high = f"{estimate.low:.{places}f}", f"{estimate.high:.{places}f}"
    return low if low == high else f"{low}{between}{high}"


def concise(estimate: Estimate) -> str:
    """Write ``1.2303(49)``: the value, and its standard uncertainty in the last digits.

    GUM 7.2.2, second form, with two significant digits (7.2.6). From 1 on the
    uncertainty keeps its point, ``334.1(8.1)``; an exact value is written alone.
    """
    if estimate.u <= _EXACT * abs(estimate.value):
        return f"{estimate.value:.6g}"
    places = decimals_for(estimate.u)
    in_brackets = f"{estimate.u:.{places}f}"
    if float(in_brackets) < 1.0:
        in_brackets = in_brackets.partition(".")[2].lstrip("0")
    return f"{estimate.value:.{places}f}({in_brackets})"


def length_mm(value_mm: float, step_mm: float) -> str:
    """Write a length in mm with the decimals of its digital step."""
    places = max(0, math.ceil(-math.log10(step_mm) - 1e-9)) if step_mm > 0 else 4
    return f"{value_mm:.{places}f}"
