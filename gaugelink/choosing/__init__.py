"""Which spring of the stock to fit, what it will do, and how sure that is.

::

    inputs, stock -> state, springs -> measures, spread -> loss -> ranking   (whole stock)
                                            │
                                     drawn (contenders) -> figures, information -> Choice

``loss`` says what a spring costs that is not what the barrel should have, ``refusals`` which
are not offered at all. The whole stock is ranked to first order, and of a large one no more
is weighed in full than can be among the first; only the contenders for the first place are
drawn. ``wish`` tells which springs may give an amplitude that is wished for.
"""
