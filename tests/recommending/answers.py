"""The barrels and cases that every screen has to answer alike. Invented."""

from __future__ import annotations

from typing import NamedTuple


class Barrel(NamedTuple):
    """A barrel in mm, and a spring that a document might name for it."""

    bore: float
    depth: float
    lid: float
    arbor: float
    documented: tuple[float, float, float]

    @property
    def typed(self) -> tuple[str, ...]:
        """The barrel as options."""
        named = {"bore": self.bore, "depth": self.depth, "lid": self.lid, "arbor": self.arbor}
        return tuple(word for name, size in named.items() for word in (f"--{name}", f"{size:g}"))


BARRELS = (
    Barrel(6.0, 0.90, 0.20, 2.0, (0.60, 0.07, 200)),
    Barrel(7.5, 1.10, 0.22, 2.5, (0.80, 0.085, 250)),
    Barrel(8.5, 1.30, 0.25, 2.8, (0.95, 0.10, 270)),
    Barrel(9.5, 1.45, 0.28, 3.2, (1.05, 0.11, 300)),
    Barrel(10.0, 1.50, 0.30, 3.3, (1.10, 0.115, 320)),
    Barrel(11.0, 1.64, 0.31, 3.7, (1.20, 0.125, 370)),
    Barrel(11.5, 1.92, 0.34, 3.8, (1.45, 0.13, 370)),
    Barrel(13.0, 2.00, 0.40, 4.3, (1.50, 0.15, 420)),
    Barrel(15.5, 2.59, 0.50, 5.2, (2.00, 0.18, 500)),
    Barrel(18.0, 3.00, 0.60, 6.0, (2.30, 0.21, 560)),
    Barrel(22.0, 3.60, 0.70, 7.3, (2.80, 0.25, 700)),
    Barrel(45.0, 8.00, 1.20, 15.0, (6.60, 0.50, 1500)),
)


def cases(barrel: Barrel) -> dict[str, tuple[str, ...]]:
    """Return the cases of a barrel, as options."""
    height, thickness, length = barrel.documented
    mistyped = f"{height:g} x {1.45 * thickness:g} x {length:g}"
    found = {"thickness": thickness, "height": height, "length": length}
    return {
        "no document": barrel.typed,
        "right document": (*barrel.typed, "--documented", f"{height:g} x {thickness:g} x {length}"),
        "mistyped document": (*barrel.typed, "--documented", mistyped),
        "found spring": (
            *barrel.typed,
            *(w for n, size in found.items() for w in (f"--found-{n}", f"{size:g}")),
        ),
        "no lid": (*barrel.typed[:4], *barrel.typed[6:]),
    }
