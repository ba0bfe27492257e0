"""What the frame runs on: one wheel on its rail, one bearing, bars hung between their ends."""

from collections.abc import Mapping
from math import inf
from typing import Final

import numpy as np

from kerfwright.machine.materials import modulus_mpa
from kerfwright.physics import beams, contact, sections, slides
from kerfwright.physics.domain import Floats

#: By dotted path of machine.toml: of one machine, or of many (draws,).
Numbers = Mapping[str, Floats]
Choices = Mapping[str, str]

#: What runs on rails and is no wheel: balls or a lining that carry over a length.
BEARINGS: Final = ("ball carriage", "round sleeve")
#: What bars are made of.
_BAR: Final = "carbon steel"


def wheel_stiffness_n_per_mm(numbers: Numbers, choices: Choices) -> tuple[Floats, Floats]:
    """One wheel on its stud, pressed and free, or one bearing: radial and axial. [N/mm]"""
    stud = numbers["rails.stud_stiffness"]
    if choices["rails.wheel"] in BEARINGS:
        return stud, stud
    # A wheel without preload is pressed by the cut alone: a few newtons.
    flank = contact.flank_force_n(np.maximum(numbers["rails.preload"], 5.0))
    if choices["rails.wheel"] == "steel V":
        touch = contact.roller_stiffness_n_per_mm(flank, numbers["rails.contact_length"])
    else:
        acetal = modulus_mpa("acetal (POM) nut")
        modulus = contact.contact_modulus_mpa(
            acetal, 0.35, modulus_mpa("aluminium 6061/6063"), 0.33
        )
        touch = contact.ball_contact(flank, numbers["rails.wheel_radius"], modulus)[3]
    return contact.v_wheel_stiffness_n_per_mm(touch, stud)


def own_turning_nmm(numbers: Numbers, choices: Choices) -> tuple[Floats, Floats, Floats]:
    """How stiffly one bearing alone keeps from turning: about its rail, radial, normal. [N mm/rad]

    A wheel rolls on a point: not at all. A sleeve keeps in line with its bar, a ball carriage does
    not roll on its rail either.
    """
    wheel = choices["rails.wheel"]
    if wheel not in BEARINGS:
        return 0.0, 0.0, 0.0
    radial, axial = wheel_stiffness_n_per_mm(numbers, choices)
    length = numbers["rails.bearing_length"]
    about_radial = slides.bearing_turning_nmm_per_rad(axial, length)
    about_normal = slides.bearing_turning_nmm_per_rad(radial, length)
    roll: Floats = 0.0
    if wheel == "ball carriage":
        roll = slides.rows_turning_nmm_per_rad(axial, numbers["rails.bearing_width"])
    return roll, about_radial, about_normal


def bars_give(numbers: Numbers, axis: str) -> tuple[Floats, ...]:
    """What two bars hung between their ends give under a carriage in the middle of their span.

    Along the rail, radial, normal, and turns about them: (6,), all 0 where rails are held along
    their length. Simply supported; blocks that hold the ends fast make it stiffer. [mm/N, rad/N mm]
    """
    at = f"rails.{axis}."
    if at + "bar_diameter" not in numbers:
        return (0.0,) * 6
    length = numbers[at + "bar_length"]
    along = np.minimum(numbers[at + "along"], 0.9 * length)
    second = sections.round_bar_second_moment_mm4(numbers[at + "bar_diameter"])
    places = 0.5 * (length - along), 0.5 * (length + along)
    own, other = (
        beams.supported_between_mm(1.0, places[0], read, length, modulus_mpa(_BAR), second)
        for read in places
    )
    shift = (own + other) / 4.0  # a quarter of the force at each of four places
    roll = (own + other) / numbers[at + "across"] ** 2
    turn = (own - other) / along**2
    return 0.0, shift, shift, roll, turn, turn


def wheel_unloads_n(numbers: Mapping[str, float], choices: Choices) -> float:
    """Load on one wheel that takes all preload off the wheel across from it. [N]

    Infinite for ball carriages and sleeves, whose preload this file does not describe.
    """
    exponents = {"steel V": 10.0 / 9.0, "plastic V": 1.5}  # line contact; ball
    exponent = exponents.get(choices["rails.wheel"])
    if exponent is None:
        return inf
    return float(contact.unloading_force_n(numbers["rails.preload"], exponent)) / 2.0
