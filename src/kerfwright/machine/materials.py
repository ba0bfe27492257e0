"""Elastic data of what machines are built from, from the table ``materials``."""

from functools import cache

from kerfwright.tables import read_table

#: Poisson's ratio where the table gives none. From memory for isotropic panels.
_POISSON = 0.3


def modulus_mpa(material: str) -> float:
    """Young's modulus, middle of the table's range. [MPa]"""
    row = _row(material)
    return 500.0 * (float(row["E_lo_GPa"]) + float(row["E_hi_GPa"]))


def shear_modulus_mpa(material: str) -> float:
    """Shear modulus of an isotropic material, E / (2 (1 + v)). [MPa]

    Too high for plywood across its plies; the source gives no shear moduli of panels.
    """
    return modulus_mpa(material) / (2.0 * (1.0 + poisson(material)))


def poisson(material: str) -> float:
    """Poisson's ratio. [-]"""
    return float(_row(material)["nu"] or _POISSON)


def density_kg_per_m3(material: str) -> float:
    """Density, middle of the table's range. [kg/m³]"""
    row = _row(material)
    scale = 1000.0 if row["density_unit"] == "SG" else 1.0
    return scale * 0.5 * (float(row["density_or_SG_lo"]) + float(row["density_or_SG_hi"]))


@cache
def _row(material: str) -> dict[str, str]:
    return next(row for row in read_table("materials") if row["material"] == material)
