"""Drawings of a barrel, its spring and what is known of them, as SVG and as terminal text.

Each drawing takes a small frozen description and returns an ``Svg``::

    Dimension ──> BarrelPlan ────> draw_barrel_plan ─────┐
                  BarrelSection ─> draw_barrel_section   │
                  TorquePlot ────> draw_torque           ├─> Svg ──> page, or standalone()
                  DotPlot ───────> draw_readings         │
                  Bar ───────────> draw_budget           │
                  RulePanel ─────> draw_rules ───────────┘
                  BarrelPlan, TorquePlot ──> plan_text, torque_text

``svg`` builds elements, ``style`` colours them, ``pens``, ``hatching``, ``dimension`` and
``lettering`` are the workshop's lines and letters, ``sheet``, ``scale``, ``axis`` and
``spiral`` the geometry, ``placing`` keeps notes apart, ``canvas`` is the terminal's. Each
drawing can be made for a wide sheet or a narrow one. Nothing is said by colour alone.

Everything drawn can be measured: what stands for a size carries it in ``data-mm``, and its
group the scale in ``data-px-per-mm``. Figures come written, so that drawing and text agree.
"""

from gaugelink.drawing.barrel_plan import draw_barrel_plan
from gaugelink.drawing.barrel_section import draw_barrel_section
from gaugelink.drawing.bars import Bar, draw_budget
from gaugelink.drawing.dimension import Dimension
from gaugelink.drawing.dot_plot import DotPlot, DotReading, draw_readings
from gaugelink.drawing.plan_views import BarrelPlan, PlanSpring
from gaugelink.drawing.rules_plot import RowKind, RulePanel, RuleRow, draw_rules
from gaugelink.drawing.section_levels import BarrelSection, SectionSpring
from gaugelink.drawing.sheet import Sheet
from gaugelink.drawing.style import DRAWING_STYLE
from gaugelink.drawing.svg import Svg, standalone
from gaugelink.drawing.terminal import plan_text, torque_text
from gaugelink.drawing.torque_plot import draw_torque
from gaugelink.drawing.torque_trace import TorquePlot, TorqueTrace

__all__ = [
    "DRAWING_STYLE",
    "Bar",
    "BarrelPlan",
    "BarrelSection",
    "Dimension",
    "DotPlot",
    "DotReading",
    "PlanSpring",
    "RowKind",
    "RulePanel",
    "RuleRow",
    "SectionSpring",
    "Sheet",
    "Svg",
    "TorquePlot",
    "TorqueTrace",
    "draw_barrel_plan",
    "draw_barrel_section",
    "draw_budget",
    "draw_readings",
    "draw_rules",
    "draw_torque",
    "plan_text",
    "standalone",
    "torque_text",
]
