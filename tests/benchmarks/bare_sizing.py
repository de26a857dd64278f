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
Strip = tuple[Any, Any, Any, Any, Any]


def sizing(v: dict[str, Any], more: dict[str, Any]) -> dict[str, Any]:
    """Every output of a job with found and no documented spring, by label.

    ``more`` are the usable turns that rings count more than spirals, by spring at best values.
    """
    D, d = v["bore"], v["arbor"]
    out = {"height": v["depth"] - v["lid"] - v["clearance"]}
    strips, made = strips_of(v, out["height"]), {}
    for name, strip in strips.items():
        if name != "found":
            out[f"{name}.thickness"], out[f"{name}.length"] = strip[:2]
        made[name] = spring(out, name, D, d, *strip, more[name] * v["coils_off"])
    half = made["half-area"]
    for name, one in made.items():
        needs = v["stops_at"] * out["half-area.torque_half_turn"]
        out[f"{name}.hours_to_stop"] = to_stop(one, needs) * HOURS
    compare(out, v, made["found"], half)
    return out


def strips_of(v: dict[str, Any], room: Any) -> dict[str, Strip]:
    """Thickness, length, height, modulus and full-wind stress of every spring."""
    D, d = v["bore"], v["arbor"]
    e = D / 87
    rules = {
        "ratio-30": 30 * D,
        "ratio-35": 35 * D,
        "half-area": PI * (D * D - d * d) / (8 * e),
        "thirds-run-down": 5 * PI * D * D / (36 * e),
        "thirds-wound": PI * D * (6 * d + D) / (36 * e),
    }
    E, s = 1000 * v["modulus"], v["full_wind_stress"]
    strips = {name: (e, L, room, E, s) for name, L in rules.items()}
    sizes = (v[f"found.{size}"] for size in ("thickness", "length", "height"))
    E, s = 1000 * v["found.modulus"], v["found.healthy_stress"] * v["found.strength_kept"]
    return {**strips, "found": (*sizes, E, s)}


def rings_more(best: dict[str, Any]) -> dict[str, Any]:
    """By how many usable turns rings count more than spirals, at the best values."""
    D, d, more = best["bore"], best["arbor"], {}
    for name, strip in strips_of(best, 1.0).items():
        e, L, h, E, s = strip
        out: dict[str, Any] = {}
        for bore, arbor in ((D + e, d - e), (D, d)):
            spring(out, str(bore), bore, arbor, e, L, h, np.float64(E), s, 0.0)
        rings, spiral = (out[f"{x}.turns_usable"] for x in (D + e, D))
        more[name] = rings - spiral
    return more


