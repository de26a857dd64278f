"""From indications to series: which frame is a reading, of what, and when.

``plan`` says what is measured; ``lane`` takes one gauge through its part of it;
``session`` joins the lanes; ``progress`` is the fold of what happened. All of
these are driven by the times in the events. Only ``runner`` waits, and it keeps
every event and act before it acknowledges any.
"""
