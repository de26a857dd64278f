"""The sizing formulas as a short numpy script would have them: no classes, no checks.

What two figures have in common is worked out once, as a careful script would. Used by
``bench_montecarlo``, which first makes sure that both sides come to the same numbers.
"""

# ruff: noqa: N803, N806 (the symbols of the formulas)

from __future__ import annotations

import math
from typing import Any

import numpy as np

HOURS = 7.5
DAY = 24 / HOURS
PI = math.pi


def sizing(v: dict[str, Any]) -> dict[str, Any]:
    """Every output of a job with found and no documented spring, by label."""
    D, d = v["bore"], v["arbor"]
    out = {"height": v["depth"] - v["lid"] - v["clearance"]}
    e = D / 87
    ring = D * D - d * d
    rules = {
        "ratio-30": 30 * D,
        "ratio-35": 35 * D,
        "half-area": PI * ring / (8 * e),
        "thirds-run-down": 5 * PI * D * D / (36 * e),
        "thirds-wound": PI * D * (6 * d + D) / (36 * e),
    }
    E, s = 1000 * v["modulus"], v["full_wind_stress"]
    curves = {}
    for name, L in rules.items():
        out[f"{name}.thickness"], out[f"{name}.length"] = e, L
        curves[name] = spring(out, name, D, d, ring, e, L, out["height"], E, s)
    e, L, h = (v[f"found.{size}"] for size in ("thickness", "length", "height"))
    found = spring(out, "found", D, d, ring, e, L, h, E, s)
    compare(out, v, found, curves["half-area"], E)
    return out


def spring(
    out: dict[str, Any],
    name: str,
    D: Any,
    d: Any,
    ring: Any,
    e: Any,
    L: Any,
    h: Any,
    E: Any,
    s: Any,
) -> tuple[Any, Any, Any, Any]:
    """Geometry and torque model of one spring."""
    x4 = 4 * L * e / PI
    down, wound = np.sqrt(D * D - x4), np.sqrt(d * d + x4)
    coils_down, coils_wound = (D - down) / (2 * e), (wound - d) / (2 * e)
    turns = coils_wound - coils_down
    D1, d1 = D - e, d + e
    inner, outer = np.sqrt(D1 * D1 - x4), np.sqrt(d1 * d1 + x4)
    out[f"{name}.fill"] = x4 / ring
    out[f"{name}.turns"] = turns
    out[f"{name}.turns_spiral"] = (outer - d1 - D1 + inner) / (2 * e)
    out[f"{name}.coils_down"], out[f"{name}.coils_wound"] = coils_down, coils_wound
    out[f"{name}.hours"] = turns * HOURS
    r, R, b, w, x = d / 2, D / 2, down / 2, wound / 2, x4 / 4
    EI, full, c0 = E * h * e * e * e / 12, s * h * e * e / 6, 2 * s / (E * e)
    gap = b * b - r * r
    most, least = 1 / r - 1 / b, 1 / w - 1 / R
    p, q, u = at_bend(gap, r, b, x, np.clip(c0, least, most))
    left = ((p - r) ** 2 / p - (q - b) ** 2 / q) / (2 * e)
    bend = (q - p) / (p * q)
    out[f"{name}.turns_usable"] = turns - left + np.minimum(c0 - bend, 0) * u / (2 * e)
    out[f"{name}.loose_coils"] = (p - r) / e - np.minimum(c0, most) * u / (2 * e)
    out[f"{name}.stress_range"] = E * e / 2 * most
    out[f"{name}.hours_usable"] = out[f"{name}.turns_usable"] * HOURS
    day = bend_after(r, R, b, w, x, e, L, gap, turns, least)
    later = np.maximum(full - EI * day, 0)
    out[f"{name}.torque_kept"], out[f"{name}.torque_full"] = later / full, full
    g = 2 * (w - p - R + q)
    g2 = 2 * np.log(w * R / (p * q)) - 4 * np.log((w + R) / (p + q))
    out[f"{name}.energy"] = EI / 2 * PI / e * (c0 * c0 * u + 2 * c0 * g - g2)
    return full, EI, day, c0


def at_bend(gap: Any, r: Any, b: Any, x: Any, bend: Any) -> tuple[Any, Any, Any]:
    """Where the strip meets the wall when it has straightened by a bend."""
    root = np.sqrt(gap)
    k = root * bend
    y = np.minimum(np.cbrt(k / 4), 1)
    for _ in range(5):
        y = y - ((k * y + 4) * (y * y * y) - k) / (4 * y * y * (k * y + 3))
    p = root * (1 / y - y) / 2
    u = np.clip((p - r) * (p + r), 0, x)
    return np.sqrt(r * r + u), np.sqrt(b * b + u), u


def bend_after(
    r: Any, R: Any, b: Any, w: Any, x: Any, e: Any, L: Any, gap: Any, turns: Any, least: Any
) -> Any:
    """What the free part has straightened by a day after full wind."""
    most = ((w - r) ** 2 / w - (R - b) ** 2 / R) / (2 * e)
    wanted = np.clip(turns - DAY, 0, most)
    at_end = r / b
    at_end = at_end * at_end * at_end
    at_wall = 1 - 2 * e * most * w / (w - r) ** 2
    start = 2 * e * wanted / (1 - at_end - (at_wall - at_end) * wanted / most)
    p = r + start / 2 + np.sqrt(start * (start / 4 + r))
    for _ in range(4):
        q = np.sqrt(p * p + gap)
        left = ((p - r) ** 2 / p - (q - b) ** 2 / q) / (2 * e)
        slope = (p - r) * (p + r) * (1 / (p * p) - p / (q * q * q)) / (2 * e)
        p = p - 2 * (left - np.sqrt(left * wanted)) / np.where(slope > 0, slope, 1)
    u = np.clip((p - r) * (p + r), 0, x)
    p, q = np.sqrt(r * r + u), np.sqrt(b * b + u)
    free = 2 * PI * DAY / L
    bend = np.where(free <= least, free, (q - p) / (p * q))
    return np.where(turns < DAY, math.inf, bend)


def compare(out: dict[str, Any], v: dict[str, Any], found: Any, ref: Any, E: Any) -> None:
    """The found spring against the half-area rule, and what it is judged by."""
    e, L, h = (v[f"found.{size}"] for size in ("thickness", "length", "height"))
    e0, L0, h0 = out["half-area.thickness"], out["half-area.length"], out["height"]
    out["found.torque_at_limit"] = h * e * e / (h0 * e0 * e0)
    out["found.torque_of_equal_shape"] = h * e * e * e / L / (h0 * e0 * e0 * e0 / L0)
    out["found.bore_per_thickness"] = v["bore"] / e
    full, EI, day, _ = found
    full0, EI0, day0, c0 = ref
    equal = E * e / 2 * c0 * h * e * e / 6
    for label, bend, bend0 in (("ratio", 0.0, 0.0), ("ratio_day", day, day0)):
        known = np.maximum(full0 - EI0 * bend0, 0)
        own = np.maximum(full - EI * bend, 0) / known
        same = np.maximum(equal - EI * bend, 0) / known
        out[f"found.{label}_low"] = np.minimum(own, same)
        out[f"found.{label}_high"] = np.maximum(own, same)
