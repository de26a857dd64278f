"""From indications to series: which frame is a reading, of what, and when.

``plan`` says what is measured; ``lane`` takes one gauge through its part of it, with
``stream`` or ``button`` to find the readings and ``judge`` to look at them; ``session``
joins the lanes; ``progress`` is the fold of what happened. All of these are driven by
the times in the events. ``listen`` waits for the gauges, and ``runner`` keeps every
event and act before it acknowledges any.
"""
