r"""Which format an unknown gauge sends: bytes and profiles in, ranked evidence out.

::

    port -> prober -> Heard -> identify -> Identification
    I/O edge           \________ pure ________/

The prober opens the port with one setting after the other and collects what comes. The
rest is pure: every format is tried on what was heard, and what a format cannot explain
counts against it. Where two explain the bytes equally well and read them differently,
the answer is a question for the person, never a guess. ``VERDICT.md`` here works one run out.
"""
