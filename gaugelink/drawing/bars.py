"""The uncertainty budget as bars: what each influence has in the variance of a result."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from gaugelink.drawing.hatching import TYPE_A
from gaugelink.drawing.lettering import BOLD, FIGURE_PX, NOTE_PX, label, shortened, with_figure
from gaugelink.drawing.pens import EDGE, THIN, box, filled, line, path
from gaugelink.drawing.svg import Caption, Element, Svg, drawing, group, measure
from gaugelink.uncertainty.estimate import Kind

_WIDTH = 640.0
_LEFT = 12.0
_FULL_PX = 600.0  # a share of one
_BAR_PX = 18.0
_ROW_PX = 56.0
_TOP = 44.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """One influence: its name, its type (A by statistics, B otherwise), its share, 0 to 1."""

    name: str
    kind: Kind
    share: float


def draw_budget(output: str, bars: tuple[Bar, ...], *, prefix: str) -> Svg:
    """Draw the shares of the variance, in the order given.

    Args:
        output: the result that the budget is of.
        bars: its influences.
        prefix: prefix of the ids.
    """
    heading = shortened(f"What makes {output} uncertain", FIGURE_PX * BOLD, _WIDTH - 24)
    rows = [part for i, bar in enumerate(bars) for part in _row(bar, _TOP + i * _ROW_PX, prefix)]
    foot = _TOP + len(bars) * _ROW_PX + 18
    children = (
        label(heading, _LEFT, 26, size_px=FIGURE_PX, bold=True),
        group(*rows, data_px_per_share=measure(_FULL_PX)),
        label("share of the variance; hatched: type A, by statistics", _LEFT, foot),
    )
    desc = "; ".join(f"{bar.name}, type {bar.kind}: {bar.share:.0%}" for bar in bars)
    caption = Caption(prefix=prefix, title=f"Uncertainty budget of {output}", desc=desc)
    return drawing(caption, _WIDTH, foot + 14, children, (TYPE_A.pattern(prefix),))


def _row(bar: Bar, top: float, prefix: str) -> Iterator[Element]:
    text = with_figure(bar.name, f"{bar.share:.0%}", NOTE_PX, _WIDTH - 2 * _LEFT)
    yield label(text, _LEFT, top + NOTE_PX)
    y, wide = top + NOTE_PX + 8, bar.share * _FULL_PX
    yield line(THIN, _LEFT, y + _BAR_PX, _LEFT + _FULL_PX, y + _BAR_PX)
    area = box(_LEFT, y, wide, _BAR_PX)
    if bar.kind == "A":
        yield filled("hatch", area, fill=TYPE_A.fill(prefix))
    else:
        yield filled("band", area, fill_opacity=0.75)
    yield path(EDGE, area, data_name=bar.name, data_share=measure(bar.share))
