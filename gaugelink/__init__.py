"""gaugelink: from the bytes of a hand gauge to the size of a mainspring.

The flow, left to right; a module imports only from its left, or from
``errors``, ``units`` and ``model``::

    bytes -> Frame -> Reading -> Series -> Summary -> Estimate -> SizeResult -> text, JSON
    devices/          capture/   statistics/  uncertainty/  sizing/             report/ cli/

``statistics``, ``uncertainty`` and ``sizing`` are pure: no clock, no file, no
print. ``jobbook`` keeps what happened and is called from ``cli`` only.
"""

__version__ = "0.1.0"
