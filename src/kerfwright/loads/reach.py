"""How far the cutter's tip gives way: the machine under it and the cutter itself."""

import numpy as np
from numpy.typing import NDArray

from kerfwright.cutter import CORNERED, Cutter
from kerfwright.kernels.between import between_corners
from kerfwright.machine import HeldBoard, MachineModel
from kerfwright.physics.modes import Rod

FloatArray = NDArray[np.float64]

#: Young's modulus of the cutter. Carbide with 10 % cobalt and high-speed steel, from memory, usual
#: textbook values. [MPa]
_MODULUS_MPA = {"carbide": 580_000.0, "hss": 210_000.0}
#: Carbide from memory; high-speed steel M2, a maker's sheet (transcription read).
_DENSITY_KG_PER_M3 = {"carbide": 14_500.0, "hss": 8_140.0}
#: A fluted length bends like a rod of this share of its diameter: Kops and Vo, Annals of the CIRP
#: 39/1 (1990) 93-96, about 80 % for two and four flutes (abstract read).
_FLUTED_SHARE = 0.8


def rod_of(cutter: Cutter) -> Rod:
    """A cutter as a stepped cantilever held at the collet.

    The fluted length stands for a rod of 0.8 of the diameter (of half the widest diameter for a
    V, whose flanks taper; of the even one that would bend as much for other tapers and outlines),
    the rest for the shank. A neck above an undercut counts as solid, and as one diameter longer
    than the cutting part: common practice, no source. The collet is taken as stiff.
    """
    fluted, share, diameter = cutter.flute_length_mm, _FLUTED_SHARE, cutter.diameter_mm
    if cutter.shape == "v":
        share = 0.5
    elif cutter.undercuts:
        share, diameter = 1.0, 2.0 * cutter.corners_mm[-1][0]
        fluted += cutter.diameter_mm
    elif cutter.shape == "taper" or cutter.shape in CORNERED:
        diameter = _even_diameter_mm(cutter)
    return Rod(
        whole_mm=cutter.stick_out_mm,
        fluted_mm=min(fluted, cutter.stick_out_mm),
        fluted_diameter_mm=share * diameter,
        shank_diameter_mm=cutter.shank_diameter_mm,
        modulus_mpa=_MODULUS_MPA[cutter.material],
        density_kg_per_m3=_DENSITY_KG_PER_M3[cutter.material],
    )


def _even_diameter_mm(cutter: Cutter) -> float:
    """Diameter of an even rod that a force at its tip bends as much as the cutting part.

    d with L³ / 3 d⁴ = ∫ z² / d(z)⁴ dz. [mm]
    """
    z = (np.arange(400) + 0.5) / 400.0
    wide = np.maximum(2.0 * cutter.radius_at_mm(z * cutter.flute_length_mm), 0.01)
    return float((1.0 / (3.0 * np.mean(z**2 / wide**4))) ** 0.25)


def cutter_compliance_mm_per_n(cutter: Cutter) -> float:
    """Sideways give of the tip for a force at the tip, see ``rod_of``. [mm/N]"""
    return float(rod_of(cutter).give_mm_per_n(0.0, 0.0))


def compliance_at(
    machine: MachineModel, x_mm: FloatArray, y_mm: FloatArray, nose_mm: FloatArray
) -> FloatArray:
    """The machine's give at the spindle nose, interpolated over its grid. (n, 3, 3) [mm/N]

    Positions in the machine's frame, ``nose_mm`` above the table; held at the grid's ends.
    """
    at = np.stack([x_mm, y_mm, nose_mm], axis=1)
    give = machine.compliance_mm_per_n
    out = np.empty((len(at), 9))
    x, y, z = machine.compliance_at_mm
    between_corners(at, x, y, z, np.ascontiguousarray(give).reshape(*give.shape[:3], 9), out)
    return out.reshape(-1, 3, 3)


def whole_compliance(
    machine: MachineModel, cutter: Cutter, tip_mm: FloatArray, work: HeldBoard | None
) -> FloatArray:
    """Give of the tip against the wood: machine, cutter and work. (n, 3, 3) [mm/N]

    ``tip_mm`` (n, 3) in the machine's frame, z above the table; ``work`` None: the board is held
    fast, or nothing is known of it.
    """
    nose = tip_mm[:, 2] + cutter.stick_out_mm
    compliance = compliance_at(machine, tip_mm[:, 0], tip_mm[:, 1], nose)
    side = cutter_compliance_mm_per_n(cutter)
    compliance[:, 0, 0] += side
    compliance[:, 1, 1] += side
    if work is not None:
        compliance += work.shifts_at(tip_mm)
    return compliance


def give_mm(
    machine: MachineModel,
    cutter: Cutter,
    tip_mm: FloatArray,
    force_n: FloatArray,
    work: HeldBoard | None = None,
) -> FloatArray:
    """How far a steady force moves the tip against the wood. (n, 3) [mm]

    ``tip_mm`` (n, 3) in the machine's frame, z above the table; ``force_n`` (n, 3); ``work`` as in
    ``whole_compliance``.
    """
    whole = whole_compliance(machine, cutter, tip_mm, work)
    return np.asarray(np.einsum("nij,nj->ni", whole, force_n))
