"""How far off a measured or computed number may be.

A measured quantity is a best value plus a sum of independent influences: the
scatter of the readings, the digital step, the error of the gauge, the drift of
its zero. Two quantities taken with one gauge hold the same influence, so what
they have in common moves them together and no correlation matrix is needed.

``evaluate`` walks those influences twice: to first order (JCGM 100:2008, the
GUM), which gives the budget, and by Monte Carlo (JCGM 101:2008), which gives the
coverage interval. What first order leaves out is reported beside it, and where the
two disagree because of that, it says so. ``conformity`` turns an estimate or its draws
into the probability that it lies within limits.
"""
