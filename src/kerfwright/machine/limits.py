"""What a screw bears before it buckles, and what damp does to the preload of wheels on wood."""

from kerfwright.machine.guides import BEARINGS, wheel_stiffness_n_per_mm
from kerfwright.machine.materials import modulus_mpa
from kerfwright.machine.model import MachineModel
from kerfwright.physics import contact, screw_limits, wood

#: Plain low-carbon steel yields from about here on: from memory. Harder screws bear more. [MPa]
_YIELD_MPA = 250.0
#: From a heated room in winter to a damp shed wood takes up about as much. Common practice, no
#: source. [% of its dry mass]
_DAMPER_PERCENT = 3.0
_WOOD = ("plywood", "medium-density fiberboard", "particleboard")


def screw_buckles_n(machine: MachineModel, axis: str) -> float:
    """Thrust at which an axis's screw buckles, pushed over its longest free length. [N]

    Euler where it is slender, Johnson's parabola where it is stout.
    """
    at, numbers = f"axes.{axis}.screw", machine.values
    root = min(numbers[f"{at}.root_diameter"], 0.98 * numbers[f"{at}.diameter"])
    ends = screw_limits.end_constant(machine.choices[f"{at}.ends"])
    modulus = modulus_mpa(machine.choices[f"{at}.material"])
    length = numbers[f"{at}.free_length"]
    return float(screw_limits.buckling_force_n(root, length, ends, modulus, _YIELD_MPA))


def damp_opens(machine: MachineModel) -> tuple[float, float] | None:
    """How far damp moves the gantry's wheels apart, and how far their preload follows. [mm, mm]

    None where its uprights are no wood or it runs on no wheels.
    """
    numbers, choices = machine.values, machine.choices
    if choices["frame.moves"] != "gantry" or choices["rails.wheel"] in BEARINGS:
        return None
    if choices["frame.upright.material"] not in _WOOD or numbers["rails.preload"] <= 0.0:
        return None
    apart = numbers[f"rails.{choices['frame.moves_along']}.across"]
    radial, _ = wheel_stiffness_n_per_mm(numbers, choices)
    return (
        float(wood.panel_growth_mm(apart, _DAMPER_PERCENT)),
        float(contact.preload_travel_mm(numbers["rails.preload"], radial)),
    )
