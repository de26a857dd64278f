"""The look of the drawings as CSS: ink on paper, and three tones that never carry a fact alone.

Presentation attributes draw everything in black; the style puts the page's colours over
them. A page sets ``--ink``, ``--paper``, ``--spring``, ``--alarm`` and ``--band``, in
light and in dark, and embeds ``DRAWING_STYLE`` once for all drawings.
"""

from __future__ import annotations

FONT = "system-ui, 'Segoe UI', 'DejaVu Sans', 'Liberation Sans', sans-serif"

DRAWING_STYLE = """\
.gl { max-width: 100%; height: auto; color: var(--ink, CanvasText); }
.gl .spring { stroke: var(--spring, currentColor); }
.gl .spring-fill { fill: var(--spring, currentColor); }
.gl .alarm { stroke: var(--alarm, currentColor); }
.gl .alarm-text, .gl .alarm-fill { fill: var(--alarm, currentColor); }
.gl .band { fill: var(--band, currentColor); }
.gl .paper { fill: var(--paper, Canvas); }
.gl .halo, .gl .rim { stroke: var(--paper, Canvas); }
"""

_LIGHT = "--ink: #14171c; --paper: #ffffff; --spring: #0b4f94; --alarm: #a3160c; --band: #4a5568;"
_DARK = "--ink: #eef1f5; --paper: #14171c; --spring: #8cc4ff; --alarm: #ff9d8f; --band: #b8c2d0;"

FILE_STYLE = f"""\
:root {{ color-scheme: light dark; background: var(--paper); {_LIGHT} }}
@media (prefers-color-scheme: dark) {{ :root {{ {_DARK} }} }}
@media print {{ :root {{ {_LIGHT} }} }}
{DRAWING_STYLE}"""
