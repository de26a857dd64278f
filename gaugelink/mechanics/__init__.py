"""What a spring does in its barrel and in its watch: torque, turns, stress, hours, amplitude.

Everything here is a plain function of floats or arrays, so that one text serves a single
spring, a stock of a hundred thousand and a million Monte Carlo draws::

    materials ──> spring ──> torque ──> stopwork ──> motion
                               └──> stress

``torque`` has the torque curve in closed form, ``materials`` the outer ends as well,
``train`` the tooth counts, ``arrangement`` what has to be asked before a rule applies, and
``found_length`` the length of a spring that nobody uncoils.

Friction is left out, and the free shape of the spring is an input with a band: ratios of
two springs are much better known than either torque.
"""
