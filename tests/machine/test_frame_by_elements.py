"""The demo's gantry by the direct stiffness method, node by node: an assembly of another kind.

Twelve-by-twelve Timoshenko beam elements (Przemieniecki, Theory of Matrix Structural Analysis: form
from memory, checked here against a cantilever), joints as springs between two nodes at one place.
"""

import numpy as np
import pytest

from kerfwright.machine.guides import wheel_stiffness_n_per_mm
from kerfwright.machine.materials import modulus_mpa, poisson, shear_modulus_mpa
from kerfwright.physics.sections import rectangle_tube_shear_share

UP = np.array([0.0, 0.0, 1.0])
ALONG = np.array([1.0, 0.0, 0.0])
BEAM = np.array([0.0, 1.0, 0.0])


def element(start, end, local2, young, shear, area, about2, about3, twist, shares=(0.5, 0.5)):
    """Stiffness (12, 12) in common axes of a straight beam, local axis 2 given."""
    axis = end - start
    length = np.linalg.norm(axis)
    axis = axis / length
    k = np.zeros((12, 12))
    for i, stiff in ((0, young * area / length), (3, shear * twist / length)):
        k[i, i] = k[i + 6, i + 6] = stiff
        k[i, i + 6] = k[i + 6, i] = -stiff
    bends = ((1, 5, 1.0, about3, shares[0]), (2, 4, -1.0, about2, shares[1]))
    for shift, turn, sign, second, share in bends:
        phi = 12 * young * second / (share * shear * area * length**2)
        f = young * second / ((1 + phi) * length**3)
        a, b = 12 * f, sign * 6 * f * length
        c, d = (4 + phi) * f * length**2, (2 - phi) * f * length**2
        index = [shift, turn, shift + 6, turn + 6]
        k[np.ix_(index, index)] += [[a, b, -a, b], [b, c, -b, d], [-a, -b, a, -b], [b, d, -b, c]]
    local = np.stack((axis, local2, np.cross(axis, local2)))
    turn = np.kron(np.eye(4), local)
    return turn.T @ k @ turn


def test_element_is_a_cantilever():
    k = element(np.zeros(3), 700.0 * BEAM, UP, 7e4, 2.6e4, 600.0, 2e5, 5e5, 4e5)
    free = np.linalg.inv(k[6:, 6:])
    shear = 700 / (0.5 * 2.6e4 * 600)
    assert free[2, 2] == pytest.approx(700**3 / (3 * 7e4 * 5e5) + shear)
    assert free[0, 0] == pytest.approx(700**3 / (3 * 7e4 * 2e5) + shear)
    assert free[4, 4] == pytest.approx(700 / (2.6e4 * 4e5))


def plate(start, end, thin, material, width, thickness):
    """A flat bar; thin along ``thin``."""
    young, shear = modulus_mpa(material), shear_modulus_mpa(material)
    tall, flat = max(width, thickness), min(width, thickness)
    ratio = flat / tall
    n = np.arange(1, 40, 2)  # Saint-Venant's series
    series = 1 - 192 * ratio / np.pi**5 * np.sum(np.tanh(n * np.pi / 2 / ratio) / n**5)
    return element(
        start, end, thin, young, shear, width * thickness,
        thickness * width**3 / 12, width * thickness**3 / 12, tall * flat**3 / 3 * series,
        [10 * (1 + poisson(material)) / (12 + 11 * poisson(material))] * 2,
    )  # fmt: skip


