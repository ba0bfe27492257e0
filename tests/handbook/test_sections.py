"""Sections against a general-purpose finite-element library (sectionproperties, warping method)."""

import numpy as np
import pytest

from kerfwright.physics import beams, sections
from kerfwright.physics.outlines import outline_section, outline_shear, outline_torsion_mm4

pytest.importorskip("sectionproperties", reason="its mesher has no wheels from Python 3.12 on")
from sectionproperties.analysis import Section
from sectionproperties.pre import Geometry
from sectionproperties.pre.library import rectangular_hollow_section, rectangular_section
from shapely import Polygon

#: The library is compiled when it is first used.
pytestmark = pytest.mark.slow


def solved(geometry, mesh_mm2):
    """Area, second moments about x and y, torsion constant, shares of shear along x and y."""
    geometry.create_mesh(mesh_sizes=[mesh_mm2])
    section = Section(geometry)
    section.calculate_geometric_properties()
    section.calculate_warping_properties()
    area = section.get_area()
    return area, *section.get_ic()[:2], section.get_j(), *(np.array(section.get_as()) / area)


@pytest.mark.parametrize(("width", "depth", "wall"), [(40, 80, 3), (60, 60, 2), (80, 160, 4)])
def test_tubes(width, depth, wall):
    hollow = rectangular_hollow_section(d=depth, b=width, t=wall, r_out=0, n_r=1)
    area, deep, flat, twist, across, along = solved(hollow, wall**2)
    size = (width, depth, wall)
    turned = (depth, width, wall)
    assert sections.rectangle_tube_area_mm2(*size) == pytest.approx(area)
    assert sections.rectangle_tube_second_moment_mm4(*size) == pytest.approx(deep, rel=1e-5)
    assert sections.rectangle_tube_second_moment_mm4(*turned) == pytest.approx(flat, rel=1e-5)
    # Bredt's thin walls are a few per cent low, never high.
    assert 0.96 < sections.rectangle_tube_torsion_mm4(*size) / twist < 1.0
    # The library's shares are those of no contraction across (v = 0).
    assert sections.rectangle_tube_shear_share(*size, 0.0) == pytest.approx(along, rel=0.02)
    assert sections.rectangle_tube_shear_share(*turned, 0.0) == pytest.approx(across, rel=0.05)


@pytest.mark.parametrize("ratio", [1.0, 3.0, 10.0])
def test_plates(ratio):
    wide, thin = 60.0, 60.0 / ratio
    area, _, _, twist, across, along = solved(
        rectangular_section(d=wide, b=thin), wide * thin / 300
    )
    assert sections.rectangle_bar_torsion_mm4(wide, thin) == pytest.approx(twist, rel=6e-3)
    share = beams.rectangle_shear_share(0.0)
    assert [across, along] == pytest.approx([share, share], rel=2e-3)
    assert area == pytest.approx(wide * thin)


ANGLE = [[0, 0], [50, 0], [50, 5], [5, 5], [5, 80], [0, 80]]
BOX = [[0, 0], [80, 0], [80, 40], [0, 40]]
CELLS = [[[4, 4], [38, 4], [38, 36], [4, 36]], [[42, 4], [76, 4], [76, 36], [42, 36]]]


@pytest.mark.parametrize(("outside", "holes"), [(ANGLE, []), (BOX, CELLS)])
def test_outlines(outside, holes):
    geometry = Geometry(Polygon(outside, holes))
    geometry.create_mesh(mesh_sizes=[Polygon(outside, holes).area / 600])
    section = Section(geometry)
    section.calculate_geometric_properties()
    section.calculate_warping_properties()
    numbered = [[n, *corner] for n, ring in enumerate(holes) for corner in ring]
    whole = np.array(outside, float), np.array(numbered) if holes else None
    found = (*outline_section(*whole), *outline_shear(*whole), *outline_torsion_mm4(*whole))
    area, x, y, greatest, least, lean, along, across, low, high = (float(one) for one in found)
    assert area == pytest.approx(section.get_area())
    assert (x, y) == pytest.approx(section.get_c())
    assert (greatest, least) == pytest.approx(section.get_ip()[:2])
    turned = np.radians(section.get_phi())
    assert np.sin(lean - turned) == pytest.approx(0.0, abs=1e-6)
    # Between the bounds, which lie within 0.5 % of one another.
    assert low <= section.get_j() * (1 + 2e-3)
    assert section.get_j() <= high * (1 + 2e-3)
    assert high / low < 1.005
    # Shares of shear by energy, no contraction across; axis 11 is that of the greatest.
    shares = np.array(section.get_as_p()) / area
    assert (across, along) == pytest.approx(shares, rel=0.01)
