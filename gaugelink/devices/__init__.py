"""Gauges: from an address and a cable to stamped events.

::

    from gaugelink.devices.registry import open_gauge

    with open_gauge("sim:caliper?seed=7&pace=0") as gauge:
        while not gauge.ended:
            for event in gauge.poll(timeout_s=0.05):
                ...

A ``Transport`` moves bytes, a ``Decoder`` makes events of them without any I/O, and
the one ``Gauge`` class joins them, stamps what comes out and finds a gauge again that
was unplugged. Importing any of it loads no driver; a scheme's driver is imported when an
address with that scheme is opened.
"""
