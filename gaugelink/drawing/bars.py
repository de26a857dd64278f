"""The uncertainty budget as bars: what each influence has in the variance of a result."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from gaugelink.drawing.hatching import TYPE_A
from gaugelink.drawing.lettering import (
    BOLD,
    FIGURE_PX,
    NOTE_PX,
    below,
    broken,
    labels,
    with_figure,
)
from gaugelink.drawing.pens import EDGE, THIN, box, filled, line, path
from gaugelink.drawing.sheet import Sheet
from gaugelink.drawing.svg import Caption, Element, Svg, drawing, group, measure
from gaugelink.uncertainty.estimate import Kind

_LEFT = 12.0
_RIGHT_MARGIN = 28.0
_BAR_PX = 18.0
_ROW_PX = 56.0
_TOP = 44.0
_UNIT = "share of the variance; hatched: type A, by statistics"


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """One influence: its name, its type (A by statistics, B otherwise), its share, 0 to 1."""

    name: str
    kind: Kind
    share: float


def draw_budget(
    output: str, bars: tuple[Bar, ...], *, prefix: str, sheet: Sheet = Sheet.WIDE
) -> Svg:
    """Draw the shares of the variance, in the order given.

    Args:
        output: the result that the budget is of.
        bars: its influences.
        prefix: prefix of the ids.
        sheet: how wide it is drawn.
    """
    room, lines = sheet.width - 2 * _LEFT, sheet.name_lines
    heading = broken(f"What makes {output} uncertain", FIGURE_PX * BOLD, room, lines)
    top = _TOP + below(len(heading) - 1, FIGURE_PX)
    full_px = sheet.width - _LEFT - _RIGHT_MARGIN
    rows: list[Element] = []
    for bar in bars:
        text = with_figure(bar.name, f"{100 * bar.share:.0f} %", NOTE_PX, room, lines)
        rows += labels(text, _LEFT, top + NOTE_PX)
        top += below(len(text) - 1, NOTE_PX)
        rows += _bar(bar, top + NOTE_PX + 8, full_px, prefix)
        top += _ROW_PX
    unit = broken(_UNIT, NOTE_PX, room, lines)
    children = (
        *labels(heading, _LEFT, 26, size_px=FIGURE_PX, bold=True),
        group(*rows, data_px_per_share=measure(full_px)),
        *labels(unit, _LEFT, top + 18),
    )
    desc = "; ".join(f"{bar.name}, type {bar.kind}: {100 * bar.share:.0f} %" for bar in bars)
    caption = Caption(prefix=prefix, title=f"Uncertainty budget of {output}", desc=desc)
    height = top + 32 + below(len(unit) - 1, NOTE_PX)
    return drawing(caption, sheet.width, height, children, (TYPE_A.pattern(prefix),))


def _bar(bar: Bar, y: float, full_px: float, prefix: str) -> Iterator[Element]:
    yield line(THIN, _LEFT, y + _BAR_PX, _LEFT + full_px, y + _BAR_PX)
    area = box(_LEFT, y, bar.share * full_px, _BAR_PX)
    if bar.kind == "A":
        yield filled("hatch", area, fill=TYPE_A.fill(prefix))
    else:
        yield filled("band", area, fill_opacity=0.75)
    yield path(EDGE, area, data_name=bar.name, data_share=measure(bar.share))
