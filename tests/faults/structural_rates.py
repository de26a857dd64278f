"""How often one fault makes a wrong number where the format itself cannot tell.

Shares of ``campaign.py --n 200``, the larger one of both populations, rounded up. What does
not stand here must never happen: the format, or what carries it, protects. No format has a
check of its digits. Behind a bridge the clock edges are counted (``lost/n`` and ``dbl/n`` are
what a wrong count would let pass), and a bit that flips in the cable is seen in ``signmag24``
only, where two frames must be alike. The checks of USB itself keep ``flip`` and ``change``
away from HID reports.
"""

from __future__ import annotations

from collections.abc import Mapping

STRUCTURAL: Mapping[str, Mapping[str, float]] = {
    "bcd52": {"bit flip": 0.45, "lost/n": 0.23, "dbl/n": 0.25},
    "bcd52-judged": {"bit flip": 0.44},
    "bcd52-7digit": {"bit flip": 0.52, "lost/n": 0.18, "dbl/n": 0.25},
    "bcd52-8digit": {"bit flip": 0.61, "lost/n": 0.22, "dbl/n": 0.35},
    "signmag24": {"bit flip ×2": 0.9, "lost/n ×2": 0.26, "dbl/n ×2": 0.51},
    "abs-rel-2x24": {"bit flip": 0.48, "lost/n": 0.92, "dbl/n": 0.82},
    "bcd7-flags": {"bit flip": 0.81, "lost/n": 0.15, "dbl/n": 0.1},
    "host-clocked-21": {"bit flip": 1.0, "lost/n": 0.79, "dbl/n": 0.57},
    "line-1200-8N2-padded": {"flip": 0.11, "change": 0.03, "digit": 1.0},
    "line-2400-7N2-modes": {
        "flip": 0.2,
        "drop": 0.09,
        "change": 0.04,
        "digit": 1.0,
        "double": 0.05,
    },
    "line-4800-7E2-plain": {"drop": 0.52, "change": 0.05, "digit": 1.0, "double": 0.6},
    "line-9600-7E2-multi": {"change": 0.02, "digit": 0.84},
    "line-9600-8N1-tagged": {"flip": 0.22, "change": 0.01, "digit": 0.8},
    "line-9600-8N1-unit": {"flip": 0.12, "change": 0.02, "digit": 1.0},
    "line-id-comma": {"flip": 0.22, "change": 0.02, "digit": 0.77},
    "line-two-channel": {"flip": 0.18, "drop": 0.12, "change": 0.03, "digit": 1.0, "double": 0.09},
    "text-input": {
        "flip": 0.16,
        "drop": 0.55,
        "change": 0.04,
        "digit": 1.0,
        "double": 0.47,
        "cut": 0.25,
        "replug": 0.53,
        "2 writers": 0.35,
    },
    "line-4800-7E2-plain - parity": {
        "flip": 0.31,
        "drop": 0.6,
        "change": 0.04,
        "digit": 1.0,
        "double": 0.6,
    },
    "line-9600-7E2-multi - parity": {"flip": 0.2, "change": 0.05, "digit": 0.83},
    "hid-keyboard": {
        "flip": 0.1,
        "drop": 0.33,
        "change": 0.08,
        "cut": 0.14,
        "replug": 0.56,
        "2 writers": 0.3,
    },
    "hid-field": {"flip": 0.78, "change": 0.67},
}
