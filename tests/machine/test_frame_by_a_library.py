"""The whole frame by a general-purpose library of frames, wheel by wheel and bolt by bolt.

PyNiteFEA's elements are straight bars without shear (Euler) and springs, so the shear of bars is
taken out of the machine's model here; ``test_frame_by_elements`` has it. Each wheel is two springs
where it stands, a joint six springs, a drive one, and the arms between are so stiff that they do
not count. Sizes, moduli and the stiffness of a wheel and of a drive are the machine's; nothing of
how it puts them together.
"""

from itertools import pairwise

import numpy as np
import pytest

from kerfwright.machine import frame_modes, nose_give
from kerfwright.machine.drive import axis_model
from kerfwright.machine.guides import wheel_stiffness_n_per_mm
from kerfwright.machine.materials import modulus_mpa, poisson
from kerfwright.machine.modes import _chain, _masses
from kerfwright.machine.structure import frame_at
from kerfwright.physics import beams, sections

pynite = pytest.importorskip("Pynite", reason="a library of frames to compare with")
X, Y, Z = np.eye(3)
WAYS = ("FX", "FY", "FZ", "MX", "MY", "MZ")
#: A E of an arm [N], and its E I and G J over that [mm²].
ARM_N, ARM_MM2 = 1e12, 1e3


class Frame:
    """A model put together by places; names are made here."""

    def __init__(self):
        self.model, self.count = pynite.FEModel3D(), 0
        self.model.add_material("one", 1.0, 1.0, 0.3, 1.0)  # the moduli are in the sections
        self.model.add_section("arm", ARM_N, *[ARM_N * ARM_MM2] * 3)

    def named(self):
        self.count += 1
        return str(self.count)

    def node(self, at):
        name = self.named()
        self.model.add_node(name, *map(float, at))
        return name

    def at(self, node):
        one = self.model.nodes[node]
        return np.array([one.X, one.Y, one.Z])

    def out(self, node, to):
        """A node at the end of a stiff arm, or the node itself."""
        if np.allclose(self.at(node), to):
            return node
        end = self.node(to)
        self.model.add_member(self.named(), node, end, "one", "arm")
        return end

    def spring(self, one, other, at, along, stiffness):
        """Between two nodes, acting at a place along a unit vector."""
        ends = self.out(one, at), self.out(other, at + 7.0 * along)
        self.model.add_spring(self.named(), *ends, stiffness)

    def joint(self, one, other, stiffness, grip):
        """The same along X, Y and Z, and grip² times that about them: six springs around it."""
        for along, beside in ((X, Y), (Y, Z), (Z, X)):
            for way in (-grip, grip):
                self.spring(one, other, self.at(one) + way * beside, along, stiffness / 2.0)

    def wheels(self, one, other, count, spread, springs):
        """At four corners, each with springs (direction, stiffness)."""
        for s, t in ((1, 1), (1, -1), (-1, 1), (-1, -1)):
            for way, stiff in springs:
                at = self.at(one) + s * spread[0] + t * spread[1]
                self.spring(one, other, at, way, stiff * count / 4.0)

    def bar(self, start, end, material, area, seconds, twist):
        """``seconds``: second moments about X, Y, Z; along Y or Z. [mm², mm⁴]"""
        name, young = self.named(), modulus_mpa(material)
        shear = young / (2.0 * (1.0 + poisson(material)))
        along_y = abs((self.at(end) - self.at(start)) @ Y) > 0.0
        # The library's local y and z: X and Z for bars along Y, Y and X for those along Z.
        about = (seconds[0], seconds[2]) if along_y else (seconds[1], seconds[0])
        self.model.add_section(name, young * area, *(young * one for one in about), shear * twist)
        self.model.add_member(name, start, end, "one", name)
        local = self.model.members[name].T()[1:3, :3]
        assert np.abs(local) == pytest.approx(np.stack([X, Z] if along_y else [Y, X]))

    def plate(self, start, end, material, size):
        """A flat bar of a size along X, Y, Z; 0 along the bar."""
        thin, wide = sorted(side for side in size if side > 0.0)
        odd, ratio = np.arange(1, 40, 2), thin / wide
        series = 1 - 192 * ratio / np.pi**5 * np.sum(np.tanh(odd * np.pi / 2 / ratio) / odd**5)
        about = {thin: thin * wide**3 / 12.0, wide: wide * thin**3 / 12.0, 0.0: 0.0}
        seconds = [about[side] for side in size]
        self.bar(start, end, material, thin * wide, seconds, wide * thin**3 / 3 * series)

    def solved(self, nodes):
        """Movements of some nodes (k, 6) for forces and moments on them: (6 k, 6 k)."""
        for node in nodes:
            for way in WAYS:
                self.model.add_node_load(node, way, 1.0, case=node + way)
                self.model.add_load_combo(node + way, {node + way: 1.0})
        self.model.analyze_linear(check_stability=False)
        columns = [
            [getattr(self.model.nodes[one], way)[combo] for one in nodes
             for way in ("DX", "DY", "DZ", "RX", "RY", "RZ")]
            for combo in (node + way for node in nodes for way in WAYS)
        ]  # fmt: skip
        return np.array(columns, dtype=float).T


