"""From indications to series: which frame is a reading, of what, and when.

``plan`` says what is measured; ``lane`` takes one gauge through its part of it, with
``stream`` to find the readings of a gauge that sends all the time; ``session`` joins the
lanes; ``progress`` is the fold of what happened. All of these are driven by the times in
the events. ``hand`` says what the hand has to do, ``signals`` what is flashed and sounded, and
``snapshot`` joins both for a display. ``runner`` listens to the gauges, and keeps every event
and act before it acknowledges any.
"""
