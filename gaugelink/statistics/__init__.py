"""Statistics: what the repeated readings of one measurand say, and which are suspicious.

``summarise`` takes a ``Series`` and returns a ``Summary``: mean, standard
deviation, type A uncertainty with its degrees of freedom, marks and advice. Two
ideas hold throughout:

* rejecting is marking: a rejected reading stays in the series and carries the
  test, the figures and one plain sentence;
* a few readings on a coarse display say little, so a test alone never rejects.

The layers, each using only those before it::

    student -> outlier_method --+
    moments -> drift -----------+
       |   +-> known_scatter ---+-> treatment -> summary

Beside them is ``enough``: whether more readings help.

Everything is pure and needs the standard library only. ``t_quantile`` also
serves the uncertainty stage.
"""