def built(machine, shares):
    """The model, and its nodes: the nose, then where gantry, carriage and spindle's masses hang."""
    n, words, frame = machine.values, machine.choices, Frame()
    drive = [
        axis_model(axis, n, words, np.array([share]))[1][0]
        for axis, share in zip("xyz", (*shares[:2], 1.0 - shares[2]), strict=True)
    ]
    radial, axial = wheel_stiffness_n_per_mm(n, words)
    ground = frame.node(-90.0 * Z)
    frame.model.def_support(ground, *[True] * 6)
    ends = _gantry(frame, n, words, ground, (radial, axial), drive[0])
    length = n["frame.beam.length"]
    at = (length - n["axes.y.travel"]) / 2 + shares[1] * n["axes.y.travel"]
    middle = frame.node(frame.at(ends[0]) + at * Y)
    width, deep, wall = (n[f"frame.beam.{key}"] for key in ("width", "depth", "wall"))
    inner = width - 2 * wall, deep - 2 * wall
    about = (width * deep**3 - inner[0] * inner[1] ** 3) / 12
    up = (deep * width**3 - inner[1] * inner[0] ** 3) / 12
    twist = 2 * wall * ((width - wall) * (deep - wall)) ** 2 / (width + deep - 2 * wall)
    tube = words["frame.beam.material"], width * deep - np.prod(inner), (about, 0.0, up), twist
    frame.bar(ends[0], middle, *tube)
    frame.bar(middle, ends[1], *tube)

    before, below = n["frame.nose_before_beam"], n["frame.nose_below_beam"]
    nose = frame.at(middle) - before * X - (below + (1 - shares[2]) * n["axes.z.travel"]) * Z
    carriage = frame.node(frame.at(middle) - width / 2 * X)
    corners = [n["rails.y.along"] / 2 * Y, n["rails.y.across"] / 2 * Z]
    frame.wheels(carriage, middle, n["rails.y.wheels"], corners, [(Z, radial), (X, axial)])
    frame.spring(carriage, middle, frame.at(carriage), Y, drive[1])
    slide = frame.node(frame.at(middle) - 0.6 * before * X)
    # The plate runs on two rows of wheels, and ends for us where the spindle is clamped to it.
    rows = [frame.node(frame.at(slide) + way * n["rails.z.along"] / 2 * Z) for way in (1.0, -1.0)]
    for row in rows:
        across = [np.zeros(3), n["rails.z.across"] / 2 * Y]
        frame.wheels(row, carriage, n["rails.z.wheels"] / 2, across, [(Y, radial), (X, axial)])
    frame.spring(slide, carriage, frame.at(slide), Z, drive[2])
    grip = frame.node(nose + frame.at(slide) @ X * X - nose @ X * X)
    frame.model.nodes[grip].Z += 40.0 + n["frame.z_plate.clamped"] / 2
    size = n["frame.z_plate.thickness"], n["frame.z_plate.width"], 0.0
    line = sorted([slide, *rows, grip], key=lambda node: -frame.at(node)[2])
    for one, other in pairwise(line):
        frame.plate(one, other, words["frame.z_plate.material"], size)
    foot = frame.out(grip, [frame.at(slide)[0], nose[1], nose[2] + 40.0])
    spindle = frame.node(nose + 40.0 * Z)
    frame.joint(spindle, foot, n["frame.mount_stiffness"], 30.0)
    tip = frame.node(nose)
    frame.model.add_member(frame.named(), spindle, tip, "one", "arm")
    masses = [middle, carriage, frame.node(nose + 20.0 * Z), frame.node(nose + 160.0 * Z)]
    for mass, near in zip(masses[2:], (spindle, spindle), strict=True):
        frame.model.add_member(frame.named(), near, mass, "one", "arm")
    return frame, [tip, *masses]


