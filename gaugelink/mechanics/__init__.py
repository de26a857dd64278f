"""What a spring does in its barrel and in its watch: torque, turns, stress, hours, amplitude.

Everything here is a plain function of floats or arrays, so that one text serves a single
spring, a stock of a hundred thousand and a million Monte Carlo draws::

    materials, ends ──> spring ──> wall_contact ──> torque ──> running ──> amplitude
                                        │              │           │           │
                                     stress       free_shape   stopwork     motion

``wall_contact`` is the geometry of the torque curve in closed form, ``torque`` the curve.
``train`` has the tooth counts, ``arrangement`` what has to be asked before a rule applies,
``length``, ``clues`` and ``found_length`` the length of a spring that nobody uncoils.

Friction is left out, and the free shape of the spring is an input with a band: ratios of
two springs are much better known than either torque.
"""
