"""Which spring of the stock to fit, what it will do, and how sure that is.

::

    state, springs -> acting -> measures -> loss, refusals -> case -> ranking   (whole stock)
                                                                        │
                                                    drawn (contenders) -> reasons -> Choice

``loss`` says what a spring costs that is not what the barrel should have, ``refusals`` which
are not offered at all. The whole stock is ranked to first order, and of a large one no more
is weighed in full than can be among the first; only the contenders for the first place are
drawn. ``choose`` runs it all, ``choice`` is what comes of it.
"""