def _gantry(frame, n, words, ground, wheel, train):
    """Two sides on their wheels, each with a drive, and the bar between the feet."""
    length, height = n["frame.beam.length"], n["frame.upright.height"]
    upright = n["frame.upright.width"], n["frame.upright.thickness"], 0.0
    feet, ends = [], []
    for side in (0.0, length):
        foot, base, top, end = (frame.node(side * Y + up * Z) for up in (0.0, 0.0, height, height))
        for one, other in ((foot, base), (top, end)):
            frame.joint(one, other, n["frame.joint_stiffness"], n["frame.beam.depth"] / 2)
        frame.plate(base, top, words["frame.upright.material"], upright)
        corners = [n["rails.x.along"] / 2 * X, n["rails.x.across"] / 2 * Z]
        springs = [(Z, wheel[0]), (Y, wheel[1])]
        frame.wheels(foot, ground, n["rails.x.wheels"] / 2, corners, springs)
        frame.spring(foot, ground, frame.at(foot), X, train)
        feet.append(foot)
        ends.append(end)
    bar = n["frame.cross_bar.width"], 0.0, n["frame.cross_bar.thickness"]
    frame.plate(*feet, words["frame.cross_bar.material"], bar)
    return ends


@pytest.fixture(autouse=True)
def bars_meet_at_their_ends_only(monkeypatch):
    """The library joins a bar to every node that lies on it; here bodies lie at one place."""
    kind = pynite.PhysMember.PhysMember
    original = kind.descritize

    def alone(member):
        model, nodes = member.model, member.model.nodes
        model.nodes = {one.name: one for one in (member.i_node, member.j_node)}
        try:
            original(member)
        finally:
            model.nodes = nodes

    monkeypatch.setattr(kind, "descritize", alone)


@pytest.fixture
def euler(machine_of, demo_text, monkeypatch):
    """The demo's router with a drive at each side, its bars without shear."""
    for module, name in (
        (sections, "rectangle_tube_shear_share"), (beams, "rectangle_shear_share")
    ):  # fmt: skip
        monkeypatch.setattr(module, name, lambda *_: 1e9)
    text = demo_text.split("\n", 1)[1]
    assert "motors = 1" in text
    return machine_of(text.replace("motors = 1", "motors = 2", 1))


@pytest.mark.parametrize("shares", [(0.5, 0.5, 0.0), (0.0, 0.1, 0.5), (1.0, 0.8, 1.0)])
def test_six_by_six_at_the_nose(euler, shares):
    travel = [axis.travel_mm for axis in euler.axes]
    lowest = euler.nose_height_mm - travel[2]
    at = [np.array([share * way]) for share, way in zip(shares, travel, strict=True)]
    give = nose_give(euler, at[0], at[1], lowest + at[2])
    mine = (give.compliance - give.parts["table"] - give.parts["table joints"])[0, 0, 0]
    frame, nodes = built(euler, shares)
    found = frame.solved(nodes[:1])
    size = np.sqrt(np.outer(np.diag(found), np.diag(found)))
    assert np.all(np.abs(mine - found) <= 2e-3 * size)
    # the model's own grid holds the same
    if shares == (0.5, 0.5, 0.0):
        assert give.compliance[0, 0, 0, :3, :3] == pytest.approx(euler.compliance_mm_per_n[2, 2, 0])


def test_how_it_swings(euler):
    frame, nodes = built(euler, (0.5, 0.5, 0.0))
    whole = frame.solved(nodes[1:])
    middle = np.array([0.5])
    place = frame_at(euler.values, euler.choices, middle, middle, np.array([0.0]))
    masses = _masses(place, euler)
    heavy = _chain(place, euler)[2]
    turned = np.sqrt(heavy.reshape(-1) / 1000.0)  # tonnes: N, mm, s
    slowest = np.linalg.eigvalsh(turned[:, None] * whole * turned)[:-4:-1]
    mine = [mode.hertz for mode in frame_modes(euler)]
    assert mine == pytest.approx(np.sqrt(1.0 / slowest) / (2.0 * np.pi), rel=2e-3)
    moves = np.concatenate([np.arange(3) + 6 * k for k in range(4)])
    flexible, root = whole[np.ix_(moves, moves)], np.sqrt(np.repeat(masses, 3) / 1000.0)
    # What the nose hangs back while an axis accelerates: the modes add up to what the library's
    # flexibility makes of the inertia forces. Gantry, carriage and two halves of Z, as started.
    takes = np.array([[1, 1, 1, 1], [0, 1, 1, 1], [0, 0, 1, 1]])
    for axis in range(3):
        force = np.zeros(12)
        force[axis::3] = takes[axis] * root[axis::3] ** 2
        parts = [m.follows[axis] / (2.0 * np.pi * m.hertz) ** 2 for m in frame_modes(euler, 24)]
        assert sum(parts) == pytest.approx(flexible[6 + axis] @ force, rel=2e-3)
