"""What spring belongs in this barrel, and what the one at hand would do in it.

Seen from above a spring is a strip of area length x thickness, the same wound or run
down. It lives in the ring between arbor and wall: run down it is a band on the wall,
wound a band on the arbor. The turns it gives are the coils of the one band less the
coils of the other, and they are most when the strip covers half the ring.

``rules`` has that picture in equations and what the trade makes of it; ``size_spring`` runs
them all with the uncertainty of every input::

    inputs ──> covered ──> checks ──> measurement_model ──> size ──> results
       ^          what no rule covers                         └─ evidence
    found_clues: a length that nobody uncoiled
"""