@pytest.mark.parametrize("place", range(5))
def test_gantry(demo, place):
    n, words = demo.values, demo.choices
    length, height = n["frame.beam.length"], n["frame.upright.height"]
    at = (length - n["axes.y.travel"]) / 2 + place / 4 * n["axes.y.travel"]
    names = ["footA", "baseA", "topA", "endA", "M", "endB", "topB", "baseB", "footB"]
    where = dict.fromkeys(("footA", "baseA"), np.zeros(3))
    where |= dict.fromkeys(("topA", "endA"), height * UP)
    where["M"] = at * BEAM + height * UP
    where |= dict.fromkeys(("endB", "topB"), length * BEAM + height * UP)
    where |= dict.fromkeys(("baseB", "footB"), length * BEAM)
    stiff = np.zeros((54, 54))

    def dofs(*nodes):
        return np.concatenate([np.arange(6) + 6 * names.index(node) for node in nodes])

    def put(matrix, *nodes):
        stiff[np.ix_(dofs(*nodes), dofs(*nodes))] += matrix

    grip = n["frame.beam.depth"] / 2
    joint = n["frame.joint_stiffness"] * np.diag([1, 1, 1, grip**2, grip**2, grip**2])
    bolted = np.block([[joint, -joint], [-joint, joint]])
    width, deep, wall = (n[f"frame.beam.{key}"] for key in ("width", "depth", "wall"))
    tube = {
        "young": modulus_mpa(words["frame.beam.material"]),
        "shear": shear_modulus_mpa(words["frame.beam.material"]),
        "area": width * deep - (width - 2 * wall) * (deep - 2 * wall),
        "about2": (width * deep**3 - (width - 2 * wall) * (deep - 2 * wall) ** 3) / 12,
        "about3": (deep * width**3 - (deep - 2 * wall) * (width - 2 * wall) ** 3) / 12,
        "twist": 2 * wall * ((width - wall) * (deep - wall)) ** 2 / (width + deep - 2 * wall),
    }
    ratio = poisson(words["frame.beam.material"])
    tube["shares"] = [
        rectangle_tube_shear_share(*sides, wall, ratio) for sides in ((deep, width), (width, deep))
    ]
    radial, axial = wheel_stiffness_n_per_mm(n, words)
    wheels = n["rails.x.wheels"] / 2
    a, b = n["rails.x.along"] / 2, n["rails.x.across"] / 2
    rolls = wheels * np.diag([0, axial, radial, axial * b**2, radial * a**2, axial * a**2])
    for side in "AB":
        put(bolted, f"foot{side}", f"base{side}")
        put(bolted, f"top{side}", f"end{side}")
        put(
            plate(where[f"base{side}"], where[f"top{side}"], BEAM, words["frame.upright.material"],
                  n["frame.upright.width"], n["frame.upright.thickness"]),
            f"base{side}", f"top{side}",
        )  # fmt: skip
        put(rolls, f"foot{side}")
    put(element(where["endA"], where["M"], -ALONG, **tube), "endA", "M")
    put(element(where["M"], where["endB"], -ALONG, **tube), "M", "endB")
    bar = (words["frame.cross_bar.material"], n["frame.cross_bar.width"],
           n["frame.cross_bar.thickness"])  # fmt: skip
    put(plate(where["footA"], where["footB"], UP, *bar), "footA", "footB")
    bends = length**3 / (48 * modulus_mpa(bar[0]) * bar[2] * bar[1] ** 3 / 12)
    lever = np.zeros(54)
    lever[[dofs("footA")[0], dofs("footB")[0]]] = 0.5
    stiff += np.outer(lever, lever) / (1 / demo.x.stiffness_n_per_mm + bends)

    below = n["frame.nose_below_beam"] + n["axes.z.travel"]
    arm = -n["frame.nose_before_beam"] * ALONG - below * UP
    load = np.zeros((54, 3))
    load[dofs("M")[:3]] = np.eye(3)
    load[dofs("M")[3:]] = np.stack([np.cross(arm, e) for e in np.eye(3)], axis=-1)
    work = np.diagonal(load.T @ np.linalg.solve(stiff, load))

    own = np.diagonal(demo.compliance_mm_per_n[2, place, 0])
    parts = ["gantry wheels", "cross bar", "beam", "uprights", "gantry joints"]
    mine = sum(demo.compliance_shares[part][2, place, 0] for part in parts) * own
    mine[0] += demo.compliance_shares["X drive"][2, place, 0, 0] * own[0]
    assert mine == pytest.approx(work, rel=5e-3)  # the torsion of flat bars by formula and series