def spring(
    out: dict[str, Any],
    name: str,
    D: Any,
    d: Any,
    e: Any,
    L: Any,
    h: Any,
    E: Any,
    s: Any,
    coils_off: Any,
) -> dict[str, Any]:
    """Geometry in rings and torque model as a true spiral of one spring."""
    x4 = 4 * L * e / PI
    down, wound = np.sqrt(D * D - x4), np.sqrt(d * d + x4)
    coils_down, coils_wound = (D - down) / (2 * e), (wound - d) / (2 * e)
    D1, d1 = D - e, d + e
    inner, outer = np.sqrt(D1 * D1 - x4), np.sqrt(d1 * d1 + x4)
    turns = (outer - d1 - D1 + inner) / (2 * e)
    out[f"{name}.fill"] = x4 / (D * D - d * d)
    out[f"{name}.turns"], out[f"{name}.turns_spiral"] = coils_wound - coils_down, turns
    out[f"{name}.coils_down"], out[f"{name}.coils_wound"] = coils_down, coils_wound
    out[f"{name}.hours"] = (coils_wound - coils_down) * HOURS
    r, R, b, w, x = d1 / 2, D1 / 2, inner / 2, outer / 2, x4 / 4
    EI, full, c0 = E * h * e * e * e / 12, s * h * e * e / 6, 2 * s / (E * e)
    gap = b * b - r * r
    most, least = 1 / r - 1 / b, 1 / w - 1 / R
    p, q, u = at_bend(gap, r, b, x, np.clip(c0, least, most))
    left = ((p - r) ** 2 / p - (q - b) ** 2 / q) / (2 * e)
    usable = turns - left + np.minimum(c0 - (q - p) / (p * q), 0) * u / (2 * e)
    out[f"{name}.stress_full"] = s
    out[f"{name}.turns_usable"] = usable + coils_off
    out[f"{name}.loose_coils"] = (p - r) / e - np.minimum(c0, most) * u / (2 * e)
    out[f"{name}.stress_range"] = np.minimum(E * e / 2 * most, s)
    out[f"{name}.hours_usable"] = out[f"{name}.turns_usable"] * HOURS
    rest = (r, R, b, w, x, e, L, gap, turns, least)
    day, half = bend_after(DAY, *rest), bend_after(0.5, *rest)
    out[f"{name}.torque_kept"] = np.maximum(full - EI * day, 0) / full
    out[f"{name}.torque_full"] = full
    out[f"{name}.torque_half_turn"] = np.maximum(full - EI * half, 0)
    g = 2 * (w - p - R + q)
    g2 = 2 * np.log(w * R / (p * q)) - 4 * np.log((w + R) / (p + q))
    out[f"{name}.energy"] = EI / 2 * PI / e * (c0 * c0 * u + 2 * c0 * g - g2)
    return {
        "r": r,
        "b": b,
        "x": x,
        "e": e,
        "gap": gap,
        "turns": turns,
        "c0": c0,
        "EI": EI,
        "least": least,
        "most": most,
        "usable": usable,
        "off": coils_off,
        "full": full,
        "day": day,
    }


def to_stop(m: dict[str, Any], needs: Any) -> Any:
    """Turns from full wind until a torque is left, those that hub and hook add alike."""
    c = np.clip(m["c0"] - needs / m["EI"], 0, m["most"])
    p, q, u = at_bend(m["gap"], m["r"], m["b"], m["x"], np.clip(c, m["least"], m["most"]))
    left = ((p - m["r"]) ** 2 / p - (q - m["b"]) ** 2 / q) / (2 * m["e"])
    until = m["turns"] - left + np.minimum(c - (q - p) / (p * q), 0) * u / (2 * m["e"])
    most = m["usable"] + m["off"]
    return np.maximum(np.minimum(until + until / m["usable"] * m["off"], most), 0)


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
    after: float,
    r: Any,
    R: Any,
    b: Any,
    w: Any,
    x: Any,
    e: Any,
    L: Any,
    gap: Any,
    turns: Any,
    least: Any,
) -> Any:
    """What the free part has straightened by so many turns after full wind."""
    most = ((w - r) ** 2 / w - (R - b) ** 2 / R) / (2 * e)
    wanted = np.clip(turns - after, 0, most)
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
    free = 2 * PI * after / L
    bend = np.where(free <= least, free, (q - p) / (p * q))
    return np.where(turns < after, math.inf, bend)


def compare(out: dict[str, Any], v: dict[str, Any], found: Any, ref: Any) -> None:
    """The found spring, which may be tired, against the half-area rule; what it is judged by."""
    e, L, h = (v[f"found.{size}"] for size in ("thickness", "length", "height"))
    e0, L0, h0 = out["half-area.thickness"], out["half-area.length"], out["height"]
    out["found.torque_at_limit"] = h * e * e / (h0 * e0 * e0)
    out["found.torque_of_equal_shape"] = h * e * e * e / L / (h0 * e0 * e0 * e0 / L0)
    out["found.bore_per_thickness"] = v["bore"] / e
    for label, bend, bend0 in (("ratio", 0.0, 0.0), ("ratio_day", found["day"], ref["day"])):
        own = np.maximum(found["full"] - found["EI"] * bend, 0)
        ratio = own / np.maximum(ref["full"] - ref["EI"] * bend0, 0)
        out[f"found.{label}_low"] = out[f"found.{label}_high"] = ratio
