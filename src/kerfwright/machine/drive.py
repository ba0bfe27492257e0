"""One axis from its numbers: motor, drive and guide become an ``AxisModel``."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache, lru_cache
from math import inf, pi
from typing import Literal, cast

import numpy as np

from kerfwright.machine.materials import density_kg_per_m3, modulus_mpa, shear_modulus_mpa
from kerfwright.machine.model import AxisModel, FloatArray
from kerfwright.machine.threads import FLANK_RAD
from kerfwright.physics import belts, mid_band, racks, screw_limits, screws, steppers
from kerfwright.physics.inertia import rod_inertia_kg_mm2

#: Practice stays below this share of the speed at which a screw whips.
WHIP_SHARE = 0.8
#: Motor speeds of the curve: far enough for every lead in use. [rev/s]
CURVE_REV_PER_S = np.concatenate((np.arange(0.0, 20.0, 0.25), np.arange(20.0, 60.5, 1.0)))

#: A narrower band falls between the speeds of the curve.
_LEAST_BAND_REV_PER_S = 0.3

Numbers = Mapping[str, float]
Choices = Mapping[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Train:
    """What lies between one motor and the carriage, seen at the motor."""

    lead_mm: float
    raising_mm: float
    lowering_mm: float
    drag_nmm: float
    inertia_kg_mm2: float
    play_mm: float
    whip_mm_per_s: float
    give_mm_per_n: FloatArray  #: (k,) without the motor, at shares of the travel


def axis_model(
    axis: Literal["x", "y", "z"], numbers: Numbers, choices: Choices, shares: FloatArray
) -> tuple[AxisModel, FloatArray]:
    """The model of one axis, and the stiffness of one motor's train at shares of the travel.

    Parameters
    ----------
    axis : str
        x, y or z.
    numbers, choices : mapping
        By dotted path of machine.toml, complete.
    shares : array (k,)
        Places along the travel, 0 to 1.

    Returns
    -------
    AxisModel, array (k,)
        Stiffness of ONE train. [N/mm]
    """
    at = f"axes.{axis}."
    own = {key: numbers[path] for key, path in _under(at, tuple(numbers))}
    words = {key: choices[path] for key, path in _under(at, tuple(choices))}
    drive = cast(Literal["screw", "belt", "rack"], words["drive"])
    train = {"screw": _screw, "belt": _belt, "rack": _rack}[drive](own, words, shares)
    motors = round(own["motors"])
    holding, teeth, smooth = _motor(own)
    # The magnetic spring: one newton asks raising_mm of torque, which turns the shaft away.
    spring = train.lead_mm / (2.0 * pi) * train.raising_mm / (teeth * holding)
    stiffness = 1.0 / (train.give_mm_per_n + spring)
    rapid = numbers[f"controller.{axis}.rapid"]
    model = AxisModel(
        name=axis,
        travel_mm=own["travel"],
        lead_mm=train.lead_mm,
        positions_per_rev=round(own["motor.full_steps"]) * round(own["driver.microsteps"]),
        motors=motors,
        mass_kg=own["moving_mass"],
        friction_n=own["guide_friction"],
        raising_mm=train.raising_mm,
        lowering_mm=train.lowering_mm,
        drag_torque_nmm=motors * (train.drag_nmm + own["bearing_drag"]),
        inertia_kg_mm2=train.inertia_kg_mm2 + own["motor.rotor_inertia"] + own["other_inertia"],
        curve_rev_per_s=CURVE_REV_PER_S,
        curve_torque_nmm=smooth * _left_where_it_swings(own),
        top_speed_mm_per_s=rapid,
        rapid_mm_per_s=rapid,
        acceleration_mm_per_s2=numbers[f"controller.{axis}.acceleration"],
        jerk_mm_per_s3=numbers.get(f"controller.{axis}.jerk", inf),
        stiffness_n_per_mm=motors * float(np.interp(0.5, shares, stiffness)),
        play_mm=train.play_mm,
        drive=drive,
        idle_share=own["driver.idle"],
        microsteps=round(own["driver.microsteps"]),
        rotor_teeth=teeth,
        whip_mm_per_s=train.whip_mm_per_s,
        set_rapid_mm_per_s=rapid,
    )
    return _limited(model, smooth), stiffness


def _motor(own: Numbers) -> tuple[float, float, FloatArray]:
    """Torque as driven, standing; rotor teeth; torque at the speeds of the curve, not swinging."""
    teeth = float(steppers.rotor_teeth(round(own["motor.full_steps"])))
    constant = steppers.torque_constant_nmm_per_a(
        own["motor.holding_torque"], own["motor.rated_current"]
    )
    curve = steppers.pull_out_torque_nmm(
        CURVE_REV_PER_S,
        constant,
        own["driver.current"],
        own["driver.supply"],
        own["motor.resistance"],
        own["motor.inductance"],
        teeth,
    )
    return float(constant) * own["driver.current"], teeth, own["motor.pull_share"] * curve


def _left_where_it_swings(own: Numbers) -> FloatArray | float:
    """Share of the pull that is left at the speeds of the curve."""
    if "motor.swings_lose" not in own:
        return 1.0
    begins = own["motor.swings_from"]
    # Draws of the two ends may cross.
    ends = max(own["motor.swings_to"], begins + _LEAST_BAND_REV_PER_S)
    centre, width = mid_band.of_edges(begins, ends)
    return mid_band.share(CURVE_REV_PER_S, own["motor.swings_lose"], centre, width)


def _limited(model: AxisModel, smooth_nmm: FloatArray) -> AxisModel:
    """The same axis with the speeds that its motor and screw allow.

    A band in which the motor swings does not end its speeds: faster it may run well again. What
    is asked of it inside the band is judged where a program runs there.
    """
    # Upwards on Z, where the weight is against it; on X and Y both ways are alike.
    need = float(model.demand_nmm(0.0, 1e-9, model.acceleration_mm_per_s2))
    motor_top = model.lead_mm * _last_speed(model.curve_rev_per_s, smooth_nmm, need)
    top = min(model.set_rapid_mm_per_s, motor_top, WHIP_SHARE * model.whip_mm_per_s)
    # A motor that cannot move its own axis still gets a speed: the proof then tells the stall.
    top = max(top, 0.05 * model.set_rapid_mm_per_s)
    return replace(model, motor_top_mm_per_s=motor_top, top_speed_mm_per_s=top, rapid_mm_per_s=top)


def _last_speed(speeds: FloatArray, torques: FloatArray, need: float) -> float:
    """Highest speed at which a falling curve still gives ``need``; 0 if it never does."""
    enough = np.flatnonzero(torques >= need)
    if enough.size == 0:
        return 0.0
    last = int(enough[-1])
    if last == len(speeds) - 1:
        return float(speeds[-1])
    fall = torques[last] - torques[last + 1]
    part = (torques[last] - need) / fall
    return float(speeds[last] + part * (speeds[last + 1] - speeds[last]))


def _screw(own: Numbers, words: Choices, shares: FloatArray) -> Train:
    ratio, form, lead = own["ratio"], words["screw.form"], own["screw.lead"]
    pitch, diameter = own["screw.pitch"], own["screw.diameter"]
    mean = max(diameter - pitch / 2.0, 0.3 * diameter)
    root = min(own["screw.root_diameter"], 0.98 * diameter)
    material = words["screw.material"]
    if form == "ball":
        raise_nmm, lower_nmm = screws.ball_screw_torques_nmm(1.0, lead, own["screw.efficiency"])
        drag = 2.0 * own["screw.preload"] * (float(raise_nmm) - lead / (2.0 * pi))
    else:
        thread = (mean, lead, own["screw.friction"], FLANK_RAD[form])
        raise_nmm = screws.raising_torque_nmm(1.0, *thread)
        lower_nmm = screws.lowering_torque_nmm(1.0, *thread)
        drag = float(screws.preload_drag_torque_nmm(own["screw.preload"], *thread))
    whip = screw_limits.whip_speed_rev_per_s(
        root,
        own["screw.free_length"],
        _first_root(words["screw.ends"]),
        modulus_mpa(material),
        density_kg_per_m3(material),
    )
    turning = rod_inertia_kg_mm2(mean, own["screw.free_length"], density_kg_per_m3(material))
    return Train(
        lead_mm=lead / ratio,
        raising_mm=float(raise_nmm) / ratio,
        lowering_mm=float(lower_nmm) / ratio,
        drag_nmm=drag / ratio,
        inertia_kg_mm2=float(turning) / ratio**2,
        play_mm=own["screw.play"],
        whip_mm_per_s=float(whip) * lead,
        give_mm_per_n=_screw_give(own, words, shares, root, float(raise_nmm)),
    )


def _screw_give(
    own: Numbers, words: Choices, shares: FloatArray, root_mm: float, raise_mm: float
) -> FloatArray:
    """Stretch and wind-up of the screw, nut and bearing in a row. [mm/N]"""
    material, travel = words["screw.material"], own["travel"]
    length = max(own["screw.free_length"], 1.02 * travel)
    at = 0.5 * (length - travel) + shares * travel
    both = words["screw.ends"] == "fixed-fixed"
    stretch = screw_limits.axial_stiffness_n_per_mm(
        root_mm, modulus_mpa(material), at, length, both
    )
    wound = screw_limits.torsional_stiffness_nmm_per_rad(root_mm, shear_modulus_mpa(material), at)
    return (
        1.0 / stretch
        + own["screw.lead"] / (2.0 * pi) * raise_mm / wound
        + 1.0 / own["screw.nut_stiffness"]
        + 1.0 / own["bearing_stiffness"]
    )


def _belt(own: Numbers, words: Choices, shares: FloatArray) -> Train:
    lead = float(belts.lead_mm(own["belt.pitch"], round(own["belt.teeth"])))
    length = max(own["belt.length"], 1.02 * own["travel"])
    at = 0.5 * (length - own["travel"]) + shares * own["travel"]
    stiffness = (
        belts.open_stiffness_n_per_mm
        if words["belt.arrangement"] == "open"
        else belts.looped_stiffness_n_per_mm
    )(own["belt.specific_stiffness"], own["belt.width"], at, length)
    return _rolling(
        own, lead, own["belt.efficiency"], own["belt.play"], np.asarray(1.0 / stiffness)
    )


def _rack(own: Numbers, words: Choices, shares: FloatArray) -> Train:
    del words
    lead = float(racks.lead_mm(own["rack.module"], round(own["rack.teeth"])))
    give = np.full(shares.shape, 1.0 / own["rack.mesh_stiffness"])
    return _rolling(own, lead, own["rack.efficiency"], own["rack.play"], give)


def _rolling(own: Numbers, lead: float, share: float, play: float, give: FloatArray) -> Train:
    """A drive whose losses are a share of the work, both ways."""
    ratio = own["ratio"]
    ideal = lead / (2.0 * pi * ratio)
    return Train(
        lead_mm=lead / ratio,
        raising_mm=ideal / share,
        lowering_mm=-ideal * share,
        drag_nmm=0.0,
        inertia_kg_mm2=0.0,
        play_mm=play,
        whip_mm_per_s=inf,
        give_mm_per_n=give + 1.0 / own["bearing_stiffness"],
    )


@lru_cache(maxsize=64)
def _under(at: str, paths: tuple[str, ...]) -> tuple[tuple[str, str], ...]:
    """What stands under a part of a description: its name there, and its path."""
    return tuple((path[len(at) :], path) for path in paths if path.startswith(at))


@cache
def _first_root(ends: str) -> float:
    return float(screw_limits.first_root(ends))
