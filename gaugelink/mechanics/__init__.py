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

from gaugelink.mechanics.amplitude import (
    Expected,
    expected_amplitude,
    thickness_for_torque,
    torque_for_amplitude,
)
from gaugelink.mechanics.arrangement import (
    Arrangement,
    Asked,
    BarrelKind,
    Stopwork,
    Winding,
    check_arrangement,
    refuse_uncovered,
)
from gaugelink.mechanics.band import Band, SourcedBand, assumed
from gaugelink.mechanics.clues import CLOSE, LengthClues, Method
from gaugelink.mechanics.ends import EndRoom, EndType, end_named, room_of_end, with_end
from gaugelink.mechanics.found_length import FoundLength, MethodLength, find_length
from gaugelink.mechanics.length import fill_from_mass, thickness_from_coils
from gaugelink.mechanics.materials import Material, material_named, shipped_materials
from gaugelink.mechanics.motion import (
    POWER_SAYING,
    MeasuredAmplitude,
    Position,
    Wind,
    WishedThickness,
    expected_advice,
    motion_advice,
    thickness_for_amplitude,
)
from gaugelink.mechanics.running import (
    Running,
    of_equal_shape,
    running,
    torque_ratio,
    torque_ratio_at,
)
from gaugelink.mechanics.spring import SpringInBarrel, check_fits, fits
from gaugelink.mechanics.stopwork import (
    WorkingTurns,
    driving_torque,
    selected_turns,
    stopwork_warnings,
    winding_advice,
    working_turns,
)
from gaugelink.mechanics.stress import stress_after_set_mpa, stress_range_mpa, stress_warnings
from gaugelink.mechanics.torque import (
    RunDown,
    TorqueCurve,
    bend_after,
    run_down,
    torque_after,
    torque_at_bend,
    torque_curve,
    usable_turns,
)
from gaugelink.mechanics.train import Mesh, Train, crown_turns, hours_per_turn, train_from_text
from gaugelink.mechanics.turns import ring_turns, spiral_turns

__all__ = [
    "CLOSE",
    "POWER_SAYING",
    "Arrangement",
    "Asked",
    "Band",
    "BarrelKind",
    "EndRoom",
    "EndType",
    "Expected",
    "FoundLength",
    "LengthClues",
    "Material",
    "MeasuredAmplitude",
    "Mesh",
    "Method",
    "MethodLength",
    "Position",
    "RunDown",
    "Running",
    "SourcedBand",
    "SpringInBarrel",
    "Stopwork",
    "TorqueCurve",
    "Train",
    "Wind",
    "Winding",
    "WishedThickness",
    "WorkingTurns",
    "assumed",
    "bend_after",
    "check_arrangement",
    "check_fits",
    "crown_turns",
    "driving_torque",
    "end_named",
    "expected_advice",
    "expected_amplitude",
    "fill_from_mass",
    "find_length",
    "fits",
    "hours_per_turn",
    "material_named",
    "motion_advice",
    "of_equal_shape",
    "refuse_uncovered",
    "ring_turns",
    "room_of_end",
    "run_down",
    "running",
    "selected_turns",
    "shipped_materials",
    "spiral_turns",
    "stopwork_warnings",
    "stress_after_set_mpa",
    "stress_range_mpa",
    "stress_warnings",
    "thickness_for_amplitude",
    "thickness_for_torque",
    "thickness_from_coils",
    "torque_after",
    "torque_at_bend",
    "torque_curve",
    "torque_for_amplitude",
    "torque_ratio",
    "torque_ratio_at",
    "train_from_text",
    "usable_turns",
    "winding_advice",
    "with_end",
    "working_turns",
]
