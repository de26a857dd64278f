"""Drawings of a barrel, its spring and what is known of them, as SVG and as terminal text.

Each drawing takes a small frozen description and returns an ``Svg``::

    Dimension ──> BarrelPlan ────> draw_barrel_plan ─────┐
                  BarrelSection ─> draw_barrel_section   │
                  TorquePlot ────> draw_torque           ├─> Svg ──> page, or standalone()
                  DotPlot ───────> draw_readings         │
                  Bar ───────────> draw_budget           │
                  RulePanel ─────> draw_rules ───────────┘
                  BarrelPlan, TorquePlot ──> plan_text, torque_text

``svg`` builds elements and colours them, ``dimension`` and ``lettering`` are the workshop's
lines and letters. Each drawing can be made for a wide sheet or a narrow one, and
``terminal`` draws in characters. Nothing is said by colour alone.

Everything drawn can be measured: what represents a size carries it in ``data-mm``, and its
group the scale in ``data-px-per-mm``. Figures come written, so that drawing and text agree.
"""
