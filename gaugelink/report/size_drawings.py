"""A sizing drawn: barrel and torque curve, for a terminal or as an SVG file."""

from __future__ import annotations

from gaugelink.drawing.barrel_plan import draw_barrel_plan
from gaugelink.drawing.barrel_section import draw_barrel_section
from gaugelink.drawing.svg import Svg, standalone
from gaugelink.drawing.terminal import plan_text, torque_text
from gaugelink.drawing.torque_plot import draw_torque
from gaugelink.report.page_content import Sizing, sized_spring
from gaugelink.report.page_figures import barrel_plan, barrel_section
from gaugelink.report.page_torque import torque_of
from gaugelink.sizing.inputs import SizingInputs
from gaugelink.sizing.results import SizeResult

_APART_PX = 24.0


def drawn_text(inputs: SizingInputs, result: SizeResult, *, ascii_only: bool) -> str:
    """Draw a sizing as text of at most 78 columns.

    Args:
        inputs: what was sized.
        result: its result.
        ascii_only: draw with ASCII where the terminal has no braille.
    """
    sizing, spring = Sizing(inputs=inputs, result=result), sized_spring(result)
    parts = [plan_text(barrel_plan(sizing, spring), ascii_only=ascii_only)]
    if (plot := torque_of(sizing, spring)) is not None:
        parts.append(torque_text(plot, ascii_only=ascii_only))
    return "\n\n".join(parts)


def drawn_svg(inputs: SizingInputs, result: SizeResult) -> str:
    """Draw a sizing as a whole .svg file: barrel in plan and section, torque curve below."""
    sizing, spring = Sizing(inputs=inputs, result=result), sized_spring(result)
    drawings = [draw_barrel_plan(barrel_plan(sizing, spring), prefix="plan")]
    if (section := barrel_section(sizing, spring)) is not None:
        drawings.append(draw_barrel_section(section, prefix="section"))
    if (plot := torque_of(sizing, spring)) is not None:
        drawings.append(draw_torque(plot, prefix="torque"))
    return standalone(_stacked(*drawings) if len(drawings) > 1 else drawings[0])


def _stacked(*drawings: Svg) -> Svg:
    """One sheet with drawings below one another, each at its own size."""
    width, placed, below = max(each.width for each in drawings), "", 0.0
    for each in drawings:
        place = f'<svg y="{below:.8g}" style="height:{each.height:.8g}px;max-width:none" '
        placed += each.markup.replace("<svg ", place, 1)
        below += each.height + _APART_PX
    height = below - _APART_PX
    root = (
        '<svg xmlns="http://www.w3.org/2000/svg" class="gl" '
        f'viewBox="0 0 {width:.8g} {height:.8g}" width="{width:.8g}" height="{height:.8g}">'
    )
    return Svg(width=width, height=height, markup=f"{root}{placed}</svg>")
